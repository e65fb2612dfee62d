"""The search for the smallest team: of one case or of many, at typical values or at a probability."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Literal, Protocol

from ergo.assessment import Assessment, Demand, PersonLoad, judge, largest_team, possible_teams
from ergo.assessment.check import compare_with_limits
from ergo.assessment.verdict import compute_loads_of_many
from ergo.inputs.scenario import Side
from ergo.limits.policy import ENOUGH, verdict_of
from ergo.limits.registry import NotApplicable
from ergo.mechanics.demand import Effort
from ergo.uncertainty.monte_carlo import Drawn

__all__ = ["Draws", "SmallTeam", "one_more", "smallest_teams_of", "smallest_typical"]

_SIDES: tuple[Side, Side] = ("left", "right")
_Place = Literal["left", "right", "airway"]


class Draws(Protocol):
    """What the search asks of the draws of a case."""

    def probability(self, left: int, right: int) -> float:
        """Return the probability that nobody is over a limit with this team."""

    def can_reach(self, left: int, right: int, probability_asked: float) -> bool:
        """Return whether either side alone, the other apart, is sure enough."""


@dataclass(frozen=True, slots=True)
class SmallTeam:
    """The smallest team of one case: people on each side, what each person does, the largest ratio to a limit."""

    left: int
    right: int
    done: tuple[tuple[Effort, PersonLoad], ...]
    ratio: float
    probability: float | None
    """That nobody is over a limit; None where the team was looked for at typical values."""


def smallest_teams_of(
    cases: Sequence[Demand], probability_asked: float | None = None, draws: Sequence[Draws] | None = None
) -> list[SmallTeam | None]:
    """Return the smallest team of each case, the first of its `possible_teams` that is enough.

    A team is enough where every move is within the deciding limits at typical values and, where a probability is asked
    for, nobody is over one in at least that share of the draws. One case is a batch of one: all bodies that the cases
    ask about at a time are found in one vectorised search, whatever their beds and handling.
    """
    made: Sequence[Draws | None] = draws or [None] * len(cases)
    open_cases = [_Case(demand, probability_asked, drawn) for demand, drawn in zip(cases, made, strict=True)]
    found: dict[int, SmallTeam | None] = {}
    waiting = dict(enumerate(open_cases))
    while waiting:
        found |= {k: case.found() for k, case in waiting.items() if not case.unknown()}
        waiting = {k: case for k, case in waiting.items() if k not in found}
        compute_loads_of_many([(case.demand, *group) for case in waiting.values() for group in case.unknown()])
        for case in waiting.values():
            case.learn()
    return [found[k] for k in range(len(cases))]


def smallest_typical(demand: Demand) -> Assessment | None:
    """Return the assessment of the smallest team at typical values; None where there is none."""
    (found,) = smallest_teams_of([demand])
    return judge(demand, found.left, found.right) if found else None


def one_more(demand: Demand, team: Assessment) -> Assessment | None:
    """Return the better of the two teams with one more person, where there is a place."""
    left_most, right_most = largest_team(demand)
    near = 0 if demand.direction.receiving == "left" else 1
    teams = sorted([(team.left + 1, team.right), (team.left, team.right + 1)], key=lambda t: t[near])
    possible = [judge(demand, *t) for t in teams if t[0] <= left_most and t[1] <= right_most]
    return min(possible, key=lambda a: (a.worst_ratio, sum(m.worst_person_force_n for m in a.moves)), default=None)


@dataclass(slots=True)
class _Group:
    """What the people of a side, or the airway lead, do: whether within the deciding limits, and the moves covered."""

    enough: bool = True
    ratio: float = 0.0
    done: list[tuple[Effort, PersonLoad]] = field(default_factory=list)
    judged: set[int] = field(default_factory=set)

    def add(self, demand: Demand, move: int, effort: Effort, loads: Iterable[PersonLoad]) -> None:
        for load in loads:
            self.done.append((effort, load))
            if not load.body.can_be_held:
                self.enough = False
            if not self.enough:  # one person over is enough to know
                return
            for _, _, value, ratio in compare_with_limits(demand, effort, load, demand.policy.limits):
                if ratio is None and isinstance(value, NotApplicable) and not value.outside:
                    continue
                self.judged.add(move)
                if ratio is None or verdict_of(ratio) not in ENOUGH:
                    self.enough = False
                    return
                self.ratio = max(self.ratio, ratio)


class _Case:
    """One case of a search: the team that is looked at, and what is known of each side's groups."""

    def __init__(self, demand: Demand, probability_asked: float | None, draws: Draws | None) -> None:
        self.demand = demand
        self._asked = probability_asked
        self._draws = draws
        self._known: dict[tuple[_Place, int], _Group] = {}
        self._teams = iter([] if demand.refusals else possible_teams(demand))
        self._team = next(self._teams, None)
        self._look()

    def unknown(self) -> list[tuple[_Place, int]]:
        """Return the groups of the team looked at of which nothing is known yet."""
        return [group for group in self._groups() if group not in self._known]

    def learn(self) -> None:
        """Compare the groups that were computed with the limits, and look at the next team that may be enough."""
        for place, people in self.unknown():
            group = self._known[place, people] = _Group()
            for (move, at), part in self.demand.computed[place, people].items():
                group.add(self.demand, move, self.demand.moves[move][1][at], part.loads)
        if not self._known["airway", 1].enough:  # whoever stands at the sides
            self._team = None
        self._look()

    def found(self) -> SmallTeam | None:
        """Return the team looked at, of which everything is known."""
        if self._team is None:
            return None
        groups = [self._known[group] for group in self._groups()]
        return SmallTeam(
            *self._team,
            tuple(one for group in groups for one in group.done),
            max(group.ratio for group in groups),
            self._draws.probability(*self._team) if self._draws and self._asked is not None else None,
        )

    def _look(self) -> None:
        while self._team is not None and not self._may_be_enough(*self._team):
            self._team = next(self._teams, None)

    def _groups(self) -> list[tuple[_Place, int]]:
        if self._team is None:
            return []
        sides: list[tuple[_Place, int]] = [(side, n) for side, n in zip(_SIDES, self._team, strict=True) if n]
        return [*sides, ("airway", 1)]

    def _may_be_enough(self, left: int, right: int) -> bool:
        groups = [self._known[group] for group in self._groups() if group in self._known]
        if not all(group.enough for group in groups):
            return False
        if self._asked is not None:
            self._draws = self._draws or Drawn.usual(self.demand)
            if not self._draws.can_reach(left, right, self._asked):
                return False
            if self._draws.probability(left, right) < self._asked:
                return False
        if self.unknown():
            return True
        judged = set[int]().union(*(group.judged for group in groups))  # a move that no limit covers is no pass
        return all(m in judged for m, (_, efforts) in enumerate(self.demand.moves) if efforts)
