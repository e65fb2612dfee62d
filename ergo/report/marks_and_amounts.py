"""Marks of verdicts and amounts in the reader's units, said alike in tables, figures, pages and the terminal."""

from __future__ import annotations

from ergo.limits.policy import Verdict
from ergo.teams.smallest_team import Needs
from ergo.units import Units, people_words

__all__ = ["MARKS", "limit_amount", "needs_words"]


# Each verdict has its own shape as well as its word.
MARKS: dict[Verdict, str] = {"within": "●", "close": "◆", "over": "■", "not applicable": "○"}


def needs_words(needs: Needs) -> str:
    """Return what a case needs as part of a sentence: people, a lift, or no team.

    None can be named where no limit covers the case, or where a place or the airway lead is missing.

    >>> needs_words(1), needs_words(6), needs_words("lift"), needs_words("no limit")
    ('1 person', '6 people', 'a mechanical lift', 'no team can be named')
    """
    if isinstance(needs, int):
        return people_words(needs)
    return "a mechanical lift" if needs == "lift" else "no team can be named"


def limit_amount(value: float | None, unit: str, units: Units) -> str:
    """Return a limit's figure in the reader's units; a dash where there is none."""
    return "–" if value is None else units.show(value, unit)
