"""Every public function says what it takes, what it gives, and shows it in an example that runs."""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable
from typing import Any

import pytest

import ergo

FUNCTIONS = {name: found for name in ergo.__all__ if inspect.isfunction(found := getattr(ergo, name))}
"""The public functions of the package; the others need a line or two."""


def section(text: str, heading: str) -> str:
    """Return the text under an underlined heading, up to the next one; empty where there is none."""
    parts = re.split(r"^(\w+)\n-{3,}$", text, flags=re.M)
    return dict(zip(parts[1::2], parts[2::2], strict=True)).get(heading, "").strip()


def missing(function: Callable[..., Any]) -> list[str]:
    """Say which parts the docstring of a function lacks."""
    text = inspect.getdoc(function) or ""
    given = inspect.signature(function)
    lacking = []
    if not text.partition("\n")[0].endswith("."):
        lacking.append("a first line that is one sentence")
    told = section(text, "Parameters")
    # what several functions share is written once and referred to
    referred = re.search(r"\bas for `", told, re.I)
    unnamed = [p for p in given.parameters if not referred and not re.search(rf"\b{p}\b", told)]
    if given.parameters and (not told or unnamed):
        lacking.append(f"Parameters {', '.join(unnamed)}".rstrip())
    if given.return_annotation not in (None, "None") and not (section(text, "Returns") or section(text, "Yields")):
        lacking.append("Returns")
    if ">>> " not in text:
        lacking.append("an example")
    return lacking


@pytest.mark.parametrize("name", FUNCTIONS)
def test_a_public_function_says_what_it_takes_and_gives_and_shows_it(name):
    assert missing(FUNCTIONS[name]) == []


def test_a_lacking_part_is_seen():
    def bare(mass_kg: float, mu: float) -> float:
        """Do something"""
        return mass_kg * mu

    assert missing(bare) == ["a first line that is one sentence", "Parameters mass_kg, mu", "Returns", "an example"]
