"""Tables and the sentence of a purchase: the page, the printed sheet and the CSV files show the same ones."""

from __future__ import annotations

import math

from ergo.limits.policy import Verdict
from ergo.plan.purchase.payback import Band, OptionCase, PurchaseCase
from ergo.show.rows import Rows

__all__ = [
    "cost_rows",
    "evidence_rows",
    "money",
    "option_verdict",
    "purchase_answer",
    "swing_rows",
    "unmeasured_rows",
]


def money(value: float, currency: str) -> str:
    """Return an amount with the user's own symbol.

    Examples
    --------
    >>> money(-180075.2, "€"), money(1234.5, "US$")
    ('−€ 180,075', 'US$ 1,234')
    """
    return f"{'−' if value < 0 else ''}{currency} {abs(value):,.0f}"


def _short(value: float) -> str:
    """Return an amount in three figures: nobody knows the cost of five years to the unit."""
    if abs(value) >= 1e6:
        return f"{value / 1e6:,.3g} million"
    return f"{float(f'{value:.3g}'):,.0f}"


def _figure(value: float, digits: int) -> str:
    return "never" if math.isinf(value) else f"{value:,.{digits}f}".replace("-", "−")


def _band(band: Band, digits: int = 0) -> str:
    return f"{_figure(band.typical, digits)} ({_figure(band.p5, digits)} to {_figure(band.p95, digits)})"


def option_verdict(option: OptionCase) -> Verdict:
    """Return the mark of an option: within pays even at the low end, close pays at typical values, over does not."""
    if option.capacity or option.npv.typical <= 0:
        return "over"
    return "within" if option.npv.p5 > 0 else "close"


def purchase_answer(case: PurchaseCase, option: OptionCase) -> tuple[str, str]:
    """Return the answer for one option in one sentence, and its reason.

    Parameters
    ----------
    case : PurchaseCase
    option : OptionCase
        Any but the first, which is present practice.
    """
    currency, years = case.purchase.currency, int(case.purchase.horizon_years)
    name = f"{option.name[:1].upper()}{option.name[1:]}"
    pays = (
        f"{name}: paid back in {_years(option.payback.typical)}"
        if math.isfinite(option.payback.typical)
        else f"{name}: never paid back at typical values"
    )
    events = option.break_even_events
    total, without = option.total_with, option.total_without
    why = (
        f"Payback from {_years(option.payback.p5)} to {_years(option.payback.p95)}. It breaks even from "
        f"{_figure(events.typical, 0)} moves a year ({_figure(events.p5, 0)} to {_figure(events.p95, 0)}). "
        f"Over {years} years, people included: {currency} {_short(total.typical)} ({_short(total.p5)} to "
        f"{_short(total.p95)}) with it, {_short(without.typical)} ({_short(without.p5)} to {_short(without.p95)}) "
        f"without. "
        f"It pays in {option.chance_npv_positive:.0%} of the draws."
    )
    return pays, f"{option.capacity[:1].upper()}{option.capacity[1:]}. {why}" if option.capacity else why


def _years(value: float) -> str:
    return "never" if math.isinf(value) else f"{value:.1f} years"


def cost_rows(case: PurchaseCase) -> Rows:
    """Return the options side by side."""
    years = int(case.purchase.horizon_years)
    rows = []
    for i, o in enumerate(case.options):
        dash = "–" if i == 0 else ""  # present practice is not held against itself
        rows.append(
            (
                o.name + (" (present practice)" if i == 0 else ""),
                _band(o.first_cost),
                _band(o.yearly_cost),
                _band(o.cost_per_event, 2),
                dash or _band(o.hours_saved),
                dash or _band(o.payback, 1),
                dash or _band(o.break_even_events),
                _band(o.total_with),
                dash or _band(o.npv),
                dash or f"{o.chance_npv_positive:.0%}",
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
        "pays in",
        "capacity",
    )
    return Rows(f"Options side by side, {case.purchase.currency}", head, tuple(rows))


def swing_rows(case: PurchaseCase, option: OptionCase) -> Rows:
    """Return what each input at its ends makes of the net present value."""
    currency = case.purchase.currency
    rows = [
        (s.what, f"{s.low:,g}", f"{s.high:,g}", money(s.npv_low, currency), money(s.npv_high, currency))
        for s in option.one_way
    ]
    head = ("input", "low", "high", "net present value at low", "at high")
    return Rows("What decides", head, tuple(rows))


def unmeasured_rows(case: PurchaseCase) -> Rows:
    """Return what nobody measured."""
    rows = [(o.name, said) for o in case.options for said in o.unmeasured]
    return Rows("What is unmeasured", ("option", "not measured"), tuple(rows))


def evidence_rows(case: PurchaseCase) -> Rows:
    """Return the injury effect that is assumed beside the published range."""
    rows = (("published", case.injury_evidence), ("assumed here", case.injury_assumption))
    return Rows("Injuries", ("what", "figure"), rows)
