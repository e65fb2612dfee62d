"""Which limits decide, for whom, and the words of a verdict."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from ergo.evidence import assumption
from ergo.inputs.scenario import Protect, Sex
from ergo.limits.registry import LIMITS, Group, Limit

__all__ = ["ENOUGH", "POLICIES", "DecidingPolicy", "Verdict", "severity", "verdict_of", "worst_verdict"]

Verdict = Literal["within", "close", "over", "not applicable"]
# From good to bad; a case that no limit covers is never better than one that is close.
_ORDER: tuple[Verdict, ...] = ("within", "close", "not applicable", "over")
ENOUGH: tuple[Verdict, ...] = ("within", "close")
"""Verdicts with which a team may be named."""


@dataclass(frozen=True, slots=True)
class DecidingPolicy:
    """Whom a policy protects and which limits decide.

    `sex` None means each person is held to the figure of their own sex, women's where it is not given.
    """

    name: Protect
    sex: Sex | None
    percent: int
    deciding: tuple[str, ...]
    reason: str

    @property
    def limits(self) -> tuple[Limit, ...]:
        """The limits that decide."""
        return tuple(limit for limit in LIMITS if limit.key in self.deciding)


def _deciding(*groups: Group) -> tuple[str, ...]:
    return tuple(limit.key for limit in LIMITS if limit.decides in groups)


_PUBLISHED = _deciding("hands", "lift", "body")
_FROM_MEMORY = (
    "The accepted pulls are recalled, not read, and decide because no source that was read gives the share of people "
    "who accept a pull."
)

POLICIES: Mapping[Protect, DecidingPolicy] = {
    "75 % of women": DecidingPolicy("75 % of women", "F", 75, _PUBLISHED, _FROM_MEMORY),
    "90 % of women": DecidingPolicy("90 % of women", "F", 90, _PUBLISHED, _FROM_MEMORY),
    "mixed team": DecidingPolicy("mixed team", None, 75, _PUBLISHED, _FROM_MEMORY),
    "site limit": DecidingPolicy(
        "site limit",
        "F",
        75,
        _deciding("site", "lift", "body"),
        "The site's own limit decides in place of the published pull limits, which are shown beside it.",
    ),
}


def verdict_of(ratio: float) -> Verdict:
    """Return the word for a ratio of an amount to its limit; what is not a number is over, never a silent pass.

    >>> verdict_of(0.5), verdict_of(0.9), verdict_of(1.01), verdict_of(float("nan"))
    ('within', 'close', 'over', 'over')
    """
    if not (math.isfinite(ratio) and ratio <= 1.0):
        return "over"
    return "close" if ratio > assumption("close_threshold").typical else "within"


def severity(ratio: float | None) -> float:
    """Order ratios from good to bad: a limit that does not apply first, what is not a number last.

    >>> sorted([1.2, float("nan"), None, 0.0], key=severity)
    [None, 0.0, 1.2, nan]
    """
    if ratio is None:
        return -1.0
    return ratio if math.isfinite(ratio) else float("inf")


def worst_verdict(verdicts: list[Verdict]) -> Verdict:
    """Return the worst of several verdicts; "not applicable" when there is none.

    >>> worst_verdict(["within", "over", "close"]), worst_verdict([])
    ('over', 'not applicable')
    """
    return max(verdicts, key=_ORDER.index, default="not applicable")
