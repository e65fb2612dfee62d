"""The posture search: thousands of postures at once, without an optimisation library.

What is minimised is a sum of squares: moment over strength of each joint, the centre of pressure over half
the base of support, and breaches of reach, bed, balance and joint range over a small softness. Only one
shape of elbow and knee is offered and every term is smooth, so the optimum moves smoothly with the task,
with one exception: a hard push (above about 0.19 body weights) with stiff knees can be met leaning or bent
double at nearly the same effort.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ergo.handlers.posture_objective import Bounds, Task, body_limits, bounds_of, residuals

__all__ = ["Found", "search"]

Floats = NDArray[np.float64]

_STEP = 2e-5  # rad, of the difference quotients
_BATCH = 3072  # so that the arrays of a batch stay in the cache


@dataclass(frozen=True, slots=True)
class Found:
    """Result of the search for n tasks."""

    posture: Floats  # (3, n)
    cost: Floats
    converged: NDArray[np.bool_]
    steps: int


# shank, knee, trunk [rad]: leaning back and forward with the trunk upright to deeply bent, and two squats
_STARTS = np.array(
    [[shank, 0.3, trunk] for shank in (-0.1, 0.2) for trunk in (0.0, 0.35, 0.7, 1.05)]
    + [[0.3, 0.8, 0.2], [0.4, 1.0, 0.5]]
)
_GRID = (9, 5, 8)  # points over shank, knee and trunk


def _starts(bounds: Bounds) -> Floats:
    """Return the starting postures within the technique (3, starts, n)."""
    ranges = np.stack([bounds.knee, bounds.trunk])
    low, high = ranges[:, 0] - ranges[:, 1], ranges[:, 0] + ranges[:, 1]
    out = np.empty((3, len(_STARTS), bounds.toe.size))
    for k, (shank, knee, lean) in enumerate(_STARTS):
        out[1, k] = np.clip(knee, low[0], high[0])
        # a knee that the technique keeps straighter leaves the hip where it was
        out[0, k] = shank + 0.5 * (out[1, k] - knee)
        out[2, k] = np.clip(lean, low[1], high[1])
    return out


_PAIRS = [0, 0, 1], [1, 2, 2]  # 1 with 2 and with 3, and 2 with 3


def _fan() -> Floats:
    """Return the ten points from which value, slope and curvature follow: here, +e, +2e and +e+e'."""
    e = np.eye(3)
    pairs = [e[i] + e[j] for i, j in zip(*_PAIRS, strict=True)]
    return _STEP * np.stack([np.zeros(3), *e, *(2 * e), *pairs], axis=1)[:, :, None]


_FAN = _fan()
_FAN_SINE, _FAN_COSINE = np.sin(_FAN), np.cos(_FAN)
# how the steps are taken [multiples of the softness, then rad]: they set the speed, not the result
_SOFTER, _SOFTER_ALONE = 4.0, 2.0
_NEAR, _ENOUGH, _LONGEST = 0.5, 1e-3, 0.2
_SHORTEST = 1e-5
_LEAST_CURVATURE, _ROUNDING = 1e-3, 1e-9  # the second over the size of the curvature
_BOLDNESS = (1.0, 0.5, 0.2, 0.1, 0.01, 0.001)


def _grid(bounds: Bounds) -> Floats:
    """Return a lattice of postures over the ranges of the technique (3, points, n)."""
    low, high = body_limits().ranges["ankle"]
    knee, trunk = bounds.knee[:, None], bounds.trunk[:, None]
    unit = np.stack(np.meshgrid(*(np.linspace(0, 1, k) for k in _GRID), indexing="ij")).reshape(3, -1, 1)
    wide = 0.9 * (2.0 * unit - 1.0)  # not on the limits, where a breach already counts
    shank = 0.5 * (low + high) + 0.5 * (high - low) * wide[0]
    return np.stack([shank + 0.0 * knee[0], knee[0] + knee[1] * wide[1], trunk[0] + trunk[1] * wide[2]])


def search(task: Task, starts: int = 1, grid: bool = False, most_steps: int = 40) -> Found:
    """Find the posture of least effort for each task.

    Parameters
    ----------
    task : Task
        n tasks, scaled.
    starts : int
        How many of the starting postures, the most promising first, to go down from; the best end is kept.
    grid : bool
        Go down from the best upright and the best bent posture of a lattice over the whole technique instead:
        better for one task, where the lattice costs no more than a step, dear for many.
    most_steps : int
        Steps allowed.

    Returns
    -------
    Found
        Posture, cost Σ(effort)² + Σ(breach/softness)², whether the steps died out.

    Notes
    -----
    Newton's method within a trust region, with slope and curvature by difference quotients; where the curvature is not
    positive, Gauss and Newton's takes its place.

    Examples
    --------
    Pulls of 5, 10 and 20 % of the body's weight with the hands a little above the bed: a harder one costs more, and the
    knees bend further.

    >>> one = np.ones(3)
    >>> lengths, choices = (0.3 * one, 0.55 * one, 0.5 * one), np.array([[0] * 3, [1] * 3, [2] * 3, [0] * 3])
    >>> found = search(Task(np.array([0.05, 0.1, 0.2]), 0.0 * one, *lengths, *choices))
    >>> bool(found.converged.all()), bool((np.diff(found.cost) > 0).all()), bool((np.diff(found.posture[1]) > 0).all())
    (True, True, True)
    """
    n = task.pull.size
    if n > _BATCH:
        parts = [search(task.take(slice(i, i + _BATCH)), starts, grid, most_steps) for i in range(0, n, _BATCH)]
        return Found(
            np.concatenate([part.posture for part in parts], axis=1),
            np.concatenate([part.cost for part in parts]),
            np.concatenate([part.converged for part in parts]),
            max(part.steps for part in parts),
        )
    bounds = bounds_of(task)
    if grid:
        # the best of the upright half and the best of the bent half: the two ways of doing one task
        first = _grid(bounds)
        seen = _cost(residuals(task, bounds, first, _SOFTER_ALONE)).reshape(-1, _GRID[2], n)
        half = _GRID[2] // 2
        pick = [seen[:, part].reshape(-1, n).argmin(axis=0) for part in (slice(0, half), slice(half, None))]
        width = (half, _GRID[2] - half)
        ranked = np.stack([p // w * _GRID[2] + p % w + o for p, w, o in zip(pick, width, (0, half), strict=True)])
    else:
        first = _starts(bounds)
        ranked = np.argsort(_cost(residuals(task, bounds, first, _SOFTER)), axis=0)[:starts]
    k = len(ranked)
    copies = np.tile(np.arange(n), k)
    begin = first[:, ranked.ravel(), copies]
    if k == 1:
        return _descend(task, bounds, begin, most_steps, grid)
    got = _descend(task.take(copies), bounds.take(copies), begin, most_steps, grid)
    best = np.argmin(got.cost.reshape(k, n), axis=0) * n + np.arange(n)
    return replace(got, posture=got.posture[:, best], cost=got.cost[best], converged=got.converged[best])


def _fan_at(task: Task, bounds: Bounds, at: Floats, softer: Floats) -> Floats:
    """Return the residuals of a fan of postures around each of `at` (3, ..., n)."""
    away, sine, cosine = (part.reshape(3, -1, *[1] * (at.ndim - 1)) for part in (_FAN, _FAN_SINE, _FAN_COSINE))
    here, sine_here, cosine_here = (part[:, None] for part in (at, np.sin(at), np.cos(at)))
    turns = sine_here * cosine + cosine_here * sine, cosine_here * cosine - sine_here * sine
    return residuals(task, bounds, here + away, softer, turns)


def _cost(seen: Floats) -> Floats:
    """Return the sum of the squares of residuals, over the first axis."""
    total: Floats = np.einsum("k...,k...->...", seen, seen)
    return total


def _cofactors(curvature: Floats) -> tuple[Floats, Floats]:
    """Return the cofactors (6, n) and the determinants of symmetric matrices, 11, 22, 33, 12, 13 and 23 of each."""
    h11, h22, h33, h12, h13, h23 = curvature
    rows = np.stack(
        [
            h22 * h33 - h23 * h23,
            h11 * h33 - h13 * h13,
            h11 * h22 - h12 * h12,
            h13 * h23 - h12 * h33,
            h12 * h23 - h13 * h22,
            h12 * h13 - h11 * h23,
        ]
    )
    return rows, h11 * rows[0] + h12 * rows[3] + h13 * rows[4]


def _newton_step(seen: Floats, fan: Floats) -> Floats:
    """Return the step (3, n) to the bottom of the parabola through each fan of costs (10, n) of residuals.

    Where the parabola has no bottom, the residuals' slopes alone give one (Gauss and Newton's curvature 2 JᵀJ).
    """
    f0, single, double = fan[0], fan[1:4], fan[4:7]
    g1, g2, g3 = (4 * single - double - 3 * f0) / (2 * _STEP)
    curvature = np.empty((6, f0.size))
    curvature[:3] = (double - 2 * single + f0) / _STEP**2
    curvature[3:] = (fan[7:] - single[_PAIRS[0]] - single[_PAIRS[1]] + f0) / _STEP**2
    cofactors, determinant = _cofactors(curvature)
    # by Sylvester's criterion
    bent = np.flatnonzero(~((curvature[0] > 0.0) & (cofactors[2] > 0.0) & (determinant > 0.0)))
    if bent.size:
        few = seen[:, :4, bent]
        jacobian = (few[:, 1:] - few[:, :1]) / _STEP
        squares = 2.0 * np.einsum("kin,kjn->ijn", jacobian, jacobian)
        lifted = squares[(0, 1, 2, *_PAIRS[0]), (0, 1, 2, *_PAIRS[1])]
        lifted[:3] += _LEAST_CURVATURE + _ROUNDING * lifted[:3].max(axis=0)
        cofactors[:, bent], determinant[bent] = _cofactors(lifted)
    c11, c22, c33, c12, c13, c23 = cofactors
    rows = (c11 * g1 + c12 * g2 + c13 * g3, c12 * g1 + c22 * g2 + c23 * g3, c13 * g1 + c23 * g2 + c33 * g3)
    step: Floats = np.stack(rows) / -determinant
    return step


def _descend(task: Task, bounds: Bounds, start: Floats, most_steps: int, alone: bool) -> Found:
    n = task.pull.size
    # one task tries bold, usual and careful steps together: arrays of 60 numbers cost no more than of 10
    boldness = np.array(_BOLDNESS if alone else (1.0,))[:, None]
    posture, cost_out = start.copy(), np.empty(n)
    converged = np.zeros(n, dtype=bool)
    live, at = np.arange(n), start
    softer = np.full(n, _SOFTER_ALONE if alone else _SOFTER)
    limit = np.full(n, _LONGEST)
    seen = _fan_at(task, bounds, at, softer)
    fan = _cost(seen)
    cost, step = fan[0], _newton_step(seen, fan)
    steps = 0
    while True:
        length = np.abs(step).max(axis=0)
        short = length < _ENOUGH
        # where two shapes of the cost meet, the bottom can be where no step leads down, however short
        ended = (softer == 1.0) & (short | (limit < _SHORTEST))
        if steps == most_steps or ended.any():
            out = ended | (steps == most_steps)
            # the last step is so short that the parabola is as good as another look
            posture[:, live[out]] = (at + np.where(ended & short, step, 0.0))[:, out]
            cost_out[live[out]] = cost[out]
            converged[live[out]] = ended[out]
            keep = ~out
            if not keep.any():
                return Found(posture, cost_out, converged, steps)
            live, task, bounds = live[keep], task.take(keep), bounds.take(keep)
            at, cost, step, length = at[:, keep], cost[keep], step[:, keep], length[keep]
            softer, limit = softer[keep], limit[keep]
        steps += 1
        # near the bottom with soft limits: go on with the hard ones
        tighten = (softer > 1.0) & (length < _NEAR)
        softer = np.where(tighten, 1.0, softer)
        taken = np.minimum(limit * boldness, length)
        trial_at = at[:, None] + step[:, None] * (taken / np.maximum(length, 1e-12))
        seen = _fan_at(task, bounds, trial_at, softer)
        fan = _cost(seen)
        if alone:
            best, every = fan[0].argmin(axis=0), np.arange(live.size)
            trial_at, taken, seen, fan = (part[..., best, every] for part in (trial_at, taken, seen, fan))
        else:
            trial_at, taken, seen, fan = (part[..., 0, :] for part in (trial_at, taken, seen, fan))
        # a step that led up says that the parabola holds only nearby: its direction stays, half as far
        better = (fan[0] < cost) | tighten
        at, cost = np.where(better, trial_at, at), np.where(better, fan[0], cost)
        step = np.where(better, _newton_step(seen, fan), step)
        limit = np.where(better, np.minimum(2.0 * limit, _LONGEST), 0.5 * taken)
