"""The map of people needed by patient mass and aid, filled in while the page stays usable."""

from __future__ import annotations

import time

import streamlit as st

from ergo.errors import InputError
from ergo.plan.team import people_for
from ergo.scenario import Scenario, dump_scenario, known_aids, read_scenario
from ergo.show.figures.mass_aid_map import Cell, cell_words, mass_aid_map
from ergo.show.pages import _parts, _state
from ergo.show.rows import Rows

__all__ = ["masses_for", "show"]

_SLICE_S = 0.4  # the page answers again between two slices of work
_STOPPED = "ergo.map.stopped"
_BMI = (18.5, 22, 25, 28, 32, 36, 42, 50, 60)  # where to look; the body's estimates hold from 18.5 to 70


def masses_for(stature_m: float) -> list[float]:
    """Return masses worth a column for a patient of this stature, rounded to whole 5 kg."""
    found = [min(350.0, max(25.0, 5.0 * round(b * stature_m**2 / 5.0))) for b in _BMI]
    return list(dict.fromkeys(found))


@st.cache_data(max_entries=4000, show_spinner=False)
def _cell(text: str) -> Cell:
    try:
        return people_for(read_scenario(text.encode()))
    except InputError:
        return "not for this"


@st.fragment
def show(case: Scenario) -> None:
    """Show the map."""
    st.subheader("People needed by patient mass and aid", anchor=False)
    units = _state.units()
