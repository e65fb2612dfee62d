"""How sure is the answer: the chance that nobody is over a limit, by Monte Carlo with quasi-random draws."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ergo.assessment import Demand, demand_of, roles_of
from ergo.evidence import assumption
from ergo.people.normal import normal_value
from ergo.plan.chance.compiled import Compiled, compile_demand, team_forces, worst_ratio
from ergo.plan.chance.inputs import UncertainInput, uncertain_inputs
from ergo.plan.chance.running import Tally
from ergo.plan.chance.sobol import sobol_points
from ergo.scenario import Scenario, Side

__all__ = ["Confidence", "Drawn", "Sureness", "at_confidence", "draw", "evaluate", "sureness", "uniform_chunks"]

Floats = NDArray[np.float64]

SEED = 20_261_124
DRAWS = 4096
CHUNK = 65_536  # draws held in memory at once
_SIDES: tuple[Side, ...] = ("left", "right")
_MOST = 6
_FEW = 3  # people a side for whom postures are looked for first; most answers need no more


@dataclass(frozen=True, slots=True)
class Confidence:
    """One team: the chance that nobody is over a limit, and the spread of what decides.

    `ratio` and `force_n` are the 5th, 50th and 95th percentile of the worst ratio to a deciding limit and of the
    largest force in one pair of hands. `standard_error` is that of independent draws, sqrt(p (1 - p) / n); the
    quasi-random draws used here do better.
    """

    left: int
    right: int
    people: int
    chance: float
    standard_error: float
    ratio: tuple[float, float, float]
    force_n: tuple[float, float, float]
    convergence: tuple[tuple[int, float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Sureness:
    """The confidence of every team size, and the smallest team at the stated confidence.

    `people`, `left`, `right` are None where no team reaches it. `convergence` pairs numbers of draws with the chance
    for the smallest team, or for the surest where there is none. `every` holds all teams, fewest people first.
    """

    confidence: float
    people: int | None
    left: int | None
    right: int | None
    chosen: Confidence
    curve: tuple[Confidence, ...]
    every: tuple[Confidence, ...]
    convergence: tuple[tuple[int, float, float], ...]
    inputs: tuple[UncertainInput, ...]
    draws: int
    seed: int
    why: str


def draw(
    inputs: tuple[UncertainInput, ...], u: Floats, receiving: Side = "left"
) -> tuple[dict[str, Floats], dict[str, Floats]]:
    """Turn uniform numbers into draws of every input and of every person's effort.

    Parameters
    ----------
    inputs : tuple of UncertainInput
    u : ndarray, shape (draws, len(inputs) + 12), 0 to 1
        The last twelve columns are the efforts of six people on each side, the receiving side first, so that a
        mirrored case has the mirrored answer.
    receiving : "left" or "right"

    Returns
    -------
    (values by input name, efforts by side)
    """
    values = {spread.name: spread.at(u[:, i]) for i, spread in enumerate(inputs)}
    sigma = assumption("share_spread").typical
    z = normal_value(np.clip(u[:, len(inputs) :].T, 1e-12, 1 - 1e-12))
    efforts = np.exp(sigma * z)
    one = np.ones((1, len(u)))
    away = "right" if receiving == "left" else "left"
    return values, {receiving: efforts[:_MOST], away: efforts[_MOST : 2 * _MOST], "airway": one}


def evaluate(
    compiled: Compiled, u: Floats, teams: list[tuple[int, int]]
) -> tuple[dict[tuple[int, int], Floats], dict[tuple[int, int], Floats]]:
    """Return the worst ratio and the largest force of several teams in every draw.

    Parameters
    ----------
    compiled : Compiled
    u : ndarray, shape (draws, dimensions), 0 to 1
    teams : list of (left, right)

    Returns
    -------
    (ratio, force) : dicts of team to ndarray, shape (draws,)
    """
    values, efforts = draw(compiled.inputs, u, compiled.asked.direction.receiving)
    forces = team_forces(compiled, values)
    head, _ = worst_ratio(compiled, forces, values, "airway", 1, efforts["airway"])
    by_side: dict[tuple[Side, int], tuple[Floats, Floats]] = {}
    for team in teams:
        for side, people in zip(_SIDES, team, strict=True):
            if people and (side, people) not in by_side:
                by_side[(side, people)] = worst_ratio(compiled, forces, values, side, people, efforts[side])
    nobody = (np.zeros(len(u)), np.zeros(len(u)))
    ratios, largest = {}, {}
    for team in teams:
        parts = [by_side.get((side, people), nobody) for side, people in zip(_SIDES, team, strict=True)]
        ratios[team] = np.maximum(head, np.maximum(parts[0][0], parts[1][0]))
        largest[team] = np.maximum(parts[0][1], parts[1][1])
    return ratios, largest


class Drawn:
    """The draws of one case, each side judged only as far as it is asked about: for the answer of one aid among many.

    The chances are those of `sureness`.

    Parameters
    ----------
    asked : Demand

    Examples
    --------
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> boost = parse_scenario({"name": "x", "procedure": "boost", "patient": patient})
    >>> drawn, sure = Drawn(demand_of(boost)), sureness(boost)
    >>> [drawn.chance(c.left, c.right) == c.chance for c in sure.every[:3]]
    [True, True, True]
    """

    def __init__(self, asked: Demand) -> None:
        self.teams = _teams(asked)
        self._asked, self._inputs = asked, uncertain_inputs(asked.scenario)
        (u,) = uniform_chunks(len(self._inputs) + 2 * _MOST, DRAWS, SEED)
        self._values, self._efforts = draw(self._inputs, u, asked.direction.receiving)
        self._reach = _FEW
        self._compiled = compile_demand(asked, self._inputs, _FEW)
        self._forces = team_forces(self._compiled, self._values)
        self._within: dict[tuple[str, int], NDArray[np.bool_]] = {}

    def chance(self, left: int, right: int) -> float:
        """Return the chance that nobody is over a limit with this team."""
        sides = self._side("left", left) & self._side("right", right)
        return float(np.mean(sides & self._side("airway", 1)))

    def can_reach(self, left: int, right: int, confidence: float) -> bool:
        """Return whether either side alone, the other apart, is sure enough: asked of both, the smaller one first."""
        sides = sorted(zip(_SIDES, (left, right), strict=True), key=lambda side: side[1])
        return all(np.mean(self._side(side, people)) >= confidence for side, people in sides)

    def _side(self, side: Side | Literal["airway"], people: int) -> NDArray[np.bool_]:
        if (side, people) not in self._within:
            if people > self._reach:
                self._reach = _MOST
                self._compiled = compile_demand(self._asked, self._inputs, _MOST)
            worst = np.zeros(DRAWS)
            if people:
                efforts = self._efforts[side]
                worst, _ = worst_ratio(self._compiled, self._forces, self._values, side, people, efforts)
            self._within[(side, people)] = worst <= 1.0
        return self._within[(side, people)]


def uniform_chunks(dimensions: int, draws: int, seed: int, chunk: int = CHUNK) -> Iterator[Floats]:
    """Yield Sobol points with a random digital shift in chunks; the same points whatever the chunk."""
    shift = np.random.default_rng(seed).integers(2**30, size=dimensions, dtype=np.uint32)
    for start in range(0, draws, chunk):
        yield sobol_points(dimensions, start, min(chunk, draws - start), shift)


def sureness(
    scenario: Scenario,
    *,
    asked: Demand | None = None,
    confidence: float | None = None,
    draws: int = DRAWS,
    seed: int = SEED,
    chunk: int = CHUNK,
    progress: Callable[[float], bool] | None = None,
) -> Sureness:
    """Return how sure each team size is, and the smallest team at a stated confidence.

    Parameters
    ----------
    scenario : Scenario
    asked : Demand, optional
        The scenario's demand, where it was worked out before.
    confidence : float, optional
        Chance that nobody is over a limit at which a team counts; `confidence` in evidence when left out.
    draws : int
        A power of two keeps the quasi-random points balanced.
    seed : int
    chunk : int
        Draws held in memory at once; changes nothing in the result.
    progress : callable, optional
        Told the part done, 0 to 1; returns False to stop.

    Returns
    -------
    Sureness

    Raises
    ------
    InputError
        If the aid cannot serve the procedure.

    Examples
    --------
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> answer = sureness(parse_scenario({"name": "x", "procedure": "boost", "patient": patient}), draws=256)
    >>> answer.people, answer.chosen.chance >= 0.9
    (4, True)
    """
    wanted = assumption("confidence").typical if confidence is None else confidence
    asked = asked or demand_of(scenario)
    inputs = uncertain_inputs(scenario)
    compiled = compile_demand(asked, inputs, _MOST)
    teams = _teams(asked)
    tallies = {t: Tally(draws) for t in teams}
    done = 0
    for u in uniform_chunks(len(inputs) + 2 * _MOST, draws, seed, chunk):
        ratios, forces = evaluate(compiled, u, teams)
        for team, tally in tallies.items():
            tally.add(ratios[team], forces[team])
        done += len(u)
        if progress is not None and not progress(done / draws):
            break
    roles = sum(r.people for r in roles_of(scenario))
    found = {t: _confidence(t, roles, tally) for t, tally in tallies.items()}
    tops = [max(t[i] for t in teams) for i in range(2)]
    even = [(min(n, tops[0]), min(n, tops[1])) for n in range(1, max(tops) + 1)]
    curve = tuple(found[t] for t in even if t in found)
    every = tuple(found[t] for t in teams)
    drawn = Sureness(wanted, None, None, None, every[0], curve, every, (), inputs, done, seed, "")
    return at_confidence(drawn, asked, wanted)


def at_confidence(sure: Sureness, asked: Demand, confidence: float) -> Sureness:
    """Return the same draws read at another confidence.

    Parameters
    ----------
    sure : Sureness
    asked : Demand
        The demand that was drawn.
    confidence : float, 0 to 1

    Returns
    -------
    Sureness
    """
    enough = () if asked.refusals else tuple(c for c in sure.every if c.chance >= confidence)
    best = enough[0] if enough else None
    chosen = best or max(sure.every, key=lambda c: c.chance)
    return replace(
        sure,
        confidence=confidence,
        people=best.people if best else None,
        left=best.left if best else None,
        right=best.right if best else None,
        chosen=chosen,
        convergence=chosen.convergence,
        why=_why(best, chosen, confidence, asked),
    )


def _teams(asked: Demand) -> list[tuple[int, int]]:
    """Teams with somebody wherever a move needs somebody: fewest people, then evenest, then more on the far side."""
    bed = asked.scenario.bed
    most = min(bed.places_left, _MOST), min(bed.places_right, _MOST)
    needed: set[Side] = set(asked.guarded)
    for _, efforts in asked.moves:
        for effort in efforts:
            needed |= set(_SIDES) if effort.side == "both" else {s for s in _SIDES if s == effort.side}
    low = [1 if side in needed else 0 for side in _SIDES]
    high = [places if side in needed else 0 for side, places in zip(_SIDES, most, strict=True)]
    found = [(n, m) for n in range(low[0], high[0] + 1) for m in range(low[1], high[1] + 1) if n + m]
    near = 0 if asked.direction.receiving == "left" else 1
    return sorted(found, key=lambda team: (sum(team), abs(team[0] - team[1]), team[near])) or [(1, 1)]


def _confidence(team: tuple[int, int], roles: int, tally: Tally) -> Confidence:
    chance = tally.within / max(tally.seen, 1)
    error = float(np.sqrt(chance * (1.0 - chance) / max(tally.seen, 1)))
    spans = tally.ratio.spread(), tally.force.spread()
    return Confidence(*team, sum(team) + roles, chance, error, *spans, tuple(tally.convergence))


def _why(best: Confidence | None, chosen: Confidence, wanted: float, asked: Demand) -> str:
    if asked.refusals:
        return asked.refusals[0] + " Use a mechanical lift or equipment rated for this patient."
    if best is None:
        return (
            f"No team of up to {_MOST} a side keeps everybody within the limits in {wanted:.0%} of cases; the best "
            f"reaches {chosen.chance:.0%}. Use a mechanical lift or a better aid."
        )
    return (
        f"{best.people} people ({best.left} left, {best.right} right and roles) keep everybody within the limits in "
        f"{best.chance:.0%} of cases; {wanted:.0%} were asked for."
    )
