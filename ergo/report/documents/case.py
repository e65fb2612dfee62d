"""The report of a case on two pages to sign, what it rests on as an annex, and the sheet for a class."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from ergo.assessment import MoveResult, cautions_of, demand_of, used_besides
from ergo.inputs.scenario import Scenario, dump_scenario, origin_of
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
from ergo.report.documents.printed_by import printed_by
from ergo.report.documents.shift import return_part, shift_part
from ergo.report.documents.team import answer_words
from ergo.report.figures.bed_plan import bed_plan
from ergo.report.figures.cross_section import cross_section, turn_view
from ergo.report.figures.drawing import Drawing, Label
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
    strength_words,
    usual_rows,
    way_rows,
    working_rows,
)
from ergo.report.tables.evidence import all_limit_rows, score_words
from ergo.report.tables.paper import (
    approval_rows,
    exceeded_rows,
    hardest_moves,
    limits_in_short,
    next_to_it,
    people_rows,
)
from ergo.teams.knife_edge import knife_edge_headline, knife_edge_words
from ergo.teams.lift_option import LiftOption, lift_before_hands, lift_option, lift_words
from ergo.teams.smallest_team import TeamAnswer
from ergo.teams.this_team import BesideTeam, ThisTeam, beside_team, this_team_words
from ergo.uncertainty.two_kinds import unmeasured_words
from ergo.units import DEFAULT_UNITS, Units, percent
from ergo.validation.cases import validation_cases
from ergo.validation.score import score_of

__all__ = ["case_report", "class_sheet"]


def case_report(
    answer: TeamAnswer,
    units: Units = DEFAULT_UNITS,
    *,
    stated: Scenario | None = None,
    annex: bool = False,
    beside: BesideTeam | None = None,
    lift: LiftOption | None = None,
    shift: ThisTeam | None = None,
    back: ThisTeam | None = None,
) -> Document:
    """Return the answer on two pages; on demand all moves, aids, working, limits and sources behind them.

    `beside` and `lift` are what was found before for the same answer. The page holds the case as it was `stated`, so
    that it opens again. Where they are given, the annex has the people of the shift and an unplanned return.
    """
    found, option = beside or beside_team(answer, units), lift or lift_option(answer.scenario)
    sheets: tuple[Block, ...] = (_answer(answer, found, option, shift, units), _approval(answer, units))
    if annex:
        said = lift_words(answer.scenario, option, units)
        sheets += (_figures_of_answer(answer, units), *_moves(answer, units, said))
        sheets += (_sheet(*shift_part(shift, units)),) if shift else ()
        sheets += (_sheet(*return_part(back, units)),) if back else ()
        sheets += (_working(answer, units), _basis(answer))
    return Document(answer.scenario.name, sheets, case=dump_scenario(stated or answer.scenario))


def _sheet(*blocks: Block) -> Group:
    return Group("sheet", blocks)


def _page(*blocks: Block) -> Group:
    return Group("page", blocks)


def _columns(left: Sequence[Block], right: Sequence[Block]) -> Group:
    return Group("columns", (Group("column", tuple(left)), Group("column", tuple(right))))


_WHY_SHOWN = (
    "Shown so that nobody finds them later: limits for work at machines, for pulling while walking or as a first "
    "screening never decide."
)
_PLAN_PX, _LEAST_LETTERS = (530, 570), 14.2  # shown on 120 mm: its words are of 9 points then


def _answer(answer: TeamAnswer, beside: BesideTeam, option: LiftOption, shift: ThisTeam | None, units: Units) -> Group:
    """The first page: how many people, for which reason, where they stand, and what speaks against it."""
    case, result = answer.scenario, answer.assessment
    what, why = _headline(answer, units)
    plan = bed_plan(demand_of(case), result.hardest_move, (result.left, result.right), units)
    people = people_rows(answer)
    right: list[Block] = [Heading(people.title), people, Bullets(next_to_it(answer, beside))]
    if beside.band is not None:
        sure = f"Nobody is over a limit in {percent(answer.probability)} of cases."
        right += [Heading("What was not measured"), Paragraph(f"{sure} {unmeasured_words(beside.band)}")]
    too_many = "" if option.first else lift_before_hands(answer.team)
    if answer.use_lift or option.first or too_many:
        said = " ".join(filter(None, (too_many, lift_words(case, option, units))))
        right += [Heading("With a lift"), Paragraph(said)]
    exceeded = exceeded_rows(result, units)
    against: tuple[Block, ...] = (*titled(exceeded), Paragraph(_WHY_SHOWN))
    if not exceeded.rows:
        against = (Paragraph("none of those that apply.", "Limits that do not decide and are exceeded"),)
    facts = {row[0]: row[1] for row in case_rows(answer, units, team=False).rows}
    besides = "".join(f"; {said}" for said in used_besides(case, units))
    stated = f"{facts['patient']}; {case.aid}; bed {facts['bed']}; protects {facts['protects']}{besides}."
    return _page(
        Title(case.name, case.question, origin_of(case)),
        Verdict("over" if answer.reasons.no_room else result.verdict, what),
        *_knife_edge(answer, units),
        Paragraph(why),
        *([Paragraph(this_team_words(shift, units)[0], "Those on shift")] if shift else []),
        Paragraph(stated, "The case"),
        _columns([Figure(_for_paper(plan), _PLAN_PX[0])], right),
        *against,
        Paragraph(f"{printed_by()}.", quiet=True),
    )


def _approval(answer: TeamAnswer, units: Units) -> Group:
    """The second page: the hardest moves, the limits, how well the model predicts, cautions, room to sign."""
    result = answer.assessment
    moves, more_moves = hardest_moves(result, units)
    limits, more_limits = limits_in_short(result, units)
    further = f"{_more(more_limits, 'deciding limit')} further away." if more_limits else ""
    approval, score = approval_rows(), f"{score_words(score_of(validation_cases()))} Nothing was fitted to them."
    return _page(
        *titled(moves),
        *([Paragraph(f"{_more(more_moves, 'move')} less hard; the annex has them all.")] if more_moves else []),
        *titled(limits),
        Paragraph(" ".join(filter(None, (further, f"Policy: {result.policy.name}.", result.policy.accepted)))),
        _columns([Heading("How well the model predicts"), Paragraph(score)], cautions(cautions_of(answer.scenario))),
        Heading(approval.title),
        approval,
        Paragraph(f"{answer.scenario.name}. {printed_by()}.", quiet=True),
    )


def _more(number: int, what: str) -> str:
    return f"{number} more {what} is" if number == 1 else f"{number} more {what}s are"


def _for_paper(plan: Drawing) -> Drawing:
    """A plan for the first page, no letters too small."""
    items = [replace(i, size=max(i.size, _LEAST_LETTERS)) if isinstance(i, Label) else i for i in plan.items]
    return replace(plan, items=items, height=_PLAN_PX[1])


def _figures_of_answer(answer: TeamAnswer, units: Units) -> Group:
    """The first sheet of the annex: the curve over team size, the case in full, what helps."""
    result = answer.assessment
    helps = (Heading("What helps"), Bullets(answer.gains[:3])) if answer.gains else ()
    return _sheet(
        Heading(f"Annex: {answer.scenario.name}"),
        *([Paragraph(decided, "What decides")] if (decided := result.decided_by_in(units)) else []),
        Figure(people_curve(answer.curve, answer, units)),
        _columns(titled(case_rows(answer, units)), helps),
    )


def _headline(answer: TeamAnswer, units: Units) -> tuple[str, str]:
    """The answer and its reason; on a knife's edge between which numbers it lies, and the whole sentence below."""
    edge = knife_edge_headline(answer.knife_edge)
    if edge and not answer.reasons.no_room:
        return edge, answer.why_in(units)
    return answer_words(answer, units)


def _knife_edge(answer: TeamAnswer, units: Units) -> list[Block]:
    """For how many people to ask where a small change would lead to another number."""
    said = knife_edge_words(answer.knife_edge, units)
    return [Paragraph(said, "On a knife's edge")] if said else []


def _moves(answer: TeamAnswer, units: Units, lift: str = "") -> tuple[Group, Group, Group]:
    result = answer.assessment
    move = result.hardest_move
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
        Paragraph(f"{printed_by()}.", quiet=True),
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
        Bullets(cautions_of(case)),
        Paragraph(f"{printed_by()}.", quiet=True),
    )
    return Document(f"Class sheet: {case.name}", (task, answers))
