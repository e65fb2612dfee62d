"""The staffing request and the purchase on paper: the answer on one sheet, what it rests on behind it."""

from __future__ import annotations

from html import escape

from ergo.purchases.cost_model import OptionCase, PurchaseCase
from ergo.report.figures.hours_missed import hours_missed
from ergo.report.figures.render_svg import svg
from ergo.report.figures.tornado import swings
from ergo.report.html_page import bullet_list, html_table, page
from ergo.report.sentences_purchase import purchase_answer
from ergo.report.tables.case import Table, citation, verdict_words
from ergo.report.tables.purchase import (
    cost_rows,
    evidence_rows,
    option_verdict,
    swing_rows,
    unmeasured_rows,
)
from ergo.report.tables.unit import (
    default_rows,
    force_rows,
    headcount_rows,
    load_rows,
    needed_rows,
    option_rows,
    policy_rows,
    shift_rows,
    variation_rows,
    work_rows,
)
from ergo.unit.plan import UnitPlan
from ergo.unit.staffing_request import StaffingRequest
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["purchase_html", "request_html"]

_FINANCE_CAUTION = (
    "A screening aid for planning. Local policy, the maker's instructions and licensed professionals decide.",
    "Ranges are independent of each other; time saved counts only as far as it is realised.",
)


def _paragraph(title: str, said: str) -> str:
    return f"<h2>{escape(title)}</h2><p>{escape(said or 'not stated')}</p>"


def request_html(request: StaffingRequest, plan: UnitPlan, units: Units = DEFAULT_UNITS) -> str:
    """Return the staffing request as one HTML file: one sheet to sign, the working behind it.

    Parameters
    ----------
    request : StaffingRequest
    plan : UnitPlan
        That the request was made of.
    units : Units

    Returns
    -------
    str
        Needs no network; every word out of a file is escaped.
    """
    work = work_rows(request)
    measures = [*request.measures, f"review on {request.review_date}"]
    first = (
        f'<section class="sheet dense"><p class="case">Staffing request: {escape(request.unit)}</p>'
        f"<h1>{escape(request.ask or 'People for moves')}</h1>"
        f'<p class="why">{escape(request.policy)}: {escape(request.answer)}</p>'
        f'<p class="question">{escape(request.setting)}</p>'
        f"<h2>Options</h2>{html_table(option_rows(request, units))}"
        f"<h2>The work</h2>{html_table(work)}"
        f"<h2>{escape(force_rows(request, units).title)}</h2>{html_table(force_rows(request, units), drop=('source',))}"
        f'<div class="two"><div>{_paragraph("Roles and backfill", request.roles_and_backfill)}'
        f"<h2>Measures and review</h2>{bullet_list(measures)}</div>"
        f"<div><h2>Before you rely on this</h2>{bullet_list(request.cautions)}</div></div></section>"
    )
    policy = request.policy or plan.unit.policies[0].name
    drawn = svg(hours_missed(plan.base(policy).missed_by_hour, plan.unit.target), 720)
    second = (
        f'<section class="sheet"><h2>When it cannot be done, with the people of now</h2><div class="figure">{drawn}'
        f"</div>{_tables(needed_rows(plan), policy_rows(plan), shift_rows(plan, policy))}"
        f"{_tables(load_rows(plan, policy, units))}"
        f"</section>"
    )
    third = (
        f'<section class="sheet">{_tables(variation_rows(request), headcount_rows(request))}'
        f"{_tables(default_rows(plan.defaults))}"
        f"<h2>Sources</h2>{bullet_list(request.sources)}</section>"
    )
    return page(f"Staffing request: {request.unit}", first + second + third)


def _tables(*tables: Table) -> str:
    return "".join(f"<h2>{escape(rows.title)}</h2>{html_table(rows)}" for rows in tables)


def purchase_html(case: PurchaseCase, option: OptionCase | None = None) -> str:
    """Return a purchase as one HTML file: one sheet for the committee, the working behind it.

    Parameters
    ----------
    case : PurchaseCase
    option : OptionCase, optional
        The option that is asked for; left out, the first after present practice.

    Returns
    -------
    str
        Needs no network; every word out of a file is escaped.
    """
    chosen = case.options[1] if option is None else option
    stated = case.purchase
    what, why = purchase_answer(case, chosen)
    verdict = option_verdict(chosen)
    costs = cost_rows(case)
    first = (
        f'<section class="sheet"><p class="case">{escape(stated.name)}</p>'
        f'<p class="question">{escape(stated.question)}</p>'
        f'<h1 class="v-{verdict}">{verdict_words(verdict)[0]} {escape(what)}</h1><p class="why">{escape(why)}</p>'
        f"<h2>{escape(costs.title)}</h2>"
        f"{html_table(costs, drop=('items and service a year', 'hours saved a year', 'capacity'))}"
        f'<div class="two"><div>{_paragraph("Use", stated.use)}'
        f"{_paragraph('Safety of the patient', stated.patient_safety)}"
        f"{_paragraph('Safety of staff', stated.staff_safety)}</div><div><h2>Trial plan</h2>"
        f"{bullet_list(stated.trial_plan or ('not stated',))}<h2>Injuries</h2>"
        f"{html_table(evidence_rows(case), head=False)}</div></div>"
        f"<h2>Before you rely on this</h2>{bullet_list(_FINANCE_CAUTION)}</section>"
    )
    second = (
        f'<section class="sheet"><h2>What decides for {escape(chosen.name)}</h2><div class="figure">'
        f"{svg(swings(chosen, stated.currency), 720)}</div>{html_table(swing_rows(case, chosen))}</section>"
        f'<section class="sheet">{_tables(costs, unmeasured_rows(case), default_rows(case.defaults))}'
        f"<p>Wage: {escape(stated.wage_basis)}. {case.draws} draws, seed {case.seed}.</p>"
        f"<h2>Sources</h2>{bullet_list([f'{key}: {citation(key)}' for key in case.sources])}</section>"
    )
    return page(stated.name, first + second)
