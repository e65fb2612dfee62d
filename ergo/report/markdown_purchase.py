"""The one page of a purchase for a value-analysis committee, as Markdown."""

from __future__ import annotations

from ergo.evidence import row, source, sources
from ergo.purchases.cost_model import PurchaseCase
from ergo.report.markdown import cell, grid
from ergo.report.sentences_purchase import band_words, figure_words, purchase_answer
from ergo.units import percent

__all__ = ["purchase_markdown"]

SWINGS = 6  # rows of the one-way table on the page; the case holds all


def purchase_markdown(case: PurchaseCase) -> str:
    """Return the page: the answer, use, safety, evidence, cost, alternatives, trial plan, what is unmeasured.

    Parameters
    ----------
    case : PurchaseCase

    Returns
    -------
    str
        Markdown; a user's own words stand in it as plain text.

    Examples
    --------
    >>> from ergo.inputs.purchase import load_purchase
    >>> from ergo.purchases.cost_model import compare_purchase
    >>> from ergo.inputs.examples import scenario_folder
    >>> case = compare_purchase(load_purchase(scenario_folder() / "purchases" / "turning_pad.toml"))
    >>> page = purchase_markdown(case)
    >>> [line for line in page.splitlines() if line.startswith("- **six")]
    ['- **six rented turning beds: rated for 180 kg: not for a patient of 190 kg.**']
    """
    p = case.purchase
    years = int(p.horizon_years)
    lines = [f"# Value analysis: {cell(p.name)}", "", f"**Question.** {cell(p.question)}", ""]
    lines += ["## Answer", ""]
    lines += [f"- **{cell(what)}.** {cell(why)}" for what, why in (purchase_answer(case, o) for o in case.options[1:])]
    lines.append("")
    for title, said in (
        ("Use", p.use),
        ("Safety of the patient", p.patient_safety),
        ("Safety of staff", p.staff_safety),
    ):
        lines += [f"## {title}", "", cell(said), ""]
    refused = [o for o in case.options if o.capacity]
    lines += [*(f"- **{cell(o.name)}: {cell(o.capacity)}.**" for o in refused), *([""] if refused else [])]
    lines += [
        "## Cost and alternatives",
        "",
        f"Typical value (5th to 95th percentile), {cell(p.currency)}.",
        "",
    ]
    lines += grid(
        ("option", "first cost", "a year", "a move", "hours saved a year", f"net present value, {years} years",
         "probability it pays", "payback, years", "break-even, moves a year"),
        [
            (o.name, band_words(o.first_cost), band_words(o.yearly_cost), band_words(o.cost_per_event, 2),
             band_words(o.hours_saved), band_words(o.npv),
             percent(o.probability_npv_positive) if o is not case.options[0] else "-",
             band_words(o.payback, 1), band_words(o.break_even_events))
            for o in case.options
        ],
    )  # fmt: skip
    lines += grid(
        ("option", f"cost over {years} years with it", "without"),
        [(o.name, band_words(o.total_with), band_words(o.total_without)) for o in case.options[1:]],
    )
    lines += ["## What decides", ""]
    lines += grid(
        ("option", "input", "low", "high", "net present value at low", "at high"),
        [
            (o.name, s.what, f"{s.low:,g}", f"{s.high:,g}", figure_words(s.npv_low), figure_words(s.npv_high))
            for o in case.options[1:]
            for s in o.one_way[:SWINGS]
        ],
    )
    payback = row("staffing_and_cost", item="ceiling-lift payback")
    lines += ["## Evidence", "", f"- injuries, published: {cell(case.injury_evidence)}"]
    lines += [f"- injuries, assumed here: {cell(case.injury_assumption)}"]
    lines += [
        f"- ceiling-lift payback, published: {payback['value']} years ({cell(payback['source'])}); its inputs are not "
        "known here, so it cannot be checked and does not enter",
        "",
        "## Trial plan",
        "",
        *(f"- {cell(t)}" for t in p.trial_plan or ("not stated",)),
        "",
        "## What is unmeasured",
        "",
        *(f"- {cell(o.name)}: {cell(u)}" for o in case.options for u in o.unmeasured),
        "",
        "## Assumptions",
        "",
        f"- wage: {cell(p.wage_basis)}",
        *(f"- {cell(str(d))}" for d in case.defaults),
        f"- {case.draws} draws, seed {case.seed}; ranges are independent of each other",
        "",
        "## Sources",
        "",
        *(f"- {cell(k)}: {cell(source(k).citation)}" for k in case.sources if k in sources()),
        "",
        "A screening aid for planning. Local policy, the maker's instructions and licensed professionals decide.",
        "",
    ]
    return "\n".join(lines)
