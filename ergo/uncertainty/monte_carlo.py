"""The probability that nobody is over a limit, by Monte Carlo with quasi-random draws."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ergo.assessment import Demand, demand_of, judge, largest_team, roles_of
from ergo.assessment.words import NO_TEAM
from ergo.evidence import assumption
from ergo.handlers.normal import normal_value
from ergo.inputs.scenario import Scenario, Side
from ergo.limits.policy import ENOUGH
from ergo.uncertainty.distributions import UncertainInput, uncertain_inputs
from ergo.uncertainty.sampling import sobol_points
from ergo.uncertainty.surrogate import Compiled, compile_demand, for_more, team_forces, worst_ratio

__all__ = [
    "CHUNK",
    "DRAWS",
    "MOST",
    "SEED",
    "Drawn",
    "Histogram",
    "Reliability",
    "Tally",
    "TeamProbability",
    "at_probability",
    "draw",
    "evaluate",
    "possible_teams",
    "reliability",
    "uniform_chunks",
]

Floats = NDArray[np.float64]

_FIRST = 32  # draws at the first point of the convergence
_RATIO_TOP, _FORCE_TOP = 4.0, 4000.0  # above this the last bin counts; a ratio of 4 and 4 kN are far beyond any answer
_BINS = 8000


class Histogram:
    """Counts of values from 0 to `top` in even bins, the last one open.

    Examples
    --------
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
        """Return the 5th, 50th and 95th percentile, to half a bin."""
        total = np.cumsum(self._counts)
        low, middle, high = (
            (int(np.searchsorted(total, q * total[-1])) + 0.5) * self._top / _BINS for q in (0.05, 0.5, 0.95)
        )
        return low, middle, high


class Tally:
    """What is kept of one team's draws.

    Examples
    --------
    >>> tally = Tally(64)
    >>> tally.add(np.full(40, 0.5), np.full(40, 100.0))
    >>> tally.add(np.full(24, 1.5), np.full(24, 200.0))
    >>> tally.seen, tally.within, [n for n, _, _ in tally.convergence]
    (64, 40, [32, 64])
    """

    def __init__(self, draws: int) -> None:
        self.seen = 0
        self.within = 0
        self.ratio = Histogram(_RATIO_TOP)
        self.force = Histogram(_FORCE_TOP)
        self.convergence: list[tuple[int, float, float]] = []
        points = [_FIRST * 2**k for k in range(32) if _FIRST * 2**k <= draws]
        self._points = points or [draws]

    def add(self, ratio: Floats, force: Floats) -> None:
        """Count more draws of one team: worst ratio and largest force of each."""
        passed = ratio <= 1.0
        for point in (p for p in self._points if self.seen < p <= self.seen + len(ratio)):
            probability = (self.within + int(np.sum(passed[: point - self.seen]))) / point
            self.convergence.append((point, probability, float(np.sqrt(probability * (1.0 - probability) / point))))
        self.seen += len(ratio)
        self.within += int(np.sum(passed))
        self.ratio.add(ratio)
        self.force.add(force)


Team = tuple[int, int]

SEED = 20_261_124
DRAWS = 4096
CHUNK = 65_536  # draws held in memory at once
MOST = 6
_FEW = 3  # people a side for whom postures are looked for first; most answers need no more
_SIDES: tuple[Side, ...] = ("left", "right")


def draw(
    inputs: tuple[UncertainInput, ...], u: Floats, receiving: Side = "left"
) -> tuple[dict[str, Floats], dict[str, Floats]]:
    """Turn uniform numbers into draws of every input and of every person's effort.

    effort = e^(σ z), z the standard normal value of the uniform number and σ the `share_spread` in evidence

    Parameters
    ----------
    inputs : tuple of UncertainInput
    u : ndarray, shape (draws, len(inputs) + 12), 0 to 1
        The last twelve columns are the efforts of six people on each side, the receiving side first, so that a
        mirrored case has the mirrored answer.
    receiving : "left" or "right"

    Returns
    -------
    values : dict of input name to ndarray, shape (draws,)
        Each in the unit of its input.
    efforts : dict of side to ndarray, shape (6, draws) [-]
        Only one row for the airway, all ones.

    Examples
    --------
    >>> spread = UncertainInput("mu_0", "friction", "triangular", 0.2, 0.3, 0.4, "-", "", "judgement")
    >>> values, efforts = draw((spread,), np.full((1, 13), 0.5))
    >>> values["mu_0"].round(9).tolist(), efforts["left"].shape, bool(np.allclose(efforts["left"], 1.0))
    ([0.3], (6, 1), True)
    """
    values = {spread.name: spread.at(u[:, i]) for i, spread in enumerate(inputs)}
    sigma = assumption("share_spread").typical
    z = normal_value(np.clip(u[:, len(inputs) :].T, 1e-12, 1 - 1e-12))
    efforts = np.exp(sigma * z)
    one = np.ones((1, len(u)))
    away = "right" if receiving == "left" else "left"
    return values, {receiving: efforts[:MOST], away: efforts[MOST : 2 * MOST], "airway": one}


class Drawn:
    """What teams bear in some draws of one case; each side is judged only as far as it is asked about.

    Parameters
    ----------
    compiled : Compiled
        For as many people a side as most answers need; for more it is compiled again where they are asked about.
    u : ndarray, shape (draws, dimensions), 0 to 1

    Examples
    --------
    >>> from ergo.assessment import demand_of
    >>> from ergo.inputs.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> drawn = Drawn.usual(demand_of(parse_scenario({"name": "x", "procedure": "boost", "patient": patient})))
    >>> drawn.probability(1, 1) < drawn.probability(2, 2), drawn.can_reach(1, 2, 0.9), drawn.can_reach(2, 2, 0.9)
    (True, False, True)
    """

    def __init__(self, compiled: Compiled, u: Floats) -> None:
        self._compiled = compiled
        self.inputs = compiled.inputs
        self._values, self._efforts = draw(compiled.inputs, u, compiled.demand.direction.receiving)
        self._sides: dict[tuple[str, int], tuple[Floats, Floats]] = {}

    @classmethod
    def usual(cls, demand: Demand, most: int = _FEW) -> Drawn:
        """Return the draws with which every answer is made; `most` people a side are looked at first."""
        inputs = uncertain_inputs(demand.scenario)
        (u,) = uniform_chunks(len(inputs) + 2 * MOST, DRAWS, SEED)
        return cls(compile_demand(demand, inputs, most), u)

    def team(self, left: int, right: int) -> tuple[Floats, Floats]:
        """Return the worst ratio to a deciding limit and the largest force in one pair of hands, draw by draw."""
        (head, _), one, other = self._side("airway", 1), self._side("left", left), self._side("right", right)
        return np.maximum(head, np.maximum(one[0], other[0])), np.maximum(one[1], other[1])

    def probability(self, left: int, right: int) -> float:
        """Return the probability that nobody is over a limit with this team."""
        return float(np.mean(self.team(left, right)[0] <= 1.0))

    def can_reach(self, left: int, right: int, probability_asked: float) -> bool:
        """Return whether either side alone, the other apart, is sure enough; the smaller one is judged first."""
        sides = sorted(zip(_SIDES, (left, right), strict=True), key=lambda side: side[1])
        return all(np.mean(self._side(side, people)[0] <= 1.0) >= probability_asked for side, people in sides)

    @cached_property
    def _forces(self) -> dict[tuple[int, int], tuple[Floats, Floats]]:
        return team_forces(self._compiled, self._values)

    def _side(self, side: Side | Literal["airway"], people: int) -> tuple[Floats, Floats]:
        if (side, people) not in self._sides:
            if people > self._compiled.most:
                self._compiled = for_more(self._compiled, MOST)
            efforts = self._efforts[side]
            if people:
                found = worst_ratio(self._compiled, self._forces, self._values, side, people, efforts)
            else:
                found = np.zeros(efforts.shape[-1]), np.zeros(efforts.shape[-1])
            self._sides[(side, people)] = found
        return self._sides[(side, people)]


def evaluate(compiled: Compiled, u: Floats, teams: Iterable[Team]) -> tuple[dict[Team, Floats], dict[Team, Floats]]:
    """Return the worst ratio and the largest force of several teams in every draw.

    Parameters
    ----------
    compiled : Compiled
    u : ndarray, shape (draws, dimensions), 0 to 1
    teams : iterable of (left, right)

    Returns
    -------
    (ratio, force) : dicts of team to ndarray, shape (draws,)

    Examples
    --------
    >>> from ergo.assessment import demand_of
    >>> from ergo.inputs.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> boost = parse_scenario({"name": "x", "procedure": "boost", "patient": patient})
    >>> compiled = compile_demand(demand_of(boost), uncertain_inputs(boost), 2)
    >>> u = np.full((1, len(compiled.inputs) + 2 * MOST), 0.5)
    >>> ratio, force = evaluate(compiled, u, [(1, 1), (2, 2)])
    >>> bool(ratio[(2, 2)] < ratio[(1, 1)]), bool(force[(2, 2)] < force[(1, 1)])
    (True, True)
    """
    drawn = Drawn(compiled, u)
    found = {team: drawn.team(*team) for team in teams}
    return {team: ratio for team, (ratio, _) in found.items()}, {team: force for team, (_, force) in found.items()}


def uniform_chunks(dimensions: int, draws: int, seed: int, chunk: int = CHUNK) -> Iterator[Floats]:
    """Yield Sobol points with a random digital shift in chunks; the same points whatever the chunk.

    Parameters
    ----------
    dimensions : int
        1 to `sobol.MOST_DIMENSIONS`.
    draws : int
        How many points; a power of two keeps them balanced.
    seed : int
        Of the shift.
    chunk : int
        Points in one array at most.

    Yields
    ------
    ndarray, shape (chunk or what is left, dimensions), 0 to 1 without 1

    Examples
    --------
    >>> (whole,) = uniform_chunks(3, 8, seed=1)
    >>> bool(np.array_equal(whole, np.concatenate(list(uniform_chunks(3, 8, seed=1, chunk=5)))))
    True
    >>> np.sort(np.floor(8 * whole[:, 0])).tolist()  # one in each eighth
    [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0]
    """
    shift = np.random.default_rng(seed).integers(2**30, size=dimensions, dtype=np.uint32)
    for start in range(0, draws, chunk):
        yield sobol_points(dimensions, start, min(chunk, draws - start), shift)


def possible_teams(demand: Demand) -> list[tuple[int, int]]:
    """Return the teams with somebody wherever a move needs somebody.

    Parameters
    ----------
    demand : Demand

    Returns
    -------
    list of (left, right)
        Fewest people first, then evenest, then more on the far side. No side has more than there are places or than
        `MOST`, and a side that no move needs has nobody. (1, 1) alone where nobody is needed or a needed side has no
        place.

    Examples
    --------
    >>> from ergo.assessment import demand_of
    >>> from ergo.inputs.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> boost = parse_scenario({"name": "x", "procedure": "boost", "patient": patient})
    >>> possible_teams(demand_of(boost))[:5]
    [(1, 1), (1, 2), (2, 1), (2, 2), (1, 3)]
    """
    bed = demand.scenario.bed
    most = min(bed.places_left, MOST), min(bed.places_right, MOST)
    needed: set[Side] = set(demand.guarded)
    for _, efforts in demand.moves:
        for effort in efforts:
            needed |= {side for side in _SIDES if effort.falls_to(side)}
    low = [1 if side in needed else 0 for side in _SIDES]
    high = [places if side in needed else 0 for side, places in zip(_SIDES, most, strict=True)]
    found = [(n, m) for n in range(low[0], high[0] + 1) for m in range(low[1], high[1] + 1) if n + m]
    near = 0 if demand.direction.receiving == "left" else 1
    return sorted(found, key=lambda team: (sum(team), abs(team[0] - team[1]), team[near])) or [(1, 1)]


@dataclass(frozen=True, slots=True)
class TeamProbability:
    """One team: the probability that nobody is over a limit, and the spread of what decides.

    `ratio` and `force_n` are the 5th, 50th and 95th percentile of the worst ratio to a deciding limit and of the
    largest force in one pair of hands. `standard_error` is that of independent draws, sqrt(p (1 - p) / n); the
    quasi-random draws used here do better.
    """

    left: int
    right: int
    people: int
    probability: float
    standard_error: float
    ratio: tuple[float, float, float]
    force_n: tuple[float, float, float]
    convergence: tuple[tuple[int, float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Reliability:
    """The probability_asked of every team size, and the smallest team at the stated probability_asked.

    `people`, `left`, `right` are None where no team reaches it within the limits; `uncovered` where that is
    so because a deciding limit does not cover the case. `convergence` pairs numbers of draws with the probability for
    the smallest team, or for the surest where there is none. `every` holds all teams, fewest people first.
    """

    probability_asked: float
    people: int | None
    left: int | None
    right: int | None
    chosen: TeamProbability
    curve: tuple[TeamProbability, ...]
    every: tuple[TeamProbability, ...]
    convergence: tuple[tuple[int, float, float], ...]
    inputs: tuple[UncertainInput, ...]
    draws: int
    seed: int
    uncovered: bool
    why: str


def reliability(
    scenario: Scenario,
    *,
    demand: Demand | None = None,
    probability_asked: float | None = None,
    draws: int = DRAWS,
    seed: int = SEED,
    chunk: int = CHUNK,
    progress: Callable[[float], bool] | None = None,
    drawn: Drawn | None = None,
) -> Reliability:
    """Return how sure each team size is, and the smallest team at a stated probability_asked.

    Parameters
    ----------
    scenario : Scenario
    demand : Demand, optional
        The scenario's demand, where it was worked out before.
    probability_asked : float, optional
        Probability that nobody is over a limit at which a team counts; `probability_asked` in evidence when left out.
    draws : int
        A power of two keeps the quasi-random points balanced.
    seed : int
    chunk : int
        Draws held in memory at once; changes nothing in the result.
    progress : callable, optional
        Told the part done, 0 to 1; returns False to stop.
    drawn : Drawn, optional
        The usual draws, where some teams were judged in them before; no others are made then.

    Returns
    -------
    Reliability

    Raises
    ------
    InputError
        If the aid cannot serve the procedure.

    Examples
    --------
    >>> from ergo.inputs.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> answer = reliability(parse_scenario({"name": "x", "procedure": "boost", "patient": patient}), draws=256)
    >>> answer.people, answer.chosen.probability >= 0.9
    (4, True)
    """
    wanted = assumption("probability_asked").typical if probability_asked is None else probability_asked
    demand = demand or demand_of(scenario)
    inputs = drawn.inputs if drawn else uncertain_inputs(scenario)
    teams = possible_teams(demand)
    tallies = {t: Tally(DRAWS if drawn else draws) for t in teams}
    done = 0
    for part in [drawn] if drawn else _parts(demand, inputs, draws, seed, chunk):
        for team, tally in tallies.items():
            tally.add(*part.team(*team))
        done = tallies[teams[0]].seen
        if progress is not None and not progress(done / draws):
            break
    roles = sum(r.people for r in roles_of(scenario))
    found = {t: _confidence(t, roles, tally) for t, tally in tallies.items()}
    tops = [max(t[i] for t in teams) for i in range(2)]
    even = [(min(n, tops[0]), min(n, tops[1])) for n in range(1, max(tops) + 1)]
    curve = tuple(found[t] for t in even if t in found)
    every = tuple(found[t] for t in teams)
    sure = Reliability(wanted, None, None, None, every[0], curve, every, (), inputs, done, seed, False, "")
    return at_probability(sure, demand, wanted)


def _parts(demand: Demand, inputs: tuple[UncertainInput, ...], draws: int, seed: int, chunk: int) -> Iterator[Drawn]:
    compiled = compile_demand(demand, inputs, MOST)
    for u in uniform_chunks(len(inputs) + 2 * MOST, draws, seed, chunk):
        yield Drawn(compiled, u)


def at_probability(sure: Reliability, demand: Demand, probability_asked: float) -> Reliability:
    """Return the same draws read at another probability_asked.

    Parameters
    ----------
    sure : Reliability
    demand : Demand
        The demand that was drawn.
    probability_asked : float, 0 to 1

    Returns
    -------
    Reliability
        The team with the fewest people that reaches it and is within the limits at typical values; the surest is
        chosen where there is none, the case is refused or no limit covers it.

    Examples
    --------
    >>> from ergo.inputs.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 100.0, "stature_m": 1.6}
    >>> boost = parse_scenario({"name": "x", "procedure": "boost", "patient": patient})
    >>> drawn = reliability(boost, draws=256)
    >>> [at_probability(drawn, demand_of(boost), wanted).people for wanted in (0.5, 0.9)]
    [4, 5]
    """
    enough = () if demand.refusals else tuple(c for c in sure.every if c.probability >= probability_asked)
    # draws count who is over a limit, and nobody is over one that says nothing: they alone would name a team
    best = next((c for c in enough if judge(demand, c.left, c.right, every_limit=False).verdict in ENOUGH), None)
    chosen = best or max(sure.every, key=lambda c: c.probability)
    gap = "" if best else _gap(demand)
    return replace(
        sure,
        probability_asked=probability_asked,
        people=best.people if best else None,
        left=best.left if best else None,
        right=best.right if best else None,
        chosen=chosen,
        convergence=chosen.convergence,
        uncovered=bool(gap),
        why=f"{NO_TEAM}. {gap}" if gap else _why(best, chosen, probability_asked, demand),
    )


def _confidence(team: tuple[int, int], roles: int, tally: Tally) -> TeamProbability:
    probability = tally.within / max(tally.seen, 1)
    error = float(np.sqrt(probability * (1.0 - probability) / max(tally.seen, 1)))
    spans = tally.ratio.spread(), tally.force.spread()
    return TeamProbability(*team, sum(team) + roles, probability, error, *spans, tuple(tally.convergence))


def _gap(demand: Demand) -> str:
    """Say what a deciding limit does not cover, of the largest team; empty where all of them speak."""
    shown = judge(demand, *largest_team(demand), every_limit=False)
    return shown.why if shown.verdict == "not applicable" else ""


def _why(best: TeamProbability | None, chosen: TeamProbability, wanted: float, demand: Demand) -> str:
    if demand.refusals:
        return demand.refusals[0] + " Use a mechanical lift or equipment rated for this patient."
    if best is not None:
        return (
            f"{best.people} people ({best.left} left, {best.right} right and roles) keep everybody within the limits "
            f"in {best.probability:.0%} of cases; {wanted:.0%} were asked for."
        )
    reached = f"the best reaches {chosen.probability:.0%}" if chosen.probability < wanted else "nor at typical values"
    return (
        f"No team of up to {MOST} a side keeps everybody within the limits in {wanted:.0%} of cases; {reached}. "
        "Use a mechanical lift or a better aid."
    )
