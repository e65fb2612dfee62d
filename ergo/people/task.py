"""What the body has to do, and what its joints may: the numbers that a posture is judged by.

All lengths are in statures, all forces in body weights and all strengths in those of the median person of the sex, so
one search serves everybody of a sex.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from functools import cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ergo import evidence
from ergo.people.linkage import proportions
from ergo.units import G

__all__ = ["BRACES", "SEXES", "TECHNIQUES", "BodyLimits", "Bounds", "Task", "body_limits", "bounds_of"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SEXES = ("F", "M")
TECHNIQUES = tuple(r["technique"] for r in evidence.table("techniques"))
BRACES = (None, "thigh", "knee")


@dataclass(frozen=True, slots=True)
class Task:
    """What the body has to do: lengths over stature, forces over body weight; arrays of one length."""

    pull: Floats
    lift: Floats
    reach: Floats
    hand_height: Floats
    bed_height: Floats
    sex: Ints
    technique: Ints
    hands: Floats
    brace: Ints

    def take(self, index: Any) -> Task:
        """Return the tasks at these places."""
        return Task(*(getattr(self, f.name)[index] for f in fields(self)))


@dataclass(frozen=True, slots=True)
class Bounds:
    """What the sex and technique of each task allow, looked up once."""

    weak: Floats  # (joint, 2, n) how many a moment of +1 and of -1 counts as effort
    knee: Floats  # (2, n) middle and half width of the range
    trunk: Floats  # (2, n)
    toe: Floats

    def take(self, index: Any) -> Bounds:
        return Bounds(self.weak[..., index], self.knee[:, index], self.trunk[:, index], self.toe[index])


def bounds_of(task: Task) -> Bounds:
    """Return how far each joint of these tasks may bend, how strong it is, and where the toes stand.

    Parameters
    ----------
    task : Task, of n tasks, scaled

    Returns
    -------
    Bounds

    Examples
    --------
    >>> pair = Task(*np.full((5, 2), 0.4), *np.array([[0, 1], [1, 1], [2, 2], [0, 0]]))
    >>> woman, man = bounds_of(pair).weak[0, 0]  # for flexion of the elbow
    >>> bool(woman > man)
    True
    """
    lim, p = body_limits(), proportions()
    weak = 1.0 / lim.strength[:, :, task.sex]
    weak[:, 1] *= -1.0
    # two loaded arms count as two joints, and so do the two legs that share a moment
    weak[:2] *= np.sqrt(task.hands)
    weak[3:] *= math.sqrt(0.5)
    toe = np.minimum(p.toes_under_bed, task.reach - p.hands_ahead_of_toes)
    return Bounds(weak, lim.knee[:, task.technique], lim.trunk[:, task.technique], toe)


class BodyLimits(NamedTuple):
    """Constants of the search, as arrays by sex or technique."""

    strength: Floats  # (joint, direction, sex), over body weight times stature
    knee: Floats
    trunk: Floats
    ranges: dict[str, tuple[float, float]]
    arm: tuple[float, float]
    soft: float
    soft_angle: float
    tolerance: float
    tolerance_angle: float
    brace_share: float


def _middle_and_half(limits: list[list[float]]) -> Floats:
    low, high = np.array(limits)
    return np.stack([0.5 * (low + high), 0.5 * (high - low)])


def _span(first: float, second: float, flexion: Any) -> Any:
    """Return the distance between the ends of two links at a given flexion [rad]."""
    return np.sqrt(first**2 + second**2 + 2 * first * second * np.cos(flexion))


@cache
def body_limits() -> BodyLimits:
    """Return what the evidence says of joints, techniques and how near a posture may come to a limit.

    Returns
    -------
    BodyLimits

    Examples
    --------
    >>> [round(math.degrees(lean)) for lean in body_limits().ranges["ankle"]]
    [-45, 25]
    """
    strength = {r["joint"]: r for r in evidence.table("joint_strength")}
    mass = {s: float(evidence.row("body_mass_percentiles_us", measure="mass_kg", sex=s)["p50"]) for s in SEXES}
    tall = {s: float(evidence.row("body_mass_percentiles_us", measure="stature_cm", sex=s)["p50"]) / 100 for s in SEXES}
    # what carries a moment that tips forward, and one that tips backward; the table has no shoulder flexion
    # in the sagittal plane, abduction and adduction stand in for it
    actions = (
        ("elbow flexion", "elbow extension"),
        ("shoulder vertical abduction", "shoulder vertical adduction"),
        ("torso extension", "torso flexion"),
        ("hip extension", "hip flexion"),
        ("knee flexion", "knee extension"),
    )
    scaled = [
        [[float(strength[a][f"{s}50"]) / (mass[s] * G * tall[s]) for s in SEXES] for a in pair] for pair in actions
    ]
    ranges = {
        r["joint"]: (float(np.radians(float(r["min_deg"]))), float(np.radians(float(r["max_deg"]))))
        for r in evidence.table("joint_ranges")
    }
    p = proportions()
    rows = evidence.table("techniques")

    def degrees(column: str) -> list[float]:
        return [math.radians(float(r[column])) for r in rows]

    elbow = ranges["elbow"]
    return BodyLimits(
        strength=np.array(scaled),
        knee=_middle_and_half([degrees("knee_min_deg"), degrees("knee_max_deg")]),
        trunk=_middle_and_half([degrees("trunk_min_deg"), degrees("trunk_max_deg")]),
        ranges=ranges,
        arm=(
            float(_span(p.upper_arm, p.forearm_grip, elbow[1])),
            float(_span(p.upper_arm, p.forearm_grip, elbow[0])),
        ),
        soft=evidence.assumption("posture_softness").typical,
        soft_angle=float(np.radians(evidence.assumption("posture_angle_softness").typical)),
        tolerance=evidence.assumption("posture_tolerance").typical,
        tolerance_angle=float(np.radians(evidence.assumption("posture_angle_tolerance").typical)),
        brace_share=evidence.assumption("brace_share").typical,
    )
