"""The inputs of a case: a few that make a first own answer, the rest folded away."""

from __future__ import annotations

from typing import Any

import streamlit as st

from ergo.inputs.scenario import (
    Bed,
    MoveKind,
    Patient,
    Policy,
    Procedure,
    Protect,
    Scenario,
    Sharing,
    WhoWorks,
    has_airway_lead,
    known_aids,
    limb_guides,
    usually_intubated,
)
from ergo.limits.policy import POLICIES
from ergo.web import _shared, _state
from ergo.web._inputs import choice, literals, number, side, switch, whole

__all__ = ["WHO_WORKS", "first_inputs", "more_inputs", "who_works", "worked"]

_SEX = {"F": "woman", "M": "man"}
_FIRST_OWN_MOVES = ({"kind": "slide to the side"}, {"kind": "side-lying turn"}, {"kind": "centring"})


def _with_procedure(procedure: str) -> dict[str, Any]:
    """What follows a procedure: an own sequence needs moves, any other brings its own; the usual patient is intubated
    or is not, unless the reader said otherwise.
    """
    case = _state.scenario()
    stays = case.patient.intubated != usually_intubated(case.procedure)
    intubated = case.patient.intubated if stays else usually_intubated(procedure)
    moves = [dict(m) for m in _FIRST_OWN_MOVES] if procedure == "own sequence" else []
    return {"moves": moves, "patient.intubated": intubated}


def first_inputs() -> None:
    """Ask for move, patient and aid."""
    case = _state.scenario()
    move, sex, mass, stature, aid = st.columns([3, 2, 2, 2, 3])
    with move:
        choice("Move", "procedure", literals(Procedure), words=str.capitalize, also=_with_procedure)
    with sex:
        choice("Patient", "patient.sex", ("F", "M"), words=lambda s: _SEX[s])
    with mass:
        number("Mass", "patient.mass_kg", "mass")
    with stature:
        number("Stature", "patient.stature_m", "length")
    with aid:
        choice("Aid", "aid", [*known_aids(), *(own.name for own in case.own_aids)])
    tube, who = st.columns([7, 5], vertical_alignment="bottom")
    with tube:
        switch("Intubated: one leads at the head", "patient.intubated")
    with who:
        who_works()


WHO_WORKS: dict[WhoWorks, str] = {
    "as taught": "as it is taught for move and aid",
    "both sides": "both sides",
    "receiving side": "the receiving side only",
}


def who_works() -> None:
    """Ask who works."""
    choice("Who works", "team.who_works", literals(WhoWorks), words=lambda w: WHO_WORKS[w])


def worked(case: Scenario, way: WhoWorks) -> Scenario:
    """Return a case with another choice of who works."""
    return case.model_copy(update={"team": case.team.model_copy(update={"who_works": way})})


def more_inputs() -> None:
    """Ask for everything else."""
    fold = _shared.fold("More about patient, bed, people, policy and an aid of your own", "more")
    if not fold.open:
        return
    with fold:
        tabs = st.tabs(["Patient", "Bed", "People", "Policy", "Handling", "Own aid", "Own sequence"])
        for tab, ask in zip(tabs, (_patient, _bed, _people, _policy, _handling, _own_aid, _moves), strict=True):
            with tab:
                ask()


def _patient() -> None:
    switch("The patient can help to move (asked by guidance; the force stays the same)", "patient.can_help")
    precautions = literals(Patient.model_fields["spinal_precautions"].annotation)
    choice("Spinal precautions", "patient.spinal_precautions", precautions)
    _shared.note("Measured breadths and depths replace the estimate from mass and stature.")
    across, deep = st.columns(2)
    for level in ("chest", "waist", "hip"):
        with across:
            number(f"{level.capitalize()} breadth", f"patient.{level}_breadth_m", "length", step=0.5)
        with deep:
            number(f"{level.capitalize()} depth", f"patient.{level}_depth_m", "length", step=0.5)


def _bed() -> None:
    left, middle, right = st.columns(3)
    with left:
        number("Width", "bed.width_m", "length")
        number("Mattress height", "bed.height_m", "length")
        number("Head-up tilt", "bed.tilt_deg", unit="degrees")
        number("Turn assist rolls the patient by", "bed.turn_assist_deg", step=5.0, unit="degrees")
    with middle:
        choice("Fixed equipment stands", "bed.equipment_side", ("left", "right", "none"))
        whole("Places on the left", "bed.places_left")
        whole("Places on the right", "bed.places_right")
    with right:
        number("Rated capacity", "bed.rated_capacity_kg", "mass")
        number("Width of the other surface", "bed.other_width_m", "length")
        number("It is higher by", "bed.rise_m", "length", step=0.5)
        number("Lip between them", "bed.ledge_m", "length", step=0.5)
    kinds, measured = st.columns(2)
    with kinds:
        choice("Mattress", "bed.mattress", literals(Bed.model_fields["mattress"].annotation))
    with measured:
        number("Where measured: a man of 82 kg sinks in by", "bed.immersion_m", "length", step=0.5)
    _shared.note("Left empty, from the kind of mattress. 0 is a hard surface, such as a theatre table.")


def _people() -> None:
    note = "The answer finds its own team; left and right are the team that the Teach page shows."
    if _state.scenario().team.members:
        note = "Left and right are those on shift, who stand where they fit best; the table of the shift changes that."
    _shared.note(note)
    left, right = st.columns(2)
    with left:
        side("left")
        whole("For lines and drains", "team.lines_and_drains")
        whole("For heavy or injured limbs", "team.limbs", empty=limb_guides(_state.scenario()))
    with right:
        side("right")
        choice("How they share the force", "team.sharing", literals(Sharing))
    switch("A caller who does nothing else", "team.separate_caller")
    if has_airway_lead(_state.scenario()):
        switch("The airway lead carries the head (off: it rests and is guided)", "handling.head_carried")
    if _state.scenario().patient.intubated:
        switch("Somebody else holds the tube", "team.separate_tube_holder")


def _policy() -> None:
    left, right = st.columns(2)
    with left:
        choice(
            "Whom the unit protects",
            "policy.protect",
            [p for p in literals(Protect) if p != "site limit" or _state.scenario().policy.site_limit_n is not None],
            words=lambda p: {"mixed team": "the team as it is", "site limit": "a figure of the site"}.get(p, p),
            help="For a figure of your own, state the site's own limit first.",
        )
        number("Minutes between efforts", "policy.minutes_between_efforts", step=0.5)
    with right:
        number("The site's own limit", "policy.site_limit_n", "force", step=5.0)
        number("A mechanical lift from this patient's mass on", "policy.lift_from_kg", "mass", step=5.0)
        number("The lift may carry", "policy.lift_capacity_kg", "mass", step=5.0)
        whole("No move with fewer people than", "policy.least_people")
        transfers = literals(Policy.model_fields["transfer_guidance"].annotation)
        choice("People for a transfer by guidance", "policy.transfer_guidance", transfers)
    switch("People that guidance asks for count", "policy.count_guidance")
    switch("It must stay safe when one of the team must break off", "policy.count_breaking_off")
    if accepted := POLICIES[_state.scenario().policy.protect].accepted:
        _shared.note(accepted)


def _handling() -> None:
    left, right = st.columns(2)
    with left:
        number("Pull above the horizontal", "handling.pull_angle_deg", unit="degrees")
        number("Hands above the mattress", "handling.hand_height_m", "length")
        number("Hands beyond the patient's side", "handling.grip_gap_m", "length")
        number("Edge of the layer beyond the patient", "handling.overhang_m", "length")
    with right:
        number("Time of one slide (empty: by its length)", "handling.slide_time_s", step=0.5, unit="s")
        choice("A turn is pulled by", "handling.turn_grip", ("sheet", "hands"))
        number("Mattress left free at each edge", "handling.landing_margin_m", "length")
        case = _state.scenario()
        if case.procedure == "boost" or any(move.kind == "boost" for move in case.moves):
            number("In a boost, turned towards the bed's head by", "handling.facing_deg", step=5.0, unit="degrees")
    switch("Before a turn: far ankle crossed, arm tucked", "handling.ankle_crossed_arm_tucked")
    switch("Who pulls or pushes may shift weight, one foot a long step behind", "handling.weight_shift")


def _own_aid() -> None:
    _shared.note("Friction from a trial of your own: a steady pull on a level bed over the weight on the aid.")
    with st.form("own aid", border=False):
        name = st.text_input("Its name", max_chars=60, key="own.name")
        low, typical, high = st.columns(3)
        mu_low = low.number_input("Friction, low", 0.01, 3.0, 0.18, 0.01, key="own.low")
        mu = typical.number_input("Friction, typical", 0.01, 3.0, 0.20, 0.01, key="own.mu")
        mu_high = high.number_input("Friction, high", 0.01, 3.0, 0.25, 0.01, key="own.high")
        measured = st.text_input("How it was measured (empty: not measured)", max_chars=200, key="own.measured")
        if st.form_submit_button("Use this aid"):
            _state.change(_added(name, mu_low, mu, mu_high, measured))
            st.rerun()


def _added(name: str, low: float, mu: float, high: float, measured: str) -> dict[str, Any]:
    others = [own.model_dump(exclude_none=True) for own in _state.scenario().own_aids if own.name != name]
    layer = {"upper": name, "lower": "bed linen", "mu_low": low, "mu": mu, "mu_high": high}
    return {"own_aids": [*others, {"name": name, "interfaces": [layer], "measured": measured}], "aid": name}


def _moves() -> None:
    if _state.scenario().procedure != "own sequence":
        _shared.note("Choose the move “Own sequence” to list moves of your own.")
        return
    rows = [{"kind": m.kind, "towards": m.towards, "name": m.name} for m in _state.scenario().moves]
    edited = st.data_editor(
        rows,
        num_rows="dynamic",
        key=f"own.moves.{len(rows)}",
        column_config={
            "kind": st.column_config.SelectboxColumn("Move", options=list(literals(MoveKind)), required=True),
            "towards": st.column_config.SelectboxColumn("Towards", options=["left", "right"]),
            "name": st.column_config.TextColumn("Name", max_chars=80),
        },
    )
    if st.button("Use this sequence"):
        _state.change({"moves": [{k: v for k, v in row.items() if v} for row in edited if row.get("kind")]})
        st.rerun()
