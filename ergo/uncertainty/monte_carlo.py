"""The probability that nobody is over a limit, by Monte Carlo with quasi-random draws."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cached_property, lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ergo.assessment import Demand, team_most
from ergo.evidence import assumption
from ergo.handlers.normal_distribution import normal_value
from ergo.inputs.scenario import Side
from ergo.uncertainty.demand_surrogate import (
    DemandSurrogate,
    build_demand_surrogate,
    for_more,
    team_forces,
    worst_ratio,
)
from ergo.uncertainty.distributions import UncertainInput, uncertain_inputs
from ergo.uncertainty.sampling import sobol_points

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
        index = np.minimum((values * (_BINS / self._top)).astype(np.intp), _BINS - 1)
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
CHUNK = 65_536  # draws held in memory at once
_FEW = 3  # people a side for whom postures are looked for first; most answers need no more
_SIDES: tuple[Side, ...] = ("left", "right")


def draw(
    inputs: tuple[UncertainInput, ...], u: Floats, receiving: Side = "left", normal: Floats | None = None
) -> tuple[dict[str, Floats], dict[str, Floats]]:
    """Turn uniform numbers into draws of every input and of every person's effort.

    effort = e^(σ z), z the standard normal value of the uniform number and σ the `share_spread` in evidence;
    `normal` is z where it is known already.

    >>> spread = UncertainInput("mu_0", "friction", "triangular", 0.2, 0.3, 0.4, "-", "", "judgement")
    >>> values, efforts = draw((spread,), np.full((1, 13), 0.5))
    >>> values["mu_0"].round(9).tolist(), efforts["left"].shape, bool(np.allclose(efforts["left"], 1.0))
    ([0.3], (6, 1), True)
    """
    values = {spread.name: spread.at(u[:, i]) for i, spread in enumerate(inputs)}
    sigma = assumption("share_spread").typical
    efforts = np.exp(sigma * (_normal_efforts(u, len(inputs)) if normal is None else normal))
    one = np.ones((1, len(u)))
    away = "right" if receiving == "left" else "left"
    most = team_most()
    return values, {receiving: efforts[:most], away: efforts[most : 2 * most], "airway": one}


def _normal_efforts(u: Floats, inputs: int) -> Floats:
    """Everybody's effort as a standard normal value, a row a person: the columns after those of the inputs."""
    return normal_value(np.clip(u[:, inputs:].T, 1e-12, 1 - 1e-12))


@lru_cache(maxsize=4)
def _usual_points(inputs: int, columns: int) -> tuple[Floats, Floats]:
    """The points with which every answer is made and everybody's effort in them: the same for every case."""
    (u,) = uniform_chunks(columns, DRAWS, SEED)
    found = u, _normal_efforts(u, inputs)
    for array in found:
        array.flags.writeable = False
    return found


def uniform_columns(inputs: tuple[UncertainInput, ...]) -> int:
    """Return how many uniform numbers one draw takes: one an input, and one for everybody at the bed."""
    return len(inputs) + 2 * team_most()


class Drawn:
    """What teams bear in some draws of one case; each side is judged only as far as it is asked about."""

    def __init__(self, surrogate: DemandSurrogate, u: Floats, normal: Floats | None = None) -> None:
        self._surrogate = surrogate
        self.inputs = surrogate.inputs
        self._values, self._efforts = draw(surrogate.inputs, u, surrogate.demand.direction.receiving, normal)
        self._sides: dict[tuple[str, int], tuple[Floats, Floats]] = {}

    @classmethod
    def usual(cls, demand: Demand, most: int = _FEW) -> Drawn:
        """Return the draws with which every answer is made; `most` people a side are looked at first."""
        inputs = uncertain_inputs(demand.scenario)
        return cls(build_demand_surrogate(demand, inputs, most), *_usual_points(len(inputs), uniform_columns(inputs)))

    def team(self, left: int, right: int) -> tuple[Floats, Floats]:
        """Return the worst ratio to a deciding limit and the largest force in one pair of hands, draw by draw.

        The ratio is not a number where nobody is over a limit but one that decides does not cover the draw.
        """
        (head, _), one, other = self._side("airway", 1), self._side("left", left), self._side("right", right)
        worst = np.fmax(head, np.fmax(one[0], other[0]))
        uncovered = np.isnan(head) | np.isnan(one[0]) | np.isnan(other[0])
        return np.where(uncovered & (worst <= 1.0), np.nan, worst), np.maximum(one[1], other[1])

    def probability(self, left: int, right: int) -> float:
        """Return the probability that nobody is over a limit with this team."""
        return float(np.mean(self.team(left, right)[0] <= 1.0))

    def uncovered(self, left: int, right: int) -> float:
        """Return the share of draws in which nobody is over a limit, but one that decides does not cover the draw."""
        return float(np.mean(np.isnan(self.team(left, right)[0])))

    def can_reach(self, left: int, right: int, probability_asked: float) -> bool:
        """Return whether either side alone, the other apart, is sure enough; the smaller one is judged first."""
        sides = sorted(zip(_SIDES, (left, right), strict=True), key=lambda side: side[1])
        return all(np.mean(self._side(side, people)[0] <= 1.0) >= probability_asked for side, people in sides)

    @cached_property
    def _forces(self) -> dict[tuple[int, int], tuple[Floats, Floats]]:
        return team_forces(self._surrogate, self._values)

    def _side(self, side: Side | Literal["airway"], people: int) -> tuple[Floats, Floats]:
        if (side, people) not in self._sides:
            if people > self._surrogate.most:
                self._surrogate = for_more(self._surrogate, team_most())
            efforts = self._efforts[side]
            if people:
                found = worst_ratio(self._surrogate, self._forces, self._values, side, people, efforts)
            else:
                found = np.zeros(efforts.shape[-1]), np.zeros(efforts.shape[-1])
            self._sides[(side, people)] = found
        return self._sides[(side, people)]


def evaluate(
    surrogate: DemandSurrogate, u: Floats, teams: Iterable[Team]
) -> tuple[dict[Team, Floats], dict[Team, Floats]]:
    """Return the worst ratio and the largest force of several teams in every draw."""
    drawn = Drawn(surrogate, u)
    found = {team: drawn.team(*team) for team in teams}
    return {team: ratio for team, (ratio, _) in found.items()}, {team: force for team, (_, force) in found.items()}


def uniform_chunks(dimensions: int, draws: int, seed: int, chunk: int = CHUNK) -> Iterator[Floats]:
    """Yield Sobol points with a random digital shift in chunks; the same points whatever the chunk."""
    shift = np.random.default_rng(seed).integers(2**30, size=dimensions, dtype=np.uint32)
    for start in range(0, draws, chunk):
        yield sobol_points(dimensions, start, min(chunk, draws - start), shift)
