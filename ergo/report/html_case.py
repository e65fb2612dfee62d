"""The report: one HTML file that prints on A4 and Letter without a network, or Markdown to paste."""

from __future__ import annotations

import math
from html import escape

from ergo.assessment import CAUTIONS, demand_of
from ergo.report.figures.bed_plan import bed_plan
from ergo.report.figures.cross_section import cross_section, turn_view
from ergo.report.figures.force_angle import force_angle
from ergo.report.figures.people_curve import people_curve
from ergo.report.figures.render_svg import svg
from ergo.report.html_page import bullet_list, html_table, page
from ergo.report.markdown import markdown_table, plain
from ergo.report.number_words import in_units
from ergo.report.tables.case import (
    Table,
    aid_rows,
    case_rows,
    citation,
    curve_rows,
    equation_of,
    limit_rows,
    load_rows,
    move_rows,
    published_rows,
    verdict_words,
    working_rows,
)
from ergo.report.tables.evidence import all_limit_rows
from ergo.teams.smallest_team import FirstAnswer, TeamAnswer
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["answer_words", "class_sheet", "report_html", "report_markdown"]


def answer_words(answer: FirstAnswer, units: Units = DEFAULT_UNITS) -> tuple[str, str]:
    """Return the answer and its reason, apart.

    Examples
    --------
    >>> from ergo.teams.aid_comparison import smallest_team
    >>> from ergo.inputs.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 60.0, "stature_m": 1.6}
    >>> boost = parse_scenario({"name": "x", "procedure": "boost", "patient": patient, "aid": "slide sheet"})
    >>> answer_words(smallest_team(boost, with_aids=False))[0]
    '2 people: 1 on the left, 1 on the right'
    """
    said = in_units(answer.why, answer.assessment.deciding, units)
    if answer.use_lift:
        return "Use a mechanical lift", said
    what, _, why = said.partition(". ")
    return what, why


def report_html(answer: TeamAnswer, units: Units = DEFAULT_UNITS) -> str:
    """Return the report as one HTML file: the answer on one page, then working, limits, sources, cautions.

    Parameters
    ----------
    answer : TeamAnswer
        With the other aids.
    units : Units

    Returns
    -------
    str
        Needs no network; every name out of a file is escaped.
    """
    parts = [_answer_page(answer, units), _moves_page(answer, units), _working(answer, units), _last(answer)]
    return page(answer.scenario.name, "".join(parts))


def _answer_page(answer: TeamAnswer, units: Units) -> str:
    case = answer.scenario
    what, why = answer_words(answer, units)
    verdict = answer.assessment.verdict
    helps = bullet_list(answer.gains[:3]) if answer.gains else ""
    return (
        f'<section class="sheet"><p class="case">{escape(case.name)}</p><p class="question">{escape(case.question)}</p>'
        f'<h1 class="v-{verdict.replace(" ", "-")}">{escape(verdict_words(verdict)[0])} {escape(what)}</h1>'
        f'<p class="why">{escape(why)}</p>'
        f'<div class="figure">{svg(people_curve(answer.curve, answer, units), 720)}</div>'
        f'<div class="two"><div><h2>The case</h2>{html_table(case_rows(answer, units), head=False)}</div>'
        f"<div><h2>What helps</h2>{helps}<h2>Before you rely on this</h2>{bullet_list(CAUTIONS)}</div></div></section>"
    )


def _moves_page(answer: TeamAnswer, units: Units) -> str:
    result = answer.assessment
    demand = demand_of(answer.scenario)
    move = next((m for m in result.moves if m.move.name == result.deciding_move), result.moves[0])
    figures = f'<div class="figure">{svg(bed_plan(demand, move, (result.left, result.right), units), 620)}</div>'
    if move.move.is_turn:
        view = turn_view(demand, move.move)
        hardest = view.lifting if view.lifting.force_n.max() >= view.lowering.force_n.max() else view.lowering
        angle = math.degrees(float(hardest.angle[hardest.force_n.argmax()]))
        figures += (
            f'<div class="figure">{svg(cross_section(view, angle, units), 620)}</div>'
            f'<div class="figure">{svg(force_angle(view, angle, units), 620)}</div>'
        )
    why = escape(in_units(move.why, move.deciding, units))
    return (
        f'<section class="sheet"><h2>Move by move</h2>{html_table(move_rows(result, units))}'
        f"<h2>Team sizes</h2>{html_table(curve_rows(answer, units))}</section>"
        f'<section class="sheet"><h2>The deciding move: {escape(move.move.name)}</h2><p>{why}</p>{figures}'
        f"</section>"
        f'<section class="sheet"><h2>Aids side by side</h2>{html_table(aid_rows(answer, units))}'
        f"<h2>Published headcounts</h2>{html_table(published_rows(answer))}</section>"
    )


def _working(answer: TeamAnswer, units: Units) -> str:
    parts = []
    for i, move in enumerate(answer.assessment.moves, 1):
        limits = limit_rows(move, units)
        applying = Table(limits.title, limits.head, tuple(row for row in limits.rows if row[4] != "–"))
        others = [f"{row[0]} ({row[7]})" for row in limits.rows if row[4] == "–"]
        said = f"<p>Not applicable: {escape('; '.join(others))}.</p>" if others else ""
        why = escape(in_units(move.why, move.deciding, units))
        parts.append(
            f"<h2>Working {i}: {escape(move.move.name)}</h2><p>{escape(verdict_words(move.verdict))}. "
            f"{why}</p><p>{escape(equation_of(move))}</p>{html_table(load_rows(move, units))}"
            f"{html_table(working_rows(move, units), drop=('source',))}"
            f"{html_table(applying, drop=('source', 'range', 'known', 'note'))}{said}"
        )
    return f'<section class="sheet">{"".join(parts)}</section>'


def _keys(answer: TeamAnswer) -> list[str]:
    """Every source that the report stands on."""
    moves = answer.assessment.moves
    keys = [check.source for m in moves for check in m.limits]
    keys += [key for m in moves for effort in m.efforts for key in effort.effort.sources]
    keys += [c.source for o in answer.aids for c in o.details.contacts] + [p.source for p in answer.published]
    return sorted({key for key in keys if key})


def _last(answer: TeamAnswer) -> str:
    listed = bullet_list([f"{key}: {citation(key)}" for key in _keys(answer)])
    return (
        f'<section class="sheet"><h2>Policy</h2><p>{escape(answer.assessment.policy.name)}. '
        f"{escape(answer.assessment.policy.reason)}</p><h2>Limits</h2>{html_table(all_limit_rows())}<h2>Sources</h2>{listed}"
        f"<h2>Before you rely on this</h2>{bullet_list(CAUTIONS)}</section>"
    )


def report_markdown(answer: TeamAnswer, units: Units = DEFAULT_UNITS) -> str:
    """Return the report as Markdown to paste.

    Parameters
    ----------
    answer : TeamAnswer
    units : Units

    Returns
    -------
    str
    """
    case, result = answer.scenario, answer.assessment
    what, why = answer_words(answer, units)
    parts = [
        f"# {plain(case.name)}",
        plain(case.question),
        f"## {plain(verdict_words(result.verdict)[0])} {plain(what)}",
        plain(why),
        "\n".join(f"- {plain(c)}" for c in CAUTIONS),
        "## The case",
        markdown_table(case_rows(answer, units)),
    ]
    if answer.gains:
        parts += ["## What helps", "\n".join(f"- {plain(g)}" for g in answer.gains)]
    tables = (move_rows(result, units), curve_rows(answer, units), aid_rows(answer, units), published_rows(answer))
    for rows in tables:
        if rows.rows:
            parts += [f"## {rows.title}", markdown_table(rows)]
    for move in result.moves:
        parts += [f"## {plain(limit_rows(move, units).title)}", markdown_table(limit_rows(move, units))]
    parts += ["## Sources", "\n".join(f"- {plain(key)}: {plain(citation(key))}" for key in _keys(answer))]
    return "\n\n".join(p for p in parts if p) + "\n"


def class_sheet(answer: TeamAnswer, units: Units = DEFAULT_UNITS) -> str:
    """Return a sheet for a class: the case and blanks to fill first, the answers on the next page.

    Parameters
    ----------
    answer : TeamAnswer
    units : Units

    Returns
    -------
    str
        HTML without a network.
    """
    case, result = answer.scenario, answer.assessment
    demand = demand_of(case)
    crew = (result.left, result.right)
    first = result.moves[0]
    blanks = "".join(
        f'<tr><td>{i}. {escape(m.move.name)}</td><td class="blank"></td><td class="blank"></td></tr>'
        for i, m in enumerate(result.moves, 1)
    )
    what, why = answer_words(answer, units)
    task = (
        f'<section class="sheet"><p class="case">{escape(case.name)}</p><h1>Predict first</h1>'
        f"{html_table(case_rows(answer, units, team=False), head=False)}"
        f"<p>How many people does this procedure need, roles included? ________</p>"
        f"<p>With that team, the largest force in one person's hands: ________ {escape(units.force)}</p>"
        f'<table><thead><tr><th scope="col">move</th><th scope="col">who pulls, holds or brakes?</th>'
        f'<th scope="col">hardest for whom?</th></tr></thead><tbody>{blanks}</tbody></table></section>'
    )
    answers = (
        f'<section class="sheet"><h1>{escape(what)}</h1><p class="why">{escape(why)}</p>'
        f"{html_table(move_rows(result, units), drop=('counter-hold', 'brake'))}"
        f'<div class="figure">{svg(bed_plan(demand, first, crew, units), 560)}</div>{bullet_list(CAUTIONS)}</section>'
    )
    return page(f"Class sheet: {case.name}", task + answers)
