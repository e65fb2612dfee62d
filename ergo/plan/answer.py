"""What an answer holds: the smallest team of a case, what else was found on the way, and the other aids."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ergo.assessment import Assessment, Role
from ergo.limits.policy import Verdict
from ergo.mechanics.landing import Landing
from ergo.mechanics.layers import Aid
from ergo.plan.chance.confidence import Sureness
from ergo.plan.published import PublishedHeadcount
from ergo.plan.team_curve import CurvePoint
from ergo.scenario import Scenario

__all__ = ["AidOption", "FirstAnswer", "Needs", "TeamAnswer"]

Needs = int | Literal["lift", "no limit"]
"""The number of people, or why there is none."""


@dataclass(frozen=True, slots=True)
class AidOption:
    """The smallest team with one aid."""

    aid: str
    people: int | None
    left: int | None
    right: int | None
    chance: float
    worst_ratio: float
    worst_person_force_n: float
    deciding: str
    unmeasured: bool
    note: str
    details: Aid
    """Layers with friction, cover, use and capacity."""
    landing: Landing | None
    verdict: Verdict

    @property
    def needs(self) -> Needs:
        """The number of people, or why there is none."""
        return _needs(self.people, self.verdict)


@dataclass(frozen=True, slots=True)
class FirstAnswer:
    """How many people a scenario needs, and why.

    `people`, `left` and `right` are None when a mechanical lift is the answer, or when no limit covers the case.
    `chance` is that nobody is over a limit with the team shown.
    """

    scenario: Scenario
    people: int | None
    left: int | None
    right: int | None
    roles: tuple[Role, ...]
    confidence: float
    chance: float
    assessment: Assessment
    why: str

    @property
    def needs(self) -> Needs:
        """The number of people, or why there is none."""
        return _needs(self.people, self.assessment.verdict)

    @property
    def use_lift(self) -> bool:
        """Whether a mechanical lift is the answer."""
        return self.needs == "lift"


@dataclass(frozen=True, slots=True)
class TeamAnswer(FirstAnswer):
    """The same with every other team's chance, what one more person or another aid buys, and published headcounts."""

    sure: Sureness
    curve: tuple[CurvePoint, ...]
    one_more: Assessment | None
    aids: tuple[AidOption, ...]
    published: tuple[PublishedHeadcount, ...]
    gains: tuple[str, ...]


def _needs(people: int | None, verdict: Verdict) -> Needs:
    if people is not None:
        return people
    return "no limit" if verdict == "not applicable" else "lift"
