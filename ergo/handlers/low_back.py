"""Compression and shear at L5/S1 with a single equivalent back muscle, and the working that leads there."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from ergo import evidence
from ergo.errors import checked_numbers

__all__ = ["LowBack", "low_back"]

SOURCES = ("chaffin_andersson_martin",)


@dataclass(frozen=True, slots=True)
class LowBack:
    """Load on L5/S1 with its parts [N], scalars or arrays.

    compression = from muscle + from weight + from hands; shear (positive: the upper body slides forward)
    alike.
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
) -> LowBack:
    """Return compression and shear at L5/S1, along and across the disc, with a single equivalent back muscle.

    F_m = |M| / r, C = F_m cos ψ + W cos θ + (L cos θ - P sin θ), S = -F_m sin ψ + W sin θ + (L sin θ + P cos θ).

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

    Returns
    -------
    LowBack
        Forces [N] with what muscle, weight and hands add to them.

    Raises
    ------
    InputError
        With every argument that is not a number, out of range or of a length that does not fit.

    Notes
    -----
    Valid for a body at rest, bent in the sagittal plane only. The disc lies square to the trunk; no credit is given for
    abdominal pressure, no co-contraction is added. A moment that bends the trunk backward is carried by the flexors at
    the same arm, which is cautious. Source: chaffin_andersson_martin (from memory).

    Examples
    --------
    >>> back = low_back(moment_nm=60.0, trunk_lean_rad=0.0, weight_above_n=350.0, lift_n=100.0, back_arm_m=0.06)
    >>> round(float(back.muscle_n)), round(float(back.compression_n)), round(float(back.shear_n))
    (1000, 1450, 0)
    """
    arm = evidence.assumption("extensor_arm").typical if back_arm_m is None else back_arm_m
    any_n = -math.inf, math.inf
    moment, lean, weight, pull, lift, arm, slant = checked_numbers(
        "low back",
        moment_nm=(moment_nm, *any_n, "N m"),
        trunk_lean_rad=(trunk_lean_rad, -math.pi, math.pi, "rad"),
        weight_above_n=(weight_above_n, 0.0, math.inf, "N"),
        pull_n=(pull_n, *any_n, "N"),
        lift_n=(lift_n, *any_n, "N"),
        back_arm_m=(arm, 0.01, 0.2, "m"),
        muscle_to_spine_rad=(muscle_to_spine_rad, -math.pi / 2, math.pi / 2, "rad"),
    )
    sin, cos = np.sin(lean), np.cos(lean)
    muscle = np.abs(moment) / arm
    along = (muscle * np.cos(slant), weight * cos, lift * cos - pull * sin)
    across = (-muscle * np.sin(slant), weight * sin, lift * sin + pull * cos)
    return LowBack(
        moment_nm=moment,
        arm_m=arm,
        muscle_n=muscle,
        compression_n=along[0] + along[1] + along[2],
        compression_from_muscle_n=along[0],
        compression_from_weight_n=along[1],
        compression_from_hands_n=along[2],
        shear_n=across[0] + across[1] + across[2],
        shear_from_muscle_n=across[0],
        shear_from_weight_n=across[1],
        shear_from_hands_n=across[2],
    )
