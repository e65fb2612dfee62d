"""How one person holds a load at the bedside, and what that costs the body."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np

from ergo.errors import Fault, InputError
from ergo.people import linkage
from ergo.people.low_back import LowBack, low_back
from ergo.people.search import search
from ergo.people.stand import REASONS, looked_at, reasons, stand
from ergo.people.task import TECHNIQUES

__all__ = ["TECHNIQUES", "Posture", "hold_posture"]

SOURCES = (*linkage.SOURCES, "stobbe_1982")


@dataclass(frozen=True, slots=True)
class Posture:
    """One person's posture and its load.

    Positions are (x, z) in metres, x towards the bed from the bed edge and z up from the floor. A moment is
    positive when the load tips the part above the joint forward (an arm: downward); shoulder and elbow are
    for one loaded arm, hip, knee and ankle for both legs together. When `can_be_held` is false the figures
    are those of the posture that comes nearest, and `reason` says what fails.
    """

    can_be_held: bool
    reason: str
    converged: bool
    technique: str
    bed_height_m: float
    hand_height_m: float
    joint_angles_deg: Mapping[str, float]
    joint_positions_m: Mapping[str, tuple[float, float]]
    moments_nm: Mapping[str, float]
    effort: Mapping[str, float]
    low_back: LowBack
    compression_n: float
    shear_n: float
    muscle_n: float
    shoulder_moment_nm: float
    elbow_moment_nm: float
    floor_friction: float
    floor_vertical_n: float
    floor_horizontal_n: float
    cop_m: float
    base_m: tuple[float, float]
    brace_n: float
    brace_at_m: tuple[float, float] | None
    extended_arm: float
    source: tuple[str, ...]


def hold_posture(
    *,
    stature_m: float,
    mass_kg: float,
    sex: str,
    reach_m: float,
    hand_height_m: float,
    bed_height_m: float,
    pull_n: float,
    lift_n: float = 0.0,
    technique: str = "typical",
    hands: int = 2,
    shoe_friction: float | None = None,
    brace: str | None = None,
    back_arm_m: float | None = None,
) -> Posture:
    """Find the posture of least joint effort in which a person holds a force at the bedside.

    min Σ (M_j / S_j)² + ((x_c − middle of base) / half base)² over lean of the shank, flexion of the knee and
    lean of the trunk, subject to reach, joint ranges, centre of pressure within the feet and a body clear of
    the bed. S_j are the median strengths of the sex, scaled with body weight and stature; they steer the
    posture and are no limit. The front toes stand under the bed edge, or further back when the hands are
    nearer than a comfortable distance; stance, distances and tolerances are assumptions in evidence.

    Parameters
    ----------
    stature_m, mass_kg : float
        Stature [m] and body mass [kg].
    sex : str
        "F" or "M"; the strengths that steer the posture.
    reach_m : float
        From the bed edge, where the person stands, to the hands, positive over the bed [m].
    hand_height_m, bed_height_m : float
        Hands and top of the mattress above the floor [m].
    pull_n : float
        Horizontal force of the hands on the load, towards the person; negative is a push [N].
    lift_n : float
        Upward force of the hands on the load [N].
    technique : str
        "best": knees and trunk as least effort wants them. "typical": knees nearly straight and the trunk
        flexed at least 15°. "bed too low": typical, at a bed that was left at 0.55 m; hands and mattress go
        down together.
    hands : int
        1 or 2.
    shoe_friction : float, optional
        Friction of shoe on floor; by default assumption shoe_friction.
    brace : str, optional
        "thigh" or "knee" against the bed frame; it takes a declared share of a pull (assumption brace_share).
    back_arm_m : float, optional
        Moment arm of the back extensor [m]; by default assumption extensor_arm.

    Returns
    -------
    Posture
        With can_be_held and a reason in words when it is not; never an exception for a load that is too much.

    Raises
    ------
    InputError
        With every field outside what table posture_inputs allows.

    Valid range: one plane, at rest, no co-contraction: a jerk or a twist loads the back more than this says.

    Examples
    --------
    >>> nurse = dict(stature_m=1.61, mass_kg=74.0, sex="F", reach_m=0.3, hand_height_m=0.9, bed_height_m=0.8)
    >>> held = hold_posture(**nurse, pull_n=100.0, technique="typical")
    >>> held.can_be_held, 1000 < held.compression_n < 2500
    (True, True)
    >>> hold_posture(**nurse, pull_n=500.0).reason
    'cannot be held: feet would slip (the floor would need friction 0.69, the shoes give 0.50)'

    Notes
    -----
    Source: winter_2009, drillis_contini_1966 (links), stobbe_1982 (strengths, memory fair),
    chaffin_andersson_martin (back arm, from memory).
    """
    given = stand("posture", locals())
    if given.shape != ():
        faults = [Fault("array lengths", str(given.shape), "one person; `table.sweep` takes arrays")]
        raise InputError("posture", faults)
    found = search(given.task, grid=True)
    seen = looked_at(given, found)
    friction, code = reasons(given, found, seen)

    def number(value: Any) -> float:
        return float(np.asarray(value).ravel()[0])

    tall, weight = number(given.stature), number(given.weight)
    chain, moments, p = seen.chain, seen.moments, linkage.proportions()

    def at(point: linkage.Point) -> tuple[float, float]:
        return number(point.x) * tall, number(point.z) * tall

    named = {
        name: number(getattr(moments, name)) * weight * tall
        for name in ("elbow", "shoulder", "l5s1", "hip", "knee", "ankle")
    }
    shank, knee, lean = (number(v) for v in found.posture)
    arm = number(given.back_arm)
    back = low_back(
        moment_nm=named["l5s1"],
        trunk_lean=lean,
        weight_above_n=p.above_l5s1_mass * weight,
        pull_n=number(given.pull),
        lift_n=number(given.lift),
        arm_m=arm,
    )
    toe = number(seen.toe)
    positions = {
        name: at(getattr(chain, name)) for name in ("ankle", "knee", "hip", "l5s1", "shoulder", "elbow", "hand", "head")
    }
    positions["rear_heel"] = ((toe - p.foot - p.stance) * tall, 0.0)
    positions["front_toe"] = (toe * tall, 0.0)
    # angles of the arm are read off the solved points
    upper = np.arctan2(
        number(chain.elbow.x) - number(chain.shoulder.x), number(chain.shoulder.z) - number(chain.elbow.z)
    )
    fore = np.arctan2(number(chain.hand.x) - number(chain.elbow.x), number(chain.elbow.z) - number(chain.hand.z))
    angles = {
        "ankle": shank,
        "knee": knee,
        "hip": lean - shank + knee,
        "trunk": lean,
        "shoulder": float(upper) + lean,
        "elbow": float(fore - upper) % (2 * np.pi),
    }
    held = int(code[0]) == 0
    reason = REASONS[int(code[0])]
    needed = number(friction)
    if reason.endswith("slip"):
        shoes = number(given.shoe_friction)
        reason += f" (the floor would need friction {needed:.2f}, the shoes give {shoes:.2f})"
    brace_n = number(seen.brace) * weight
    efforts = ("elbow", "shoulder", "l5s1", "hip", "knee", "balance")
    return Posture(
        can_be_held=held,
        reason=reason,
        converged=bool(found.converged[0]),
        technique=technique,
        bed_height_m=number(given.bed_height),
        hand_height_m=number(given.hand_height),
        joint_angles_deg=MappingProxyType({k: float(np.degrees(v)) for k, v in angles.items()}),
        joint_positions_m=MappingProxyType(positions),
        moments_nm=MappingProxyType(named),
        effort=MappingProxyType({k: number(v) for k, v in zip(efforts, seen.joints, strict=True)}),
        low_back=back,
        compression_n=float(back.compression_n),
        shear_n=float(back.shear_n),
        muscle_n=float(back.muscle_n),
        shoulder_moment_nm=named["shoulder"],
        elbow_moment_nm=named["elbow"],
        floor_friction=needed,
        floor_vertical_n=number(moments.floor_vertical) * weight,
        floor_horizontal_n=number(moments.floor_horizontal) * weight,
        cop_m=number(moments.centre_of_pressure) * tall,
        base_m=((toe - p.foot - p.stance) * tall, toe * tall),
        brace_n=brace_n,
        brace_at_m=at(seen.contact) if seen.contact is not None and brace_n > 0 else None,
        extended_arm=number(seen.arm_span) / p.arm,
        source=SOURCES,
    )
