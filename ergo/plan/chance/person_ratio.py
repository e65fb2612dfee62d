"""What a force costs a person in every draw, from a table over forces."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ergo.plan.chance.inputs import UncertainInput

__all__ = [
    "NOT_HELD",
    "Borne",
    "PersonTable",
    "PostureDraws",
    "node_forces",
    "nodes_to",
    "person_ratio",
    "posture_draws",
    "worst_of",
]

Floats = NDArray[np.float64]
Draws = Mapping[str, Floats]

_NODE_N = 2.0  # force at the first node; the next stand at its square multiples, dense where a posture changes most
NOT_HELD = 2.0  # ratio given to a force that no posture holds: twice over
_ROUNDING = 1e-9
_MANY = 0.5  # of the draws: then all are worked out, which costs less than picking


def nodes_to(top_n: float) -> int:
    """Return how many forces of the grid there are up to the first that is not below `top_n`.

    Parameters
    ----------
    top_n : float [N]
        Not below zero.

    Returns
    -------
    int

    Examples
    --------
    >>> nodes_to(2.0), nodes_to(2.1), node_forces(nodes_to(8.0)).tolist()
    (2, 3, [0.0, 2.0, 8.0])
    """
    return int(np.ceil(np.sqrt(top_n / _NODE_N))) + 1


def node_forces(nodes: int) -> Floats:
    """Return the first forces of the grid, on which all tables are made.

    F_k = k² · 2 N

    Parameters
    ----------
    nodes : int

    Returns
    -------
    ndarray, shape (nodes,) [N]

    Examples
    --------
    >>> node_forces(4).tolist()
    [0.0, 2.0, 8.0, 18.0]
    """
    return _NODE_N * np.arange(nodes, dtype=np.float64) ** 2


class PostureDraws(NamedTuple):
    """How a force is held, draw by draw: height of the hands within its spread, how far the technique goes from the
    stated one to the best, how much shorter the back's lever is, and the product of the last two."""

    height: Floats
    softer: Floats
    shorter: Floats
    both: Floats


@dataclass(frozen=True, slots=True)
class PersonTable:
    """What a force costs one person in one effort.

    `peak_per_n` and `steady_per_n` are the worst ratios per newton, at the lowest and highest hand, to the deciding
    limits that are proportional to the peak and to the steady force. The rows of `along` run over `forces`: the worst
    ratio to the limits that follow from the posture found, compression apart; compression, and what the back muscle
    adds to it; and by how much each of the two is less in the best posture, so that the back's lever and the technique
    can be drawn. `steps` are their differences. `held` is 1 where a posture holds the force, `all_held` says how many
    forces come before the first that none holds. The rows of `most` are what no ratio at a force exceeds: without
    compression; of compression; and what is added to it for each part by which the back's lever is shorter.
    """

    forces: Floats
    peak_per_n: tuple[float, float]
    steady_per_n: tuple[float, float]
    along: Floats
    steps: Floats
    held: Floats
    spine_limit: float
    most: Floats
    all_held: int

    @classmethod
    def of(
        cls,
        peak_per_n: tuple[float, float],
        steady_per_n: tuple[float, float],
        spine_limit: float,
        along: Floats,
        held: Floats,
    ) -> PersonTable:
        """Return a table with all that follows from what it is made of."""
        posture, compression, muscle, softer_compression, softer_muscle = along
        forces = node_forces(len(held))
        most = [
            np.maximum(posture, max(peak_per_n) * forces),
            np.maximum(compression, compression + softer_compression) / spine_limit,
            np.maximum(muscle, muscle + softer_muscle) / spine_limit,
        ]
        all_held = int(np.argmin(np.append(held, 0.0)))
        steps = np.diff(along, axis=1)
        return cls(forces, peak_per_n, steady_per_n, along, steps, held, spine_limit, np.array(most), all_held)


class Borne(NamedTuple):
    """What one person bears in one effort, draw by draw [N]."""

    table: PersonTable
    peak_n: Floats
    steady_n: Floats


def posture_draws(draws: Draws, hand: UncertainInput, back_arm_m: float) -> PostureDraws:
    """Return what the draws say of how a force is held; the same for everybody and every effort.

    Parameters
    ----------
    draws : mapping of input name to ndarray, shape (draws,)
    hand : UncertainInput
        How the height of the hands is spread.
    back_arm_m : float [m]
        The back's lever at which the tables were made.

    Returns
    -------
    PostureDraws

    Examples
    --------
    >>> hand = UncertainInput("hand_height_m", "hands", "triangular", 0.0, 0.1, 0.4, "m", "", "")
    >>> draws = {"hand_height_m": np.array([0.1]), "posture": np.array([0.5]), "back_arm_m": np.array([0.05])}
    >>> posture_draws(draws, hand, 0.06)
    PostureDraws(height=array([0.25]), softer=array([0.5]), shorter=array([0.2]), both=array([0.1]))
    """
    spread = hand.high - hand.low
    height = (draws["hand_height_m"] - hand.low) / spread if spread > 0 else np.zeros_like(draws["hand_height_m"])
    softer, shorter = draws["posture"], back_arm_m / draws["back_arm_m"] - 1.0
    return PostureDraws(height, softer, shorter, softer * shorter)


def person_ratio(grid: PersonTable, peak_n: Floats, steady_n: Floats, held_so: PostureDraws) -> Floats:
    """Return the worst ratio to the deciding limits of one person, draw by draw.

    max(peak x its ratio per newton, steady x its own, ratio of the posture, (C + t ΔC + a (M + t ΔM)) / C_limit), with
    C the compression, M what the muscle adds to it, Δ by how much the best posture changes them, t how far the
    technique goes to the best and a how much shorter the back's lever is.

    Parameters
    ----------
    grid : PersonTable
    peak_n, steady_n : ndarray, shape (draws,) [N]
        At this person's hands, not below zero.
    held_so : PostureDraws

    Returns
    -------
    ndarray, shape (draws,) [-]
        Beyond the table's forces its last piece goes on straight. At least 2 where no posture holds the force.

    Examples
    --------
    >>> along = np.array([[0.0] * 3, [1000.0, 1200.0, 1800.0], [500.0] * 3, [0.0] * 3, [0.0] * 3])
    >>> grid = PersonTable.of((0.1, 0.3), (0.0, 0.0), 3400.0, along, np.ones(3))
    >>> usual, middle = np.zeros(2), np.full(2, 0.5)  # hands half way up: 0.2 a newton
    >>> pull = np.array([1.0, 5.0])
    >>> person_ratio(grid, pull, pull, PostureDraws(middle, usual, usual, usual)).round(9).tolist()
    [0.323529412, 1.0]
    """
    spent = peak_n / _NODE_N
    index = np.minimum(np.sqrt(spent).astype(np.intp), len(grid.forces) - 2)
    part = (spent - index * index) / (2 * index + 1)  # forces stand at the squares

    def between(ends: tuple[float, float]) -> Floats | float:
        return ends[0] if ends[0] == ends[1] else ends[0] + held_so.height * (ends[1] - ends[0])

    ratio = np.maximum(peak_n * between(grid.peak_per_n), steady_n * between(grid.steady_per_n))
    rows = np.take(grid.steps, index, axis=1)
    rows *= part
    rows += np.take(grid.along, index, axis=1)
    posture, compression, muscle, softer_compression, softer_muscle = rows
    np.maximum(ratio, posture, out=ratio)
    if grid.all_held < len(grid.held):
        nearer = grid.held[np.where(part < 0.5, index, index + 1)]
        ratio[nearer == 0.0] = np.maximum(ratio[nearer == 0.0], NOT_HELD)
    if np.isfinite(grid.spine_limit):
        # compression + softer Δcompression + shorter (muscle + softer Δmuscle)
        softer_compression *= held_so.softer
        muscle *= held_so.shorter
        softer_muscle *= held_so.both
        compression += softer_compression
        compression += muscle
        compression += softer_muscle
        compression /= grid.spine_limit
        np.maximum(ratio, compression, out=ratio)
    return ratio


def worst_of(borne: Iterable[Borne], held_so: PostureDraws) -> Floats:
    """Return the worst ratio to the deciding limits of several people and efforts, draw by draw.

    As the largest `person_ratio` of all; but where a bound says that somebody cannot be the worst, nothing is worked
    out: the chord above the table, from no force to the first node beyond the largest.

    Parameters
    ----------
    borne : iterable of Borne
    held_so : PostureDraws

    Returns
    -------
    ndarray, shape (draws,) [-]
        Zero where nobody bears anything.

    Examples
    --------
    >>> along = np.array([[0.0] * 3, [1000.0, 1200.0, 1800.0], [500.0] * 3, [0.0] * 3, [0.0] * 3])
    >>> grid = PersonTable.of((0.1, 0.3), (0.0, 0.0), 3400.0, along, np.ones(3))
    >>> usual, middle = np.zeros(2), np.full(2, 0.5)
    >>> held_so, small, large = PostureDraws(middle, usual, usual, usual), np.array([1.0, 5.0]), np.array([2.0, 4.0])
    >>> worst_of([Borne(grid, small, small), Borne(grid, large, large)], held_so).round(9).tolist()
    [0.4, 1.0]
    """
    worst = np.zeros_like(held_so.height)
    shorter = max(float(held_so.shorter.max()), 0.0)
    bounded = sorted(((*_bound(one, shorter), i, one) for i, one in enumerate(borne)), reverse=True)
    least = 0.0
    for top, start, slope, _, one in bounded:
        if top <= least:  # nor can anybody who is still to come
            break
        if np.isinf(top):
            np.maximum(worst, person_ratio(*one, held_so), out=worst)
        else:
            most = one.peak_n * slope
            most += start
            if (steady := max(one.table.steady_per_n)) > 0.0:
                np.maximum(most, steady * one.steady_n, out=most)
            (can_be,) = np.nonzero(most > worst)
            if len(can_be) > _MANY * len(worst):
                np.maximum(worst, person_ratio(*one, held_so), out=worst)
            elif len(can_be):
                part = PostureDraws(*(row[can_be] for row in held_so))
                ratio = person_ratio(one.table, one.peak_n[can_be], one.steady_n[can_be], part)
                worst[can_be] = np.maximum(worst[can_be], ratio)
        least = float(worst.min())
    return worst


def _bound(one: Borne, shorter: float) -> tuple[float, float, float]:
    """Return the most that a ratio of this person can be, and start and slope [1/N] of a line that none exceeds."""
    grid, peak = one.table, float(one.peak_n.max())
    nodes = max(nodes_to(peak), 2)
    if nodes > grid.all_held:
        return np.inf, 0.0, 0.0
    without, compression, muscle = grid.most[:, :nodes]
    most = np.maximum(without, compression + shorter * muscle)
    start = float(most[0]) * (1.0 + _ROUNDING)
    slope = float(((most[1:] - most[0]) / grid.forces[1:nodes]).max()) + _ROUNDING
    steady = max(grid.steady_per_n)
    return max(start + slope * peak, steady * float(one.steady_n.max()) if steady > 0.0 else 0.0), start, slope
