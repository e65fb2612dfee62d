"""The search for the smallest team: of one case or of many, at typical values or at a probability."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Literal, Protocol

from ergo.assessment import Assessment, Demand, PersonLoad, judge, largest_team, possible_teams, roles_of
from ergo.assessment.team_share import find_efforts, find_hold_without_one, holds_without_one, team_effort_of
from ergo.assessment.verdict import judge_teams
from ergo.handlers.team_effort import FULL_EFFORT
from ergo.limits.guidance import Guidance, guidance_of
from ergo.mechanics.demand import Effort
from ergo.uncertainty.monte_carlo import Drawn
from ergo.uncertainty.team_draws import solve_tables

__all__ = [
    "Counts",
    "Draws",
    "Reasons",
    "SmallTeam",
    "best_splits",
    "easiest_first",
    "one_more",
    "one_more_teams",
    "reasons_of",
    "reasons_of_many",
    "smallest_teams_of",
    "smallest_typical",
]

Team = tuple[int, int]
Counts = Literal["force", "if one breaks off", "guidance"]

_TRIED = 2  # splits of one number of people whose probability is looked at, the easiest first


class Draws(Protocol):
    """What the search asks of the draws of a case."""

    def probability(self, left: int, right: int) -> float:
        """Return the probability that nobody is over a limit with this team."""


@dataclass(frozen=True, slots=True)
class Reasons:
    """Three reasons for a number of people, everybody counted, and which of them counts.

    Each is None where no number of people is enough, or where the reason is not asked about. `left` and `right` are the
    team that the largest of them leads to.
    """

    left: int | None
    right: int | None
    people: int | None
    people_by_force: int | None
    people_if_one_breaks_off: int | None
    people_by_guidance: int | None
    guidance: Guidance
    counts: Counts | None
    no_room: bool = False
    """Whether the bed has no place for those whom another reason than force asks for."""
    effort: float = float("inf")
    """The part of what they can manage that all of that team give at typical values, where it is hardest."""
    none_holds: bool = False
    """Whether no team at this bed still holds the patient when one of it must let go, though that is asked."""

    @property
    def team(self) -> tuple[int, int] | None:
        """The people on the left and on the right; None where no team is named."""
        return None if self.left is None or self.right is None else (self.left, self.right)


@dataclass(frozen=True, slots=True)
class SmallTeam:
    """The smallest team of one case: people on each side, the assessment by the limits that decide, and the effort."""

    left: int
    right: int
    assessment: Assessment
    ratio: float
    probability: float | None
    """That nobody is over a limit; None where the team was looked for at typical values."""
    reasons: Reasons

    @property
    def done(self) -> tuple[tuple[Effort, PersonLoad], ...]:
        """What each person does."""
        return tuple((e.effort, load) for move in self.assessment.moves for e in move.efforts for load in e.loads)


def smallest_teams_of(
    cases: Sequence[Demand],
    probability_asked: float | None = None,
    *,
    by_force_alone: bool = False,
) -> list[SmallTeam | None]:
    """Return the smallest team of each case, and what each person does in it.

    By force a team is enough where every move is within the deciding limits at typical values and, where a probability
    is asked for, nobody is over one in at least that share of the draws; of one number of people the split counts in
    which all work least. The other reasons may ask for more. What people can manage is found for all cases together.
    """
    every = reasons_of_many(cases, probability_asked, by_force_alone=by_force_alone)
    teams = [(k, why, *team) for k, (why, _) in enumerate(every) if (team := why.team) is not None]
    judged = judge_teams([(cases[k], left, right) for k, _, left, right in teams], every_limit=False)
    found: list[SmallTeam | None] = [None] * len(cases)
    for (k, why, left, right), result in zip(teams, judged, strict=True):
        found[k] = SmallTeam(left, right, result, team_effort_of(cases[k], left, right)[0], every[k][1], why)
    return found


def reasons_of_many(
    cases: Sequence[Demand], probability_asked: float | None = None, *, by_force_alone: bool = False
) -> list[tuple[Reasons, float | None]]:
    """Return the reasons of each case and how sure its team is.

    What people can manage is found in one search for all of them, draws are kept for one at a time.

    >>> from ergo.assessment import demand_of
    >>> from ergo.inputs import examples
    >>> [why.people for why, _ in reasons_of_many([demand_of(examples.boost(mass)) for mass in (60.0, 140.0)])]
    [2, 4]
    """
    asked = [demand for demand in cases if not demand.refusals]
    find_efforts(asked)
    if not by_force_alone:
        find_hold_without_one([demand for demand in asked if _asks_breaking_off(demand)])
    made: dict[int, Drawn] = {}
    if probability_asked is not None:
        made = {k: Drawn.usual(demand) for k, demand in enumerate(cases) if not demand.refusals and _able(demand)}
        solve_tables([drawn.tables for drawn in made.values()])
    every: list[tuple[Reasons, float | None]] = []
    for k, demand in enumerate(cases):
        drawn = made.pop(k, None)
        why = reasons_of(demand, probability_asked, drawn, by_force_alone=by_force_alone)
        every.append((why, None if drawn is None or why.team is None else drawn.probability(*why.team)))
    return every


def _able(demand: Demand) -> bool:
    """Whether any team is enough at typical values."""
    return any(team_effort_of(demand, *team)[0] <= FULL_EFFORT for team in possible_teams(demand))


def _asks_breaking_off(demand: Demand) -> bool:
    return demand.scenario.policy.count_breaking_off and any(task.falls for task in demand.tasks)


def reasons_of(
    demand: Demand, probability_asked: float | None = None, draws: Draws | None = None, *, by_force_alone: bool = False
) -> Reasons:
    """Return how many people each reason asks for, and the team that meets all that count.

    What a larger reason adds are hands, placed where they ease the work most.

    >>> from ergo.assessment import demand_of
    >>> from ergo.inputs import examples
    >>> found = reasons_of(demand_of(examples.prone_turn()))
    >>> found.people_by_force <= found.people, found.people_by_guidance, found.counts
    (True, 5, 'guidance')
    """
    scenario, guidance = demand.scenario, guidance_of(demand.scenario)
    roles = sum(role.people for role in roles_of(scenario))
    search = _Search(demand, probability_asked, draws)
    by_force = None if demand.refusals else search.first(lambda team: True)
    if by_force is None or by_force_alone:
        people = None if by_force is None else sum(by_force) + roles
        left, right = by_force or (None, None)
        effort = team_effort_of(demand, *by_force)[0] if by_force else float("inf")
        counted: Counts | None = "force" if by_force else None
        return Reasons(left, right, people, people, None, None, guidance, counted, effort=effort)
    asks_breaking_off = _asks_breaking_off(demand)
    breaks = search.smallest(lambda team: holds_without_one(demand, *team)) if asks_breaking_off else None
    each, wanted = guidance.each_side or 0, guidance.people or 0

    def guided(team: Team) -> bool:
        return min(team) >= each and sum(team) + roles >= wanted

    def held(team: Team) -> bool:
        return not asks_breaking_off or holds_without_one(demand, *team)

    # where the bed has no place for all of it, what can be met of it counts
    team = search.first(lambda team: guided(team) and held(team))
    no_room = team is None
    team = team or search.first(held) or search.first(guided) or by_force
    numbers: dict[Counts, int | None] = {
        "force": sum(by_force) + roles,
        "if one breaks off": sum(breaks) + roles if breaks else None,
        "guidance": guidance.people,
    }
    counts = max((n, -i, name) for i, (name, n) in enumerate(numbers.items()) if n is not None)[2]
    return Reasons(
        left=team[0],
        right=team[1],
        people=sum(team) + roles,
        people_by_force=numbers["force"],
        people_if_one_breaks_off=numbers["if one breaks off"],
        people_by_guidance=numbers["guidance"],
        guidance=guidance,
        counts="force" if team == by_force and no_room else counts,
        no_room=no_room,
        none_holds=asks_breaking_off and breaks is None,
        effort=team_effort_of(demand, *team)[0],
    )


def best_splits(demand: Demand) -> tuple[Team, ...]:
    """Return the team of each possible number of people in which all work least, fewest people first.

    >>> from ergo.assessment import demand_of
    >>> from ergo.inputs import examples
    >>> best_splits(demand_of(examples.lateral_transfer(aid="cotton draw sheet")))[:3]
    ((1, 1), (2, 1), (3, 1))
    """
    return tuple(splits[0] for splits in _sizes(demand))


def _sizes(demand: Demand) -> Iterator[list[Team]]:
    """The possible teams of each number of people, those in which all work least first."""
    return _by_size(demand, possible_teams(demand))


def _by_size(demand: Demand, teams: Iterable[Team]) -> Iterator[list[Team]]:
    for _, splits in groupby(teams, key=sum):
        yield easiest_first(demand, splits)


def easiest_first(demand: Demand, teams: Iterable[Team]) -> list[Team]:
    """Return teams of one number of people, those in which all work least first, then the evenest, then the far side.

    >>> from ergo.assessment import demand_of
    >>> from ergo.inputs import examples
    >>> easiest_first(demand_of(examples.boost()), [(3, 1), (2, 2)])
    [(2, 2), (3, 1)]
    """
    near = 0 if demand.direction.receiving == "left" else 1
    return sorted(teams, key=lambda t: (round(team_effort_of(demand, *t)[0], 9), abs(t[0] - t[1]), t[near]))


class _Search:
    """The teams of one case, by number of people; of equal numbers the one in which all work least comes first."""

    def __init__(self, demand: Demand, probability_asked: float | None, draws: Draws | None) -> None:
        self.demand = demand
        self._teams = possible_teams(demand)
        self._asked = probability_asked
        self._draws = draws or (None if probability_asked is None else Drawn.usual(demand))
        self._enough: dict[Team, bool] = {}

    def first(self, also: Callable[[Team], bool]) -> Team | None:
        """Return the smallest team that is enough by force and in another way."""
        for splits in _by_size(self.demand, self._teams):
            able = [team for team in splits if team_effort_of(self.demand, *team)[0] <= FULL_EFFORT and also(team)]
            for team in able[:_TRIED]:
                if self._sure(team):
                    return team
        return None

    def smallest(self, enough: Callable[[Team], bool]) -> Team | None:
        """Return the smallest team that is enough in one way, force apart."""
        return next((team for splits in _by_size(self.demand, self._teams) for team in splits if enough(team)), None)

    def _sure(self, team: Team) -> bool:
        if self._asked is None or self._draws is None:
            return True
        if team not in self._enough:
            self._enough[team] = self._draws.probability(*team) >= self._asked
        return self._enough[team]


def smallest_typical(demand: Demand) -> Assessment | None:
    """Return the assessment of the smallest team at typical values; None where there is none."""
    found = reasons_of(demand)
    return judge(demand, *found.team) if found.team is not None else None


def one_more(demand: Demand, team: Assessment) -> Assessment | None:
    """Return the better of the two teams with one more person, where there is a place."""
    teams = one_more_teams(demand, team.left, team.right)
    return judge(demand, *teams[0]) if teams else None


def one_more_teams(demand: Demand, left: int, right: int) -> list[Team]:
    """Return the teams with one more person that find a place, the easiest first.

    >>> from ergo.assessment import demand_of
    >>> from ergo.inputs import examples
    >>> one_more_teams(demand_of(examples.boost()), 1, 2)
    [(2, 2), (1, 3)]
    """
    most = largest_team(demand)
    more = [(left + 1, right), (left, right + 1)]
    return easiest_first(demand, [team for team in more if team[0] <= most[0] and team[1] <= most[1]])
