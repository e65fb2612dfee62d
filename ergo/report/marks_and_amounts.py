"""Marks of verdicts and amounts in the reader's units, said alike in tables, figures, pages and the terminal."""

from __future__ import annotations

from ergo.assessment import LimitCheck
from ergo.limits.policy import Verdict
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["MARKS", "in_units", "limit_amount", "needs_words"]


# Each verdict has its own shape as well as its word.
MARKS: dict[Verdict, str] = {"within": "●", "close": "◆", "over": "■", "not applicable": "○"}


def needs_words(needs: int | str) -> str:
    """Return what a case needs as part of a sentence: people, a lift, or no team.

    None can be named where no limit covers the case, or where a place or the airway lead is missing.

    >>> needs_words(1), needs_words(6), needs_words("lift"), needs_words("no limit")
    ('1 person', '6 people', 'a mechanical lift', 'no team can be named')
    """
    if isinstance(needs, int):
        return "1 person" if needs == 1 else f"{needs} people"
    return "a mechanical lift" if needs == "lift" else "no team can be named"


def limit_amount(value: float | None, unit: str, units: Units) -> str:
    """Return a limit's figure in the reader's units; a dash where there is none."""
    if value is None:
        return "–"
    if unit == "N":
        return units.show_force(value)
    if unit == "kg":
        return units.show_mass(value)
    return f"{value:.2f}" if unit == "ratio" else f"{value:.0f} {unit}"


def in_units(said: str, check: LimitCheck | None, units: Units) -> str:
    """Return a sentence about a limit with its two amounts in the reader's units, converted before they are rounded."""
    if check is None or check.limit is None:
        return said

    def amounts(of: Units) -> str:
        return f"{limit_amount(check.amount, check.unit, of)} against {limit_amount(check.limit, check.unit, of)}"

    return said.replace(amounts(DEFAULT_UNITS), amounts(units))
