"""Which limits decide, for whom, and the words of a verdict."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from ergo.evidence import assumption
from ergo.inputs.scenario import Protect, Sex
from ergo.limits.registry import LIMITS, Group, Limit

__all__ = [
    "ENOUGH",
    "POLICIES",
    "WHAT_DECIDES",
    "DecidingPolicy",
    "Verdict",
    "severity",
    "verdict_of",
    "worst_verdict",
]

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
    def accepted(self) -> str:
        """What a pull within the accepted share means, and what it does not; "" where the site's own limit decides.

        >>> POLICIES["75 % of women"].accepted
        'Three in four women find such a pull acceptable; that is no promise against injury.'
        """
        if self.name == "site limit":
            return ""
        many = {75: "Three in four", 90: "Nine in ten"}[self.percent]
        who = {"F": "women", "M": "men", None: "women, or men where one pulls,"}[self.sex]
        return f"{many} {who} find such a pull acceptable; that is no promise against injury."

    @property
    def limits(self) -> tuple[Limit, ...]:
        """The limits that decide."""
        return tuple(limit for limit in LIMITS if limit.key in self.deciding)


def _deciding(*groups: Group) -> tuple[str, ...]:
    return tuple(limit.key for limit in LIMITS if limit.decides in groups)


_PUBLISHED = _deciding("hands", "back", "lift", "body")
WHAT_DECIDES = (
    "Every person's effort is held against published limits, and the nearest one decides. A pull: what the chosen "
    "share of women or men accept when it comes this often, what spares the lower back of four people in five at this "
    "height of the hands, and what a whole body, or arms stretched out over the bed, can pull. A lift, a lowering or a "
    "hold: what may be lifted at this distance and height, and how long the arms can hold it. The posture: the load of "
    "the lowest disc of the spine, and the grip of the shoes. All of these were read or reprinted, except where an "
    "answer says that one is from memory. Limits made for work at machines, for pulling while walking or as a first "
    "screening are shown beside them and never decide."
)
"""Which limits decide, in one paragraph."""

POLICIES: Mapping[Protect, DecidingPolicy] = {
    "75 % of women": DecidingPolicy("75 % of women", "F", 75, _PUBLISHED, WHAT_DECIDES),
    "90 % of women": DecidingPolicy("90 % of women", "F", 90, _PUBLISHED, WHAT_DECIDES),
    "75 % of men": DecidingPolicy("75 % of men", "M", 75, _PUBLISHED, WHAT_DECIDES),
    "90 % of men": DecidingPolicy("90 % of men", "M", 90, _PUBLISHED, WHAT_DECIDES),
    "mixed team": DecidingPolicy("mixed team", None, 75, _PUBLISHED, WHAT_DECIDES),
    "site limit": DecidingPolicy(
        "site limit",
        "F",
        75,
        _deciding("site", "back", "lift", "body"),
        "The site's own limit decides in place of the pulls that people accept, which are shown beside it; the peak "
        "that protects the low back decides under every choice.",
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
