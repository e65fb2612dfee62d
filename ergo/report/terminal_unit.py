"""A unit plan and a purchase as plain text."""

from __future__ import annotations

from ergo.purchases.cost_model import PurchaseCase
from ergo.report.sentences_purchase import purchase_answer
from ergo.report.tables.case import Table
from ergo.report.tables.purchase import cost_rows, swing_rows, unmeasured_rows
from ergo.report.tables.unit import force_rows, needed_rows, policy_rows, shift_rows, task_rows
from ergo.report.terminal import caution_lines, head_lines, titled_table
from ergo.unit.plan import UnitPlan
from ergo.unit.staffing_request import StaffingRequest, answer_sentence

__all__ = ["purchase_text", "unit_text"]


_SWINGS = 8


def unit_text(plan: UnitPlan, request: StaffingRequest | None = None) -> str:
    """Return the plan of a unit as text; the first policy in detail."""
    first = plan.unit.policies[0].name
    lines = [*head_lines(plan.unit.name, plan.unit.question), f"{first}: {answer_sentence(plan, first)}"]
    for rows in (needed_rows(plan), policy_rows(plan), shift_rows(plan, first), task_rows(plan, first)):
        lines += titled_table(rows)
    if request is not None and request.force:
        lines += titled_table(force_rows(request))
    if plan.refused_columns:
        lines += ["", "Columns that were not kept:"]
        lines += [f"- {column}: {reason}" for column, reason in plan.refused_columns]
    lines += ["", f"Patients: {plan.patients}. {plan.replications} runs of {plan.days} days, seed {plan.seed}."]
    lines += ["", "Starting values in use:", *(f"- {d}" for d in plan.defaults)]
    return "\n".join([*lines, *caution_lines(plan.cautions)])


def purchase_text(case: PurchaseCase) -> str:
    """Return a purchase as text."""
    lines = head_lines(case.purchase.name, case.purchase.question)
    for option in case.options[1:]:
        what, why = purchase_answer(case, option)
        lines += [what, f"    {why}"]
    lines += titled_table(cost_rows(case))
    for option in case.options[1:]:
        rows = swing_rows(case, option)
        lines += titled_table(Table(f"What decides for {option.name}", rows.head, rows.rows[:_SWINGS]))
    lines += titled_table(unmeasured_rows(case))
    lines += ["", f"Injuries, published: {case.injury_evidence}", f"Injuries, assumed: {case.injury_assumption}"]
    return "\n".join([*lines, "", "Starting values in use:", *(f"- {d}" for d in case.defaults)])
