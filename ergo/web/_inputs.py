"""Inputs that are views of the case: each shows a field in the reader's unit and writes it back in SI."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Literal, get_args

import streamlit as st

from ergo.inputs.scenario import Scenario
from ergo.inputs.schema import range_of
from ergo.units import INCH, Units
from ergo.web import _state

__all__ = ["choice", "field_of", "number", "switch", "text", "whole"]

Quantity = Literal["mass", "force", "length", ""]
_STEPS = {"kg": 1.0, "lb": 1.0, "N": 5.0, "lbf": 1.0, "kgf": 0.5, "cm": 1.0, "ft-in": 1.0, "": 1.0}
_CM_PER_M = 100.0


def field_of(case: Scenario, path: str) -> Any:
    """Return a field of the case by its dotted name."""
    value: Any = case
    for part in path.split("."):
        value = getattr(value, part)
    return value


def _bounds(path: str) -> tuple[float, float]:
    owner, _, name = path.rpartition(".")
    model = type(field_of(_state.scenario(), owner)) if owner else Scenario
    low, high = range_of(model.model_fields[name])
    assert low is not None
    assert high is not None
    return low, high


def _scales(quantity: Quantity, units: Units) -> tuple[str, Callable[[float], float], Callable[[float], float]]:
    """Return the unit's name, and how to show and to read a value."""
    if quantity == "mass":
        return units.mass, units.mass_value, units.mass_kg
    if quantity == "force":
        return units.force, units.force_value, units.force_n
    if quantity == "length":
        if units.length == "ft-in":
            return "in", lambda v: v / INCH, lambda v: v * INCH
        return "cm", lambda v: v * _CM_PER_M, lambda v: v / _CM_PER_M
    return "", float, float


def _key(path: str, unit: str = "") -> str:
    """The name under which an input is remembered: its own on every page.

    Two pages would share the name of one input but not the input: what the one was told, the other would not show.
    """
    page = _state.page()
    return f"in.{path}" + (f".{unit}" if unit else "") + (f"@{page}" if page else "")


def _show(key: str, value: Any) -> None:
    if st.session_state.get(key, _MISSING) != value:
        st.session_state[key] = value


_MISSING = object()


def number(label: str, path: str, quantity: Quantity = "", *, step: float = 1.0, unit: str = "") -> None:
    """Ask for a number; None stays empty."""
    case, units = _state.scenario(), _state.units()
    name, show, read = _scales(quantity, units)
    low, high = _bounds(path)
    key = _key(path, name)
    value = field_of(case, path)
    # Shown to a tenth; the case keeps what was stated, to the last digit.
    _show(key, None if value is None else round(show(value), 6))

    def write() -> None:
        stated = st.session_state[key]
        _state.change({path: None if stated is None else min(max(read(float(stated)), low), high)})

    shown = f"{label} ({name or unit})" if name or unit else label
    st.number_input(
        shown,
        min_value=round(show(low), 6),
        max_value=round(show(high), 6),
        step=step,
        format="%.4g",
        key=key,
        on_change=write,
    )


def whole(label: str, path: str) -> None:
    """Ask for a whole number."""
    low, high = _bounds(path)
    key = _key(path)
    _show(key, int(field_of(_state.scenario(), path)))

    def write() -> None:
        updates: dict[str, Any] = {path: int(st.session_state[key])}
        if path in ("team.left", "team.right"):
            updates["team.members"] = ()  # named members would no longer fit their number
        _state.change(updates)

    st.number_input(label, min_value=int(low), max_value=int(high), step=1, key=key, on_change=write)


def choice(
    label: str,
    path: str,
    options: Sequence[Any],
    *,
    words: Callable[[Any], str] = str,
    also: Callable[[Any], dict[str, Any]] | None = None,
    help: str | None = None,
) -> None:
    """Ask for one of several; `also` names other fields that change with it."""
    key = _key(path)
    _show(key, field_of(_state.scenario(), path))

    def write() -> None:
        chosen = st.session_state[key]
        _state.change({path: chosen, **(also(chosen) if also else {})})

    st.selectbox(label, list(options), key=key, on_change=write, format_func=words, help=help)


def text(label: str, path: str) -> None:
    """Ask for words; what only surrounds them goes."""
    key = _key(path)
    bounds = {type(m).__name__: m for m in Scenario.model_fields[path].metadata}
    _show(key, field_of(_state.scenario(), path))
    st.text_input(
        label,
        max_chars=bounds["MaxLen"].max_length,
        key=key,
        on_change=lambda: _state.change({path: str(st.session_state[key]).strip()}),
    )


def switch(label: str, path: str) -> None:
    """Ask for yes or no."""
    key = _key(path)
    _show(key, bool(field_of(_state.scenario(), path)))
    st.toggle(label, key=key, on_change=lambda: _state.change({path: bool(st.session_state[key])}))


def literals(annotation: Any) -> tuple[Any, ...]:
    """Return the choices of a field."""
    return get_args(annotation)
