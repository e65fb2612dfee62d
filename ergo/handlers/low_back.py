"""Compression and shear at L5/S1 with a single equivalent back muscle, and the working that leads there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ergo import evidence
from ergo.errors import Fault, InputError

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
    source: tuple[str, ...] = SOURCES


def low_back(
    *,
    moment_nm: Any,
    trunk_lean: Any,
    weight_above_n: Any,
    pull_n: Any = 0.0,
    lift_n: Any = 0.0,
    arm_m: Any = None,
    muscle_to_spine: Any = 0.0,
) -> LowBack:
    """Resolve the load on L5/S1 along and across the disc.

    F_m = |M| / r, C = F_m cos ψ + W cos θ + (L cos θ − P sin θ), S = −F_m sin ψ + W sin θ + (L sin θ + P cos
    θ). The disc lies square to the trunk. No credit is given for abdominal pressure, no co-contraction is
    added. A moment that bends the trunk backward is carried by the flexors at the same arm, which is
    cautious.

    Parameters
    ----------
    moment_nm : array_like
        Load moment about L5/S1, positive when it bends the trunk forward [N m].
    trunk_lean : array_like
        Lean of the trunk from the vertical, forward positive [rad].
    weight_above_n : array_like
        Weight of everything above L5/S1 [N].
    pull_n, lift_n : array_like
        Force of the hands on the load, towards the person and upward [N].
    arm_m : array_like, optional
        Moment arm of the muscle [m]; by default that of the teaching literature, from memory (assumption extensor_arm).
    muscle_to_spine : array_like
        Angle between muscle and spine ψ, positive when the muscle also pulls the trunk backward [rad].

    Returns
    -------
    LowBack
        Forces [N].

    Raises
    ------
    InputError
        If the arm is not positive or the weight is negative.

    Valid range: a body at rest, bent in the sagittal plane only.

    Examples
    --------
    >>> back = low_back(moment_nm=60.0, trunk_lean=0.0, weight_above_n=350.0, lift_n=100.0, arm_m=0.06)
    >>> round(back.muscle_n), round(back.compression_n), round(back.shear_n)
    (1000, 1450, 0)

    Notes
    -----
    Source: chaffin_andersson_martin (from memory).
    """
    arm = evidence.assumption("extensor_arm").typical if arm_m is None else arm_m
    values = {
        "moment_nm": moment_nm,
        "trunk_lean": trunk_lean,
        "weight_above_n": weight_above_n,
        "arm_m": arm,
    }
    values |= {"pull_n": pull_n, "lift_n": lift_n, "muscle_to_spine": muscle_to_spine}
    faults = [Fault(name, str(v), "a finite number") for name, v in values.items() if not np.all(np.isfinite(v))]
    if not np.all(np.asarray(arm) > 0):
        faults.append(Fault("arm_m", str(arm), "above 0", "m"))
    if not np.all(np.asarray(weight_above_n) >= 0):
        faults.append(Fault("weight_above_n", str(weight_above_n), "0 or more", "N"))
    if faults:
        raise InputError("low back", faults)
    sin, cos = np.sin(trunk_lean), np.cos(trunk_lean)
    muscle = np.abs(moment_nm) / arm
    along = (muscle * np.cos(muscle_to_spine), weight_above_n * cos, lift_n * cos - pull_n * sin)
    across = (-muscle * np.sin(muscle_to_spine), weight_above_n * sin, lift_n * sin + pull_n * cos)
    return LowBack(
        moment_nm=moment_nm,
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
