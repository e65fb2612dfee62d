"""Biomechanical limits: peak hand force that the low back bears by hand height, and the lifting equation."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ergo.evidence import row, table
from ergo.units import G

__all__ = ["LiftingLimit", "guideline_force", "guideline_heights", "lifting_limit"]

Floats = NDArray[np.float64]


@cache
def _guideline(kind: str, hands: int, protected: int) -> tuple[Floats, Floats]:
    column = f"{kind}_{'one_hand' if hands == 1 else 'two_hands'}_{protected}_n"
    rows = table("push_pull_guideline_weston_2018")
    return np.array([float(r["hand_height_cm"]) / 100 for r in rows]), np.array([float(r[column]) for r in rows])


def guideline_heights() -> tuple[float, float]:
    """Return the lowest and the highest printed hand height [m] (weston_2018).

    >>> guideline_heights()
    (0.813, 1.219)
    """
    heights, _ = _guideline("pull", 2, 80)
    return float(heights[0]), float(heights[-1])


def guideline_force(
    kind: Literal["pull", "push"], hands: Literal[1, 2], protected: Literal[80, 50], hand_height_m: ArrayLike
) -> Floats:
    """Return the peak level hand force at which the low back of 80 % or 50 % of people is protected [N] (weston_2018).

    Linear between the printed heights; beyond them the end values are held. A push with one hand is not printed.

    >>> guideline_force("pull", 2, 80, [0.60, 0.813, 0.8255]).round(1).tolist()
    [182.0, 182.0, 189.0]
    """
    heights, forces = _guideline(kind, hands, protected)
    return np.asarray(np.interp(np.asarray(hand_height_m, dtype=float), heights, forces))


@dataclass(frozen=True, slots=True)
class LiftingLimit:
    """What two hands may lift [N], and the multipliers it comes from; nil where a multiplier is."""

    force_n: Floats
    distance: Floats
    height: Floats
    frequency: Floats
    grip: float


@cache
def _constant(multiplier: str, condition: str) -> float:
    return float(row("niosh_lifting", multiplier=multiplier, condition=condition)["value"])


@cache
def _by_frequency(hours: int) -> tuple[Floats, Floats]:
    rows = table("niosh_frequency")
    return np.array([float(r["lifts_a_minute"]) for r in rows]), np.array([float(r[f"up_to_{hours}h"]) for r in rows])


def lifting_limit(
    hands_ahead_m: ArrayLike, hand_height_m: ArrayLike, lifts_a_minute: ArrayLike, hours: int = 2
) -> LiftingLimit:
    """Return the recommended weight of the revised lifting equation as a force (niosh_94_110).

    F = LC g · HM · VM · DM · AM · FM · CM, for a lift of up to 25 cm (DM 1) without twist (AM 1) by a poor grip
    """
    ahead, up = 100.0 * np.asarray(hands_ahead_m, dtype=float), 100.0 * np.asarray(hand_height_m, dtype=float)
    often = np.asarray(lifts_a_minute, dtype=float)
    near = _constant("HM", "nearest hands: 1 up to here and this over the distance beyond")
    by_distance = np.where(ahead > _constant("HM", "farthest hands: 0 beyond"), 0.0, near / np.maximum(ahead, near))
    slope = _constant("VM", "less for each cm away from the best height")
    by_height = 1.0 - slope * np.abs(up - _constant("VM", "best height of the hands"))
    by_height = np.where(up > _constant("VM", "highest hands: 0 beyond"), 0.0, by_height)
    frequencies, factors = _by_frequency(hours)
    by_frequency = np.interp(often, frequencies, factors, right=np.nan)
    grip = _constant("CM", "poor grip")
    force = _constant("LC", "load constant") * G * by_distance * by_height * by_frequency * grip
    return LiftingLimit(np.asarray(force), by_distance, by_height, np.asarray(by_frequency), grip)
