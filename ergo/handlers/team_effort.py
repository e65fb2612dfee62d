"""How hard a team must work: the least part of everybody's capacity with which together they overcome a resistance."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["BESIDE", "FULL_EFFORT", "TeamEffort", "best_price", "least_ratio", "short_of_rolling", "team_effort"]

Floats = NDArray[np.float64]

FULL_EFFORT = 1.0 + 1e-6
"""The ratio at which everybody gives all they can, with the rounding of the programme."""
_ROUNDING = 1e-10
BESIDE = 1e-6
"""How far beside a price, over it, somebody has not yet changed from one action to another, or has."""


@dataclass(frozen=True, slots=True)
class TeamEffort:
    """The least part of capacity, and the force of every person in every action that goes with it.

    Attributes
    ----------
    ratio : ndarray, shape (...) [-]
        1 is everybody at their capacity; infinite where the team cannot do it at all.
    force_n : ndarray, shape (..., people, actions) [N]
        Zero throughout where the team cannot do it.
    slip_price : ndarray, shape (...)
        What one newton of slip margin would save, per newton of the resistance's own unit; zero where nothing slips.
    """

    ratio: Floats
    force_n: Floats
    slip_price: Floats


def team_effort(
    resistance: ArrayLike,
    gain: ArrayLike,
    capacity_n: ArrayLike,
    slip: ArrayLike = 0.0,
    slip_margin_n: ArrayLike = np.inf,
    *,
    either_way: bool = False,
    lift_slip: ArrayLike = 0.0,
) -> TeamEffort:
    """Return the least part r of everybody's capacity with which a team overcomes a resistance without slipping.

    min r subject to Σ J f ≥ R, Σ g f ≤ S, Σ_k f_ik / c_ik ≤ r for everybody, f ≥ 0. Its dual is exact:
    r = max over t ≥ 0 of (R - t S) / Σ_i max(0, max_k (J_ik - t g_ik) c_ik), with t among 0, every J/g and every
    crossing of two actions of one person.

    Parameters
    ----------
    resistance : array_like, shape (...)
        R [N, or N m where the gains are moment arms]; nothing has to be done where it is not positive.
    gain : array_like, broadcast to (..., people, actions)
        J, what one newton of each action takes of the resistance.
    capacity_n : array_like, broadcast to (..., people, actions) [N]
        c; zero for an action that somebody cannot do. One pair of hands divides itself between its actions.
    slip : array_like, broadcast to (..., people, actions) [-]
        g, what one newton of each action adds to the slip; negative for hands that hold the layer.
    slip_margin_n : array_like, shape (...) [N]
        S, the slip that friction bears; infinite where nothing can slip.
    either_way : bool
        Whether it may slip in the other direction as well: a second row with -slip + 2 lift_slip.
    lift_slip : array_like, broadcast to (..., people, actions) [-]
        The part of `slip` that comes from unloading, which is the same in both directions.

    Returns
    -------
    TeamEffort

    Notes
    -----
    Source: linear programming; tests compare with scipy.optimize.linprog.

    Examples
    --------
    >>> pair = team_effort(300.0, 1.0, [[200.0], [100.0]])  # the stronger pulls twice as much as the weaker
    >>> float(pair.ratio), pair.force_n[:, 0].tolist()
    (1.0, [200.0, 100.0])
    """
    needed, margin = np.broadcast_arrays(np.asarray(resistance, dtype=float), np.asarray(slip_margin_n, dtype=float))
    c = np.asarray(capacity_n, dtype=float)
    rows = [np.asarray(slip, dtype=float)]
    if either_way:
        rows.append(2.0 * np.asarray(lift_slip, dtype=float) - rows[0])
    a, c, *q = np.broadcast_arrays(np.asarray(gain, dtype=float) * c, c, *(row * c for row in rows))
    shape = np.broadcast_shapes(needed.shape, a.shape[:-2])
    needed, margin = np.broadcast_to(needed, shape), np.broadcast_to(margin, shape)
    a, c, *q = (np.broadcast_to(v, (*shape, *v.shape[-2:])) for v in (a, c, *q))
    found = [_one_way(needed, margin, a, row) for row in q]
    best = found[0]
    for other in found[1:]:
        worse = np.asarray(other[0] > best[0])
        best = (
            np.where(worse, other[0], best[0]),
            np.where(worse[..., None, None], other[1], best[1]),
            np.where(worse, other[2], best[2]),
        )
    ratio, parts, price = best
    return TeamEffort(ratio, parts * c, price)


def least_ratio(
    resistance: Floats,
    gain: Floats,
    capacity_n: Floats,
    slip: Floats,
    slip_margin_n: Floats,
    either_way: bool = False,
    lift_slip: Floats | float = 0.0,
) -> Floats:
    """Return the ratio of `team_effort` alone; people who can do the same may stand together, their capacities added.

    >>> both = np.array([[300.0]])
    >>> float(least_ratio(np.array(300.0), np.ones(1), both, np.zeros(1), np.array(np.inf)))
    1.0
    """
    shape = np.broadcast_shapes(np.shape(resistance), capacity_n.shape[:-2])
    needed, margin = np.broadcast_to(resistance, shape), np.broadcast_to(slip_margin_n, shape)
    a = np.broadcast_to(gain * capacity_n, (*shape, *capacity_n.shape[-2:]))
    rows = [slip, 2.0 * np.asarray(lift_slip) - slip] if either_way else [slip]
    every = [best_price(needed, margin, a, np.broadcast_to(row * capacity_n, a.shape))[0] for row in rows]
    return np.asarray(np.max(every, axis=0))


def short_of_rolling(
    ratio: NDArray[Any],
    resistance: NDArray[Any],
    pulled: NDArray[Any],
    pushed: NDArray[Any],
    most: NDArray[Any] | float,
) -> NDArray[Any]:
    """Return the ratio of a slide in which those who push may push no more than `most`; those who pull do the rest.

    `pulled` and `pushed` are what all of them are worth at capacity.

    >>> float(short_of_rolling(np.array(0.5), np.array(200.0), np.array(200.0), np.array(200.0), 50.0))
    0.75
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        alone = np.maximum((resistance - most) / pulled, most / pushed)
        return np.where(ratio * pushed > most, np.where(np.isnan(alone), np.inf, alone), ratio)


def _one_way(needed: Floats, margin: Floats, a: Floats, q: Floats) -> tuple[Floats, Floats, Floats]:
    """Return r, the part of capacity that everybody gives to each action, and the price of slip."""
    r, price = best_price(needed, margin, a, q)
    return r, _divide(needed, np.where(np.isfinite(margin), margin, np.inf), a, q, r, price), price


def best_price(needed: Floats, margin: Floats, a: Floats, q: Floats) -> tuple[Floats, Floats]:
    """Return the least part of capacity that everybody must give, and the price of slip at which it is largest.

    r = max over t of (R - t S) / Σ_i max(0, max_k (a_ik - t q_ik)); the largest is at a price at which somebody changes

    Parameters
    ----------
    needed, margin : ndarray, shape (...)
        R, what resists, and S, how much may slip: infinite where slipping is the aim.
    a, q : ndarray, shape (..., people, actions)
        What an action is worth and slips at everybody's capacity.

    >>> one = np.ones((1, 1, 1))
    >>> [v.tolist() for v in best_price(np.array([50.0]), np.array([10.0]), 100.0 * one, 40.0 * one)]
    [[inf], [2.5]]
    >>> [v.tolist() for v in best_price(np.array([50.0]), np.array([30.0]), 100.0 * one, 40.0 * one)]
    [[0.5], [0.0]]
    """
    t = _prices(a, q) if np.isfinite(margin).any() else np.zeros((*needed.shape, 1))
    s = np.where(np.isfinite(margin), margin, 0.0)[..., None]
    numerator = needed[..., None] - t * s
    numerator = np.where((t > 0) & ~np.isfinite(margin)[..., None], -np.inf, numerator)
    denominator = _together(a, q, t)
    nothing = _ROUNDING * np.sum(np.max(np.abs(a), axis=-1, initial=0.0), axis=-1)[..., None]
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(
            numerator <= _ROUNDING * np.abs(needed[..., None]), 0.0,
            np.where(denominator > nothing, numerator / denominator, np.inf),
        )  # fmt: skip
    at = np.argmax(ratio, axis=-1)[..., None]
    r = np.take_along_axis(ratio, at, axis=-1)[..., 0]
    return r, np.take_along_axis(t, at, axis=-1)[..., 0]


def _prices(a: Floats, q: Floats) -> Floats:
    """Every price of slip at which somebody stops an action or changes to another."""
    found = [np.zeros(a.shape[:-2])]
    with np.errstate(divide="ignore", invalid="ignore"):
        for i in range(a.shape[-2]):
            found += [a[..., i, k] / q[..., i, k] for k in range(a.shape[-1])]
            found += [
                (a[..., i, k] - a[..., i, m]) / (q[..., i, k] - q[..., i, m])
                for k, m in combinations(range(a.shape[-1]), 2)
            ]
    t = np.stack(found, axis=-1)
    return np.where(np.isfinite(t) & (t > 0.0), t, 0.0)


def _together(a: Floats, q: Floats, t: Floats) -> Floats:
    """What all can do at a price of slip, everybody at capacity: Σ_i max(0, max_k (a_ik - t q_ik))."""
    total = np.zeros(t.shape)
    for i in range(a.shape[-2]):
        best = np.zeros(t.shape)
        for k in range(a.shape[-1]):
            best = np.maximum(best, a[..., i, k, None] - t * q[..., i, k, None])
        total += best
    return total


def _divide(needed: Floats, margin: Floats, a: Floats, q: Floats, r: Floats, t: Floats) -> Floats:
    """Everybody gives r to the action that is best at the price; where two are equal, both in a fitting mix."""
    reached = np.where(np.isfinite(r), r, 0.0)

    def chosen(price: Floats) -> Floats:
        value = a - price[..., None, None] * q
        part = (np.arange(a.shape[-1]) == np.argmax(value, axis=-1)[..., None]) & (value > 0.0)
        return np.asarray(part * reached[..., None, None])

    size = np.max(np.abs(a), axis=(-2, -1), initial=0.0) / np.maximum(
        np.max(np.abs(q), axis=(-2, -1), initial=0.0), 1.0
    )
    more, less = chosen(t * (1.0 - BESIDE)), chosen(t * (1.0 + BESIDE) + _ROUNDING * size)
    done = [_summed(part * a) for part in (more, less)]
    slips = [_summed(part * q) for part in (more, less)]
    with np.errstate(divide="ignore", invalid="ignore"):
        by_slip = (margin - slips[0]) / (slips[1] - slips[0])
        by_work = (needed - done[0]) / (done[1] - done[0])
    # both hold at the optimum; take the one that is better conditioned
    mix = np.where(np.abs(done[1] - done[0]) > 1e-9 * (np.abs(needed) + 1.0), by_work, by_slip)
    mix = np.clip(np.where(np.isfinite(mix) & (slips[0] > margin), mix, 0.0), 0.0, 1.0)[..., None, None]
    return (1.0 - mix) * more + mix * less


def _summed(values: Floats) -> Floats:
    """The sum over people and actions, one person after the other: who does nothing changes no rounding."""
    total = np.zeros(values.shape[:-2])
    for each in np.moveaxis(np.sum(values, axis=-1), -1, 0):
        total += each
    return total
