"""How long a person can hold, how often repeat, and what share of people is strong enough."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from statistics import NormalDist
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ergo import evidence
from ergo.errors import Fault, InputError
from ergo.handlers.normal_distribution import normal_share, normal_value

__all__ = [
    "Endurance",
    "Strength",
    "endurance_time",
    "joints",
    "regions",
    "shoulder_action",
    "strength",
]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Endurance:
    """Time a static effort can be held [s], and whether the fit covers it."""

    region: str
    fraction: Any
    time_s: Any
    within_range: Any
    note: str
    source: tuple[str, ...] = ("frey_law_avin_2010",)


@cache
@cache
def regions() -> tuple[str, ...]:
    """Return the body regions of the endurance fits.

    Source: frey_law_avin_2010.

    >>> regions()
    ('shoulder', 'elbow', 'trunk', 'grip', 'knee', 'ankle', 'general')
    """
    return tuple(r["region"] for r in evidence.table("endurance"))


def _numbers(what: str, name: str, value: Any, low: float, allowed: str) -> Floats:
    try:
        numbers = np.asarray(value, dtype=float)
    except (TypeError, ValueError):
        raise InputError(what, [Fault(name, str(value), "a number")]) from None
    if not (np.isfinite(numbers).all() and (numbers >= low).all()):
        raise InputError(what, [Fault(name, str(value), allowed)])
    return numbers


@cache
def _fit(region: str) -> tuple[float, float]:
    fit = evidence.row("endurance", region=region)
    return float(fit["b0_s"]), float(fit["b1"])


def endurance_time(fraction: Any, region: str) -> Endurance:
    """Return how long a static effort can be held.

    t = b0 f^b1

    Source: frey_law_avin_2010.

    >>> round(float(endurance_time(0.3, "shoulder").time_s), 1)
    134.6
    """
    if region not in regions():
        raise InputError("endurance", [Fault("region", str(region), " or ".join(regions()))])
    f = _numbers("endurance", "fraction", fraction, 0.0, "0 or more, finite")
    b0, b1 = _fit(region)
    valid = evidence.assumption("endurance_valid_fraction")
    time = b0 * np.maximum(f, valid.low) ** b1
    within = (f >= valid.low) & (f <= valid.high)
    note = "" if within.all() else f"the fit holds from {valid.low:g} to {valid.high:g} of strength"
    return Endurance(region, f, np.where(f > 1.0, 0.0, time), within, note)


def joints() -> tuple[str, ...]:
    """Return the joint actions of the strength table.

    Source: stobbe_1982 (memory fair).

    >>> len(joints()), joints()[:2], "torso extension" in joints()
    (12, ('elbow flexion', 'elbow extension'), True)
    """
    return tuple(r["joint"] for r in evidence.table("joint_strength"))


@dataclass(frozen=True, slots=True)
class Strength:
    """Static strength of one joint action and sex [N m]: three percentiles, and a normal curve through them.

    The published percentiles are skewed, so each side of the median has its own standard deviation.
    """

    joint: str
    sex: str
    p5: float
    p50: float
    p95: float
    sd_below: float
    sd_above: float
    known: str
    source: tuple[str, ...] = ("stobbe_1982",)

    def percentile(self, percent: Any) -> Floats:
        """Return the strength that `percent` % of people stay below [N m], not less than 0."""
        z = normal_value(np.asarray(percent, dtype=float) / 100.0)
        return np.maximum(self.p50 + z * np.where(z < 0, self.sd_below, self.sd_above), 0.0)

    def share_strong_enough(self, moment_nm: Any) -> Floats:
        """Return the share of this sex that can exert a moment, 0 to 1; far out the normal curve is a guess.

        >>> round(float(strength("torso extension", "F").share_strong_enough(71.0)), 2)
        0.95
        """
        over = self.p50 - np.abs(np.asarray(moment_nm, dtype=float))
        return np.asarray(normal_share(over / np.where(over > 0, self.sd_below, self.sd_above)))


@cache
def strength(joint: str, sex: str) -> Strength:
    """Return the strength of a joint action.

    Valid range: seated or supported static tests of healthy workers; the table is known from memory (fair).

    Source: stobbe_1982 (memory fair).

    >>> hip = strength("hip extension", "F")
    >>> hip.p50, round(float(hip.percentile(5)), 6)
    (97.0, 38.0)
    """
    faults = []
    if joint not in joints():
        faults.append(Fault("joint", str(joint), " or ".join(joints())))
    if sex not in ("F", "M"):
        faults.append(Fault("sex", str(sex), "F or M"))
    if faults:
        raise InputError("strength", faults)
    found = evidence.row("joint_strength", joint=joint)
    p5, p50, p95 = (float(found[f"{sex}{p}"]) for p in (5, 50, 95))
    z = NormalDist().inv_cdf(0.95)
    return Strength(joint, sex, p5, p50, p95, (p50 - p5) / z, (p95 - p50) / z, found["known"])


def shoulder_action(moment_nm: float) -> str:
    """Return the joint action whose strength a shoulder moment draws on: raising the arm, or drawing it down.

    >>> shoulder_action(12.0), shoulder_action(-12.0)
    ('shoulder vertical abduction', 'shoulder vertical adduction')
    """
    return "shoulder vertical abduction" if moment_nm > 0 else "shoulder vertical adduction"
