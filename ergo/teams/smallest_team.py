"""The smallest team of one case or of many."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

from ergo.assessment import (
    Assessment,
    Demand,
    PersonLoad,
    Role,
    demand_of,
    has_airway_lead,
    judge,
    largest_team,
    roles_of,
)
from ergo.assessment.check import checks
from ergo.assessment.load import shared
from ergo.assessment.team import Person, airway_lead, crew_of
from ergo.errors import Fault, InputError
from ergo.evidence import assumption
from ergo.inputs.scenario import Scenario, Side
from ergo.limits.policy import ENOUGH, Verdict, verdict_of
from ergo.mechanics.bed_clearance import Landing
from ergo.mechanics.demand import Effort
from ergo.mechanics.friction import Aid
from ergo.teams.published_headcounts import PublishedHeadcount, published_headcounts
from ergo.teams.sentences import gain_words, why_words
from ergo.teams.size_curve import CurvePoint, drawn_point, typical_curve
from ergo.uncertainty.monte_carlo import MOST, Drawn, Reliability, possible_teams, reliability

__all__ = [
    "AidOption",
    "FirstAnswer",
    "Needs",
    "Search",
    "SmallTeam",
    "TeamAnswer",
    "smallest_of_many",
    "smallest_typical",
]

Needs = int | Literal["lift", "no limit"]
"""The number of people, or why there is none."""


@dataclass(frozen=True, slots=True)
class AidOption:
    """The smallest team with one aid."""

    aid: str
    people: int | None
    left: int | None
    right: int | None
    probability: float
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
    `probability` is that nobody is over a limit with the team shown.
    """

    scenario: Scenario
    people: int | None
    left: int | None
    right: int | None
    roles: tuple[Role, ...]
    probability_asked: float
    probability: float
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
    """The same with every other team's probability, what one more person or another aid buys, published headcounts."""

    sure: Reliability
    curve: tuple[CurvePoint, ...]
    one_more: Assessment | None
    aids: tuple[AidOption, ...]
    published: tuple[PublishedHeadcount, ...]
    gains: tuple[str, ...]


def _needs(people: int | None, verdict: Verdict) -> Needs:
    if people is not None:
        return people
    return "no limit" if verdict == "not applicable" else "lift"


class Search:
    """The smallest team of a case: the curve over team size, then the team, then the probability of every other.

    Parameters
    ----------
    scenario : Scenario
    probability_asked : float, optional
        0 to 1; `probability_asked` in evidence when left out.
    at_once : bool
        Whether the whole is what will be asked for: everybody's postures are then looked for together, which takes
        less time than in two steps, and more until the first answer. Changes no result.

    Raises
    ------
    InputError
        If the aid cannot serve the procedure, or the probability_asked is not between 0 and 1.

    Examples
    --------
    >>> from ergo.inputs.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> search = Search(parse_scenario({"name": "x", "procedure": "boost", "patient": patient}))
    >>> len(search.curve), search.first.people, search.whole.people, search.first.why == search.whole.why
    (6, 4, 4, True)
    """

    def __init__(self, scenario: Scenario, probability_asked: float | None = None, *, at_once: bool = False) -> None:
        if probability_asked is not None and not 0.0 < probability_asked < 1.0:
            raise InputError(
                "probability_asked", [Fault("probability_asked", str(probability_asked), "between 0 and 1")]
            )
        self.scenario = scenario
        self.probability_asked = (
            assumption("probability_asked").typical if probability_asked is None else probability_asked
        )
        self.demand = demand_of(scenario)
        self._at_once = at_once

    @cached_property
    def curve(self) -> tuple[CurvePoint, ...]:
        """Every team size at typical values."""
        return typical_curve(self.demand)

    @cached_property
    def first(self) -> FirstAnswer:
        """The smallest team; no more of the others are judged than it takes to find it."""
        best, demand = self._best, self.demand
        shown = best or judge(demand, *largest_team(demand))
        team, teams = (shown.left, shown.right), possible_teams(demand)
        probability = (
            self._drawn.probability(*team) if team in teams else max(self._drawn.probability(*t) for t in teams)
        )
        return FirstAnswer(
            scenario=self.scenario,
            people=best.people if best else None,
            left=best.left if best else None,
            right=best.right if best else None,
            roles=roles_of(self.scenario),
            probability_asked=self.probability_asked,
            probability=probability,
            assessment=shown,
            why=why_words(best, shown, probability, self.probability_asked),
        )

    @cached_property
    def whole(self) -> TeamAnswer:
        """The answer with all that is found without looking at another aid."""
        curve = self.curve  # its people's postures are those of every team that is judged afterwards
        first, best, demand = self.first, self._best, self.demand
        sure = reliability(self.scenario, demand=demand, probability_asked=self.probability_asked, drawn=self._drawn)
        self.__dict__.pop("_drawn", None)  # megabytes, and all is known now
        one_more = _one_more(demand, best) if best else None
        return TeamAnswer(
            **{name: getattr(first, name) for name in FirstAnswer.__slots__},
            sure=sure,
            curve=tuple(drawn_point(point, sure) for point in curve),
            one_more=one_more,
            aids=(),
            published=published_headcounts(self.scenario),
            gains=tuple(gain_words(best, one_more, (), self.scenario.aid)),
        )

    @cached_property
    def _drawn(self) -> Drawn:
        return Drawn.usual(self.demand, MOST) if self._at_once else Drawn.usual(self.demand)

    @cached_property
    def _best(self) -> Assessment | None:
        drawn, wanted = self._drawn, self.probability_asked
        teams = (t for t in possible_teams(self.demand) if drawn.can_reach(*t, wanted))
        return _first_enough(self.demand, (t for t in teams if drawn.probability(*t) >= wanted))


def _first_enough(demand: Demand, teams: Iterable[tuple[int, int]]) -> Assessment | None:
    """Return the first team that is within every limit at typical values."""
    if demand.refusals:
        return None
    enough = (team for team in teams if judge(demand, *team, every_limit=False).verdict in ENOUGH)
    return next((judge(demand, *team) for team in enough), None)


def _one_more(demand: Demand, best: Assessment) -> Assessment | None:
    """Return the better of the two teams with one more person, where there is a place."""
    left_most, right_most = largest_team(demand)
    near = 0 if demand.direction.receiving == "left" else 1
    teams = sorted([(best.left + 1, best.right), (best.left, best.right + 1)], key=lambda team: team[near])
    possible = [judge(demand, *t) for t in teams if t[0] <= left_most and t[1] <= right_most]
    return min(possible, key=lambda a: (a.worst_ratio, _total_force(a)), default=None)


def _total_force(result: Assessment) -> float:
    return sum(m.worst_person_force_n for m in result.moves)


def smallest_typical(demand: Demand) -> Assessment | None:
    """Return the smallest team of which every move is within the deciding limits at typical values.

    Neither side depends on the other's number, so each is made smaller for itself from a team that is enough.

    Parameters
    ----------
    demand : Demand

    Returns
    -------
    Assessment or None
        None where no team is enough, or where the case is refused.

    Examples
    --------
    >>> from ergo.assessment import demand_of
    >>> from ergo.inputs.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> found = smallest_typical(demand_of(parse_scenario({"name": "x", "procedure": "boost", "patient": patient})))
    >>> found.left, found.right
    (2, 2)
    """
    if demand.refusals:
        return None
    left_most, right_most = largest_team(demand)
    best = None
    for n in range(1, max(left_most, right_most) + 1):
        best = _enough(demand, min(n, left_most), min(n, right_most))
        if best is not None:
            break
    if best is None:
        return None
    for fewer_left, fewer_right in ((1, 0), (0, 1)):
        while best.left >= fewer_left and best.right >= fewer_right:
            fewer = _enough(demand, best.left - fewer_left, best.right - fewer_right)
            if fewer is None:
                break
            best = fewer
    return best


def _enough(demand: Demand, left: int, right: int) -> Assessment | None:
    if left + right == 0:
        return None
    result = judge(demand, left, right)
    return result if result.verdict in ENOUGH else None


_SIDES: tuple[Side, Side] = ("left", "right")
_Place = Literal["left", "right", "airway"]
_Done = tuple[Effort, PersonLoad]


@dataclass(frozen=True, slots=True)
class SmallTeam:
    """The smallest team of one case: people on each side, what each person does, the largest ratio to a limit."""

    left: int
    right: int
    done: tuple[_Done, ...]
    ratio: float


@dataclass(slots=True)
class _Part:
    """What one crew does: whether that is within the deciding limits, and in which moves a limit spoke at all."""

    enough: bool = True
    ratio: float = 0.0
    done: list[_Done] = field(default_factory=list)
    judged: set[int] = field(default_factory=set)

    def add(self, demand: Demand, move: int, effort: Effort, loads: Sequence[PersonLoad]) -> None:
        self.done += [(effort, load) for load in loads]
        for load in loads:
            if not load.body.can_be_held:
                self.enough = False
            if not self.enough:  # one person over is enough to know
                return
            for check in checks(demand, effort, load, demand.policy.limits):
                if check.ratio is None and not check.outside:
                    continue
                self.judged.add(move)
                if check.ratio is None or verdict_of(check.ratio) not in ENOUGH:
                    self.enough = False
                    return
                self.ratio = max(self.ratio, check.ratio)


def _tasks(demand: Demand, place: _Place) -> list[tuple[int, Effort]]:
    """Return the efforts that fall to one place, with the number of their move."""
    return [(m, effort) for m, (_, efforts) in enumerate(demand.moves) for effort in efforts if effort.falls_to(place)]


def _parts(crews: Sequence[tuple[Demand, _Place, tuple[Person, ...]]]) -> list[_Part]:
    """Work out several crews of several cases together; the cases share bed, handling and sharing."""
    work = [(k, m, effort) for k, (demand, place, _) in enumerate(crews) for m, effort in _tasks(demand, place)]
    parts = [_Part() for _ in crews]
    if not work:
        return parts
    tasks = [(effort, crews[k][2], effort.part) for k, _, effort in work]
    for (k, move, effort), loads in zip(work, shared(crews[0][0], tasks), strict=True):
        parts[k].add(crews[k][0], move, effort, loads)
    return parts


def smallest_of_many(cases: Sequence[Demand]) -> list[SmallTeam | None]:
    """Return the smallest team of each case of which every move is within the deciding limits at typical values.

    Neither side depends on the other's number, so each is made as small as it can be.

    Parameters
    ----------
    cases : sequence of Demand
        That differ in procedure, aid and patient; bed, handling and sharing are those of the first.

    Returns
    -------
    list of SmallTeam or None
        None where no team is enough, or where the case is refused.

    Examples
    --------
    >>> from ergo.assessment import demand_of
    >>> from ergo.inputs.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> found = smallest_of_many([demand_of(parse_scenario({"name": "x", "procedure": "boost", "patient": patient}))])
    >>> found[0].left, found[0].right
    (2, 2)
    """
    airway = _airways(cases)
    chosen: dict[tuple[int, Side], tuple[int, _Part]] = {}
    open_sides: list[tuple[int, Side]] = []
    for k, demand in enumerate(cases):
        for side in _SIDES:
            if not _tasks(demand, side) and side not in demand.guarded:
                chosen[k, side] = (0, _Part())
            elif airway[k].enough:
                open_sides.append((k, side))
    people = 0
    while open_sides:
        people += 1
        crews = [(cases[k], side, crew_of(cases[k].scenario, side, people)) for k, side in open_sides]
        for key, part in zip(open_sides, _parts(crews), strict=True):
            if part.enough:
                chosen[key] = (people, part)
        room = {(k, side) for k, side in open_sides if people < largest_team(cases[k])[_SIDES.index(side)]}
        lost = {key[0] for key in open_sides if key not in chosen and key not in room}  # one side is: all is
        open_sides = [key for key in open_sides if key not in chosen and key[0] not in lost]
    return [_team(k, demand, airway[k], chosen) for k, demand in enumerate(cases)]


def _airways(cases: Sequence[Demand]) -> list[_Part]:
    """Say whether whoever holds the head can; where nobody does and somebody must, no team is enough."""
    parts = _parts([(demand, "airway", (airway_lead(),)) for demand in cases])
    for demand, part in zip(cases, parts, strict=True):
        somebody = has_airway_lead(demand.scenario)
        part.enough = part.enough and not demand.refusals and (somebody or not _tasks(demand, "airway"))
    return parts


def _team(k: int, demand: Demand, airway: _Part, chosen: dict[tuple[int, Side], tuple[int, _Part]]) -> SmallTeam | None:
    found = [chosen.get((k, side)) for side in _SIDES]
    if found[0] is None or found[1] is None or not airway.enough:
        return None
    (left, on_left), (right, on_right) = found[0], found[1]
    parts = (on_left, on_right, airway)
    judged = set[int]().union(*(part.judged for part in parts))
    if any(efforts and m not in judged for m, (_, efforts) in enumerate(demand.moves)):
        return None  # a move that no limit covers is no pass
    done = tuple(one for part in parts for one in part.done)
    # with nothing to do on either side somebody is there all the same
    return SmallTeam(left, right or int(left == 0), done, max(part.ratio for part in parts))
