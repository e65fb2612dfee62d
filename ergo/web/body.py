"""Body: one person of a move in one action from the side, the low back, the bed's height, and holding."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, cast

import numpy as np
import streamlit as st

from ergo.assessment import Assessment, Demand, MoveResult
from ergo.assessment.sentences import NO_TEAM
from ergo.errors import InputError
from ergo.evidence import assumption, row
from ergo.inputs.scenario import Side, Technique
from ergo.limits.registry import Quantity
from ergo.report.figures.endurance_curve import endurance_curve
from ergo.report.figures.height_curve import height_curve
from ergo.report.figures.posture_view import posture_view
from ergo.report.marks_and_amounts import limit_amount, needs_words
from ergo.report.tables.handler import (
    BACK_EQUATION,
    body_rows,
    height_rows,
    height_words,
    hold_rows,
    low_back_rows,
)
from ergo.teams.bed_height import NoHeight
from ergo.teams.handler_detail import HandlerDetail, actions_of, handler_detail
from ergo.teams.hold_times import hold_times
from ergo.web import _shared, _state
from ergo.web._inputs import Owner, choice, literals, number, side

_BRACES = {"none": "nothing", "thigh": "thigh or pelvis", "knee": "knee"}
_SEXES = {"F": "woman", "M": "man"}

_Place = tuple[int, str, Side | None, int, int]
"""Which move, what the person does in it, on which side, where on that side, and which of the person's actions."""

_REPLACED = "ergo.person"  # what stands in for the case's own on one page, by place
_SAME = 1e-3
_CONTROLS_PX = 520  # how wide the inputs of the case stand alone


def _replaced(place: _Place) -> dict[str, Any]:
    """Return what stands in for somebody's own at a place, by field."""
    return dict(st.session_state.get(_REPLACED, {}).get(place, {}))


def _forget(place: _Place) -> None:
    """Go back to what the case says."""
    st.session_state.get(_REPLACED, {}).pop(place, None)


def _person(place: _Place, own: Mapping[str, Any]) -> Owner:
    """Return the owner of inputs that change somebody at a place on one page only."""

    def same(field: str, value: Any) -> bool:
        return value == own[field] if isinstance(value, str) else math.isclose(value, own[field], rel_tol=_SAME)

    def change(new: Mapping[str, Any]) -> None:
        kept = st.session_state.setdefault(_REPLACED, {})
        kept[place] = {f: v for f, v in {**kept.get(place, {}), **new}.items() if not same(f, v)}

    return Owner(f"person.{'.'.join(map(str, place))}", lambda field: _replaced(place).get(field, own[field]), change)


def show() -> None:
    """Show the page."""
    case = _state.placed_people(_state.scenario())
    demand, result = _state.demand_for(case), _state.own_team(case)
    st.title("What a move asks of a body", anchor=False)
    people = [actions_of(move) for move in result.moves]
    somebody = [i for i, found in enumerate(people) if found]
    if not somebody:
        _without_force(result)
        with st.container(width=_CONTROLS_PX):
            _case_controls(any(m.move.pull_side == "both" for m in result.moves))
        _bed_height(demand)
        _shared.cautions()
        return
    worst = max(somebody, key=lambda i: people[i][0][0][1].body.compression_n)
    choose, person, doing = st.columns([3, 4, 3])
    at = choose.selectbox(
        "Move",
        somebody,
        index=somebody.index(worst),
        format_func=lambda i: f"{i + 1}. {result.moves[i].move.name}" + (" (hardest)" if i == worst else ""),
        key=f"body.move.{len(result.moves)}.{worst}",
    )
    move, standing = result.moves[at], people[at]
    who = person.selectbox(
        "Person",
        range(len(standing)),
        format_func=lambda i: standing[i][0][1].person.words + (" (most loaded)" if i == 0 else ""),
        key=f"body.person.{at}.{len(standing)}",
    )
    actions, units = standing[who], _state.units()
    what = doing.selectbox(
        "Action",
        range(len(actions)),
        format_func=lambda i: f"{actions[i][1].does}, {units.show_force(actions[i][1].start_n)}",
        key=f"body.action.{at}.{who}.{len(actions)}",
    )
    effort, load = actions[what]
    place = (at, load.role, load.person.side, load.person.index, what)
    own: dict[str, Any] = {
        "stature_m": round(load.person.stature_m, 3),
        "mass_kg": round(load.person.mass_kg, 1),
        "sex": load.person.sex,
        "reach_m": round(load.reach_m, 3),
    }
    try:
        seen = handler_detail(demand, effort, load, **_replaced(place))
    except InputError as error:
        _shared.faults(error.shown)
        seen = handler_detail(demand, effort, load)
    _headline(seen, move)
    if undone := [
        f"{m.move.name}: {'; '.join(m.unmet)}"
        for m, found in zip(result.moves, people, strict=True)
        if not found and m.unmet
    ]:
        _shared.note(f"With this team there is nobody to look at in {'. '.join(undone)}.")
    picture, controls = st.columns([3, 2], gap="large")
    with controls:
        _case_controls(effort.along_bed)
        _person_controls(place, own)
    with picture:
        st.subheader("From the side", anchor=False)
        _shared.figure(posture_view(seen, case.bed.width_m, _state.units()), "fig.posture")
        st.caption(
            "The thick lines from the disc are the moment arms of the forces: long levers for hands and weight, a "
            "short one for the muscles that balance them. The bar on the floor is where the feet stand, the triangle "
            "where they press."
        )
        st.markdown(_how_many_are_strong_enough(seen))
    st.subheader("The body against its limits", anchor=False)
    _shared.table(body_rows(seen, _state.units()).without("source", "range"), "body.short", download=False)
    with st.expander("Every limit with its source and range"):
        _shared.table(body_rows(seen, _state.units()), "body")
    with st.expander("The working of the low back"):
        st.caption(BACK_EQUATION)
        _shared.table(low_back_rows(seen, _state.units()), "body.back")
    _bed_height(demand)
    _holds()
    _shared.cautions()


def _without_force(result: Assessment) -> None:
    """Say why there is no body to look at: no force is asked for, no limit covers the case, or nobody can give it."""
    if result.verdict == "within":
        _shared.headline("within", "Nobody exerts a force", "No move of this case asks anybody for a force.")
    else:
        said = NO_TEAM if result.verdict == "not applicable" else "This team cannot make the move"
        _shared.headline(result.verdict, said, result.why_in(_state.units()))


_PLAIN: dict[Quantity, str] = {
    "L5/S1 compression": "load of the lowest disc (L5/S1 compression)",
    "L5/S1 shear": "force across the lowest disc (L5/S1 shear)",
}


def _headline(seen: HandlerDetail, move: MoveResult) -> None:
    units, top, load = _state.units(), seen.deciding, seen.load
    person = f"{_SEXES[load.sex]}, {units.show_length(load.person.stature_m)}, {units.show_mass(load.person.mass_kg)}"
    doing = f"{move.move.name}: {load.person.words} ({person}) {load.does}. {_can_manage(seen)}"
    if not seen.posture.can_be_held:
        _shared.headline("over", _sentence(seen.posture.reason), doing)
    elif top is None or top.ratio is None:
        _shared.headline("not applicable", "No limit on the body decides here", doing)
    else:
        demand = limit_amount(top.amount, top.unit, units)
        most = limit_amount(top.limit, top.unit, units)
        what = f"{_sentence(_PLAIN.get(top.quantity, top.quantity))} {demand}: {100 * top.ratio:.0f} % of {most}"
        _shared.headline(seen.verdict, what, doing)
    answer = _state.answer(_state.scenario())
    st.markdown(f"Smallest team for this case with these settings: **{needs_words(answer.needs)}**.")
    ranges = [assumption(k) for k in ("extensor_arm", "lean_margin", "l5s1_on_trunk", "handler_stature")]
    note = "The posture is the one of least joint effort that reaches the hands, stays balanced and clear of the bed."
    _shared.where("body", [top] if top else [], ranges, units, note)


def _can_manage(seen: HandlerDetail) -> str:
    """Say what the person can manage in this place, and what one newton of it is worth."""
    units, load, at = _state.units(), seen.load, seen.effort.terms
    said = [f"Start force {units.show_force(load.start_n)}"]
    if math.isfinite(load.capacity_n):
        can = units.show_force(load.capacity_n)
        part = f": {100 * load.start_n / load.capacity_n:.0f} % of it" if load.capacity_n > 0.0 else ""
        said.append(f"what they can manage here within every limit that decides {can}{part}")
    if "roll angle" in at:
        angle, lever = np.degrees(float(at["roll angle"])), abs(float(at["worth of one newton"]))
        said.append(f"lever about the contact line {units.show_length(lever)}, at {angle:.0f}° of roll")
    return "; ".join(said) + "."


def _how_many_are_strong_enough(seen: HandlerDetail) -> str:
    """Say how many of this person's sex have the shoulder and torso strength for it, counted down to whole tenths."""
    who, tenths = f"{'women' if seen.load.sex == 'F' else 'men'}", int(10 * seen.load.body.share_strong_enough)
    few = f"{tenths} {who} in 10 have" if tenths else f"Fewer than 1 in 10 {who} have"
    most = f"More than 9 in 10 {who} have" if tenths >= 9 else few
    return f"{most} the shoulder and torso strength for this."


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def _case_controls(along_bed: bool) -> None:
    st.subheader("The case", anchor=False)
    st.caption("These change the case on every page.")
    left, right = st.columns(2)
    with left:
        number("Mattress height", "bed.height_m", "length")
        choice("Technique", "handling.technique", literals(Technique))
        side("left")
    with right:
        choice("May rest on the bed's edge", "handling.brace", tuple(_BRACES), words=lambda b: _BRACES[b])
        arm = assumption("extensor_arm")
        stated = _state.scenario().handling.back_arm_m
        arms = sorted({arm.low, arm.typical, stated}, reverse=True)
        choice("Moment arm of the back muscles", "handling.back_arm_m", arms, words=lambda a: _arm_words(a, arm.low))
        side("right")
        if along_bed:
            number("Facing the bed's head (0: across)", "handling.facing_deg", unit="degrees")
    _shoes()


def _person_controls(place: _Place, own: dict[str, Any]) -> None:
    st.subheader("This person", anchor=False)
    st.caption("Somebody else in the same place under the same force; only on this page.")
    somebody = _person(place, own)
    left, right = st.columns(2)
    limits = {r["field"]: (float(r["low"]), float(r["high"])) for r in _fields()}
    with left:
        number("Stature", "stature_m", "length", owner=somebody, bounds=limits["stature_m"])
        choice("Sex", "sex", tuple(_SEXES), words=lambda s: _SEXES[s], owner=somebody)
    with right:
        number("Body mass", "mass_kg", "mass", owner=somebody, bounds=limits["mass_kg"])
        number("Reach over the bed", "reach_m", "length", owner=somebody, bounds=limits["reach_m"])
    if _replaced(place):
        st.button("Back to the person of the case", on_click=_forget, args=(place,), key="body.back")


def _arm_words(arm_m: float, cautious: float) -> str:
    said = f"{arm_m * 100:.0f} cm"
    return f"{said}, cautious" if arm_m <= cautious else said


def _fields() -> list[Any]:
    return [row("posture_inputs", field=name) for name in ("stature_m", "mass_kg", "reach_m")]


def _shoes() -> None:
    key = "body.shoes"
    stated = round(_state.scenario().handling.shoe_friction, 2)
    if st.session_state.get(key) != stated:
        st.session_state[key] = stated
    st.slider(
        "Friction of shoes on the floor",
        0.05,
        1.5,
        step=0.05,
        key=key,
        on_change=lambda: _state.change({"handling.shoe_friction": cast(float, st.session_state[key])}),
    )


def _bed_height(demand: Demand) -> None:
    units = _state.units()
    found = _state.height(_state.scenario())
    st.subheader("Best bed height for the smallest team", anchor=False)
    if isinstance(found, NoHeight):
        st.markdown(_shared.plain(found.why_in(units)))
        return
    st.markdown(_shared.plain(height_words(found, units)))
    _shared.figure(height_curve(found, units), "fig.height")
    st.caption(
        "Compression of the most loaded back only, tall and short people at one bed; dashed where somebody cannot hold "
        "the force. A height that would ask for more people is not offered. Below the hips the model spares a back "
        "that pulls downwards: look at shear and shoulder there too."
    )
    if found.found and abs(found.height_m - found.present_height_m) >= 0.005:
        st.button(
            f"Set the mattress to {units.show_length(found.height_m)}",
            on_click=lambda: _state.change({"bed.height_m": round(found.height_m, 3)}),
            key="body.set_height",
        )
    with st.expander("Move by move"):
        _shared.table(height_rows(found, units), "heights")


def _holds() -> None:
    holds = hold_times(_state.own_team(_state.scenario()))
    if not holds:
        return
    st.subheader("Hold times against endurance", anchor=False)
    regions = tuple(dict.fromkeys(h.region for h in holds))
    region = st.segmented_control("Muscles", regions, default=regions[0], key="body.region", required=True)
    _shared.figure(endurance_curve(holds, region or regions[0]), "fig.holds")
    st.caption(
        "Below the line a steady hold lasts; words name the actions of the marks from left to right. "
        "Micro-turns, turns and holds of limb or head; median strength."
    )
    with st.expander("The same as a table"):
        _shared.table(hold_rows(holds), "holds")


if __name__ == "__main__":  # how the page runner executes this file
    show()
