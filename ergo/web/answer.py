"""Answer: the smallest team for one patient and move, and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import streamlit as st

from ergo.assessment import MoveResult, assumed_besides, used_besides
from ergo.evidence import assumption
from ergo.inputs.scenario import Scenario
from ergo.report.blocks import Document
from ergo.report.documents.card import bedside_card
from ergo.report.documents.case import case_report
from ergo.report.documents.team import answer_words
from ergo.report.figures.bed_plan import bed_plan
from ergo.report.figures.people_curve import people_curve
from ergo.report.tables.case import (
    curve_rows,
    equation_of,
    limit_rows,
    load_rows,
    move_rows,
    published_rows,
    reason_rows,
    working_rows,
)
from ergo.teams.emergency_return import is_turned_prone
from ergo.teams.published_headcounts import PublishedHeadcount
from ergo.teams.smallest_team import FirstAnswer, TeamAnswer
from ergo.teams.who_works import WayOfWorking
from ergo.units import Units, people_words
from ergo.web import _beside, _case_inputs, _roster, _shared, _state, jobs
from ergo.web import _mass_aid_map as _map

if TYPE_CHECKING:
    from streamlit.delta_generator import DeltaGenerator


def _working(answer: TeamAnswer) -> None:
    units, result = _state.units(), answer.assessment
    names = [f"{i}. {m.move.name}" for i, m in enumerate(result.moves, 1)]
    at = st.selectbox("Move", range(len(names)), format_func=lambda i: names[i], key="working.move")
    move = result.moves[min(at, len(names) - 1)]
    st.markdown(_shared.plain(move.why_in(units)))
    _shared.note(equation_of(move))
    people, terms, limits = load_rows(move, units), working_rows(move, units), limit_rows(move, units)
    _shared.table(people, "people")
    _shared.table(terms, "terms")
    _shared.table(limits, "limits")


def _who_does_what(case: Scenario, answer: FirstAnswer, plan: _shared.Chart, pick: DeltaGenerator) -> MoveResult:
    """Draw the bed with everybody, what they do and with which force, in the move that the reader chose."""
    result = answer.assessment
    with pick.container():
        move = _shared.choose_move("Move to look at", result, "who.move")
    plan.draw(bed_plan(_state.demand_for(case), move, (result.left, result.right), _state.units()))
    return move


_BODY = ("share of the side", "while it lasts", "L5/S1 compression", "L5/S1 shear", "shoulder moment")


def _ways(found: Sequence[WayOfWorking]) -> None:
    """How many people force alone would take with each choice of who works."""
    if found:
        said = (f"{_case_inputs.WHO_WORKS[way.who_works]} {_by_force(way)}" for way in found)
        _shared.note(f"Who works, by force alone: {'; '.join(said)}.")


def _by_force(way: WayOfWorking) -> str:
    people = "a mechanical lift" if way.people is None else people_words(way.people)
    return f"{people} (chosen)" if way.chosen else people


def _headline(answer: FirstAnswer) -> None:
    deciding = [answer.assessment.deciding] if answer.assessment.deciding else []
    said = answer_words(answer, _state.units())
    reasons = None if answer.people is None else reason_rows(answer)
    _shared.headline(answer.assessment.verdict, *said, reasons)
    if answer.assessment.decided_by:
        accepted = answer.assessment.policy.accepted if deciding and deciding[0].key.startswith("pull_initial") else ""
        _shared.note(f"What decides: {answer.assessment.decided_by_in(_state.units())} {accepted}".strip())
    if besides := used_besides(answer.scenario, _state.units()):
        _shared.note(f"Used besides: {'. '.join(besides)}.")
    chosen = ("share_spread", "breakaway_ratio", "probability_asked", "team_most", *assumed_besides(answer.scenario))
    _shared.where(
        "answer",
        deciding,
        [assumption(key) for key in chosen],
        _state.units(),
        "The answer is the smallest team whose every move stays within the deciding limits.",
    )


def show() -> None:
    """Show the page in the order in which things are known: curve, team, then every other team's probability."""
    case, units = _state.scenario(), _state.units()
    answer = _state.answer(case) if _state.expect_answer(case) else None
    st.title("How many people does this move need?", anchor=False)
    top, beside, inputs = st.empty(), st.container(), st.container()
    place, right = st.columns([3, 2], gap="large")
    with place:
        st.subheader("Who stands where and does what", anchor=False)
        pick, plan, under = st.empty(), _shared.Chart("who"), st.container()
    next_to_it, helps = right.container(), right.container()
    more, shift = st.container(), st.container()
    left, aside = st.columns([3, 2], gap="large")
    with left:
        st.subheader("How near its limit each size of team comes", anchor=False)
        chart = _shared.Chart("curve")
    if answer:
        with top.container():
            _headline(answer)
    else:
        top.html('<p class="ergo-wait" role="status">Computing how sure the answer is …</p>')
    with inputs:
        _case_inputs.first_inputs()
    chart.draw(people_curve(answer.curve if answer else _state.curve(case), answer, units))
    with more:
        _case_inputs.more_inputs()
        _roster.inputs()
    if answer is None:
        first = _state.first_answer(case)
        with top.container():
            _headline(first)
        move = _who_does_what(case, first, plan, pick)
        answer = _state.answer(case, jobs.ANSWER)
        chart.draw(people_curve(answer.curve, answer, units))
    else:
        move = _who_does_what(case, answer, plan, pick)
    _state.expect_rest(case, answer)
    with under, st.expander("The same as a table"):
        _shared.table(load_rows(move, units).without(*_BODY), "who")
    with right:
        _shared.cautions()
    with left:
        _shared.note(
            f"The line is the limit; above the dashed line the verdict is close.{_why_more_changes_little(answer)}"
        )
        with st.expander("The same as a table"):
            _shared.table(curve_rows(answer, units), "curve")
    with aside:
        _published(answer)
    st.subheader("Move by move", anchor=False)
    _shared.table(move_rows(answer.assessment, units), "moves")
    working = _shared.fold("The working: every term, every limit, every source", "working")
    if working.open:
        with working:
            _working(answer)
    plan.settle()
    chart.settle()
    with beside:
        _beside.lift(case, answer, first=True)
    with shift:
        _roster.answer(case)
    with next_to_it:
        _beside.next_to_it(case, answer)
    known = _state.ways(case)
    with under:
        _ways(known)
    with beside:
        _beside.sureness(case, answer)
        edge = _beside.tips(case)
    full = replace(_state.answer_with_aids(case), ways=known, knife_edge=edge)
    with helps:
        _gains(full)
        _beside.lift(case, answer, first=False)
    _beside.turned_back(case, answer)
    st.subheader("For the meeting", anchor=False)
    annex = st.checkbox("With the annex: all moves, working, aids, sources", key="report.annex")
    columns, labels = st.columns(3), {"html": "Report to print (HTML)", "md": "Report to paste (Markdown)"}
    for column, (ending, label) in zip(columns, labels.items(), strict=False):
        with column:
            name = _shared.file_name(case.name, ending)
            _shared.save_document(label, lambda: _report(case, full, annex, units), name, f"report.{ending}")
    with columns[2]:
        card = _shared.file_name(f"card {case.name}", "html")
        _shared.save_document("Card for the bedside (HTML)", lambda: bedside_card(full, units), card, "card.html")
    _map.show(case)


def _why_more_changes_little(answer: TeamAnswer) -> str:
    """Say so where another limit than the answer's holds the larger teams up: their own leaning, not the pull."""
    if len(answer.curve) < 2:
        return ""
    before, last = answer.curve[-2:]
    is_back = last.check is not None and last.check.key.startswith("spine")
    if not is_back or last.people <= (answer.people or 0) or abs(last.worst_ratio - before.worst_ratio) > _LITTLE:
        return ""
    return " In the largest teams leaning over the bed loads each back more than the pull: one more changes little."


_LITTLE = 0.02
"""Of a limit: what one more person changes no more than by this is called little."""


def _report(case: Scenario, answer: TeamAnswer, annex: bool, units: Units) -> Document:
    """The report with the lift, the people of the shift and an unplanned return; it holds the case as it is stated."""
    shift, back = None, None
    if case.team.members:
        shift = _state.stated_team(case)
    if is_turned_prone(case) and answer.team is not None:
        back = _state.turned_back(case, *answer.team)
    found = _state.beside(case)
    return case_report(
        answer, units, stated=case, annex=annex, beside=found, lift=_state.lift(case), shift=shift, back=back
    )


def _published(answer: TeamAnswer) -> None:
    """What guidance asks for, and published headcounts for the task, those for another mass folded away."""
    st.subheader("By guidance", anchor=False)
    st.markdown(_shared.plain(answer.guidance.words))
    if not answer.published:
        return
    st.subheader("Published headcounts", anchor=False)
    groups: dict[str, list[PublishedHeadcount]] = {}
    for entry in answer.published:
        if entry.fits_mass is not False:
            aid = "no aid" if entry.aid == "none" else entry.aid
            said = ", ".join(filter(None, (entry.task, entry.condition, aid)))
            groups.setdefault(said, []).append(entry)
    for said, entries in list(groups.items())[:5]:
        people = "; ".join(dict.fromkeys(entry.people for entry in entries))
        first, *others = dict.fromkeys(entry.made_of for entry in entries)
        why = f" ({_shared.plain(first)})" if first and not others else ""
        st.markdown(f"- {_shared.plain(said)}: **{_shared.plain(people)}**{why}")
    with st.expander("All of them, with sources"):
        _shared.table(published_rows(answer), "published")
    if answer.usual:
        usual = "; ".join(dict.fromkeys(entry.people for entry in answer.usual))
        _shared.note(f"Common practice, which nobody published: {usual}.")


def _gains(answer: TeamAnswer) -> None:
    st.subheader("What helps", anchor=False)
    gains = answer.gains or ("No other aid in the list saves a person here.",)
    st.markdown("\n".join(f"- {_shared.plain(g)}" for g in gains[:5]))


if __name__ == "__main__":  # how the page runner executes this file
    show()
