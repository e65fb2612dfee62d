"""The answer for one option of a purchase: its payback at typical values, and never without the probability of it."""

from __future__ import annotations

import math

from ergo.purchases.cost_model import Band, OptionCase, PurchaseCase
from ergo.units import percent

__all__ = ["band_words", "figure_words", "purchase_answer", "three_figures"]

_EVEN = 0.5  # with less than even probabilities nobody should count on being paid back


def purchase_answer(case: PurchaseCase, option: OptionCase) -> tuple[str, str]:
    """Return the answer for one option in one sentence, and its reason."""
    currency, years = case.purchase.currency, int(case.purchase.horizon_years)
    probability = percent(option.probability_npv_positive)
    typical = option.payback.typical
    pays = f"a probability of {probability} that it pays over {years} year{'' if years == 1 else 's'}"
    spread = f"in nine cases of ten payback runs from {_years(option.payback.p5)} to {_years(option.payback.p95)}"
    if math.isinf(typical):
        what = f"not paid back at typical values, with {pays}"
        first = f"{spread[0].upper()}{spread[1:]}."
    elif option.probability_npv_positive < _EVEN:
        what = f"no payback to count on, {pays}"
        first = (
            f"With all inputs typical it would be paid back {_within(typical)}, but over their ranges it pays in "
            f"{probability} of cases only; {spread}."
        )
    else:
        what = f"paid back {_within(typical)} at typical values, with {pays}"
        first = f"{spread[0].upper()}{spread[1:]}."
    events = option.break_even_events
    total, without = option.total_with, option.total_without
    why = (
        f"{first} {_break_even_words(events)} "
        f"Over {years} years, people included: {currency} {_short(total.typical)} ({_short(total.p5)} to "
        f"{_short(total.p95)}) with it, {_short(without.typical)} ({_short(without.p5)} to {_short(without.p95)}) "
        f"without."
    )
    name = f"{option.name[:1].upper()}{option.name[1:]}"
    return f"{name}: {what}", f"{option.capacity[:1].upper()}{option.capacity[1:]}. {why}" if option.capacity else why


def _break_even_words(events: Band) -> str:
    """Return from how many moves a year an option breaks even, the patients staying as stated."""
    if math.isinf(events.typical):
        best = "" if math.isinf(events.p5) else f"; at best it takes {figure_words(events.p5)}"
        return f"At typical values no number of moves a year is enough to break even{best}."
    if events.typical == 0 == events.p95:
        return "It breaks even whatever the number of moves."
    high = "no number is enough" if math.isinf(events.p95) else _short(events.p95)
    return (
        f"It breaks even from {_short(events.typical)} moves a year on, the patients as stated "
        f"(at best {_short(events.p5)}; at worst {high})."
    )


def figure_words(value: float, digits: int = 0, infinite: str = "never") -> str:
    """Return a figure of money, moves or years; "never" where it is infinite, and never nothing for a little.

    Above a thousand in three figures: nobody knows the cost of five years to the unit.

    >>> figure_words(14838.2), figure_words(-0.75, 1), figure_words(math.inf), figure_words(0.02, 1)
    ('14,800', '−0.8', 'never', 'under 0.1')
    """
    least = 10.0**-digits
    if digits and 0.0 < value < least / 2:
        return f"under {least:.{digits}f}"
    if math.isinf(value):
        return infinite
    return f"{three_figures(value) if abs(value) >= 1000 else value:,.{digits}f}".replace("-", "−")


def band_words(band: Band, digits: int = 0, infinite: str = "never") -> str:
    """Return a typical figure with the 5th and the 95th percentile.

    >>> band_words(Band(0.72, 0.0, 0.9, math.inf), 1)
    '0.7 (0.0 to never)'
    """
    typical, low, high = (figure_words(v, digits, infinite) for v in (band.typical, band.p5, band.p95))
    return f"{typical} ({low} to {high})"


def three_figures(value: float) -> float:
    """Return an amount rounded to three figures.

    >>> three_figures(6012071.0), three_figures(2.23333)
    (6010000.0, 2.23)
    """
    return float(f"{value:.3g}")


def _short(value: float) -> str:
    return f"{value / 1e6:,.3g} million" if abs(value) >= 1e6 else f"{three_figures(value):,.0f}"


def _years(value: float) -> str:
    if value == 0:
        return "at once"
    if value < 0.05:
        return "under 0.1 years"
    return "never" if math.isinf(value) else f"{value:.1f} years"


def _within(value: float) -> str:
    return _years(value) if value == 0 else f"in {_years(value)}"
