"""Opening and saving a unit and its patients; nothing of a file is kept unless all of it is right."""

from __future__ import annotations

from typing import cast

import streamlit as st

from ergo.errors import InputError
from ergo.inputs.census import read_census
from ergo.inputs.unit import MINUTES_KEY, dump_unit, read_unit
from ergo.web import _plan_state, _shared, _state

__all__ = ["show"]

_UNIT, _CENSUS, _READ = "plan.unit.file", "plan.census.file", "plan.census.read"


def show() -> None:
    """Show uploads and downloads."""
    with st.expander("Open and save: unit file, patients"):
        left, right = st.columns(2, gap="large")
        with left:
            _shared.open_file("Open a unit (TOML)", _UNIT, _open_unit)
            unit = _plan_state.unit()
            name = _shared.file_name(unit.name, "toml")
            _shared.save("Save this unit (TOML)", dump_unit(unit), name, "unit.save")
        with right:
            _census()


def _open_unit() -> None:
    file = st.session_state[_UNIT]
    if file is None:
        return
    try:
        _plan_state.replace_unit(read_unit(file.getvalue(), "the unit", st.toast))
    except InputError as error:
        _state.tell(error)


def _census() -> None:
    mass, stature = st.columns(2)
    mass.selectbox("Unit of mass, if the column head names none", ("kg", "lb"), key="plan.census.mass")
    stature.selectbox("Unit of stature, if the column head names none", ("cm", "m", "in"), key="plan.census.stature")
    file = st.file_uploader("Patients (CSV): mass, sex, stature, dependency, procedures", type="csv", key=_CENSUS)
    st.caption("No names, numbers or birth dates: such a column is refused and not kept.")
    if file is not None:
        stated = (file.file_id, st.session_state["plan.census.mass"], st.session_state["plan.census.stature"])
        if st.session_state.get(_READ) != stated:
            st.session_state[_READ] = stated
            _read(file.name, file.getvalue())
            st.rerun()
    own = _plan_state.census()
    if own is not None:
        st.success(f"{len(own)} patients out of {_shared.plain(own.origin)}", icon=":material/check:")
        for refused in own.refused:
            st.warning(f"Column “{_shared.plain(refused.column)}” was not kept: {_shared.plain(refused.reason)}.")


def _read(name: str, raw: bytes) -> None:
    bar = st.progress(0.0, "Reading the patients")
    units = {"mass": st.session_state["plan.census.mass"], "stature": st.session_state["plan.census.stature"]}

    def show_part_done(done: int, of: int) -> None:
        bar.progress(done / of)

    try:
        found = read_census(raw, name, cast("dict[str, str]", units), show_part_done, tuple(MINUTES_KEY))
        _plan_state.use_census(found)
    except InputError as error:
        _state.tell(error)
    bar.empty()
