"""Teach: a procedure move by move, with forces on the bed and in cross-section, and a guess before the answer."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import streamlit as st

from ergo.assessment import Assessment, Demand, MoveResult
from ergo.inputs.scenario import Scenario, WhoWorks, dump_scenario, without_names
from ergo.mechanics.hand_actions import force_alone
from ergo.mechanics.pull_time import PULL_TIMES, start_force_by_time
from ergo.report.blocks import Table
from ergo.report.documents.case import class_sheet
from ergo.report.figures.bed_plan import bed_plan
from ergo.report.figures.cross_section import cross_section, turn_view
from ergo.report.figures.force_angle import force_angle
from ergo.report.figures.people_curve import people_curve
from ergo.report.figures.pull_time_curve import pull_time_curve, pull_time_words
from ergo.report.marks_and_amounts import needs_words
from ergo.report.tables.case import load_rows, verdict_words
from ergo.units import Units, people_words
from ergo.web import _case_inputs, _shared, _state
from ergo.web._inputs import side

_TIMES = np.geomspace(min(PULL_TIMES), max(PULL_TIMES), 41)
_LESSONS = {"steps": "Step by step", "predict": "Predict, then reveal"}


def show() -> None:
    """Show the page."""
    case = _state.placed_people(_state.scenario())
    st.title("Teach a move", anchor=False)
    st.markdown(f"**{_shared.plain(case.name)}**: {_shared.plain(_case_words(case))}")
    lesson = st.segmented_control(
        "Lesson", list(_LESSONS), default="steps", format_func=_LESSONS.__getitem__, key="teach.lesson", required=True
    )
    if lesson == "predict":
        _predict(case)
    else:
        _steps(case)
    units = _state.units()  # the sheet is made when it is asked for, outside this run
    _shared.save_document(
        "Class sheet to print (HTML)",
        lambda: class_sheet(_state.answer(case), units),
        _shared.file_name(f"{case.name} class sheet", "html"),
        "teach.sheet",
    )


def _case_words(case: Scenario) -> str:
    units, patient, team = _state.units(), case.patient, _state.placed_people(case).team
    sex = "woman" if patient.sex == "F" else "man"
    return (
        f"{sex}, {units.show_mass(patient.mass_kg)}, {units.show_length(patient.stature_m)}, on a {case.aid}; "
        f"{people_words(team.left)} on the left, {people_words(team.right)} on the right."
    )


def _move_to(step: int) -> None:
    st.session_state[_state.STEP] = step


def _steps(case: Scenario) -> None:
    demand, result = _state.demand_for(case), _state.own_team(case)
    count = len(result.moves)
    at = min(st.session_state[_state.STEP], count - 1)
    st.session_state["teach.move"] = at
    back, choose, on = st.columns([1, 4, 1], vertical_alignment="bottom")
    back.button(
        "Back",
        icon=":material/arrow_back:",
        disabled=at == 0,
        on_click=_move_to,
        args=(at - 1,),
        key="teach.back",
        width="stretch",
    )
    choose.selectbox(
        f"Move {at + 1} of {count}",
        range(count),
        format_func=lambda i: f"{i + 1}. {result.moves[i].move.name}",
        key="teach.move",
        on_change=lambda: _move_to(st.session_state["teach.move"]),
    )
    on.button(
        "Next",
        icon=":material/arrow_forward:",
        disabled=at == count - 1,
        on_click=_move_to,
        args=(at + 1,),
        key="teach.next",
        width="stretch",
    )
    move = result.moves[at]
    why = move.why_in(_state.units())
    _shared.headline(move.verdict, f"{move.verdict.capitalize()}: {move.move.name}", why)
    plan, words = st.columns([2, 1], gap="large")
    with words:
        _team(result, move)
    with plan:
        st.subheader("The bed from above", anchor=False)
        _shared.figure(bed_plan(demand, move, (result.left, result.right), _state.units()), "fig.plan")
    if move.move.rolls:
        _turn(demand, (result.left, result.right), move, at)
    elif move.move.distance_m > 0:
        _slide(case, move)
    st.subheader("What each action takes", anchor=False)
    _shared.note(
        "Together: what all who do it give at the instant where it is hardest. Alone: what it would take at that "
        "instant if nobody did anything else."
    )
    _shared.table(action_rows(move, _state.units()), "teach.actions")
    _who_works(case, at)
    st.subheader("Each person", anchor=False)
    _shared.table(load_rows(move, _state.units()), "teach.people")
    _shared.cautions()


def _team(result: Assessment, move: MoveResult) -> None:
    st.subheader("The team", anchor=False)
    left, right = st.columns(2)
    with left:
        side("left")
    with right:
        side("right")
    _case_inputs.who_works()
    _shared.note("A team to learn from; the smallest one that is enough is on the page “Answer”.")
    st.markdown(f"{_shared.plain(result.direction.reason)} In this move: {_shared.plain(move.move.reason)}.")


def _turn(demand: Demand, team: tuple[int, int], move: MoveResult, at: int) -> None:
    view, units = turn_view(demand, move.move, *team), _state.units()
    st.subheader("The turn in cross-section", anchor=False)
    low, high = round(view.from_deg), round(view.to_deg)
    angle = st.slider("Roll angle", low, high, min(low + 15, high), 1, format="%d°", key=f"teach.angle.{at}")
    _shared.figure(cross_section(view, float(angle), units), "fig.section")
    st.subheader("Force against angle", anchor=False)
    _shared.figure(force_angle(view, float(angle), units), "fig.angle")
    st.caption(
        "Full lines: what each side gives in this team. Dashed lines: what a side alone would have to give. Both sides "
        "work at the same part of what they can manage."
    )


def _who_works(case: Scenario, at: int) -> None:
    """The same move and team with each choice of who works."""
    st.subheader("What changes with who works", anchor=False)
    ways = [(way, _state.own_team(_case_inputs.worked(case, way))) for way in _case_inputs.WHO_WORKS]
    moves = [(way, result.moves[at]) for way, result in ways if at < len(result.moves)]
    _shared.table(way_rows(moves, case.team.who_works, _state.units()), "teach.ways")


def action_rows(move: MoveResult, units: Units) -> Table:
    """Return what each action of a move takes: of all who do it, and of the action alone."""
    force, rows = units.show_force, []
    for result in move.efforts:
        at, together = result.effort.terms, float(result.effort.start_n)
        resists = at["what resists"] if "what resists" in at else at["gravity's moment about the contact line"]
        alone = float(force_alone(resists, at["worth of one newton"]))
        who = result.effort.side if result.effort.side == "airway" else f"{result.effort.side} side"
        angle = f"{math.degrees(float(at['roll angle'])):.0f}°" if "roll angle" in at else "–"
        hands = ", ".join(force(load.start_n) for load in result.loads)
        rows.append(
            (who, result.loads[0].does, force(together), force(alone) if math.isfinite(alone) else "–", hands, angle)
        )
    head = ("who", "does", "together", "alone it would take", "in each pair of hands", "at the roll angle of")
    found = Table("What each action takes", head, tuple(rows))
    return found if move.move.is_turn else found.without(head[-1])


def way_rows(moves: Sequence[tuple[WhoWorks, MoveResult]], chosen: WhoWorks, units: Units) -> Table:
    """Return one move with one team for each choice of who works."""
    rows = tuple(
        (
            _case_inputs.WHO_WORKS[way] + (" (chosen)" if way == chosen else ""),
            f"{100 * move.effort:.0f} %" if math.isfinite(move.effort) else "cannot",
            units.show_force(move.worst_person_force_n),
            "–" if move.deciding is None or move.deciding.ratio is None else f"{move.deciding.ratio:.2f}",
            verdict_words(move.verdict),
        )
        for way, move in moves
    )
    head = ("who works", "part of what they can manage", "most loaded pair of hands", "ratio to limit", "verdict")
    return Table("Who works", head, rows)


def _slide(case: Scenario, move: MoveResult) -> None:
    units = _state.units()
    found = next((slide for slide in start_force_by_time(case, _TIMES) if slide.move == move.move), None)
    if found is None:
        return
    st.subheader("What a jerk costs", anchor=False)
    st.markdown(_shared.plain(pull_time_words(found, units)))
    _shared.figure(pull_time_curve(found, units), "fig.pull_time")


def _predict(case: Scenario) -> None:
    units = _state.units()
    guesses = st.session_state[_state.GUESSES]
    key = dump_scenario(without_names(case))
    if key not in guesses:
        st.markdown(
            "How many people does this procedure need, roles included? With that team, what is the largest force in "
            "one person's hands?"
        )
        with st.form("guess", border=False):
            left, right = st.columns(2)
            people = left.number_input("People in the room", 1, 15, 4, 1, key="guess.people")
            force = right.number_input(f"Largest force ({units.force})", 0, 2000, 100, 5, key="guess.force")
            if st.form_submit_button("Lock in my guess", type="primary"):
                guesses[key] = (int(people), units.force_n(float(force)))
                st.rerun()
        return
    people, force_n = guesses[key]
    answer = _state.answer(case)
    what, largest = needs_words(answer.needs), answer.assessment.worst_person_force_n
    why = answer.why_in(units)
    _shared.headline(
        answer.assessment.verdict,
        f"{what[:1].upper()}{what[1:]}; largest force {units.show_force(largest)}",
        f"Your guess: {people_words(people)} and {units.show_force(force_n)}. {why}",
    )
    _shared.figure(people_curve(answer.curve, answer, units), "fig.reveal")
    st.button("Guess again", on_click=lambda: guesses.pop(key, None), key="guess.again")
    _shared.cautions()


if __name__ == "__main__":  # how the page runner executes this file
    show()
