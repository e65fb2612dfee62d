"""The posture search: thousands of postures at once, without an optimisation library.

Feet and hands are fixed, knees bend forward and elbows down, so a posture is three numbers: how far the hip lies
ahead of the front ankle, how high it is, and how far the trunk leans. All lengths are in statures, all forces in
body weights and all strengths in those of the median person of the sex, so one search serves everybody of a sex
who stands in the same proportions. What is minimised is a sum of squares (moment over strength, and breaches of
reach, bed, balance and joint range over a small tolerance); damped Gauss-Newton steps on all of it together need
about a dozen evaluations. Only one shape of elbow and knee is offered and every term is continuous, so the
optimum moves smoothly with the task.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.constants import g

from ergo import evidence
from ergo.people.linkage import Chain, Moments, Point, along, proportions, statics

__all__ = ["BRACES", "BREACHES", "TECHNIQUES", "Found", "Reading", "Task", "read", "search"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SEXES = ("F", "M")
TECHNIQUES = tuple(r["technique"] for r in evidence.table("techniques"))
BRACES = (None, "thigh", "knee")

# what a breach is called, in the order of the residuals after the nine joints; joint ranges are told as one
BREACHES = (
    "out of reach: the arms are too short",
    "out of reach: the rear leg would have to stretch or bend too far",
    "a joint would leave its range: front knee",
    "a joint would leave its range: trunk",
    "a joint would leave its range: front hip",
    "a joint would leave its range: rear hip",
    "a joint would leave its range: shoulder",
    "a joint would leave its range: front ankle",
    "a joint would leave its range: rear ankle",
    "the knee or shank would be inside the bed",
    "the hip or thigh would be inside the bed",
    "the trunk would be inside the bed",
    "out of balance: the centre of pressure leaves the feet",
)
_JOINTS = 9
_STEP = 1e-6  # statures or rad, of the difference quotient


@dataclass(frozen=True, slots=True)
class Task:
    """What the body has to do, scaled: lengths over stature, forces over body weight; arrays of one length."""

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


class _Limits(NamedTuple):
    """Constants of the search, as arrays by sex or technique."""

    strength: Floats  # (joint and direction, sex), over body weight times stature
    knee_min: Floats
    knee_max: Floats
    trunk_min: Floats
    trunk_max: Floats
    ranges: dict[str, tuple[float, float]]
    rear_leg: tuple[float, float]
    arm: tuple[float, float]
    soft: float
    soft_angle: float
    tolerance: float
    tolerance_angle: float
    brace_share: float


def _span(first: float, second: float, flexion: Any) -> Any:
    """Return the distance between the ends of two links at a given flexion [rad]."""
    return np.sqrt(first**2 + second**2 + 2 * first * second * np.cos(flexion))


@cache
def _limits() -> _Limits:
    strength = {r["joint"]: r for r in evidence.table("joint_strength")}
    mass = {s: float(evidence.row("body_mass_percentiles_us", measure="mass_kg", sex=s)["p50"]) for s in SEXES}
    tall = {
        s: float(evidence.row("body_mass_percentiles_us", measure="stature_cm", sex=s)["p50"]) / 100 for s in SEXES
    }
    ankle = evidence.assumption("ankle_over_knee_strength").typical
    order = [
        ("elbow flexion", 1.0),
        ("elbow extension", 1.0),
        ("shoulder vertical abduction", 1.0),
        ("shoulder vertical adduction", 1.0),
        ("torso extension", 1.0),
        ("torso flexion", 1.0),
        ("hip extension", 1.0),
        ("hip flexion", 1.0),
        ("knee flexion", 1.0),
        ("knee extension", 1.0),
        ("knee extension", ankle),
    ]
    scaled = [[k * float(strength[j][f"{s}50"]) / (mass[s] * g * tall[s]) for s in SEXES] for j, k in order]
    ranges = {
        r["joint"]: (float(np.radians(float(r["min_deg"]))), float(np.radians(float(r["max_deg"]))))
        for r in evidence.table("joint_ranges")
    }
    p = proportions()
    rows = evidence.table("techniques")

    def degrees(column: str) -> Floats:
        return np.radians(np.array([float(r[column]) for r in rows]))

    knee, elbow = ranges["knee"], ranges["elbow"]
    return _Limits(
        strength=np.array(scaled),
        knee_min=degrees("knee_min_deg"),
        knee_max=degrees("knee_max_deg"),
        trunk_min=degrees("trunk_min_deg"),
        trunk_max=degrees("trunk_max_deg"),
        ranges=ranges,
        rear_leg=(float(_span(p.shank, p.thigh, knee[1])), float(_span(p.shank, p.thigh, knee[0]))),
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
class Reading:
    """One evaluation: positions, moments and residuals (joints over strength, then breaches in their own unit)."""

    chain: Chain
    moments: Moments
    brace: Any
    contact: Point
    trunk: Any
    arm_span: Any
    joints: list[Any]
    breaches: list[Any]


def _outside(value: Any, low: Any, high: Any) -> Any:
    """Return how far a value lies outside a range, signed."""
    return np.maximum(value - high, 0.0) - np.maximum(low - value, 0.0)


def _turned_out(sin: Any, cos: Any, allowed: tuple[float, float]) -> Any:
    """Return how far an angle lies outside a range, from its sine and cosine, without an arctangent.

    It is cos(half width) − cos(angle − middle): near the limit the angle's excess times sin(half width).
    """
    middle, half = 0.5 * (allowed[0] + allowed[1]), 0.5 * (allowed[1] - allowed[0])
    return np.maximum(np.cos(half) - cos * np.cos(middle) - sin * np.sin(middle), 0.0)


def read(task: Task, posture: Any) -> Reading:
    """Evaluate postures.

    Parameters
    ----------
    task : Task
        n tasks, scaled.
    posture : array_like, shape (3, ..., n)
        Hip ahead of the front ankle, hip height above the floor [statures], trunk lean [rad].

    Returns
    -------
    Reading
        Everything in statures and body weights.
    """
    p, lim = proportions(), _limits()
    leg_lean, flexion, lean = posture
    # the legs first, seen from the front ankle, because a braced person steps to where the thigh meets the bed
    # (turning the whole leg and bending the knee keeps the knee's limits straight lines for the search)
    sin_leg, cos_leg = np.sin(leg_lean), np.cos(leg_lean)
    cos_knee, sin_knee = np.cos(flexion), np.sin(flexion)
    span = np.sqrt(p.shank**2 + p.thigh**2 + 2 * p.shank * p.thigh * cos_knee)
    shank_up = (p.shank + p.thigh * cos_knee) * p.shank / span
    shank_off = p.thigh * sin_knee * p.shank / span
    hip0 = Point(span * sin_leg, p.ankle_height + span * cos_leg)
    knee0 = Point(
        shank_up * sin_leg + shank_off * cos_leg, p.ankle_height + shank_up * cos_leg - shank_off * sin_leg
    )
    bed = task.bed_height
    high_bed = bed > knee0.z
    touch = np.clip((bed - knee0.z) / (hip0.z - knee0.z), 0.0, 1.0)
    thigh0 = along(knee0, hip0, touch)
    plain = p.toes_under_bed - (p.foot - p.ankle_from_heel)
    ankle_x = np.where(
        task.brace == 0, plain, -p.half_depth - np.where(task.brace == 2, knee0.x, thigh0.x)
    )
    ankle_front = Point(ankle_x, p.ankle_height)
    hip = Point(hip0.x + ankle_x, hip0.z)
    knee_front = Point(knee0.x + ankle_x, knee0.z)
    thigh_at_bed = Point(thigh0.x + ankle_x, thigh0.z)
    ankle_rear = Point(ankle_x - p.stance, p.ankle_height)
    knee_rear, rear_span = _middle_joint(ankle_rear, hip, p.shank, p.thigh)
    sin, cos = np.sin(lean), np.cos(lean)
    shoulder = Point(hip.x + p.trunk * sin, hip.z + p.trunk * cos)
    hand = Point(task.reach, task.hand_height)
    elbow, arm_span = _middle_joint(shoulder, hand, p.upper_arm, p.forearm_grip)
    chain = Chain(
        ankle_front=ankle_front,
        knee_front=knee_front,
        ankle_rear=ankle_rear,
        knee_rear=knee_rear,
        hip=hip,
        l5s1=along(hip, shoulder, p.hip_l5s1),
        shoulder=shoulder,
        elbow=elbow,
        hand=hand,
        head=Point(shoulder.x + p.head_centre * sin, shoulder.z + p.head_centre * cos),
    )
    brace = np.where(task.brace == 0, 0.0, lim.brace_share * np.maximum(task.pull, 0.0))
    knee_brace = task.brace == 2
    contact = Point(
        np.where(knee_brace, knee_front.x, thigh_at_bed.x), np.where(knee_brace, knee_front.z, thigh_at_bed.z)
    )
    m = statics(chain, 1.0, task.pull, task.lift, hands=task.hands, brace=brace, contact=contact)

    weak = lim.strength[:, task.sex]

    def over(moment: Any, plus: int, minus: int) -> Any:
        return moment / np.where(moment >= 0.0, weak[plus], weak[minus])

    # two loaded arms count as two joints
    both = np.sqrt(task.hands)
    joints = [
        both * over(m.elbow, 0, 1),
        both * over(m.shoulder, 2, 3),
        over(m.l5s1, 4, 5),
        over(m.hip_front, 6, 7),
        over(m.hip_rear, 6, 7),
        over(m.knee_front, 8, 9),
        over(m.knee_rear, 8, 9),
        m.ankle_front / weak[10],
        m.ankle_rear / weak[10],
    ]
    arm_x, arm_z = (elbow.x - shoulder.x) / p.upper_arm, (elbow.z - shoulder.z) / p.upper_arm
    thigh_f = Point((hip.x - knee_front.x) / p.thigh, (hip.z - knee_front.z) / p.thigh)
    thigh_r = Point((hip.x - knee_rear.x) / p.thigh, (hip.z - knee_rear.z) / p.thigh)
    edge = -p.half_depth
    shank_touch = np.clip((bed - p.ankle_height) / (knee_front.z - p.ankle_height), 0.0, 1.0)
    shank_x = along(ankle_front, knee_front, shank_touch).x
    thigh_x = np.where(high_bed, thigh_at_bed.x, shank_x)
    trunk_touch = np.clip((bed - hip.z) / np.maximum(shoulder.z - hip.z, 0.05), 0.0, 1.0)
    trunk_x = np.where(bed > hip.z, along(hip, shoulder, trunk_touch).x, thigh_x)
    heel = ankle_rear.x - p.ankle_from_heel
    toe = ankle_front.x + p.foot - p.ankle_from_heel
    kind, ranges = task.technique, lim.ranges
    breaches = [
        _outside(arm_span, *lim.arm),
        _outside(rear_span, *lim.rear_leg),
        _outside(flexion, lim.knee_min[kind], lim.knee_max[kind]),
        _outside(lean, lim.trunk_min[kind], lim.trunk_max[kind]),
        # sine and cosine of the angle between two links
        _turned_out(sin * thigh_f.z - cos * thigh_f.x, sin * thigh_f.x + cos * thigh_f.z, ranges["hip"]),
        _turned_out(sin * thigh_r.z - cos * thigh_r.x, sin * thigh_r.x + cos * thigh_r.z, ranges["hip"]),
        _turned_out(arm_x * cos - arm_z * sin, -arm_x * sin - arm_z * cos, ranges["shoulder"]),
        _turned_out(
            (knee_front.x - ankle_front.x) / p.shank, (knee_front.z - p.ankle_height) / p.shank, ranges["ankle"]
        ),
        _turned_out(
            (knee_rear.x - ankle_rear.x) / p.shank, (knee_rear.z - p.ankle_height) / p.shank, ranges["ankle"]
        ),
        np.maximum(shank_x - edge, 0.0),
        np.maximum(thigh_x - edge, 0.0),
        np.maximum(trunk_x - edge, 0.0),
        _outside(m.centre_of_pressure, heel, toe),
    ]
    return Reading(chain, m, brace, contact, lean, arm_span, joints, breaches)


@cache
def _breach_scales() -> tuple[Floats, Floats]:
    """Return the softness and the tolerance of each breach, in its own unit."""
    lim = _limits()
    angle = np.array([text.startswith("a joint") for text in BREACHES])
    return np.where(angle, lim.soft_angle, lim.soft), np.where(angle, lim.tolerance_angle, lim.tolerance)


def _residuals(task: Task, posture: Floats) -> Floats:
    seen = read(task, posture)
    out = np.empty((_JOINTS + len(BREACHES), *posture.shape[1:]))
    for k, value in enumerate(seen.joints):
        out[k] = value
    for k, (value, soft) in enumerate(zip(seen.breaches, _breach_scales()[0], strict=True)):
        out[_JOINTS + k] = value / soft
    return out


@dataclass(frozen=True, slots=True)
class Found:
    """Result of the search for n tasks."""

    posture: Floats  # (3, n)
    cost: Floats
    converged: NDArray[np.bool_]
    steps: int


def _starts(task: Task) -> Floats:
    """Return starting postures (3, starts, n): legs of the technique, trunk upright to deeply bent."""
    lim, kind = _limits(), task.technique
    out = np.empty((3, 4, task.pull.size))
    for k, (knee, lean) in enumerate(((20.0, 0.1), (20.0, 0.5), (20.0, 1.0), (60.0, 0.5))):
        out[0, k] = -0.15
        out[1, k] = np.clip(np.radians(knee), lim.knee_min[kind], lim.knee_max[kind])
        out[2, k] = np.clip(lean, lim.trunk_min[kind], lim.trunk_max[kind])
    return out


_NUDGE = np.concatenate([np.zeros((3, 1)), _STEP * np.eye(3)], axis=1)[:, :, None]


def search(task: Task, starts: int = 0, most_steps: int = 60) -> Found:
    """Find the posture of least effort for each task.

    Parameters
    ----------
    task : Task
        n tasks, scaled.
    starts : int
        0: start from the best of the starting postures; otherwise go down from this many of them and keep the best.
    most_steps : int
        Steps allowed.

    Returns
    -------
    Found
        Posture, cost Σ(moment/strength)² + Σ(breach/softness)², whether the steps died out.

    Notes
    -----
    Levenberg's damping: (JᵀJ + λ diag(JᵀJ)) step = −Jᵀ r, J by difference quotients.
    """
    n = task.pull.size
    first = _starts(task)
    if starts:
        k = min(starts, first.shape[1])
        wide = task.take(np.tile(np.arange(n), k))
        got = _descend(wide, first[:, :k].reshape(3, -1), most_steps)
        cost = got.cost.reshape(k, n)
        best = np.argmin(cost, axis=0) * n + np.arange(n)
        return replace(got, posture=got.posture[:, best], cost=got.cost[best], converged=got.converged[best])
    cost = np.square(_residuals(task, first)).sum(axis=0)
    return _descend(task, first[:, np.argmin(cost, axis=0), np.arange(n)], most_steps)


def _descend(task: Task, start: Floats, most_steps: int) -> Found:
    n = task.pull.size
    posture, cost_out = start.copy(), np.empty(n)
    done_out = np.zeros(n, dtype=bool)
    live = np.arange(n)
    sub, at = task, start
    fan = _residuals(sub, at[:, None, :] + _NUDGE)
    cost = np.square(fan[:, 0]).sum(axis=0)
    damping = np.full(n, 1e-2)
    steps = 0
    while steps < most_steps:
        steps += 1
        r = fan[:, 0]
        jac = (fan[:, 1:] - fan[:, :1]) / _STEP
        jtj = np.einsum("rin,rjn->nij", jac, jac)
        slope = np.einsum("rin,rn->ni", jac, r)
        diagonal = np.einsum("nii->ni", jtj)
        diagonal += damping[:, None] * np.maximum(diagonal, 1e-6) + 1e-9
        step = -np.linalg.solve(jtj, slope[:, :, None])[:, :, 0].T
        length = np.abs(step).max(axis=0)
        step *= np.minimum(1.0, 0.15 / np.maximum(length, 1e-12))
        trial_fan = _residuals(sub, (at + step)[:, None, :] + _NUDGE)
        trial = np.square(trial_fan[:, 0]).sum(axis=0)
        better = trial <= cost
        gain = cost - trial
        at = np.where(better, at + step, at)
        fan = np.where(better, trial_fan, fan)
        still = better & (length < 1e-4) & (gain <= 1e-8 * (1.0 + cost))
        stuck = ~better & (length < 1e-7)
        cost = np.where(better, trial, cost)
        damping = np.clip(np.where(better, damping * 0.15, damping * 6.0), 1e-9, 1e12)
        ended = still | stuck
        if ended.any() or steps == most_steps:
            write = np.ones_like(ended) if steps == most_steps else ended
            posture[:, live[write]] = at[:, write]
            cost_out[live[write]] = cost[write]
            done_out[live[write]] = ended[write]
            keep = ~write
            if not keep.any():
                break
            live, sub, at = live[keep], sub.take(keep), at[:, keep]
            fan, cost, damping = fan[:, :, keep], cost[keep], damping[keep]
    return Found(posture, cost_out, done_out, steps)
