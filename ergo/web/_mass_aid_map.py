"""The map of people needed by patient mass and aid, filled in while the page stays usable."""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

import streamlit as st

from ergo.inputs.scenario import Scenario, dump_scenario, known_aids, without_names
from ergo.report.blocks import Table
from ergo.report.figures.mass_aid_map import Cell, cell_words, mass_aid_map
from ergo.web import _shared, _state

__all__ = ["masses_for", "show"]

_KEPT = "ergo.map"
_STOPPED = "ergo.map.stopped"
_REDRAWN_S = 1.0  # a figure costs all readers more time than a cell
_BMI = (18.5, 22, 25, 30, 36, 44, 55)  # columns to look at; the body's estimates hold from 18.5 to 70


def masses_for(stature_m: float, own_kg: float) -> list[float]:
    """Return masses worth a column for a patient of this stature, in whole 5 kg, the patient's own in its place."""
    found = {min(350.0, max(25.0, 5.0 * round(b * stature_m**2 / 5.0))) for b in _BMI}
    nearest = min(found, key=lambda mass: abs(mass - own_kg))
    return sorted(found - {nearest} | {own_kg})


def _kept(case: Scenario) -> dict[tuple[str, float], Cell]:
    """The cells computed so far for this case with any mass and aid."""
    patient = case.patient.model_copy(update={"mass_kg": 0.0})
    text = dump_scenario(without_names(case).model_copy(update={"aid": "", "patient": patient}))
    kept = st.session_state.get(_KEPT)
    if kept is None or kept[0] != text:
        kept = (text, {})
        st.session_state[_KEPT] = kept
        st.session_state[_STOPPED] = False
    cells: dict[tuple[str, float], Cell] = kept[1]
    return cells


def _compute_cells(case: Scenario, aid: str, masses: Sequence[float]) -> dict[tuple[str, float], Cell]:
    patients = [case.patient.model_copy(update={"mass_kg": mass}) for mass in masses]
    found = _state.people([case.model_copy(update={"aid": aid, "patient": patient}) for patient in patients])
    return {(aid, mass): cell for mass, cell in zip(masses, found, strict=True)}


def _waves(masses: Sequence[float]) -> Iterator[list[float]]:
    """The lightest and the heaviest, then the middles of all gaps, until there is no gap."""
    known = sorted({0, len(masses) - 1})
    yield [masses[i] for i in known]
    while middles := [(low + high) // 2 for low, high in pairwise(known) if high - low > 1]:
        yield [masses[i] for i in middles]
        known = sorted({*known, *middles})


def _between(cells: Mapping[tuple[str, float], Cell], aid: str, masses: Sequence[float], mass_kg: float) -> Cell | None:
    """What both neighbours agree on: a heavier patient never needs fewer people."""
    below = [m for m in masses if m < mass_kg and (aid, m) in cells]
    above = [m for m in masses if m > mass_kg and (aid, m) in cells]
    if below and above and cells[(aid, below[-1])] == cells[(aid, above[0])]:
        return cells[(aid, below[-1])]
    return None


def show(case: Scenario) -> None:
    """Show the map. A change elsewhere on the page interrupts the work; what is computed is kept."""
    units = _state.units()
    aids = [*known_aids(), *(own.name for own in case.own_aids)]
    masses = masses_for(case.patient.stature_m, case.patient.mass_kg)
    cells = _kept(case)
    wanted = [(aid, mass) for aid in aids for mass in masses]
    st.subheader("People needed by patient mass and aid", anchor=False)
    _shared.note("Same stature, bed, people and policy. The frame marks this case.")
    place, control = st.container(key="fig.map").empty(), st.empty()
    drawn: dict[tuple[str, float], Cell] = {}

    def draw() -> None:
        serving = [aid for aid in aids if any(cells.get((aid, m)) != "cannot serve" for m in masses)]
        with place.container():
            _shared.figure(mass_aid_map(cells, serving, masses, (case.aid, case.patient.mass_kg), units))
        drawn.clear()
        drawn.update(cells)

    draw()
    missing = [pair for pair in wanted if pair not in cells]
    if missing and not st.session_state[_STOPPED]:
        with control.container():
            bar = st.progress(0.0, "Computing the map")
            st.button("Stop", key="map.stop", on_click=lambda: st.session_state.update({_STOPPED: True}))
        looked = time.monotonic()
        for i, aid in enumerate(aids):
            for wave in _waves(masses):
                lacking = [mass for mass in wave if (aid, mass) not in cells]
                agreed = {(aid, m): cell for m in lacking if (cell := _between(cells, aid, masses, m)) is not None}
                cells.update(agreed | _compute_cells(case, aid, [m for m in lacking if (aid, m) not in agreed]))
            bar.progress((i + 1) / len(aids), f"Computing the map: {_shared.plain(aid)}")
            if cells != drawn and (aid == aids[-1] or time.monotonic() - looked > _REDRAWN_S):
                draw()
                looked = time.monotonic()
        control.empty()
    elif missing:
        control.button("Go on", key="map.go", on_click=lambda: st.session_state.update({_STOPPED: False}))
    head = ("aid", *(units.show_mass(m) for m in masses))
    rows = tuple((aid, *(cell_words(cells.get((aid, m))) for m in masses)) for aid in aids)
    with st.expander("The same as a table"):
        _shared.table(Table("People by mass and aid", head, rows), "map")
