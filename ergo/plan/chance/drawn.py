"""Draws of every uncertain input, and what a team of any size has to bear in each of them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ergo.assessment import Demand
from ergo.evidence import assumption
from ergo.people.normal import normal_value
from ergo.plan.chance.compiled import Compiled, compile_demand, for_more, team_forces, worst_ratio
from ergo.plan.chance.inputs import UncertainInput, uncertain_inputs
from ergo.plan.chance.sobol import sobol_points
from ergo.scenario import Side

__all__ = ["CHUNK", "DRAWS", "MOST", "SEED", "Drawn", "draw", "evaluate", "possible_teams", "uniform_chunks"]

Floats = NDArray[np.float64]
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
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> drawn = Drawn.usual(demand_of(parse_scenario({"name": "x", "procedure": "boost", "patient": patient})))
    >>> drawn.chance(1, 1) < drawn.chance(2, 2), drawn.can_reach(1, 2, 0.9), drawn.can_reach(2, 2, 0.9)
    (True, False, True)
    """

    def __init__(self, compiled: Compiled, u: Floats) -> None:
        self._compiled = compiled
        self.inputs = compiled.inputs
        self._values, self._efforts = draw(compiled.inputs, u, compiled.asked.direction.receiving)
        self._sides: dict[tuple[str, int], tuple[Floats, Floats]] = {}

    @classmethod
    def usual(cls, asked: Demand, most: int = _FEW) -> Drawn:
        """Return the draws with which every answer is made; `most` people a side are looked at first."""
        inputs = uncertain_inputs(asked.scenario)
        (u,) = uniform_chunks(len(inputs) + 2 * MOST, DRAWS, SEED)
        return cls(compile_demand(asked, inputs, most), u)

    def team(self, left: int, right: int) -> tuple[Floats, Floats]:
        """Return the worst ratio to a deciding limit and the largest force in one pair of hands, draw by draw."""
        (head, _), one, other = self._side("airway", 1), self._side("left", left), self._side("right", right)
        return np.maximum(head, np.maximum(one[0], other[0])), np.maximum(one[1], other[1])

    def chance(self, left: int, right: int) -> float:
        """Return the chance that nobody is over a limit with this team."""
        return float(np.mean(self.team(left, right)[0] <= 1.0))

    def can_reach(self, left: int, right: int, confidence: float) -> bool:
        """Return whether either side alone, the other apart, is sure enough; the smaller one is judged first."""
        sides = sorted(zip(_SIDES, (left, right), strict=True), key=lambda side: side[1])
        return all(np.mean(self._side(side, people)[0] <= 1.0) >= confidence for side, people in sides)

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
    >>> from ergo.scenario import parse_scenario
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


def possible_teams(asked: Demand) -> list[tuple[int, int]]:
    """Return the teams with somebody wherever a move needs somebody.

    Parameters
    ----------
    asked : Demand

    Returns
    -------
    list of (left, right)
        Fewest people first, then evenest, then more on the far side. No side has more than there are places or than
        `MOST`, and a side that no move needs has nobody. (1, 1) alone where nobody is needed or a needed side has no
        place.

    Examples
    --------
    >>> from ergo.assessment import demand_of
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> boost = parse_scenario({"name": "x", "procedure": "boost", "patient": patient})
    >>> possible_teams(demand_of(boost))[:5]
    [(1, 1), (1, 2), (2, 1), (2, 2), (1, 3)]
    """
    bed = asked.scenario.bed
    most = min(bed.places_left, MOST), min(bed.places_right, MOST)
    needed: set[Side] = set(asked.guarded)
    for _, efforts in asked.moves:
        for effort in efforts:
            needed |= {side for side in _SIDES if effort.falls_to(side)}
    low = [1 if side in needed else 0 for side in _SIDES]
    high = [places if side in needed else 0 for side, places in zip(_SIDES, most, strict=True)]
    found = [(n, m) for n in range(low[0], high[0] + 1) for m in range(low[1], high[1] + 1) if n + m]
    near = 0 if asked.direction.receiving == "left" else 1
    return sorted(found, key=lambda team: (sum(team), abs(team[0] - team[1]), team[near])) or [(1, 1)]
