"""The probability that nobody is over a limit, by Monte Carlo with quasi-random draws."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from copy import copy
from dataclasses import replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from ergo.assessment import Demand, has_airway_lead, stands_where_needed, team_most
from ergo.assessment.demand import easiest_ways
from ergo.assessment.team import people_on_side
from ergo.evidence import assumption
from ergo.handlers.normal_distribution import normal_value
from ergo.handlers.person import Person
from ergo.handlers.staff import type_at
from ergo.inputs.scenario import SIDES, Side
from ergo.uncertainty.distributions import UncertainInput, uncertain_inputs
from ergo.uncertainty.sampling import sobol_points
from ergo.uncertainty.team_draws import Singles, TaskDraws, TeamTables, Worker, build_tables, least_effort, task_draws

__all__ = [
    "CHUNK",
    "DRAWS",
    "SEED",
    "Drawn",
    "Histogram",
    "Tally",
    "draw",
    "evaluate",
    "uniform_chunks",
    "uniform_columns",
]

Floats = NDArray[np.float64]

_FIRST = 32  # draws at the first point of the convergence
_RATIO_TOP, _FORCE_TOP = 4.0, 4000.0  # above this the last bin counts; a ratio of 4 and 4 kN are far beyond any answer
_BINS = 8000


class Histogram:
    """Counts of values from 0 to `top` in even bins, the last one open.

    >>> counted = Histogram(1.0)
    >>> counted.add(np.linspace(0.0, 1.0, 1001))
    >>> round(counted.spread()[1], 3)
    0.5
    """

    def __init__(self, top: float) -> None:
        self._top = top
        self._counts = np.zeros(_BINS, dtype=np.int64)

    def add(self, values: Floats) -> None:
        """Count more values; ValueError if one is not a number."""
        if np.isnan(values).any():
            raise ValueError("a draw gave no number")
        index = np.minimum(values * (_BINS / self._top), _BINS - 1).astype(np.intp)  # infinite ones too
        self._counts += np.bincount(index, minlength=_BINS)

    def spread(self) -> tuple[float, float, float]:
        """Return the 5th, 50th and 95th percentile, to half a bin; infinite where nothing was counted."""
        total = np.cumsum(self._counts)
        if not total[-1]:
            return np.inf, np.inf, np.inf
        low, middle, high = (
            (int(np.searchsorted(total, q * total[-1])) + 0.5) * self._top / _BINS for q in (0.05, 0.5, 0.95)
        )
        return low, middle, high


class Tally:
    """What is kept of one team's draws."""

    def __init__(self, draws: int) -> None:
        self.seen = 0
        self.within = 0
        self.uncovered = 0
        self.ratio = Histogram(_RATIO_TOP)
        self.force = Histogram(_FORCE_TOP)
        self.convergence: list[tuple[int, float, float]] = []
        points = [_FIRST * 2**k for k in range(32) if _FIRST * 2**k <= draws]
        self._points = points or [draws]

    def add(self, ratio: Floats, force: Floats, possible: bool = True) -> None:
        """Count more draws of one team: worst ratio, not a number where no limit covers it, largest force.

        A move that cannot be made passes in no draw.
        """
        passed = (ratio <= 1.0) & possible
        for point in (p for p in self._points if self.seen < p <= self.seen + len(ratio)):
            probability = (self.within + int(np.sum(passed[: point - self.seen]))) / point
            self.convergence.append((point, probability, float(np.sqrt(probability * (1.0 - probability) / point))))
        self.seen += len(ratio)
        self.within += int(np.sum(passed))
        uncovered = np.isnan(ratio)
        self.uncovered += int(np.sum(uncovered))
        self.ratio.add(ratio[~uncovered])
        self.force.add(force)


Team = tuple[int, int]

SEED = 20_261_124
DRAWS = 4096
CHUNK = 32_768  # draws at a time: with half as many a prone turn takes a tenth longer


def draw(
    inputs: tuple[UncertainInput, ...],
    u: Floats,
    receiving: Side = "left",
    normal: Floats | None = None,
    sigma: Floats | None = None,
) -> tuple[dict[str, Floats], dict[Side, list[Worker]]]:
    """Turn uniform numbers into draws of every input, of everybody's body and of how evenly they work.

    The first of a side gives what they can; each other e^(-σ |z|) of it, z the standard normal value of the uniform
    number and σ the `share_spread` in evidence, or that of each draw; `normal` is z where it is known already.

    >>> spread = UncertainInput("mu_0", "friction", "triangular", 0.2, 0.3, 0.4, "-", "", "judgement")
    >>> values, people = draw((spread,), np.full((1, 25), 0.5))
    >>> values["mu_0"].round(9).tolist(), len(people["left"]), people["right"][1].gives.tolist()
    ([0.3], 6, [1.0])
    """
    values = {spread.name: spread.at(u[:, i]) for i, spread in enumerate(inputs)}
    most, first = team_most(), len(inputs)
    width = assumption("share_spread").typical if sigma is None else sigma
    gives = np.exp(-width * np.abs(_normal_efforts(u, first) if normal is None else normal)).astype(np.float32)
    bodies = type_at(u[:, first + 2 * most : first + 4 * most].T)
    one = np.ones(len(u), dtype=np.float32)
    workers = [Worker(bodies[i], one if i % most == 0 else gives[i]) for i in range(2 * most)]
    away: Side = "right" if receiving == "left" else "left"
    return values, {receiving: workers[:most], away: workers[most:]}


def _normal_efforts(u: Floats, inputs: int) -> Floats:
    """How evenly everybody works as a standard normal value, a row a person: the columns after those of the inputs."""
    return normal_value(np.clip(u[:, inputs : inputs + 2 * team_most()].T, 1e-12, 1 - 1e-12))


@lru_cache(maxsize=4)
def _usual_points(inputs: int, columns: int) -> tuple[Floats, Floats]:
    """The points with which every answer is made and everybody's effort in them: the same for every case."""
    (u,) = uniform_chunks(columns, DRAWS, SEED)
    found = u, _normal_efforts(u, inputs)
    for array in found:
        array.flags.writeable = False
    return found


def uniform_columns(inputs: tuple[UncertainInput, ...]) -> int:
    """Return how many uniform numbers one draw takes: one an input, and two for everybody at the bed."""
    return len(inputs) + 4 * team_most()


class Drawn:
    """What teams bear in some draws of one case; nothing is drawn or solved before a team is asked about."""

    def __init__(
        self, tables: TeamTables, u: Floats, normal: Floats | None = None, sigma: Floats | None = None
    ) -> None:
        self.tables = tables
        self.inputs = tables.inputs
        self._numbers = u, normal, sigma
        self._even = np.ones(len(u), dtype=np.float32)
        self._teams: dict[Team, tuple[Floats, Floats]] = {}

    @classmethod
    def usual(cls, demand: Demand, also: tuple[Person, ...] = ()) -> Drawn:
        """Return the draws with which every answer is made; people beside those stated may be asked about later."""
        inputs = uncertain_inputs(demand.scenario)
        return cls(build_tables(demand, inputs, also), *_usual_points(len(inputs), uniform_columns(inputs)))

    def another(self, seed: int) -> Drawn:
        """Return as many other draws of the same case, to see what is chance alone."""
        size = uniform_columns(self.inputs)
        (u,) = uniform_chunks(size, len(self._even), seed)
        return Drawn(self.tables, u)

    def with_people_of(self, demand: Demand) -> Drawn:
        """Return the same draws of the same move with other people of the shift, whose bodies are in the tables."""
        other = copy(self)
        other.tables = replace(self.tables, demand=demand)
        other._teams = {}
        other.__dict__["_tasks"] = self._tasks
        return other

    def team(self, left: int, right: int) -> tuple[Floats, Floats]:
        """Return the least part of what they can that all must give, and the largest force in one pair of hands.

        Of the hardest move, draw by draw. The first is not a number where the team cannot because a limit that decides
        does not cover where somebody's hands are, and infinite where nobody stands where a move needs somebody.
        """
        if (left, right) not in self._teams:
            self._teams[left, right] = self._judged(left, right)
        return self._teams[left, right]

    def probability(self, left: int, right: int) -> float:
        """Return the probability that nobody is over a limit with this team."""
        return float(np.mean(self.team(left, right)[0] <= 1.0))

    def uncovered(self, left: int, right: int) -> float:
        """Return the share of draws in which the team cannot, but because a limit does not cover where hands are."""
        return float(np.mean(np.isnan(self.team(left, right)[0])))

    def own_acceptance(self, left: int, right: int, own: Floats) -> float:
        """Return the probability that nobody is asked more than they themselves accept.

        `own` is what each woman and man at the bed accepts as a part of the limit, shape (2, people, draws): those on
        the left come first. Everybody is asked the part of what they can manage that the team must give.
        """
        ratio, _ = self.team(left, right)
        people = self._of_side("left", left) + self._of_side("right", right)
        women = np.array([person.sex == "F" for person in self.tables.bodies])
        asked = np.where(np.isnan(ratio), np.inf, ratio)
        accepted = np.isfinite(asked)
        for i, worker in enumerate(people):
            accepted &= asked * worker.gives <= np.where(women[worker.body], own[0, i], own[1, i])
        return float(np.mean(accepted))

    def hardest_move(self, left: int, right: int) -> int | None:
        """Return the number of the move in which a team most often cannot keep within the limits; None where it can."""
        demand = self.tables.demand
        ratio = np.array([self._of_task(n, left, right)[0] for n in range(len(demand.tasks))])
        over = [np.mean(effort > 1.0) for effort, _ in easiest_ways(demand, ratio)]
        return int(np.argmax(over)) if max(over, default=0.0) > 0.0 else None

    @cached_property
    def _draws(self) -> tuple[dict[str, Floats], dict[Side, list[Worker]]]:
        u, normal, sigma = self._numbers
        return draw(self.inputs, u, self.tables.demand.direction.receiving, normal, sigma)

    @cached_property
    def _tasks(self) -> list[TaskDraws]:
        return task_draws(self.tables, self._draws[0])

    def _judged(self, left: int, right: int) -> tuple[Floats, Floats]:
        demand = self.tables.demand
        tasks, size = len(demand.tasks), len(self._even)
        ratio, hands, out = np.zeros((tasks, size)), np.zeros((tasks, size)), np.zeros((tasks, 2, size), dtype=bool)
        for n in range(tasks):
            ratio[n], hands[n], out[n] = self._of_task(n, left, right)
        worst, force = np.zeros(size), np.zeros(size)
        uncovered = np.zeros((2, size), dtype=bool)
        for (_, ways), (effort, easiest) in zip(demand.moves, easiest_ways(demand, ratio), strict=True):
            np.maximum(worst, effort, out=worst)
            most = [np.max(hands[list(way)], axis=0, initial=0.0) for way in ways]
            np.maximum(force, np.choose(easiest, most), out=force)
            uncovered |= np.choose(easiest, [np.any(out[list(way)], axis=0) for way in ways])
        worst[(uncovered[0] & np.isinf(worst)) | (uncovered[1] & (worst <= 1.0))] = np.nan
        if not stands_where_needed(demand, left, right):
            worst[:] = np.inf
        return worst, force

    def _of_task(self, number: int, left: int, right: int) -> tuple[Singles, Singles, NDArray[np.bool_]]:
        drawn, task = self._tasks[number], self.tables.demand.tasks[number]
        scenario = self.tables.demand.scenario
        sides: dict[str, list[Worker]] = {
            side: self._of_side(side, people) for side, people in zip(SIDES, (left, right), strict=True)
        }
        if task.group == "airway":
            lead = np.full(len(self._even), len(self.tables.bodies) - 1)
            sides = {"airway": [Worker(lead, self._even)] if has_airway_lead(scenario) else []}
        elif task.group == "limb":
            most = int(assumption("people_per_limb").typical)
            sides = {task.towards: [w._replace(gives=self._even) for w in sides[task.towards][:most]]}
        ratio, force, out = least_effort(drawn, sides)
        out[0] &= np.isinf(ratio)
        return ratio, force, out

    def _of_side(self, side: Side, people: int) -> list[Worker]:
        stated = sorted(people_on_side(self.tables.demand.scenario, side, people), key=lambda person: person.index)
        drawn = self._draws[1][side][:people]
        if not self.tables.stated:
            return drawn
        own = [self.tables.bodies.index(person.bare) for person in stated]
        return [worker._replace(body=np.full(len(self._even), b)) for worker, b in zip(drawn, own, strict=True)]


def evaluate(tables: TeamTables, u: Floats, teams: Iterable[Team]) -> tuple[dict[Team, Floats], dict[Team, Floats]]:
    """Return the worst ratio and the largest force of several teams in every draw."""
    drawn = Drawn(tables, u)
    found = {team: drawn.team(*team) for team in teams}
    return {team: ratio for team, (ratio, _) in found.items()}, {team: force for team, (_, force) in found.items()}


def uniform_chunks(dimensions: int, draws: int, seed: int, chunk: int = CHUNK) -> Iterator[Floats]:
    """Yield Sobol points with a random digital shift in chunks; the same points whatever the chunk."""
    shift = np.random.default_rng(seed).integers(2**30, size=dimensions, dtype=np.uint32)
    for start in range(0, draws, chunk):
        yield sobol_points(dimensions, start, min(chunk, draws - start), shift)
