"""Every public function of the models says what it takes, what it gives, and shows it in an example that runs."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest

PACKAGES = (
    "ergo.evidence",
    "ergo.stated",
    "ergo.scenario",
    "ergo.mechanics",
    "ergo.people",
    "ergo.limits",
    "ergo.assessment",
    "ergo.plan",
)
"""Packages and modules whose public functions are read."""


def modules() -> Iterator[str]:
    """Name every module of the packages, the packages themselves among them."""
    for name in PACKAGES:
        yield name
        folders = getattr(importlib.import_module(name), "__path__", ())
        yield from (found.name for found in pkgutil.walk_packages(folders, f"{name}."))


def public_functions(module: str) -> dict[str, Callable[..., Any]]:
    """Return the functions that a module makes public and does not merely hand on, by their full names."""
    home = importlib.import_module(module)
    named = {f"{module}.{name}": getattr(home, name) for name in getattr(home, "__all__", ())}
    return {
        name: found
        for name, found in named.items()
        if inspect.isfunction(inspect.unwrap(found)) and found.__module__ == module
    }


FUNCTIONS = {name: found for module in modules() for name, found in public_functions(module).items()}


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


def test_every_package_is_found_and_a_lacking_part_is_seen():
    assert all(any(name.startswith(f"{package}.") for name in FUNCTIONS) for package in PACKAGES)

    def bare(mass_kg: float, mu: float) -> float:
        """Do something"""
        return mass_kg * mu

    assert missing(bare) == ["a first line that is one sentence", "Parameters mass_kg, mu", "Returns", "an example"]
