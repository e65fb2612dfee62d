"""Friction measured on site: pulls of one mass, before and after, and into the case."""

from __future__ import annotations

from typing import Any

import streamlit as st

from ergo.errors import Fault, InputError
from ergo.evidence import assumption
from ergo.inputs.scenario import Scenario
from ergo.mechanics.friction import Aid
from ergo.report.figures.friction_density import friction_density
from ergo.report.tables.uncertainty import friction_rows
from ergo.uncertainty.site_friction import FrictionUpdate, measured_aid, update_friction
from ergo.units import G, Units, numbers_in
from ergo.web import _inputs, _shared, _state

__all__ = ["show"]

_KEPT = "ergo.site"  # what was read on the scale, in SI, by layer
_BEFORE = "ergo.site.before"  # the aid that a measured one was made from: its published range stays the starting point


def show(case: Scenario, aid: Aid) -> None:
    """Ask for pulls and show friction before and after."""
    units = _state.units()
    aid = st.session_state.setdefault(_BEFORE, {}).get(aid.name, aid)
    st.subheader("Measure it on your site", anchor=False)
    names = [f"{c.upper} on {c.lower}" for c in aid.contacts]
    layer = st.selectbox("Layer", range(len(names)), format_func=lambda i: names[i], key=f"site.layer.{len(names)}")
    kept: dict[str, dict[str, Any]] = st.session_state.setdefault(_KEPT, {})
    own = kept.setdefault(f"{aid.name} {layer}", {"pulls_n": (), "mass_kg": 75.0, "pull_deg": 0.0, "bad": ""})
    pulls, mass, angle = st.columns([3, 1, 1])
    with pulls:
        _pulls(own, f"{aid.name}.{layer}", units)
    with mass:
        _mass(own, f"{aid.name}.{layer}", units)
    with angle:
        _angle(own, f"{aid.name}.{layer}")
    if own["bad"]:
        _shared.faults([Fault("pulls", own["bad"], "numbers written in one way: 31.5, 33 or 31,5; 33", units.force)])
    if not own["pulls_n"]:
        st.markdown(
            "Lay one volunteer or patient of known mass on the layer, flat. Pull slowly and level with a luggage scale "
            "and enter what it shows while it moves."
        )
        return
    prior = aid.contacts[layer]
    try:
        found = update_friction(prior, own["pulls_n"], own["mass_kg"], pull_deg=own["pull_deg"])
    except InputError as error:
        _shared.faults([_said(f, own, units) for f in error.faults])
        return
    left, right = st.columns(2, gap="large")
    with left:
        _shared.figure(friction_density(found), "fig.site")
    with right:
        _shared.table(friction_rows(found), "site")
        _use(case, aid, layer, found)
    repeat = assumption("scale_repeat")
    st.caption(
        f"The range before is the starting point; each pull repeats within {100 * repeat.typical:.0f} % "
        f"({repeat.known}). The more pulls, the less the starting point counts."
    )


def _pulls(own: dict[str, Any], place: str, units: Units) -> None:
    key = f"site.pulls.{units.force}.{place}"
    text = own["bad"] or ", ".join(f"{units.force_value(p):.4g}" for p in own["pulls_n"])
    if key not in st.session_state:
        st.session_state[key] = text

    def write() -> None:
        stated = st.session_state[key]
        try:
            own["pulls_n"], own["bad"] = tuple(units.force_n(n) for n in numbers_in(stated)), ""
        except InputError:
            own["pulls_n"], own["bad"] = (), stated

    st.text_input(
        f"Steady pulls ({units.force}), one or more",
        key=key,
        max_chars=200,
        placeholder="for example 250, 262, 247",
        on_change=write,
    )


def _mass(own: dict[str, Any], place: str, units: Units) -> None:
    key = f"site.mass.{units.mass}.{place}"
    _inputs.show(key, round(units.mass_value(own["mass_kg"]), 1))
    st.number_input(
        f"Mass on it ({units.mass})",
        min_value=0.0,
        step=1.0,
        format="%.1f",
        key=key,
        on_change=lambda: own.update(mass_kg=units.mass_kg(st.session_state[key])),
    )


def _angle(own: dict[str, Any], place: str) -> None:
    key = f"site.angle.{place}"
    _inputs.show(key, own["pull_deg"])
    st.number_input(
        "Pull above level (degrees)",
        step=1.0,
        format="%.0f",
        key=key,
        on_change=lambda: own.update(pull_deg=float(st.session_state[key])),
    )


def _said(fault: Fault, own: dict[str, Any], units: Units) -> Fault:
    """A fault of the update in the reader's units and words."""
    if fault.field.startswith("pulls_n."):
        i = int(fault.field.removeprefix("pulls_n."))
        bounds = assumption("absurd_friction")
        weight = own["mass_kg"] * G
        low, high = (units.show_force(b * weight) for b in (bounds.low, bounds.high))
        return Fault(
            f"pull {i + 1}", units.show_force(own["pulls_n"][i]), f"about {low} to {high} for this mass. {bounds.note}"
        )
    if fault.field == "mass_kg":
        low, high = units.show_mass(10.0), units.show_mass(350.0)
        return Fault("mass", units.show_mass(own["mass_kg"]), f"{low} to {high}")
    return Fault(
        {"pull_deg": "angle of the pull"}.get(fault.field, fault.field), fault.value, fault.allowed, fault.unit
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
