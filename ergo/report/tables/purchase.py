"""Tables and the mark of a purchase: the page, the printed sheet and the CSV files show the same ones."""

from __future__ import annotations

from ergo.limits.policy import Verdict
from ergo.purchases.cost_model import OptionCase, PurchaseCase
from ergo.report.blocks import Table, in_plain_words
from ergo.report.sentences_purchase import band_words, figure_words, three_figures
from ergo.units import percent

__all__ = [
    "cost_rows",
    "evidence_rows",
    "money",
    "option_verdict",
    "swing_cells",
    "swing_rows",
    "unmeasured_rows",
]


def money(value: float, currency: str) -> str:
    """Return an amount with the user's own symbol, in three figures.

    >>> money(-180075.2, "€"), money(1234.5, "US$")
    ('−€ 180,000', 'US$ 1,230')
    """
    return f"{'−' if value < 0 else ''}{currency} {figure_words(abs(value))}"


def option_verdict(option: OptionCase) -> Verdict:
    """Return the mark of an option: within pays even at the low end, close pays at typical values, over does not."""
    if option.capacity or option.npv.typical <= 0:
        return "over"
    return "within" if option.npv.p5 > 0 else "close"


def cost_rows(case: PurchaseCase) -> Table:
    """Return the options side by side."""
    years = int(case.purchase.horizon_years)
    rows = []
    for i, o in enumerate(case.options):
        dash = "–" if i == 0 else ""  # present practice is not held against itself
        rows.append(
            (
                o.name + (" (present practice)" if i == 0 else ""),
                band_words(o.first_cost),
                band_words(o.yearly_cost),
                band_words(o.cost_per_event, 2),
                dash or band_words(o.hours_saved),
                dash or band_words(o.payback, 1),
                dash or band_words(o.break_even_events, infinite="no number"),
                band_words(o.total_with),
                dash or band_words(o.npv),
                dash or percent(o.probability_npv_positive),
                o.capacity or "–",
            )
        )
    head = (
        "option",
        "first cost",
        "items and service a year",
        "cost of a move, without people",
        "hours saved a year",
        "payback, years",
        "break-even, moves a year",
        f"cost over {years} years, people included",
        f"net present value, {years} years",
        "probability it pays",
        "capacity",
    )
    return Table(f"Options side by side, {case.purchase.currency}", head, tuple(rows))


def swing_rows(case: PurchaseCase, option: OptionCase) -> Table:
    """Return what each input at its ends makes of the net present value."""
    head = ("input", "low", "high", "net present value at low", "at high")
    return Table("What decides", head, swing_cells(option, case.purchase.currency))


def swing_cells(option: OptionCase, currency: str) -> tuple[tuple[str, ...], ...]:
    """Return each input, its low and high end, and the net present value at either, the largest swing first."""
    return tuple(
        (
            s.what,
            *(f"{three_figures(end):,g}" for end in (s.low, s.high)),
            *(money(value, currency) for value in (s.npv_low, s.npv_high)),
        )
        for s in option.one_way
    )


def unmeasured_rows(case: PurchaseCase) -> Table:
    """Return what nobody measured."""
    rows = [(o.name, said) for o in case.options for said in o.unmeasured]
    return Table("What is unmeasured", ("option", "not measured"), tuple(rows))


def evidence_rows(case: PurchaseCase) -> Table:
    """Return the injury effect that is assumed beside the published range."""
    rows = (("published", in_plain_words(case.injury_evidence)), ("assumed here", case.injury_assumption))
    return Table("Injuries", ("what", "figure"), rows, "facts")
