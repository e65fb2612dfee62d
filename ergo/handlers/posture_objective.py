"""What a posture costs a person and must not break, in statures and body weights."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from functools import cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ergo import evidence
from ergo.handlers.link_model import Chain, Moments, Point, along, leaning, proportions, statics
from ergo.units import G

__all__ = [
    "BRACES",
    "BREACHES",
    "SEXES",
    "TECHNIQUES",
    "BodyLimits",
    "Bounds",
    "Evaluation",
    "Task",
    "body_limits",
    "bounds_of",
    "breach_ratios",
    "evaluate",
    "residuals",
]

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
    shoe_friction: Floats
    across: Floats  # of a step forward, the part that leads nearer to the bed: cosine of the facing
    stance: Floats  # from ankle to ankle

    def take(self, index: Any) -> Task:
        """Return the tasks at these places."""
        return Task(*(getattr(self, f.name)[index] for f in fields(self)))


@dataclass(frozen=True, slots=True)
class Bounds:
    """What the sex and technique of each task allow, looked up once."""

    weakness: Floats  # (joint, 2, n) how many a moment of +1 and of -1 counts as effort
    knee: Floats  # (2, n) middle and half width of the range
    trunk: Floats  # (2, n)
    toe: Floats

    def take(self, index: Any) -> Bounds:
        return Bounds(self.weakness[..., index], self.knee[:, index], self.trunk[:, index], self.toe[index])


def bounds_of(task: Task) -> Bounds:
    """Return how far each joint of these tasks may bend, how strong it is, and where the toes stand.

    >>> pair = Task(*np.full((5, 2), 0.4), *np.array([[0, 1], [1, 1], [2, 2], [0, 0]]), *np.full((3, 2), 0.17))
    >>> woman, man = bounds_of(pair).weakness[0, 0]  # for flexion of the elbow
    >>> bool(woman > man)
    True
    """
    lim, p = body_limits(), proportions()
    weakness = 1.0 / lim.strength[:, :, task.sex]
    weakness[:, 1] *= -1.0
    # two loaded arms count as two joints, and so do the two legs that share a moment
    weakness[:2] *= np.sqrt(task.hands)
    weakness[3:] *= math.sqrt(0.5)
    toe = np.minimum(p.toes_under_bed, task.reach - p.hands_ahead_of_toes)
    return Bounds(weakness, lim.knee[:, task.technique], lim.trunk[:, task.technique], toe)


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
    lean_margin: float


def _middle_and_half(limits: list[list[float]]) -> Floats:
    low, high = np.array(limits)
    return np.stack([0.5 * (low + high), 0.5 * (high - low)])


def _span(first: float, second: float, flexion: Any) -> Any:
    """Return the distance between the ends of two links at a given flexion [rad]."""
    return np.sqrt(first**2 + second**2 + 2 * first * second * np.cos(flexion))


@cache
def body_limits() -> BodyLimits:
    """Return what the evidence says of joints, techniques and how near a posture may come to a limit.

    >>> [round(math.degrees(lean)) for lean in body_limits().ranges["ankle"]]
    [-45, 25]
    """
    strength = {r["joint"]: r for r in evidence.table("joint_strength")}
    mass = {s: evidence.body_percentile("mass", s) for s in SEXES}
    tall = {s: evidence.body_percentile("stature", s) for s in SEXES}
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
        lean_margin=evidence.assumption("lean_margin").typical,
    )


BREACHES = (
    "out of reach of the arms",
    "a joint would leave its range (knee)",
    "a joint would leave its range (trunk)",
    "a joint would leave its range (hip)",
    "a joint would leave its range (shoulder)",
    "a joint would leave its range (ankle)",
    "the knee or shank would be inside the bed",
    "the hip or thigh would be inside the bed",
    "the trunk would be inside the bed",
    "out of balance, the centre of pressure would leave the feet",
)
_JOINTS = (1, 2, 3, 4, 5)  # the breaches that are angles


def _middle_joint(start: Point, end: Point, first: float, second: float) -> tuple[Point, Any]:
    """Return the joint between two links (knee forward, elbow down) and the distance between their ends."""
    dx, dz = end.x - start.x, end.z - start.z
    distance = np.sqrt(dx * dx + dz * dz) + 1e-9
    t = (distance * distance + first * first - second * second) / (2 * distance)
    # ends too far apart: the joint stays nearly on the line, and the breach of reach is counted elsewhere
    off = np.sqrt(np.maximum(first * first - t * t, 1e-4 * first * first))
    ux, uz = dx / distance, dz / distance
    return Point(start.x + t * ux + off * uz, start.z + t * uz - off * ux), distance


@dataclass(frozen=True, slots=True)
class Evaluation:
    """Postures evaluated: positions, moments, efforts (moment over strength), breaches (positive: outside)."""

    chain: Chain
    moments: Moments
    brace: Any
    contact: Point | None
    trunk: Any
    arm_span: Any
    toe: Any
    efforts: list[Any]
    breaches: list[Any]


def _outside(value: Any, low: Any, high: Any) -> Any:
    """Return how far a value lies outside a range, negative inside."""
    return np.abs(value - 0.5 * (low + high)) - 0.5 * (high - low)


def _rounded(value: Any, soft: float) -> Any:
    """Return max(value, 0) with its corner rounded off."""
    return 0.5 * (value + np.sqrt(value * value + soft * soft))


def _support(task: Task, moments: Moments, toe: Any, height: Any) -> Any:
    """Return the push of the bed's edge on who leans on it, no larger than balance or the shoes ask for.

    clip((x_c - x_t) N / z_b, max(0, P - μ N), P + μ N), x_t the foremost place where they still stand at ease; the
    corners at nil and at the most are rounded off, so that the search finds its way.
    """
    p, lim = proportions(), body_limits()
    weight = moments.floor_vertical
    front = toe - lim.lean_margin * (p.foot + task.stance)
    need = (moments.centre_of_pressure - front) * weight / np.maximum(height, 0.2)
    grip = task.shoe_friction * np.maximum(weight, 0.0)
    least, most = np.maximum(task.pull - grip, 0.0), np.maximum(task.pull + grip, 0.0)
    spare = most - _rounded(need, lim.soft)
    return np.maximum(most - _rounded(spare, lim.soft), least)


def evaluate(
    task: Task, posture: Any, bounds: Bounds | None = None, turns: tuple[Floats, Floats] | None = None
) -> Evaluation:
    """Evaluate postures: lean of the shank, flexion of the knee, lean of the trunk [rad], shape (3, ..., n).

    Bounds, and sine and cosine of the postures (`turns`), are handed in where they are known. All comes out in statures
    and body weights.

    >>> lengths, rest = np.array([[0.1], [0.0], [0.3], [0.55], [0.5]]), np.array([[1.0], [1.0], [0.17]])
    >>> task = Task(*lengths, *np.array([[0], [1], [2], [0]]), *rest)
    >>> np.round(evaluate(task, np.zeros((3, 1))).moments.floor_horizontal, 9).tolist()  # the floor answers the pull
    [-0.1]
    """
    p, lim = proportions(), body_limits()
    bounds = bounds or bounds_of(task)
    shank_lean, flexion, lean = posture
    thigh_lean = shank_lean - flexion
    sines, cosines = turns or (np.sin(posture), np.cos(posture))
    # the legs first, seen from the ankle, because whoever leans on the bed steps to where the body meets it
    knee_x, knee_z = p.shank * sines[0], p.ankle_height + p.shank * cosines[0]
    thigh_x = p.thigh * (sines[0] * cosines[1] - cosines[0] * sines[1])
    thigh_z = p.thigh * (cosines[0] * cosines[1] + sines[0] * sines[1])
    bed = task.bed_height
    # where the body's line is at the height of the mattress top: on the shank, or on thigh or trunk above it
    touch = np.minimum(np.maximum((bed - knee_z) / thigh_z, 0.0), 1.0)
    shank_at = np.minimum((bed - p.ankle_height) / (knee_z - p.ankle_height), 1.0) * knee_x
    thigh_at = shank_at + touch * thigh_x
    above_hip = np.maximum(bed - knee_z - thigh_z, 0.0)
    trunk_at = thigh_at + np.minimum(above_hip / np.maximum(p.trunk * cosines[2], 0.05), 1.0) * p.trunk * sines[2]
    toe: Any = bounds.toe
    ahead = p.foot - p.ankle_from_heel + 0.5 * task.stance
    braced = task.brace > 0
    leans = bool(braced.any())
    if leans:
        meets = np.where(task.brace == 2, shank_at, trunk_at)
        toe = np.where(braced, ahead - p.half_depth - meets, toe)
    ankle = Point(toe - ahead, p.ankle_height)
    knee = Point(ankle.x + knee_x, knee_z)
    hip = Point(knee.x + thigh_x, knee_z + thigh_z)
    shoulder = Point(hip.x + p.trunk * sines[2], hip.z + p.trunk * cosines[2])
    hand = Point(task.reach, task.hand_height)
    elbow, arm_span = _middle_joint(shoulder, hand, p.upper_arm, p.forearm_grip)
    chain = Chain(
        ankle=ankle,
        knee=knee,
        hip=hip,
        l5s1=along(hip, shoulder, p.hip_l5s1),
        shoulder=shoulder,
        elbow=elbow,
        hand=hand,
        head=along(hip, shoulder, 1.0 + p.head_centre / p.trunk),
    )
    m = statics(chain, 1.0, task.pull, task.lift, hands=task.hands)
    brace: Any = 0.0
    contact = None
    if leans:
        top = np.where(task.brace == 2, knee_z, chain.l5s1.z)
        contact = Point(-p.half_depth, np.minimum(bed, top))
        brace = np.where(braced, _support(task, m, toe, contact.z), 0.0)
        m = leaning(m, chain, brace, contact.z)

    weakness = bounds.weakness
    efforts = [
        np.maximum(moment * forward, moment * backward)
        for moment, (forward, backward) in zip((m.elbow, m.shoulder, m.l5s1, m.hip, m.knee), weakness, strict=True)
    ]
    efforts.append((m.centre_of_pressure - toe) * (2.0 / (p.foot + task.stance)) + 1.0)
    arm_low, arm_high = lim.ranges["shoulder"]
    # how far the upper arm lies outside its range, from sine and cosine: near a limit the angle's excess
    # times the sine of half the range, and no jump of an arctangent behind the back
    arm_x, arm_z = (elbow.x - shoulder.x) / p.upper_arm, (elbow.z - shoulder.z) / p.upper_arm
    sine, cosine = math.sin(0.5 * (arm_low + arm_high)), math.cos(0.5 * (arm_low + arm_high))
    across, along_trunk = arm_x * cosine + arm_z * sine, arm_z * cosine - arm_x * sine
    arm_out = math.cos(0.5 * (arm_high - arm_low)) + across * sines[2] + along_trunk * cosines[2]
    # into the bed, by what of a step forward leads there; the thigh of who leans is at the edge, and what is asked in
    # its place is that the foremost foot, half a stance ahead of the legs, stands no further under the bed than it may
    near_edge = ankle.x + p.half_depth
    in_bed = [(near_edge + at) * task.across for at in (shank_at, thigh_at, trunk_at)]
    if leans:
        in_bed[1] = np.where(braced, toe - p.toes_under_bed - 0.5 * task.stance, in_bed[1])
    breaches = [
        _outside(arm_span, *lim.arm),
        np.abs(flexion - bounds.knee[0]) - bounds.knee[1],
        np.abs(lean - bounds.trunk[0]) - bounds.trunk[1],
        _outside(lean - thigh_lean, *lim.ranges["hip"]),
        arm_out,
        _outside(shank_lean, *lim.ranges["ankle"]),
        *in_bed,
        _outside(m.centre_of_pressure - toe, -p.foot - task.stance, 0.0),
    ]
    return Evaluation(chain, m, brace, contact, lean, arm_span, toe, efforts, breaches)


@cache
def _breach_scales() -> tuple[Floats, Floats]:
    """Return the softness and the tolerance of each breach, in its own unit."""
    lim = body_limits()
    angle = np.isin(np.arange(len(BREACHES)), _JOINTS)
    soft = np.where(angle, lim.soft_angle, lim.soft)
    return soft, np.where(angle, lim.tolerance_angle, lim.tolerance)


def breach_ratios(state: Evaluation) -> Floats:
    """Return each breach over its tolerance, shape (breach, n) as in `BREACHES`; above 1 the posture does not hold.

    >>> lengths, rest = np.array([[0.1], [0.0], [0.3], [0.55], [0.5]]), np.array([[1.0], [1.0], [0.17]])
    >>> task = Task(*lengths, *np.array([[0], [1], [2], [0]]), *rest)
    >>> upright = breach_ratios(evaluate(task, np.zeros((3, 1))))
    >>> BREACHES[int(upright[:, 0].argmax())], bool(upright.max() > 1.0)
    ('out of reach of the arms', True)
    """
    tolerance = _breach_scales()[1]
    ratio: Floats = np.stack([b / t for b, t in zip(state.breaches, tolerance, strict=True)])
    return ratio


def residuals(
    task: Task,
    bounds: Bounds,
    posture: Floats,
    softer: Any = 1.0,
    turns: tuple[Floats, Floats] | None = None,
) -> Floats:
    """Return what the search minimises the squares of: efforts, and breach/(softer·softness) of each limit.

    A breach is a hinge rounded off over one softness, (v + √(v² + 1)) / 2. Arguments as for `evaluate`, `softer` at
    least 1; shape (6 efforts and the breaches, ..., n).

    >>> lengths, rest = np.array([[0.1], [0.0], [0.3], [0.55], [0.5]]), np.array([[1.0], [1.0], [0.17]])
    >>> task = Task(*lengths, *np.array([[0], [1], [2], [0]]), *rest)
    >>> upright, bent = np.zeros((3, 1)), np.array([[0.4], [1.0], [0.5]])
    >>> costs = [float((residuals(task, bounds_of(task), posture) ** 2).sum()) for posture in (upright, bent)]
    >>> costs[1] < costs[0]
    True
    """
    state = evaluate(task, posture, bounds, turns)
    soft, first = _breach_scales()[0], len(state.efforts)
    out = np.empty((first + len(BREACHES), *posture.shape[1:]))
    for k, value in enumerate(state.efforts):
        out[k] = value
    # the rounded hinge begins one softness outside, or it would push the body off limits that it may touch
    outside = out[first:]
    for k, value in enumerate(state.breaches):
        np.subtract(value, soft[k], out=outside[k])
    scale = 0.5 / np.multiply.outer(soft, np.broadcast_to(softer, posture.shape[-1:]))
    outside *= scale.reshape(len(soft), *([1] * (posture.ndim - 2)), -1)
    root = outside * outside
    root += 0.25
    np.sqrt(root, out=root)
    outside += root
    return out
