"""The report of a case, to print or to paste, and the sheet for a class."""

from __future__ import annotations

import math
from collections.abc import Sequence

from ergo.assessment import CAUTIONS, MoveResult, demand_of
from ergo.inputs.scenario import origin_of
from ergo.report.blocks import (
    Block,
    Bullets,
    Document,
    Figure,
    Group,
    Heading,
    Paragraph,
    Table,
    Title,
    Verdict,
    cautions,
    titled,
)
from ergo.report.documents.shift import return_part, shift_part
from ergo.report.documents.team import answer_words
from ergo.report.figures.bed_plan import bed_plan
from ergo.report.figures.cross_section import cross_section, turn_view
from ergo.report.figures.force_angle import force_angle
from ergo.report.figures.people_curve import people_curve
from ergo.report.tables.case import (
    aid_rows,
    case_rows,
    citation,
    curve_rows,
    equation_of,
    limit_rows,
    load_rows,
    move_rows,
    published_rows,
    pull_time_rows,
    reason_rows,
    strength_words,
    usual_rows,
    way_rows,
    working_rows,
)
from ergo.report.tables.evidence import all_limit_rows
from ergo.teams.knife_edge import knife_edge_words
from ergo.teams.lift_option import LiftOption, lift_words
from ergo.teams.smallest_team import TeamAnswer
from ergo.teams.this_team import ThisTeam
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["case_report", "class_sheet"]


def case_report(
    answer: TeamAnswer,
    units: Units = DEFAULT_UNITS,
    *,
    lift: LiftOption | None = None,
    shift: ThisTeam | None = None,
    back: ThisTeam | None = None,
) -> Document:
    """Return the answer on one sheet; behind it moves, aids, working, limits, sources and cautions.

    Where they are given: a lift among the aids, the people of the shift, and an unplanned return to the back.
    """
    annex = [_sheet(*shift_part(shift, units))] if shift else []
    annex += [_sheet(*return_part(back, units))] if back else []
    said = lift_words(answer.scenario, lift, units) if lift else ""
    first = said if lift and lift.first else ""
    sheets = (_answer(answer, units, first), *_moves(answer, units, said), *annex, _working(answer, units))
    return Document(answer.scenario.name, (*sheets, _basis(answer)))


def _sheet(*blocks: Block) -> Group:
    return Group("sheet", blocks)


def _columns(left: Sequence[Block], right: Sequence[Block]) -> Group:
    return Group("columns", (Group("column", tuple(left)), Group("column", tuple(right))))


def _answer(answer: TeamAnswer, units: Units, lift_first: str = "") -> Group:
    case = answer.scenario
    what, why = answer_words(answer, units)
    helps = (Heading("What helps"), Bullets(answer.gains[:3])) if answer.gains else ()
    return _sheet(
        Title(case.name, case.question, origin_of(case)),
        Verdict("over" if answer.reasons.no_room else answer.assessment.verdict, what),
        *([Paragraph(lift_first)] if lift_first else []),
        Paragraph(why),
        *_knife_edge(answer, units),
        *([by_reason] if (by_reason := reason_rows(answer)).rows else []),
        *([Paragraph(decided, "What decides")] if (decided := answer.assessment.decided_by_in(units)) else []),
        Figure(people_curve(answer.curve, answer, units)),
        _columns(titled(case_rows(answer, units)), [*helps, *cautions(CAUTIONS)]),
    )


def _knife_edge(answer: TeamAnswer, units: Units) -> list[Block]:
    """For how many people to ask where a small change would lead to another number."""
    said = knife_edge_words(answer.knife_edge, units)
    return [Paragraph(said, "On a knife's edge")] if said else []


def _moves(answer: TeamAnswer, units: Units, lift: str = "") -> tuple[Group, Group, Group]:
    result = answer.assessment
    move = next((m for m in result.moves if m.move.name == result.deciding_move), result.moves[0])
    usual = [usual_rows(answer)] if answer.usual else []
    return (
        _sheet(*titled(move_rows(result, units), way_rows(answer), curve_rows(answer, units))),
        _sheet(
            Heading(f"The deciding move: {move.move.name}"),
            Paragraph(move.why_in(units)),
            *_figures(answer, move, units),
            *titled(pull_time_rows(answer, units)),
        ),
        _sheet(
            *titled(aid_rows(answer, units)),
            *([Paragraph(lift, "A mechanical lift")] if lift else []),
            Paragraph(answer.guidance.words, "By guidance"),
            *titled(published_rows(answer), *usual),
        ),
    )


def _figures(answer: TeamAnswer, move: MoveResult, units: Units) -> list[Figure]:
    result, demand = answer.assessment, demand_of(answer.scenario)
    figures = [Figure(bed_plan(demand, move, (result.left, result.right), units), 620)]
    if move.move.rolls:
        view = turn_view(demand, move.move, result.left, result.right)
        angle = math.degrees(float(view.forces.angle[view.forces.effort.argmax()]))
        figures += [Figure(cross_section(view, angle, units), 620), Figure(force_angle(view, angle, units), 620)]
    return figures


def _working(answer: TeamAnswer, units: Units) -> Group:
    blocks: list[Block] = []
    for i, move in enumerate(answer.assessment.moves, 1):
        limits = limit_rows(move, units)
        applying = Table(limits.title, limits.head, tuple(row for row in limits.rows if row[4] != "–"))
        others = [f"{row[0]} ({row[7]})" for row in limits.rows if row[4] == "–"]
        blocks += [
            Verdict(move.verdict, f"Working {i}: {move.move.name}", 2),
            Paragraph(move.why_in(units)),
            Paragraph(equation_of(move)),
            load_rows(move, units),
            *(Paragraph(said) for said in filter(None, [strength_words(move)])),
            working_rows(move, units).without("source"),
            applying.without("source", "range", "known", "note"),
        ]
        if others:
            blocks.append(Paragraph(f"{'; '.join(others)}.", "Not applicable"))
    return _sheet(*blocks)


def _basis(answer: TeamAnswer) -> Group:
    policy = answer.assessment.policy
    return _sheet(
        Heading("Policy"),
        Paragraph(" ".join(filter(None, (f"{policy.name}.", policy.accepted, policy.reason)))),
        *titled(all_limit_rows()),
        Heading("Sources"),
        Bullets(tuple(f"{key}: {citation(key)}" for key in _sources(answer))),
        *cautions(CAUTIONS),
    )


def _sources(answer: TeamAnswer) -> list[str]:
    """Every source that the report stands on."""
    moves = answer.assessment.moves
    keys = [check.source for m in moves for check in m.limits]
    keys += [key for m in moves for effort in m.efforts for key in effort.effort.sources]
    keys += [c.source for o in answer.aids for c in o.details.contacts] + [p.source for p in answer.published]
    return sorted({key for key in keys if key})


def class_sheet(answer: TeamAnswer, units: Units = DEFAULT_UNITS) -> Document:
    """Return a sheet for a class: the case and blanks to fill first, the answers on the next page."""
    case, result = answer.scenario, answer.assessment
    what, why = answer_words(answer, units)
    head = ("move", "what does each side do?", "hardest for whom?")
    blanks = tuple((f"{i}. {m.move.name}", "", "") for i, m in enumerate(result.moves, 1))
    task = _sheet(
        Title(case.name, origin=origin_of(case)),
        Heading("Predict first", 1),
        case_rows(answer, units, team=False),
        Paragraph("How many people does this procedure need, roles included? ________"),
        Paragraph(f"With that team, the largest force in one person's hands: ________ {units.force}"),
        Table("Moves", head, blanks, "to fill"),
    )
    team = (result.left, result.right)
    answers = _sheet(
        Heading(what, 1),
        Paragraph(why),
        move_rows(result, units),
        *titled(way_rows(answer)),
        Figure(bed_plan(demand_of(case), result.moves[0], team, units), 560),
        Bullets(CAUTIONS),
    )
    return Document(f"Class sheet: {case.name}", (task, answers))
