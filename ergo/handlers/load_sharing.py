"""How a side's force is shared between the people who stand along it.

No measured split between people who pull one sheet was found: every split is an assumption and shown as one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ergo.errors import Fault, InputError, checked_numbers
from ergo.evidence import assumption, row, table
from ergo.inputs.scenario import Sharing

__all__ = [
    "SharedForce",
    "Shares",
    "Station",
    "best_shares",
    "realistic_factor",
    "share",
    "share_force",
    "station_at",
    "stations",
]

Floats = NDArray[np.float64]
Station = Literal["head", "shoulder", "waist", "hip", "thigh", "knee", "ankle"]

_DRAWS = 20_000
_SEED = 20_261_124
_MOST_PEOPLE = 12


@dataclass(frozen=True, slots=True)
class Shares:
    """Each person's part of a side's force.

    Attributes
    ----------
    fraction : ndarray, shape (people,)
        Part of the side's force that each person is judged by.
    position_m : ndarray, shape (people,)
        Where each person stands, from the top of the patient's head.
    yaw_m : float [m]
        How far the pulls miss the centre of resistance; not zero only where no split of these places can meet it.
    """

    fraction: Floats
    position_m: Floats
    yaw_m: float


def stations(people: int, stature_m: float) -> Floats:
    """Return where people stand along one side: evenly from the patient's shoulder to the knee.

    >>> [round(float(x), 2) for x in stations(3, 1.70)]
    [0.31, 0.76, 1.22]
    """
    ends = _landmarks()["shoulder"], _landmarks()["knee"]
    if people == 1:
        return np.array([sum(ends) / 2]) * stature_m
    return np.linspace(*ends, people) * stature_m


def station_at(position_m: float, stature_m: float) -> Station:
    """Return the landmark of the patient's body nearest to a place [m] from the top of the head.

    Source: drillis_contini_1966 (heights of the joints); head, waist and thigh lie half way between their neighbours.

    >>> station_at(0.31, 1.70), station_at(0.80, 1.70), station_at(1.22, 1.70)
    ('shoulder', 'hip', 'knee')
    """
    return min(_landmarks(), key=lambda station: abs(_landmarks()[station] * stature_m - position_m))


@cache
def _landmarks() -> Mapping[Station, float]:
    """Places from the top of the head, over stature."""
    heights = {
        r["item"]: 1 - float(r["fraction_of_stature"]) for r in table("stature_fractions") if "height" in r["item"]
    }
    shoulder, hip, knee = (heights[f"{joint} height"] for joint in ("shoulder", "hip", "knee"))
    return {
        "head": shoulder / 2,
        "shoulder": shoulder,
        "waist": (shoulder + hip) / 2,
        "hip": hip,
        "thigh": (hip + knee) / 2,
        "knee": knee,
        "ankle": heights["ankle height"],
    }


def best_shares(position_m: ArrayLike, centre_m: float) -> Floats:
    """Return the split with the smallest largest share that meets force and yaw balance.

    min c subject to Σ p = 1, Σ p x = x̄, 0 ≤ p ≤ c. The solution of this linear programme is closed: people on the
    centre's side pull c each, one person the rest.

    Source: linear programming; tests compare with scipy.optimize.linprog.

    >>> [round(float(p), 3) for p in best_shares([0.2, 0.6], 0.3)]
    [0.75, 0.25]
    """
    x = np.asarray(position_m, dtype=float)
    people = len(x)
    if np.ptp(x) == 0.0:  # side by side, or where places do not matter
        return np.full(people, 1.0 / people)
    order = np.argsort(x, kind="stable")
    low = centre_m < float(np.mean(x))
    ranked = x[order] if low else -x[order][::-1]
    centre = centre_m if low else -centre_m
    shares = np.zeros(people)
    if centre <= ranked[0]:
        nearest = ranked == ranked[0]
        shares[nearest] = 1.0 / np.sum(nearest)
    else:
        for full in range(people - 1, 0, -1):  # `full` people pull the cap, the next one the rest
            run = ranked[full] * full - np.sum(ranked[:full])
            cap = (ranked[full] - centre) / run if run > 0 else 1.0 / people
            if 1.0 - full * cap <= cap * (1 + 1e-12) and full * cap <= 1 + 1e-12:
                shares[:full] = cap
                shares[full] = max(0.0, 1.0 - full * cap)
                break
        else:
            shares[:] = 1.0 / people
    if not low:
        shares = shares[::-1]
    placed = np.empty(people)
    placed[order] = shares
    return placed


@cache
def realistic_factor(people: int, spread: float, quantile: float) -> float:
    """Return by how much the largest share exceeds an even one when effort varies between people.

    Efforts are e^(σ z), renormalised; the factor is n times the `quantile` of the largest share.

    For two people the quantile is closed, 1/(1 + exp(-σ √2 z)); the default spread makes it 60:40 at 90 %.

    >>> round(realistic_factor(2, 0.174, 0.9) / 2, 2)
    0.6
    """
    if people == 1:
        return 1.0
    effort = np.exp(spread * np.random.default_rng(_SEED).standard_normal((_DRAWS, people))).T.copy()
    largest = np.sort(np.max(effort, axis=0) / np.sum(effort, axis=0))
    # as np.quantile, whose first call loads a module for longer than this takes
    return float(people * np.interp(quantile * (_DRAWS - 1), np.arange(_DRAWS), largest))


def _guidance_factor(people: int) -> float:
    if people == 1:
        return 1.0
    return 1.0 / float(row("team_effects", id="T06", people=str(min(people, 3)))["value"])


def share(position_m: ArrayLike, centre_m: float, sharing: Sharing, *, spread: float | None = None) -> Shares:
    """Return each person's part of a side's force; `share_force` tells what the ways of sharing are.

    >>> parts = share([0.3, 0.7], 0.49, "realistic")
    >>> [round(float(p), 2) for p in parts.fraction]
    [0.63, 0.37]
    """
    x = np.asarray(position_m, dtype=float)
    people = len(x)
    best = best_shares(x, centre_m)
    yaw = float(np.sum(best * x) - centre_m)
    if sharing == "guidance":
        return Shares(np.maximum(best, _guidance_factor(people) / people), x, yaw)
    if sharing == "best" or people == 1:
        return Shares(best, x, yaw)
    width = assumption("share_spread").typical if spread is None else spread
    most = int(np.argmax(best))
    largest = min(1.0, best[most] * realistic_factor(people, width, assumption("share_quantile").typical))
    rest = 1.0 - best[most]
    fraction = best * ((1.0 - largest) / rest if rest > 0 else 0.0)
    fraction[most] = largest
    return Shares(fraction, x, yaw)


@dataclass(frozen=True, slots=True)
class SharedForce:
    """What each person along one side of the bed has to do, in the order of their places.

    Attributes
    ----------
    force_n : ndarray, shape (..., people) [N]
        Each person's force.
    fraction : ndarray, shape (people,) [-]
        Part of the side's force.
    position_m : ndarray, shape (people,) [m]
    yaw_m : float [m]
        How far the pulls miss the centre of resistance; not zero only where no split of these places can meet it.
    sources : tuple of str
    """

    force_n: Floats
    fraction: Floats
    position_m: Floats
    yaw_m: float
    sources: tuple[str, ...]


def share_force(
    force_n: ArrayLike,
    position_m: ArrayLike,
    centre_m: float,
    *,
    sharing: Sharing = "realistic",
    spread: float | None = None,
) -> SharedForce:
    """Return how the force of one side is shared between the people who stand along it.

    best: min c subject to Σ p = 1, Σ p x = x̄, 0 ≤ p ≤ c; realistic: max p grows by n times the quantile of the largest
    share when efforts are e^(σ z); guidance: p = max(best, 1 / (n k)).

    Parameters
    ----------
    force_n : array_like, shape (...) [N]
        Of the whole side, 0 or more.
    position_m : array_like, shape (people,) [m]
        Where each person stands, from the top of the patient's head, 0 to 3; 1 to 12 people.
    centre_m : float [m]
        x̄, where the resistance acts, from the top of the head.
    sharing : "best", "realistic" or "guidance"
        best: the linear programme above. realistic: the most loaded person's share grows, the others share the rest.
        guidance: a team is credited with k = 2/3 (two people) or 1/2 (three or more) of its summed strength; the parts
        then sum to more than 1.
    spread : float, optional
        σ, log standard deviation of effort, 0 to 1; by default assumption `share_spread`.

    Returns
    -------
    SharedForce

    Raises
    ------
    InputError
        With every argument that is not a number, out of range or not a way of sharing.

    Notes
    -----
    No measured split between people who pull one sheet was found: the shares are assumptions. Source: statics;
    hse_l23 (guidance).

    Examples
    --------
    >>> shared = share_force([100.0, 300.0], [0.3, 0.7], 0.49)
    >>> shared.force_n.round().tolist()
    [[63.0, 37.0], [189.0, 111.0]]
    """
    ways = get_args(Sharing)
    force, centre, width = checked_numbers(
        "share force",
        force_n=(np.ravel(force_n), 0.0, np.inf, "N"),
        centre_m=(centre_m, 0.0, 3.0, "m"),
        spread=(assumption("share_spread").typical if spread is None else spread, 0.0, 1.0, "-"),
    )
    (places,) = checked_numbers("share force", position_m=(position_m, 0.0, 3.0, "m"))
    faults = []
    if places.ndim != 1 or not 1 <= len(places) <= _MOST_PEOPLE:
        faults.append(Fault("position_m", f"shape {places.shape}", f"a list of 1 to {_MOST_PEOPLE} places", "m"))
    if sharing not in ways:
        faults.append(Fault("sharing", str(sharing), " or ".join(ways)))
    if faults:
        raise InputError("share force", faults)
    parts = share(places, float(centre), sharing, spread=float(width))
    each = force.reshape(np.shape(force_n))[..., None] * parts.fraction
    sources = ("hse_l23",) if sharing == "guidance" else ()
    return SharedForce(each, parts.fraction, parts.position_m, parts.yaw_m, sources)
