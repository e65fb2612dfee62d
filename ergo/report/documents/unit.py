"""The answer of `ergo unit`, and the staffing request: one sheet to sign, what it rests on behind it."""

from __future__ import annotations

from ergo.report.blocks import Block, Bullets, Document, Figure, Group, Heading, Paragraph, Title, cautions, titled
from ergo.report.documents.printed_by import printed_by
from ergo.report.figures.hours_missed import hours_missed
from ergo.report.tables.unit import (
    default_rows,
    force_rows,
    headcount_rows,
    load_rows,
    needed_rows,
    option_rows,
    policy_rows,
    shift_rows,
    task_rows,
    variation_rows,
    work_rows,
)
from ergo.unit.plan import UnitPlan
from ergo.unit.staffing_request import StaffingRequest, answer_sentence
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["staffing_document", "unit_answer"]


def unit_answer(plan: UnitPlan, request: StaffingRequest | None = None) -> Document:
    """Return the plan of a unit; the first policy in detail."""
    unit, first = plan.unit, plan.unit.policies[0].name
    blocks: list[Block] = [Title(unit.name, unit.question), Paragraph(answer_sentence(plan, first), first)]
    blocks += titled(needed_rows(plan), policy_rows(plan), shift_rows(plan, first), task_rows(plan, first))
    blocks += titled(force_rows(request)) if request else ()
    if plan.refused_columns:
        kept_not = tuple(f"{column}: {reason}" for column, reason in plan.refused_columns)
        blocks += [Heading("Columns that were not kept"), Bullets(kept_not)]
    blocks += [
        Heading("Starting values in use"),
        Bullets(tuple(map(str, plan.defaults))),
        Heading("Runs"),
        Paragraph(f"{plan.patients}. {plan.replications} runs of {plan.days} days, seed {plan.seed}.", "Patients"),
    ]
    return Document(unit.name, (*blocks, *cautions(plan.cautions)))


def staffing_document(request: StaffingRequest, plan: UnitPlan, units: Units = DEFAULT_UNITS) -> Document:
    """Return the staffing request."""
    policy = request.policy or plan.unit.policies[0].name
    first: tuple[Block, ...] = (
        Title(f"Staffing request: {request.unit}"),
        Heading(request.ask or "People for moves", 1),
        Paragraph(request.answer, policy),
        Paragraph(request.setting, quiet=True),
        *titled(option_rows(request, units)),
        Paragraph(request.assumptions[0], quiet=True),
        *titled(work_rows(request)),
        *titled(force_rows(request, units).without("source")),
    )
    left = (
        Heading("Roles and backfill"),
        Paragraph(request.roles_and_backfill or "not stated"),
        Heading("Measures and review"),
        Bullets((*request.measures, f"review on {request.review_date}")),
    )
    columns = Group("columns", (Group("column", left), Group("column", cautions(request.cautions))))
    second = (
        Heading("When it cannot be done, with present staffing"),
        Figure(hours_missed(plan.base(policy).missed_by_hour, plan.unit.target)),
        *titled(needed_rows(plan), policy_rows(plan), shift_rows(plan, policy), load_rows(plan, policy, units)),
    )
    third = (
        *titled(variation_rows(request), headcount_rows(request), default_rows(plan.defaults)),
        Heading("Sources"),
        Bullets(request.sources),
        Paragraph(f"{printed_by(plan.seed)}.", quiet=True),
    )
    sheets = (Group("dense sheet", (*first, columns)), Group("sheet", second), Group("sheet", third))
    return Document(f"Staffing request: {request.unit}", sheets)
