"""Inputs: each shows one field of its owner in the reader's unit and writes it back in SI."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal, get_args

import streamlit as st

from ergo.inputs.scenario import Scenario, Side
from ergo.inputs.schema import FIRST_YEAR, LAST_YEAR, Default, range_of
from ergo.units import INCH, Units
from ergo.web import _state

__all__ = [
    "CASE",
    "Owner",
    "choice",
    "day",
    "defaults",
    "field_of",
    "literals",
    "number",
    "ranges",
    "scales",
    "show",
    "side",
    "switch",
    "text",
    "whole",
]

Quantity = Literal["mass", "force", "length", "percent", ""]
_CM_PER_M, _PERCENT = 100.0, 100.0


@dataclass(frozen=True, slots=True)
class Owner:
    """What inputs belong to: how a field is read by its dotted name, and how several are changed at once."""

    name: str
    value: Callable[[str], Any]
    change: Callable[[Mapping[str, Any]], None]
    on_every_page: bool = False
    """Two pages would share the name of one input but not the input: what the one was told, the other would not show.
    """

    def key(self, path: str, unit: str = "") -> str:
        """Return the name under which an input is remembered."""
        page = _state.page() if self.on_every_page else ""
        return f"{self.name}.{path}" + (f".{unit}" if unit else "") + (f"@{page}" if page else "")


def field_of(stated: Any, path: str) -> Any:
    """Return a field by its dotted name, where a number stands for a place in a list."""
    for part in path.split("."):
        stated = stated[int(part)] if part.isdigit() else getattr(stated, part)
    return stated


CASE = Owner("in", lambda path: field_of(_state.scenario(), path), _state.change, on_every_page=True)


def _bounds(path: str) -> tuple[float, float]:
    """The range of a field of the case."""
    owner, _, name = path.rpartition(".")
    model = type(CASE.value(owner)) if owner else Scenario
    low, high = range_of(model.model_fields[name])
    assert low is not None
    assert high is not None
    return low, high


def scales(quantity: Quantity, units: Units) -> tuple[str, Callable[[float], float], Callable[[float], float]]:
    """Return the unit's name, and how to show and to read a value."""
    if quantity == "mass":
        return units.mass, units.mass_value, units.mass_kg
    if quantity == "force":
        return units.force, units.force_value, units.force_n
    if quantity == "length":
        if units.length == "ft-in":
            return "in", lambda v: v / INCH, lambda v: v * INCH
        return "cm", lambda v: v * _CM_PER_M, lambda v: v / _CM_PER_M
    if quantity == "percent":
        return "", lambda v: v * _PERCENT, lambda v: v / _PERCENT
    return "", float, float


_MISSING = object()


def show(key: str, value: Any) -> None:
    """Have a widget show a value."""
    if st.session_state.get(key, _MISSING) != value:
        st.session_state[key] = value


def number(
    label: str,
    path: str,
    quantity: Quantity = "",
    *,
    step: float = 1.0,
    unit: str = "",
    owner: Owner = CASE,
    bounds: tuple[float, float] | None = None,
    also: Callable[[float], dict[str, Any]] | None = None,
) -> None:
    """Ask for a number; None stays empty. It is shown rounded; its owner keeps what was stated, to the last digit.

    `also` names other fields that change with it.
    """
    name, shown, read = scales(quantity, _state.units())
    low, high = bounds or _bounds(path)
    key = owner.key(path, name)
    value = owner.value(path)
    show(key, None if value is None else round(shown(float(value)), 6))

    def write() -> None:
        stated = st.session_state[key]
        new = None if stated is None else min(max(read(float(stated)), low), high)
        owner.change({path: new, **(also(new) if also and new is not None else {})})

    st.number_input(
        f"{label} ({name or unit})" if name or unit else label,
        min_value=round(shown(low), 6),
        max_value=round(shown(high), 6),
        step=step,
        format=f"%.{max(4, len(f'{shown(high):.0f}'))}g",
        key=key,
        on_change=write,
    )


def whole(
    label: str, path: str, *, owner: Owner = CASE, bounds: tuple[float, float] | None = None, empty: int = 0
) -> None:
    """Ask for a whole number; `empty` stands where the field is left out."""
    low, high = bounds or _bounds(path)
    key = owner.key(path)
    value = owner.value(path)
    show(key, empty if value is None else int(value))

    def write() -> None:
        owner.change({path: int(st.session_state[key])})

    st.number_input(label, min_value=int(low), max_value=int(high), step=1, key=key, on_change=write)


def side(name: Side) -> None:
    """Ask how many people stand on a side; who is on shift stands where they fit best or were put."""
    if not _state.scenario().team.members:
        whole(f"People on the {name}", f"team.{name}")


def choice(
    label: str,
    path: str,
    options: Sequence[Any],
    *,
    words: Callable[[Any], str] = str,
    also: Callable[[Any], dict[str, Any]] | None = None,
    help: str | None = None,
    owner: Owner = CASE,
) -> None:
    """Ask for one of several; `also` names other fields that change with it."""
    key = owner.key(path)
    show(key, owner.value(path))

    def write() -> None:
        chosen = st.session_state[key]
        owner.change({path: chosen, **(also(chosen) if also else {})})

    st.selectbox(label, list(options), key=key, on_change=write, format_func=words, help=help)


def text(label: str, path: str, longest: int | None = None, *, area: bool = False, owner: Owner = CASE) -> None:
    """Ask for words; what only surrounds them goes."""
    key = owner.key(path)
    if longest is None:
        longest = {type(m).__name__: m for m in Scenario.model_fields[path].metadata}["MaxLen"].max_length
    show(key, owner.value(path))
    ask = st.text_area if area else st.text_input
    ask(label, max_chars=longest, key=key, on_change=lambda: owner.change({path: st.session_state[key].strip()}))


def day(label: str, path: str) -> None:
    """Ask for a date, which may stay empty."""
    key = CASE.key(path)
    show(key, CASE.value(path))
    st.date_input(
        label,
        value=None,
        min_value=date(FIRST_YEAR, 1, 1),
        max_value=date(LAST_YEAR, 12, 31),
        format="YYYY-MM-DD",
        key=key,
        on_change=lambda: CASE.change({path: st.session_state[key]}),
    )


def switch(label: str, path: str) -> None:
    """Ask for yes or no."""
    key = CASE.key(path)
    show(key, bool(CASE.value(path)))
    st.toggle(label, key=key, on_change=lambda: CASE.change({path: bool(st.session_state[key])}))


def literals(annotation: Any) -> tuple[Any, ...]:
    """Return the choices of a field."""
    return get_args(annotation)


def _edited(key: str) -> dict[int, dict[str, Any]]:
    """Return what was changed in a table, by the number of its row."""
    found: dict[int, dict[str, Any]] = st.session_state[key]["edited_rows"]
    return found


def defaults(owner: Owner, found: Sequence[Default]) -> None:
    """Show every starting value with source and year; a changed one becomes the user's own."""
    st.markdown("A value that you change becomes your own: it leaves this list and is saved in the file.")
    # the count is in the key: a list of another length must not keep the changes of the one before
    key = owner.key(f"defaults.{len(found)}")

    def write() -> None:
        rows = _edited(key)
        owner.change({found[i].field: float(row["value"]) for i, row in rows.items() if row.get("value")})

    st.data_editor(
        [
            {
                "field": d.field.replace("_", " ").replace(".", ", "),
                "value": d.value,
                "unit": d.unit,
                "range": f"{d.low:g} to {d.high:g}",
                "source": d.source or "none",
                "year": d.year,
                "how it is known": d.known,
                "note": d.note,
            }
            for d in found
        ],
        key=key,
        on_change=write,
        disabled=["field", "unit", "range", "source", "year", "how it is known", "note"],
        width="stretch",
    )


def ranges(owner: Owner, found: Sequence[tuple[str, str]], title: str) -> None:
    """Show numbers with their range in one table to change: path and name of each."""
    rows = []
    for path, name in found:
        ranged = owner.value(path)
        low, typical, high = ranged.ends
        rows.append({"what": name, "low": low, "typical": typical, "high": high})
    key = owner.key(f"ranges.{title}.{len(found)}")

    def write() -> None:
        updates = {
            f"{found[i][0]}.{end}": float(value)
            for i, row in _edited(key).items()
            for end, value in row.items()
            if value is not None
        }
        owner.change(updates)

    st.data_editor(rows, key=key, on_change=write, disabled=["what"], width="stretch")
