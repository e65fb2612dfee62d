"""Compression and shear at L5/S1 with a single equivalent back muscle; side bend and twist from hands to one side."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from ergo import evidence
from ergo.errors import checked_numbers

__all__ = ["LowBack", "low_back"]

SOURCES = ("chaffin_andersson_martin", "mcgill_norman_1996")


@dataclass(frozen=True, slots=True)
class LowBack:
    """Load on L5/S1 with its parts [N], scalars or arrays.

    compression = from muscle + from weight + from hands + from side bend + from twist; shear (positive: the upper body
    slides forward) = from muscle + from weight + from hands. Side bend and twist carry the sign of the hands' offset.
    """

    moment_nm: Any
    arm_m: Any
    muscle_n: Any
    compression_n: Any
    compression_from_muscle_n: Any
    compression_from_weight_n: Any
    compression_from_hands_n: Any
    shear_n: Any
    shear_from_muscle_n: Any
    shear_from_weight_n: Any
    shear_from_hands_n: Any
    side_bend_nm: Any
    twist_nm: Any
    compression_from_side_bend_n: Any
    compression_from_twist_n: Any
    sources: tuple[str, ...] = SOURCES


def low_back(
    *,
    moment_nm: Any,
    trunk_lean_rad: Any,
    weight_above_n: Any,
    pull_n: Any = 0.0,
    lift_n: Any = 0.0,
    back_arm_m: Any = None,
    muscle_to_spine_rad: Any = 0.0,
    hands_aside_m: Any = 0.0,
) -> LowBack:
    """Return compression and shear at L5/S1, along and across the disc, with a single equivalent back muscle.

    F_m = |M| / r, C = F_m cos ψ + W cos θ + (L cos θ - P sin θ), S = -F_m sin ψ + W sin θ + (L sin θ + P cos θ).
    Hands beside the plane of the body add B = s (L cos θ - P sin θ), T = s (L sin θ + P cos θ) and to the compression
    3.229 |B| + 0.119 B² - 0.0001 |B|³ + 0.862 |T| + 0.393 T² - 0.0001 |T|³.

    Parameters
    ----------
    moment_nm : array_like [N m]
        M, of the load about L5/S1, positive when it bends the trunk forward.
    trunk_lean_rad : array_like [rad]
        θ, of the trunk from the vertical, forward positive, -π to π.
    weight_above_n : array_like [N]
        W, of everything above L5/S1, 0 or more.
    pull_n, lift_n : array_like [N]
        P and L, force of the hands on the load, towards the person and upward.
    back_arm_m : array_like [m], optional
        r, moment arm of the back muscle, 0.01 to 0.2; by default assumption `extensor_arm`.
    muscle_to_spine_rad : array_like [rad]
        ψ, angle between muscle and spine, positive when the muscle also pulls the trunk backward, -π/2 to π/2.
    hands_aside_m : array_like [m]
        s, how far to one side of the plane of the body the hands are, -2 to 2; 0 is the back in one plane.

    Returns
    -------
    LowBack
        Forces [N] with what muscle, weight and hands add to them; side bend B and twist T [N m].

    Raises
    ------
    InputError
        With every argument that is not a number, out of range or of a length that does not fit.

    Notes
    -----
    Valid for a body at rest whose trunk bends forward only. The disc lies square to the trunk; no credit is given for
    abdominal pressure, no co-contraction is added. A moment that bends the trunk backward is carried by the flexors at
    the same arm, which is cautious. B and T are moments of the hands' force about the axes across and along the spine.
    What they add is the part beside flexion of a regression known from memory and confirmed nowhere: it only ever adds,
    stays at its peak where the cubic term would turn it down, and beyond |T| = 50 N m nothing is known of it.
    Source: chaffin_andersson_martin (from memory), mcgill_norman_1996 (from memory, fair).

    Examples
    --------
    >>> back = low_back(moment_nm=60.0, trunk_lean_rad=0.0, weight_above_n=350.0, lift_n=100.0, back_arm_m=0.06)
    >>> round(float(back.muscle_n)), round(float(back.compression_n)), round(float(back.shear_n))
    (1000, 1450, 0)
    >>> aside = low_back(moment_nm=60.0, trunk_lean_rad=0.0, weight_above_n=350.0, pull_n=100.0, hands_aside_m=0.3)
    >>> float(aside.twist_nm), float(aside.side_bend_nm), round(float(aside.compression_from_twist_n))
    (30.0, 0.0, 377)
    """
    arm = evidence.assumption("extensor_arm").typical if back_arm_m is None else back_arm_m
    any_n = -math.inf, math.inf
    moment, lean, weight, pull, lift, arm, slant, aside = checked_numbers(
        "low back",
        moment_nm=(moment_nm, *any_n, "N m"),
        trunk_lean_rad=(trunk_lean_rad, -math.pi, math.pi, "rad"),
        weight_above_n=(weight_above_n, 0.0, math.inf, "N"),
        pull_n=(pull_n, *any_n, "N"),
        lift_n=(lift_n, *any_n, "N"),
        back_arm_m=(arm, 0.01, 0.2, "m"),
        muscle_to_spine_rad=(muscle_to_spine_rad, -math.pi / 2, math.pi / 2, "rad"),
        hands_aside_m=(hands_aside_m, -2.0, 2.0, "m"),
    )
    sin, cos = np.sin(lean), np.cos(lean)
    muscle = np.abs(moment) / arm
    along = (muscle * np.cos(slant), weight * cos, lift * cos - pull * sin)
    across = (-muscle * np.sin(slant), weight * sin, lift * sin + pull * cos)
    side_bend, twist = aside * along[2], aside * across[2]
    from_side_bend, from_twist = _added_compression("side bend", side_bend), _added_compression("twist", twist)
    return LowBack(
        moment_nm=moment,
        arm_m=arm,
        muscle_n=muscle,
        compression_n=along[0] + along[1] + along[2] + from_side_bend + from_twist,
        compression_from_muscle_n=along[0],
        compression_from_weight_n=along[1],
        compression_from_hands_n=along[2],
        shear_n=across[0] + across[1] + across[2],
        shear_from_muscle_n=across[0],
        shear_from_weight_n=across[1],
        shear_from_hands_n=across[2],
        side_bend_nm=side_bend,
        twist_nm=twist,
        compression_from_side_bend_n=from_side_bend,
        compression_from_twist_n=from_twist,
    )


def _added_compression(about: str, moment_nm: Any) -> Any:
    """Return what a moment beside flexion adds to the compression [N], never less for a larger moment.

    >>> [round(float(n), 1) for n in _added_compression("twist", np.array([0.0, -10.0, 10.0, 50.0]))]
    [0.0, 47.8, 47.8, 1013.1]
    """
    found = evidence.row("compression_beside_flexion", moment=about)
    linear, square, cube = (float(found[f"{part}_coefficient"]) for part in ("linear", "square", "cube"))
    peak = (square + math.sqrt(square**2 - 3.0 * cube * linear)) / (-3.0 * cube)
    size = np.minimum(np.abs(moment_nm), peak)
    return ((cube * size + square) * size + linear) * size
