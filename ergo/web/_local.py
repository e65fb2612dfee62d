"""Inputs that change one page only: kept in SI for a place, shown in the reader's unit, forgotten on request."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import streamlit as st

from ergo.web import _inputs, _state

__all__ = ["changed", "forget", "local_choice", "local_number"]

_KEPT = "ergo.local"


def _kept() -> dict[str, dict[str, Any]]:
    kept: dict[str, dict[str, Any]] = st.session_state.setdefault(_KEPT, {})
    return kept


def changed(place: str) -> dict[str, Any]:
    """Return what was changed at a place, by field."""
    return dict(_kept().get(place, {}))


def forget(place: str) -> None:
    """Go back to what the case says."""
    _kept().pop(place, None)


def _write(place: str, field: str, value: Any, own: Any) -> None:
    fields = _kept().setdefault(place, {})
    if value == own:
        fields.pop(field, None)
    else:
        fields[field] = value
    if not fields:
        forget(place)


def local_number(
    label: str,
    place: str,
    field: str,
    quantity: _inputs.Quantity,
    own: Mapping[str, Any],
    limits: tuple[float, float],
) -> None:
    """Ask for a number that stands in for the case's own."""
    name, show, read = _inputs._scales(quantity, _state.units())
    key = f"{field}.{name}.{place}"
    value = changed(place).get(field, own[field])
    _inputs._show(key, round(show(value), 1))

    def write() -> None:
        stated = float(st.session_state[key])
        same = abs(stated - round(show(own[field]), 1)) < 1e-9
        within = min(max(read(stated), limits[0]), limits[1])
        _write(place, field, own[field] if same else within, own[field])

    st.number_input(
        f"{label} ({name})",
        min_value=round(show(limits[0]), 1),
        max_value=round(show(limits[1]), 1),
        step=1.0,
        format="%.1f" if quantity == "length" else "%.0f",
        key=key,
        on_change=write,
    )


def local_choice(label: str, place: str, field: str, own: Mapping[str, Any], words: Mapping[str, str]) -> None:
    """Ask for one of several that stands in for the case's own."""
    key = f"{field}.{place}"
    _inputs._show(key, changed(place).get(field, own[field]))
    st.selectbox(
        label,
        list(words),
        key=key,
        format_func=lambda w: words[w],
        on_change=lambda: _write(place, field, st.session_state[key], own[field]),
    )
