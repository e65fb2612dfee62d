"""A person as planar links seen from the side, and the static moments at the joints.

The person faces the bed. x points to the bed, z up, both from the floor point under the bed edge. The feet
stand staggered and give a base of support; both legs act as one pair, whose ankle lies midway between the
feet. Pelvis and trunk are one link with L5/S1 on it, head and neck continue the trunk, the arms act side by
side. Everything may be in metres and newtons or, as in the posture search, in statures and body weights.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ergo import evidence

__all__ = ["Angles", "Chain", "Moments", "Point", "Proportions", "by_angles", "leaning", "proportions", "statics"]

Floats = NDArray[np.float64]

SOURCES = ("winter_2009", "drillis_contini_1966", "chaffin_andersson_martin")


class Point(NamedTuple):
    """A point of the side view, x towards the bed and z up (scalars or arrays of one shape)."""

    x: Any
    z: Any


class Angles(NamedTuple):
    """Lean of each link from the vertical, of each arm link from hanging down, forward positive [rad]."""

    shank: Any
    thigh: Any
    trunk: Any
    upper_arm: Any
    forearm: Any


@dataclass(frozen=True, slots=True)
class Proportions:
    """Link lengths over stature, masses over body mass, centres as fractions from the first end.

    `hip_l5s1` and `upper_trunk_centre` are fractions of the line from hip to shoulder.
    """

    ankle_height: float
    shoulder_height: float
    shank: float
    thigh: float
    trunk: float
    upper_arm: float
    forearm_grip: float
    forearm: float
    head_centre: float
    foot: float
    ankle_from_heel: float
    stance: float
    toes_under_bed: float
    hands_ahead_of_toes: float
    half_depth: float
    half_breadth: float
    hip_l5s1: float
    upper_trunk_centre: float
    upper_trunk_mass: float
    trunk_centre: float
    trunk_mass: float
    head_mass: float
    upper_arm_mass: float
    upper_arm_centre: float
    forearm_mass: float
    forearm_centre: float
    thigh_mass: float
    thigh_centre: float
    shank_mass: float
    shank_centre: float
    foot_mass: float
    foot_centre: float

    @property
    def arm(self) -> float:
        """Shoulder to grip of a straight arm, over stature."""
        return self.upper_arm + self.forearm_grip

    @property
    def above_l5s1_mass(self) -> float:
        """Mass carried by L5/S1 over body mass: upper trunk, head and both arms."""
        return self.upper_trunk_mass + self.head_mass + 2 * (self.upper_arm_mass + self.forearm_mass)


@cache
def proportions() -> Proportions:
    """Return the proportions of the standing adult, from the segment and stature tables.

    The mass above L4/L5 of the segment table is taken as the mass above L5/S1, and the trunk's own centre
    (half way from hip to shoulder) is split between pelvis and the rest so that their common centre stays
    where it is.

    Source: winter_2009 (masses, centres), drillis_contini_1966 (lengths), chaffin_andersson_martin (L5/S1).

    >>> person = proportions()
    >>> round(person.arm, 3), round(person.above_l5s1_mass, 3), round(person.upper_trunk_centre, 2)
    (0.386, 0.536, 0.63)
    """
    length = {r["item"]: float(r["fraction_of_stature"]) for r in evidence.table("stature_fractions")}
    part = {r["segment"]: r for r in evidence.table("segments_winter")}
    mass = {name: float(r["mass"]) for name, r in part.items()}
    centre = {name: float(r["cm_proximal"]) for name, r in part.items()}
    l5s1 = evidence.assumption("l5s1_on_trunk").typical
    upper = mass["thorax"] + mass["abdomen"]
    pelvis_centre = l5s1 * (1 - centre["pelvis"])
    upper_centre = (mass["trunk"] * centre["trunk"] - mass["pelvis"] * pelvis_centre) / upper
    forearm_grip = length["forearm"] + length["hand"] * evidence.assumption("grip_on_hand").typical
    return Proportions(
        ankle_height=length["ankle height"],
        shoulder_height=length["shoulder height"],
        shank=length["shank"],
        thigh=length["thigh"],
        trunk=length["shoulder height"] - length["hip height"],
        upper_arm=length["upper arm"],
        forearm_grip=forearm_grip,
        forearm=length["forearm"],
        head_centre=evidence.assumption("head_centre_above_shoulder").typical,
        foot=length["foot length"],
        ankle_from_heel=length["foot length"] * evidence.assumption("ankle_from_heel").typical,
        stance=evidence.assumption("stance_between_feet").typical,
        toes_under_bed=evidence.assumption("toes_under_bed").typical,
        hands_ahead_of_toes=evidence.assumption("hands_ahead_of_toes").typical,
        half_depth=evidence.assumption("body_half_depth").typical,
        half_breadth=0.5 * length["hip breadth"],
        hip_l5s1=l5s1,
        upper_trunk_centre=upper_centre,
        upper_trunk_mass=upper,
        trunk_centre=centre["trunk"],
        trunk_mass=mass["trunk"],
        head_mass=mass["head_neck"],
        upper_arm_mass=mass["upper_arm"],
        upper_arm_centre=centre["upper_arm"],
        forearm_mass=mass["forearm_hand"],
        forearm_centre=centre["forearm_hand"] * length["forearm"] / forearm_grip,
        thigh_mass=mass["thigh"],
        # the thigh centre is measured from the hip, the shank's from the knee; both are used from the lower
        # end
        thigh_centre=1 - centre["thigh"],
        shank_mass=mass["leg"],
        shank_centre=1 - centre["leg"],
        foot_mass=mass["foot"],
        foot_centre=centre["foot"],
    )


@dataclass(frozen=True, slots=True)
class Chain:
    """Joint positions of one posture [m, or statures]."""

    ankle: Point
    knee: Point
    hip: Point
    l5s1: Point
    shoulder: Point
    elbow: Point
    hand: Point
    head: Point


@dataclass(frozen=True, slots=True)
class Moments:
    """Static load moments and what the floor carries.

    A moment is positive when the load tips the part above the joint forward (for an arm: the part beyond the
    joint downward); the muscles answer with the opposite. So positive is carried by back and hip extensors,
    calf, knee flexors, shoulder and elbow flexors. Arm moments are for one loaded arm; hip, knee and ankle
    moments are for the pair of legs, because statics alone does not say how two feet on one floor share.
    """

    elbow: Any
    shoulder: Any
    l5s1: Any
    hip: Any
    knee: Any
    ankle: Any
    centre_of_pressure: Any
    floor_vertical: Any
    floor_horizontal: Any


def along(a: Point, b: Point, part: Any) -> Point:
    """Return the point at a fraction `part` of the way from a to b."""
    return Point(a.x + part * (b.x - a.x), a.z + part * (b.z - a.z))


def by_angles(angles: Angles, hip: Point, stature: Any = 1.0) -> Chain:
    """Return the joint positions for given link inclinations.

    >>> upright = by_angles(Angles(0, 0, 0, 0, 0), Point(0.0, 0.53 * 1.75), 1.75)
    >>> round(float(upright.shoulder.z) / 1.75, 3), round(float(upright.ankle.z) / 1.75, 3)
    (0.818, 0.039)
    """
    p = proportions()

    def go(start: Point, length: float, angle: Any, up: float) -> Point:
        return Point(start.x + length * stature * np.sin(angle), start.z + up * length * stature * np.cos(angle))

    def down(start: Point, length: float, angle: Any) -> Point:
        return Point(start.x - length * stature * np.sin(angle), start.z - length * stature * np.cos(angle))

    knee = down(hip, p.thigh, angles.thigh)
    shoulder = go(hip, p.trunk, angles.trunk, 1.0)
    elbow = go(shoulder, p.upper_arm, angles.upper_arm, -1.0)
    return Chain(
        ankle=down(knee, p.shank, angles.shank),
        knee=knee,
        hip=hip,
        l5s1=along(hip, shoulder, p.hip_l5s1),
        shoulder=shoulder,
        elbow=elbow,
        hand=go(elbow, p.forearm_grip, angles.forearm, -1.0),
        head=go(shoulder, p.head_centre, angles.trunk, 1.0),
    )


def statics(
    chain: Chain,
    weight: Any,
    pull: Any,
    lift: Any,
    *,
    stature: Any = 1.0,
    hands: Any = 2,
) -> Moments:
    """Return the joint moments that hold a posture still, and what the floor carries.

    ΣF = 0, ΣM = 0 for the whole body gives the floor's force and centre of pressure,
    x_c N = Σ m_i g x_i + x_h L + z_h P; each joint then balances everything above it.

    Valid range: a body at rest; no acceleration, no co-contraction, everything in one plane.

    Source: statics; segments after winter_2009.

    >>> upright = by_angles(Angles(0, 0, 0, 0, 0), Point(0.0, 0.53 * 1.75), 1.75)
    >>> load = statics(upright, 700.0, 0.0, 100.0, stature=1.75)
    >>> round(float(load.l5s1), 6), round(float(load.floor_vertical))
    (0.0, 800)
    """
    p = proportions()
    loaded = np.asarray(hands, dtype=float)
    c = chain

    def tips(about: Point, force_x: Any, force_down: Any) -> Any:
        """Moment of a force on the hand about a joint."""
        return (c.hand.z - about.z) * force_x + (c.hand.x - about.x) * force_down

    # weight alone first, link by link from hand to ankle: what lies beyond a joint, seen from that joint
    upper_w, fore_w = p.upper_arm_mass * weight, p.forearm_mass * weight
    beyond_elbow = (fore_w * p.forearm_centre) * (c.hand.x - c.elbow.x)
    beyond_shoulder = beyond_elbow + (upper_w * p.upper_arm_centre + fore_w) * (c.elbow.x - c.shoulder.x)
    # the idle arm of a one-handed hold hangs plumb from the shoulder, so it has weight but no moment there
    both_beyond, arms_w = loaded * beyond_shoulder, 2 * (upper_w + fore_w)
    head_w, chest_w, trunk_w = (m * weight for m in (p.head_mass, p.upper_trunk_mass, p.trunk_mass))
    trunk_dx = c.shoulder.x - c.hip.x
    from_l5s1 = p.upper_trunk_centre - p.hip_l5s1
    above_l5s1 = (
        both_beyond
        + arms_w * (c.shoulder.x - c.l5s1.x)
        + head_w * (c.head.x - c.l5s1.x)
        + (chest_w * from_l5s1) * trunk_dx
    )
    above_hip = both_beyond + (arms_w + trunk_w * p.trunk_centre) * trunk_dx + head_w * (c.head.x - c.hip.x)
    thigh_w, shank_w, foot_w = (2 * m * weight for m in (p.thigh_mass, p.shank_mass, p.foot_mass))
    on_hip = weight - thigh_w - shank_w - foot_w
    above_knee = above_hip + (on_hip + thigh_w * p.thigh_centre) * (c.hip.x - c.knee.x)
    on_knee = on_hip + thigh_w
    above_ankle = above_knee + (on_knee + shank_w * p.shank_centre) * (c.knee.x - c.ankle.x)

    pull_each, lift_each = pull / loaded, lift / loaded
    knee = above_knee + tips(c.knee, pull, lift)
    ankle = above_ankle + tips(c.ankle, pull, lift)

    # the foot's centre lies between ankle and toe; the ankle is the proximal end
    foot_ahead = p.foot_centre * (p.foot - p.ankle_from_heel) * stature
    vertical = weight + lift
    at_floor = ankle + pull * c.ankle.z + foot_w * foot_ahead
    # a body pressed off the floor has no centre of pressure; a small floor keeps the figure finite for the
    # verdict
    safe = np.where(np.abs(vertical) < 1e-3 * weight, 1e-3 * weight, vertical)
    return Moments(
        elbow=beyond_elbow + tips(c.elbow, pull_each, lift_each),
        shoulder=beyond_shoulder + tips(c.shoulder, pull_each, lift_each),
        l5s1=above_l5s1 + tips(c.l5s1, pull, lift),
        hip=above_hip + tips(c.hip, pull, lift),
        knee=knee,
        ankle=ankle,
        centre_of_pressure=c.ankle.x + at_floor / safe,
        floor_vertical=vertical,
        floor_horizontal=-pull,
    )


def leaning(moments: Moments, chain: Chain, support: Any, height: Any) -> Moments:
    """Return the moments of the same posture when an edge in front of leg or pelvis pushes back at a height.

    The joints below the edge are relieved: M_j − (z_b − z_j) B; x_c − z_b B / N; the floor then carries B − P.

    >>> upright = by_angles(Angles(0, 0, 0, 0, 0), Point(0.0, 0.53 * 1.75), 1.75)
    >>> pulled = statics(upright, 700.0, 100.0, 0.0, stature=1.75)
    >>> eased = leaning(pulled, upright, 40.0, 0.8)
    >>> float(eased.floor_horizontal), round(float(pulled.centre_of_pressure - eased.centre_of_pressure), 4)
    (-60.0, 0.0457)
    """

    def relieved(moment: Any, joint: Point) -> Any:
        return moment - np.maximum(height - joint.z, 0.0) * support

    return replace(
        moments,
        hip=relieved(moments.hip, chain.hip),
        knee=relieved(moments.knee, chain.knee),
        ankle=relieved(moments.ankle, chain.ankle),
        centre_of_pressure=moments.centre_of_pressure - height * support / moments.floor_vertical,
        floor_horizontal=moments.floor_horizontal + support,
    )
