"""Friction measured on site: pulls of some patients, before and after, and into the case."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import streamlit as st

from ergo.errors import Fault, InputError
from ergo.evidence import assumption
from ergo.inputs.scenario import Scenario
from ergo.mechanics.body import REGION
from ergo.mechanics.friction import Aid
from ergo.report.figures.friction_density import friction_density
from ergo.report.tables.uncertainty import friction_rows
from ergo.uncertainty.site_friction import (
    FrictionUpdate,
    PulledPatient,
    mass_off,
    measured_aid,
    pull_of,
    update_friction,
)
from ergo.units import Units, in_notation, numbers_in, writes_decimal_comma
from ergo.web import _inputs, _shared, _state

__all__ = ["show"]

_KEPT = "ergo.site"  # what was read on the scale, in SI, by layer
_BEFORE = "ergo.site.before"  # the aid that a measured one was made from: its published range stays the starting point
_MOST = 12  # patients
_WORDS = {"shanks": "lower legs"}
_HOW = (
    "Lay a volunteer or patient of known mass on it, flat. Pull slowly and level with a luggage scale and enter what "
    "it shows while it moves. Several pulls of one patient count as one patient; another patient has a line of their "
    "own."
)

_Kept = dict[str, Any]


def show(case: Scenario, aid: Aid) -> None:
    """Ask for pulls and show friction before and after."""
    units = _state.units()
    aid = st.session_state.setdefault(_BEFORE, {}).get(aid.name, aid)
    st.subheader("Measure it on your site", anchor=False)
    names = [f"{c.upper} on {c.lower}" for c in aid.contacts]
    layer = st.selectbox("Layer", range(len(names)), format_func=lambda i: names[i], key=f"site.layer.{len(names)}")
    beside = [region for region in dict.fromkeys(REGION.values()) if region not in aid.covers]
    kept: dict[str, list[_Kept]] = st.session_state.setdefault(_KEPT, {})
    place = f"{aid.name}.{layer}"
    patients = kept.setdefault(place, [_nobody(beside)])
    for i, own in enumerate(patients):
        _ask(own, _of(i, patients), f"{place}.{i}", beside, units)
    _more_patients(patients, beside)
    way = "numbers written in one way: 31.5, 33 or 31,5; 33"
    bad = [
        Fault(f"pulls{_of(i, patients)}", own["bad"], way, units.force) for i, own in enumerate(patients) if own["bad"]
    ]
    if bad:
        _shared.faults(bad)
        return
    pulled = {_of(i, patients): own for i, own in enumerate(patients) if own["pulls_n"]}
    if not pulled:
        st.markdown(_HOW)
        return
    sex, prior = case.patient.sex, aid.contacts[layer]
    stated = [
        PulledPatient(own["pulls_n"], own["mass_kg"], own["pull_deg"], mass_off(sex, own["mass_kg"], own["beside"]))
        for own in pulled.values()
    ]
    try:
        found = update_friction(prior, stated)
    except InputError as error:
        _shared.faults([_said(f, stated, list(pulled), units) for f in error.faults])
        return
    _outliers(found, stated, list(pulled), units)
    left, right = st.columns(2, gap="large")
    with left:
        _shared.figure(friction_density(found), "fig.site")
    with right:
        _shared.table(friction_rows(found), "site")
        _use(case, aid, layer, found)
    repeat, between = assumption("scale_repeat"), assumption("friction_between_patients")
    st.caption(
        f"The range before is the starting point; the range after is for the next patient. A reading repeats within "
        f"{100 * repeat.typical:.0f} % and patients differ by {100 * between.typical:.0f} % (both {repeat.known}), so "
        "another patient tells more than another pull."
    )


def _nobody(beside: list[str]) -> _Kept:
    return {"pulls_n": (), "mass_kg": 75.0, "pull_deg": 0.0, "beside": list(beside), "bad": ""}


def _of(number: int, patients: Sequence[object]) -> str:
    """Name a patient among several in a label."""
    return f", patient {number + 1}" if len(patients) > 1 else ""


def _ask(own: _Kept, of: str, place: str, beside: list[str], units: Units) -> None:
    """Ask for one patient's pulls, mass, angle and what lay beside the aid."""
    pulls, mass, angle, off = st.columns([3, 2, 2, 3], vertical_alignment="bottom")
    with pulls:
        _pulls(own, of, place, units)
    with mass:
        _mass(own, of, place, units)
    with angle:
        _angle(own, of, place)
    if beside:
        with off:
            _beside(own, of, place, beside)


def _more_patients(patients: list[_Kept], beside: list[str]) -> None:
    more, fewer, _ = st.columns([2, 2, 3])
    more.button(
        "Another patient",
        key="site.more",
        icon=":material/add:",
        disabled=len(patients) >= _MOST,
        on_click=lambda: patients.append(_nobody(beside)),
    )
    if len(patients) > 1:
        fewer.button(
            "Leave out the last", key="site.fewer", icon=":material/remove:", on_click=lambda: patients.__delitem__(-1)
        )


def _pulls(own: _Kept, of: str, place: str, units: Units) -> None:
    key = f"site.pulls.{units.force}.{place}"
    comma = writes_decimal_comma(st.context.locale)
    shown = "; ".join if comma else ", ".join
    numbers = (f"{units.force_value(p):.4g}" for p in own["pulls_n"])
    text = own["bad"] or shown(in_notation(n, comma) for n in numbers)
    if key not in st.session_state:
        st.session_state[key] = text

    def write() -> None:
        stated = st.session_state[key]
        try:
            found = numbers_in(stated, decimal_comma=comma)
            own["pulls_n"], own["bad"] = tuple(units.force_n(n) for n in found), ""
        except InputError:
            own["pulls_n"], own["bad"] = (), stated

    st.text_input(
        f"Steady pulls{of} ({units.force})",
        key=key,
        max_chars=200,
        placeholder="for example 250; 262,5; 247" if comma else "for example 250, 262.5, 247",
        on_change=write,
    )


def _mass(own: _Kept, of: str, place: str, units: Units) -> None:
    key = f"site.mass.{units.mass}.{place}"
    _inputs.show(key, round(units.mass_value(own["mass_kg"]), 1))
    st.number_input(
        f"Mass{of} ({units.mass})" if of else f"Patient's mass ({units.mass})",
        min_value=0.0,
        step=1.0,
        format="%.1f",
        key=key,
        on_change=lambda: own.update(mass_kg=units.mass_kg(st.session_state[key])),
    )


def _angle(own: _Kept, of: str, place: str) -> None:
    key = f"site.angle.{place}"
    _inputs.show(key, own["pull_deg"])
    st.number_input(
        f"Above level{of} (°)",
        step=1.0,
        format="%.0f",
        key=key,
        on_change=lambda: own.update(pull_deg=float(st.session_state[key])),
    )


def _beside(own: _Kept, of: str, place: str, beside: list[str]) -> None:
    key = f"site.beside.{place}"
    _inputs.show(key, own["beside"])
    st.multiselect(
        f"Dragged on the bed beside it{of}",
        beside,
        key=key,
        format_func=lambda region: _WORDS.get(region, region),
        placeholder="nothing: all lay on it or was held up",
        on_change=lambda: own.update(beside=list(st.session_state[key])),
    )


def _outliers(found: FrictionUpdate, patients: list[PulledPatient], of: list[str], units: Units) -> None:
    """Name what lies far from the rest; it stays in, since only who was there knows why."""
    lines = []
    for one in found.outliers:
        times, who = f"{one.times:.2f} times the middle of", of[one.patient]
        if one.pull is None:
            lines.append(f"The mean{who}: {times} all patients.")
        else:
            pull = units.show_force(patients[one.patient].pulls_n[one.pull])
            lines.append(f"Pull {one.pull + 1}{who}, {pull}: {times} these pulls.")
    if lines:
        said = "Far from the rest. A slip of the pen, or was something caught? It is counted until you take it out."
        st.warning(f"**{said}**\n\n" + "\n".join(f"- {line}" for line in lines), icon=":material/warning:")


def _said(fault: Fault, patients: list[PulledPatient], of: list[str], units: Units) -> Fault:
    """A fault of the update in the reader's units and words."""
    _, number, field, *pull = fault.field.split(".")
    one, who = patients[int(number)], of[int(number)]
    if field == "pulls_n" and pull:
        j, bounds = int(pull[0]), assumption("absurd_friction")
        low, high = (units.show_force(pull_of(mu, one)) for mu in (bounds.low, bounds.high))
        stated = f"{units.force_value(one.pulls_n[j]):.4g} {units.force}"
        return Fault(f"pull {j + 1}{who}", stated, f"about {low} to {high}. {bounds.note}")
    if field == "mass_kg":
        low, high = units.show_mass(10.0), units.show_mass(350.0)
        return Fault(f"mass{who}", units.show_mass(one.mass_kg), f"{low} to {high}")
    return Fault(
        f"{'angle of the pull' if field == 'pull_deg' else field}{who}", fault.value, fault.allowed, fault.unit
    )


def _use(case: Scenario, aid: Aid, layer: int, found: FrictionUpdate) -> None:
    made = measured_aid(aid, layer, found)
    same = next((o for o in case.own_aids if o.name == made.name), None)
    if same == made and case.aid == made.name:
        st.success(f"This case uses “{_shared.plain(made.name)}”.", icon=":material/check:")
        return

    def use() -> None:
        st.session_state[_BEFORE][made.name] = aid
        others = [o.model_dump(exclude_none=True) for o in case.own_aids if o.name != made.name]
        _state.change({"own_aids": [*others, made.model_dump(exclude_none=True)], "aid": made.name})

    st.button("Use it in this case", type="primary", on_click=use, key="site.use", icon=":material/check:")
