"""The map of people needed by patient mass and aid, filled in while the page stays usable."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import streamlit as st

from ergo.scenario import Scenario, dump_scenario, known_aids
from ergo.show.figures.mass_aid_map import Cell, cell_words, mass_aid_map
from ergo.show.pages import _parts, _state, _turns
from ergo.show.rows import Rows

__all__ = ["masses_for", "show"]

_KEPT = "ergo.map"
_STOPPED = "ergo.map.stopped"
_BMI = (18.5, 22, 25, 30, 36, 44, 55)  # columns to look at; the body's estimates hold from 18.5 to 70


def masses_for(stature_m: float, own_kg: float) -> list[float]:
    """Return masses worth a column for a patient of this stature, in whole 5 kg, the patient's own in its place."""
    found = {min(350.0, max(25.0, 5.0 * round(b * stature_m**2 / 5.0))) for b in _BMI}
    nearest = min(found, key=lambda mass: abs(mass - own_kg))
    return sorted(found - {nearest} | {own_kg})


def _kept(case: Scenario) -> dict[tuple[str, float], Cell]:
    """The cells computed so far for this case with any mass and aid."""
    patient = case.patient.model_copy(update={"mass_kg": 0.0})
    text = dump_scenario(case.model_copy(update={"name": "", "question": "", "aid": "", "patient": patient}))
    kept = st.session_state.get(_KEPT)
    if kept is None or kept[0] != text:
        kept = (text, {})
        st.session_state[_KEPT] = kept
        st.session_state[_STOPPED] = False
    cells: dict[tuple[str, float], Cell] = kept[1]
    return cells


def _worked_out(case: Scenario, aid: str, mass_kg: float) -> Cell:
    patient = case.patient.model_copy(update={"mass_kg": mass_kg})
    return _state.people(case.model_copy(update={"aid": aid, "patient": patient}))


def _ends_first(masses: Sequence[float]) -> list[float]:
    """The lightest, the heaviest, then the middle of every gap."""
    order = [0, len(masses) - 1]
    gaps = [(0, len(masses) - 1)]
    while gaps:
        low, high = gaps.pop(0)
        if high - low > 1:
            middle = (low + high) // 2
            order.append(middle)
            gaps += [(low, middle), (middle, high)]
    return [masses[i] for i in dict.fromkeys(order)]


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
    _parts.note("Same stature, bed, people and policy. The frame marks this case.")
    place, control = st.container(key="fig.map").empty(), st.empty()

    def draw() -> None:
        serving = [aid for aid in aids if any(cells.get((aid, m)) != _state.NOT_SERVING for m in masses)]
        with place.container():
            _parts.figure(mass_aid_map(cells, serving, masses, (case.aid, case.patient.mass_kg), units))

    draw()
    missing = [pair for pair in wanted if pair not in cells]
    if missing and not st.session_state[_STOPPED]:
        with control.container():
            bar = st.progress(0.0, "Working out the map")
            st.button("Stop", key="map.stop", on_click=lambda: st.session_state.update({_STOPPED: True}))
        for i, aid in enumerate(aids):
            for mass in _ends_first(masses):
                if (aid, mass) not in cells:
                    cells[(aid, mass)] = _between(cells, aid, masses, mass) or _worked_out(case, aid, mass)
                    bar.progress((i + 0.5) / len(aids), f"Working out the map: {_parts.plain(aid)}")
                    _turns.give_way()
            draw()
        control.empty()
    elif missing:
        control.button("Go on", key="map.go", on_click=lambda: st.session_state.update({_STOPPED: False}))
    head = ("aid", *(units.show_mass(m) for m in masses))
    rows = tuple((aid, *(cell_words(cells.get((aid, m))) for m in masses)) for aid in aids)
    with st.expander("The same as a table"):
        _parts.table(Rows("People by mass and aid", head, rows), "map")
