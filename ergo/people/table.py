"""Loads of many postures at once, for sweeps and random draws.

There is no stored table: in statures and body weights a posture has three unknowns, and the search of one
batch costs so little a posture that solving beats interpolating in seven dimensions.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ergo.people import linkage
from ergo.people.low_back import low_back
from ergo.people.posture import SOURCES
from ergo.people.search import search
from ergo.people.stand import looked_at, reasons, stand

__all__ = ["Sweep", "sweep"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Sweep:
    """Loads of many postures, arrays of the broadcast shape; signs and names as in `posture.Posture`.

    `reason_code` points into `stand.REASONS`; 0 is a posture that can be held.
    """

    can_be_held: NDArray[np.bool_]
    reason_code: NDArray[np.int64]
    converged: NDArray[np.bool_]
    compression_n: Floats
    shear_n: Floats
    muscle_n: Floats
    l5s1_moment_nm: Floats
    shoulder_moment_nm: Floats
    elbow_moment_nm: Floats
    floor_friction: Floats
    cop_m: Floats
    extended_arm: Floats
    shoulder_x_m: Floats
    trunk_flexion_deg: Floats
    knee_flexion_deg: Floats
    source: tuple[str, ...] = SOURCES


def sweep(
    *,
    stature_m: Any,
    mass_kg: Any,
    sex: Any,
    reach_m: Any,
    hand_height_m: Any,
    bed_height_m: Any,
    pull_n: Any,
    lift_n: Any = 0.0,
    technique: Any = "typical",
    hands: Any = 2,
    shoe_friction: Any = None,
    brace: Any = None,
    back_arm_m: Any = None,
) -> Sweep:
    """Find many postures and their loads at once; a posture is found as in `posture.hold_posture`.

    A search starts once, from the most promising of a few postures, where `hold_posture` goes down from each and
    keeps the best.

    Parameters
    ----------
    As for `posture.hold_posture`, and every one may be an array; they broadcast.

    Returns
    -------
    Sweep
        Arrays of the broadcast shape.

    Raises
    ------
    InputError
        With every field that is out of range or does not broadcast.

    Valid range: as `posture.hold_posture`.

    Examples
    --------
    >>> loads = sweep(stature_m=1.61, mass_kg=74.0, sex="F", reach_m=0.3, hand_height_m=0.9, bed_height_m=0.8,
    ...               pull_n=[50.0, 100.0, 150.0])
    >>> bool(loads.can_be_held.all()), loads.compression_n.shape
    (True, (3,))

    Notes
    -----
    Source: as `posture.hold_posture`.
    """
    given = stand("sweep", locals())
    n = given.task.pull.size
    found = search(given.task)
    seen = looked_at(given, found)
    friction, code = reasons(given, found, seen)
    size = given.weight * given.stature
    back = low_back(
        moment_nm=seen.moments.l5s1 * size,
        trunk_lean=seen.trunk,
        weight_above_n=linkage.proportions().above_l5s1_mass * given.weight,
        pull_n=given.pull,
        lift_n=given.lift,
        arm_m=given.back_arm,
    )

    def shaped(value: Any) -> Any:
        return np.broadcast_to(value, (n,)).reshape(given.shape)

    return Sweep(
        can_be_held=shaped(code == 0),
        reason_code=shaped(code),
        converged=shaped(found.converged),
        compression_n=shaped(back.compression_n),
        shear_n=shaped(back.shear_n),
        muscle_n=shaped(back.muscle_n),
        l5s1_moment_nm=shaped(back.moment_nm),
        shoulder_moment_nm=shaped(seen.moments.shoulder * size),
        elbow_moment_nm=shaped(seen.moments.elbow * size),
        floor_friction=shaped(friction),
        cop_m=shaped(seen.moments.centre_of_pressure * given.stature),
        extended_arm=shaped(seen.arm_span / linkage.proportions().arm),
        shoulder_x_m=shaped(seen.chain.shoulder.x * given.stature),
        trunk_flexion_deg=shaped(np.degrees(found.posture[2])),
        knee_flexion_deg=shaped(np.degrees(found.posture[1])),
    )
