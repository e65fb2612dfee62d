"""The posture search: thousands of postures at once, about 20 µs each; scipy.optimize takes about 20 ms for one.

What is minimised is a sum of squares: moment over strength of each joint, the centre of pressure over half
the base of support, and breaches of reach, bed, balance and joint range over a small softness. Only one
shape of elbow and knee is offered and every term is smooth, so the optimum moves smoothly with the task,
with one exception: a hard push (above about 0.19 body weights) with stiff knees can be met leaning or bent
double at nearly the same effort.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ergo.handlers.posture_objective import BREACHES, Bounds, Task, bounds_of, residuals

__all__ = ["Solution", "search"]

Floats = NDArray[np.float64]

_STEP = 2e-5  # rad, of the difference quotients
_BATCH = 3072  # so that the arrays of a batch stay in the cache


@dataclass(frozen=True, slots=True)
class Solution:
    """The postures found for n tasks: shank, knee and trunk [rad]; their cost; whether the steps died out."""

    posture: Floats  # (3, n)
    cost: Floats
    converged: NDArray[np.bool_]
    steps: int

    def take(self, index: slice) -> Solution:
        """Return the postures at these places."""
        return Solution(self.posture[:, index], self.cost[index], self.converged[index], self.steps)


# shank, knee, trunk [rad]: leaning back and forward with the trunk upright to deeply bent, and two squats
_STARTS = np.array(
    [[shank, 0.3, trunk] for shank in (-0.1, 0.2) for trunk in (0.0, 0.35, 0.7, 1.05)]
    + [[0.3, 0.8, 0.2], [0.4, 1.0, 0.5]]
)


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
_SOFTER = 4.0
_NEAR, _ENOUGH, _LONGEST = 0.5, 1e-3, 0.2
_SHORTEST = 3e-4
_MOST_STEPS = 30  # with 60, 2 more of 60,000 random tasks are found to hold
_LOOK_AFTER = 12  # steps, for who is hopelessly far outside a limit
_HOPELESS = 2.0  # softnesses outside a limit: of 235 so far out after 12 steps, 1 came to hold
_TRIES = 4  # starts, where the search does not settle from the most promising one
_LEAST_CURVATURE, _ROUNDING = 1e-3, 1e-9  # the second over the size of the curvature


def search(task: Task) -> Solution:
    """Find the posture of least effort for each of n tasks: least Σ(effort)² + Σ(breach/softness)².

    Newton's method within a trust region from the most promising of a few starts, with slope and curvature by
    difference quotients; where the curvature is not positive, Gauss and Newton's takes its place. One that does not
    settle starts again from the next few, unless it ended hopelessly far outside a limit.

    Pulls of 5, 10 and 20 % of the body's weight with the hands a little above the bed: a harder one costs more, and the
    knees bend further.

    >>> one = np.ones(3)
    >>> lengths, choices = (0.3 * one, 0.55 * one, 0.5 * one), np.array([[0] * 3, [1] * 3, [2] * 3, [0] * 3])
    >>> rest = 0.5 * one, one, 0.17 * one
    >>> found = search(Task(np.array([0.05, 0.1, 0.2]), 0.0 * one, *lengths, *choices, *rest))
    >>> bool(found.converged.all()), bool((np.diff(found.cost) > 0).all()), bool((np.diff(found.posture[1]) > 0).all())
    (True, True, True)
    """
    n = task.pull.size
    if not n:
        return Solution(np.empty((3, 0)), np.empty(0), np.ones(0, dtype=bool), 0)
    if n > _BATCH:
        parts = [search(task.take(slice(i, i + _BATCH))) for i in range(0, n, _BATCH)]
        return Solution(
            np.concatenate([part.posture for part in parts], axis=1),
            np.concatenate([part.cost for part in parts]),
            np.concatenate([part.converged for part in parts]),
            max(part.steps for part in parts),
        )
    bounds = bounds_of(task)
    starts = _starts(bounds)
    costs = _cost(residuals(task, bounds, starts, _SOFTER))
    found = _descend(task, bounds, starts[:, np.argmin(costs, axis=0), np.arange(n)])
    lost = np.flatnonzero(~found.converged)
    if lost.size:
        lost = lost[~_is_hopeless(task.take(lost), bounds.take(lost), found.posture[:, lost])]
    if lost.size:  # where two shapes of the cost meet, other starts, all together
        tries = np.argsort(costs[:, lost], axis=0)[:_TRIES]
        many = np.tile(lost, len(tries))
        other = _descend(task.take(many), bounds.take(many), starts[:, tries.ravel(), many])
        cost = np.where(other.converged, other.cost, np.inf).reshape(len(tries), -1)
        best = np.argmin(cost, axis=0)
        better = np.flatnonzero(np.isfinite(cost[best, np.arange(lost.size)]))
        at = best[better] * lost.size + better
        found.posture[:, lost[better]] = other.posture[:, at]
        found.cost[lost[better]], found.converged[lost[better]] = other.cost[at], True
    return found


def _fan_at(task: Task, bounds: Bounds, at: Floats, softer: Floats) -> Floats:
    """Return the residuals of a fan of postures around each of `at` (3, ..., n)."""
    away, sine, cosine = (part.reshape(3, -1, *[1] * (at.ndim - 1)) for part in (_FAN, _FAN_SINE, _FAN_COSINE))
    here, sine_here, cosine_here = (part[:, None] for part in (at, np.sin(at), np.cos(at)))
    turns = sine_here * cosine + cosine_here * sine, cosine_here * cosine - sine_here * sine
    return residuals(task, bounds, here + away, softer, turns)


def _is_hopeless(task: Task, bounds: Bounds, at: Floats) -> NDArray[np.bool_]:
    """Say which postures are so far outside a limit that neither more steps nor other starts lead to one that holds."""
    outside = residuals(task, bounds, at)[-len(BREACHES) :].max(axis=0)
    return np.asarray(outside >= _HOPELESS)


def _cost(values: Floats) -> Floats:
    """Return the sum of the squares of residuals, over the first axis."""
    total: Floats = np.einsum("k...,k...->...", values, values)
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


def _newton_step(values: Floats, fan: Floats) -> Floats:
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
        few = values[:, :4, bent]
        jacobian = (few[:, 1:] - few[:, :1]) / _STEP
        squares = 2.0 * np.einsum("kin,kjn->ijn", jacobian, jacobian)
        lifted = squares[(0, 1, 2, *_PAIRS[0]), (0, 1, 2, *_PAIRS[1])]
        lifted[:3] += _LEAST_CURVATURE + _ROUNDING * lifted[:3].max(axis=0)
        cofactors[:, bent], determinant[bent] = _cofactors(lifted)
    c11, c22, c33, c12, c13, c23 = cofactors
    rows = (c11 * g1 + c12 * g2 + c13 * g3, c12 * g1 + c22 * g2 + c23 * g3, c13 * g1 + c23 * g2 + c33 * g3)
    step: Floats = np.stack(rows) / -determinant
    return step


def _descend(task: Task, bounds: Bounds, start: Floats, most_steps: int = _MOST_STEPS) -> Solution:
    n = task.pull.size
    posture, cost_out = start.copy(), np.empty(n)
    converged = np.zeros(n, dtype=bool)
    live, at = np.arange(n), start
    softer = np.full(n, _SOFTER)
    limit = np.full(n, _LONGEST)
    values = _fan_at(task, bounds, at, softer)
    fan = _cost(values)
    cost, step = fan[0], _newton_step(values, fan)
    steps = 0
    while True:
        length = np.abs(step).max(axis=0)
        short = length < _ENOUGH
        # where two shapes of the cost meet, the bottom can be where no step leads down, however short
        ended = (softer == 1.0) & (short | (limit < _SHORTEST))
        out = ended | (steps == most_steps)
        if steps == _LOOK_AFTER:
            out |= _is_hopeless(task, bounds, at)
        if out.any():
            # the last step is so short that the parabola is as good as another look
            posture[:, live[out]] = (at + np.where(ended & short, step, 0.0))[:, out]
            cost_out[live[out]] = cost[out]
            converged[live[out]] = ended[out]
            keep = ~out
            if not keep.any():
                return Solution(posture, cost_out, converged, steps)
            live, task, bounds = live[keep], task.take(keep), bounds.take(keep)
            at, cost, step, length = at[:, keep], cost[keep], step[:, keep], length[keep]
            softer, limit = softer[keep], limit[keep]
        steps += 1
        # near the bottom with soft limits: go on with the hard ones
        tighten = (softer > 1.0) & (length < _NEAR)
        softer = np.where(tighten, 1.0, softer)
        taken = np.minimum(limit, length)
        trial_at = at + step * (taken / np.maximum(length, 1e-12))
        values = _fan_at(task, bounds, trial_at, softer)
        fan = _cost(values)
        # a step that led up says that the parabola holds only nearby: its direction stays, half as far
        better = (fan[0] < cost) | tighten
        at, cost = np.where(better, trial_at, at), np.where(better, fan[0], cost)
        step = np.where(better, _newton_step(values, fan), step)
        limit = np.where(better, np.minimum(2.0 * limit, _LONGEST), 0.5 * taken)
