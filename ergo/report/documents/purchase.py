"""The answer of `ergo purchase`, and the pages for a committee: one sheet to decide on, the working behind it."""

from __future__ import annotations

from dataclasses import replace

from ergo.evidence import row
from ergo.purchases.cost_model import OptionCase, PurchaseCase
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
from ergo.report.figures.tornado import tornado
from ergo.report.sentences_purchase import purchase_answer
from ergo.report.tables.case import citation
from ergo.report.tables.purchase import cost_rows, evidence_rows, option_verdict, swing_rows, unmeasured_rows
from ergo.report.tables.unit import default_rows

__all__ = ["purchase_document", "purchase_text_answer"]

_CAUTIONS = (
    "A screening aid for planning. Local policy, the maker's instructions and licensed professionals decide.",
    "Ranges are independent of each other; time saved counts only in so far as it becomes money or other work.",
)
_SWINGS = 8  # rows of an option that is not the one asked for; the case holds all


def _swings(case: PurchaseCase, option: OptionCase, most: int | None = None) -> Table:
    rows = swing_rows(case, option)
    return replace(rows, title=f"What decides for {option.name}", rows=rows.rows[:most])


def purchase_text_answer(case: PurchaseCase) -> Document:
    """Return the answer for every option, and what it rests on."""
    blocks: list[Block] = [Title(case.purchase.name, case.purchase.question)]
    for option in case.options[1:]:
        what, why = purchase_answer(case, option)
        blocks += [Paragraph(what), Group("indented", (Paragraph(why),))]
    blocks += titled(cost_rows(case), *(_swings(case, option, _SWINGS) for option in case.options[1:]))
    blocks += titled(unmeasured_rows(case), evidence_rows(case))
    blocks += [Heading("Starting values in use"), Bullets(tuple(map(str, case.defaults)))]
    return Document(case.purchase.name, (*blocks, *cautions(_CAUTIONS)))


def purchase_document(case: PurchaseCase, option: OptionCase | None = None) -> Document:
    """Return the pages for a committee."""
    chosen = case.options[1] if option is None else option
    others = [o for o in case.options[1:] if o is not chosen]
    stated = case.purchase
    what, why = purchase_answer(case, chosen)
    costs = cost_rows(case)
    parts = {"Use": stated.use, "Safety of the patient": stated.patient_safety, "Safety of staff": stated.staff_safety}
    left = tuple(block for title, said in parts.items() for block in (Heading(title), Paragraph(said or "not stated")))
    right = (Heading("Trial plan"), Bullets(stated.trial_plan or ("not stated",)), *titled(evidence_rows(case)))
    first = Group(
        "sheet",
        (
            Title(stated.name, stated.question),
            Verdict(option_verdict(chosen), what),
            Paragraph(why),
            *titled(costs.without("items and service a year", "hours saved a year", "capacity")),
            Group("columns", (Group("column", left), Group("column", right))),
            *cautions(_CAUTIONS),
        ),
    )
    second: list[Block] = [
        Heading(f"What decides for {chosen.name}"),
        Figure(tornado(chosen, stated.currency)),
        _swings(case, chosen),
    ]
    for other in others:
        what, why = purchase_answer(case, other)
        second += [Verdict(option_verdict(other), what, 2), Paragraph(why), _swings(case, other, _SWINGS)]
    third = (
        *titled(costs, unmeasured_rows(case), default_rows(case.defaults)),
        Paragraph(f"{stated.wage_basis}. {case.draws} draws, seed {case.seed}.", "Wage"),
        Paragraph(_published_payback(), "Ceiling lifts"),
        Heading("Sources"),
        Bullets(tuple(f"{key}: {citation(key)}" for key in case.sources)),
        Paragraph(f"{printed_by(case.seed)}.", quiet=True),
    )
    return Document(stated.name, (first, Group("sheet", tuple(second)), Group("sheet", third)))


def _published_payback() -> str:
    found = row("staffing_and_cost", item="ceiling-lift payback")
    return (
        f"payback, published: {found['value']} years ({found['source']}); its inputs are not known here, so it cannot "
        "be checked and does not enter."
    )
