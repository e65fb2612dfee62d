"""Inputs of a unit and of a purchase: each shows one field and writes it back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import streamlit as st

from ergo.inputs.purchase import Purchase
from ergo.inputs.schema import Default
from ergo.inputs.unit import Unit
from ergo.web import _plan_state
from ergo.web._plan_state import Kind

__all__ = ["defaults", "number", "ranges", "text", "whole"]


def _stated(kind: Kind) -> Unit | Purchase:
    return _plan_state.unit() if kind == "unit" else _plan_state.purchase()


def _show(key: str, value: Any) -> None:
    if key not in st.session_state or st.session_state[key] != value:
        st.session_state[key] = value


def whole(kind: Kind, label: str, path: str, low: int, high: int, *, value: int | None = None) -> None:
    """Ask for a whole number; `value` stands where the field is left out."""
    key = f"plan.{kind}.{path}"
    now = _plan_state.field_of(_stated(kind), path)
    _show(key, int(value if now is None and value is not None else now))
    st.number_input(
        label,
        low,
        high,
        step=1,
        key=key,
        on_change=lambda: _plan_state.change(kind, {path: int(st.session_state[key])}),
    )


def number(kind: Kind, label: str, path: str, low: float, high: float, step: float, *, percent: bool = False) -> None:
    """Ask for a number; a fraction may be shown in percent."""
    key = f"plan.{kind}.{path}"
    scale = 100.0 if percent else 1.0
    _show(key, round(scale * float(_plan_state.field_of(_stated(kind), path)), 6))
    st.number_input(
        label,
        low * scale,
        high * scale,
        step=step,
        format="%.0f" if step >= 1 else "%.2f" if step < 0.1 else "%.1f",
        key=key,
        on_change=lambda: _plan_state.change(kind, {path: float(st.session_state[key]) / scale}),
    )


def text(kind: Kind, label: str, path: str, longest: int, *, area: bool = False) -> None:
    """Ask for words."""
    key = f"plan.{kind}.{path}"
    _show(key, _plan_state.field_of(_stated(kind), path))
    ask = st.text_area if area else st.text_input
    ask(
        label,
        max_chars=longest,
        key=key,
        on_change=lambda: _plan_state.change(kind, {path: st.session_state[key].strip()}),
    )


def _edited(key: str) -> dict[int, dict[str, Any]]:
    """Return what was changed in a table, by the number of its row."""
    found: dict[int, dict[str, Any]] = st.session_state[key]["edited_rows"]
    return found


def defaults(kind: Kind, found: Sequence[Default]) -> None:
    """Show every starting value with source and year; a changed one becomes the user's own."""
    st.markdown("A value that you change becomes your own: it leaves this list and is saved in the file.")
    # the count is in the key: a list of another length must not keep the changes of the one before
    key = f"plan.{kind}.defaults.{len(found)}"

    def write() -> None:
        rows = _edited(key)
        _plan_state.change(kind, {found[i].field: float(row["value"]) for i, row in rows.items() if row.get("value")})

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


def ranges(kind: Kind, found: Sequence[tuple[str, str]], title: str) -> None:
    """Show numbers with their range in one table to change: path and name of each."""
    stated = _stated(kind)
    rows = []
    for path, name in found:
        ranged = _plan_state.field_of(stated, path)
        low, typical, high = ranged.ends
        rows.append({"what": name, "low": low, "typical": typical, "high": high})
    key = f"plan.{kind}.ranges.{title}.{len(found)}"

    def write() -> None:
        updates = {
            f"{found[i][0]}.{end}": float(value)
            for i, row in _edited(key).items()
            for end, value in row.items()
            if value is not None
        }
        _plan_state.change(kind, updates)

    st.data_editor(rows, key=key, on_change=write, disabled=["what"], width="stretch")
