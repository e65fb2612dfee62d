"""How a person holds a load at the bedside, one person or many at once, and what that costs the body."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from enum import IntEnum
from functools import cache
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ergo import evidence
from ergo.errors import Fault, InputError
from ergo.handlers import link_model
from ergo.handlers.low_back import LowBack, low_back
from ergo.handlers.posture_inputs import ScaledInputs, scaled_inputs
from ergo.handlers.posture_objective import BREACHES, Evaluation, Task, breach_ratios, evaluate
from ergo.handlers.posture_solver import Solution, search

__all__ = ["REASONS", "Posture", "Sweep", "hold_posture", "sweep"]

Floats = NDArray[np.float64]

# the figures of Sweep.reason_code; what comes first is told first
REASONS = (
    "",
    "cannot be held: the bed is higher than the shoulder",
    "cannot be held: the load would lift the feet off the floor",
    "cannot be held: feet would slip",
    "cannot be held: the posture search did not settle",
    *(f"cannot be held: {text}" for text in BREACHES),
)


class _Code(IntEnum):
    """Places in `REASONS`."""

    HELD = 0
    BED_TOO_HIGH = 1
    FEET_LIFTED = 2
    FEET_SLIP = 3
    NOT_SETTLED = 4
    FIRST_BREACH = 5


SOURCES = (*link_model.SOURCES, "stobbe_1982")


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
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sweep:
    """Loads of many postures, arrays of the broadcast shape; signs and names as in `Posture`.

    `reason_code` points into `REASONS`; 0 is a posture that can be held. `effort` is what the search minimised,
    `stance_m` from ankle to ankle.
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
    effort: Floats
    brace_n: Floats
    side_bend_nm: Floats
    twist_nm: Floats
    stance_m: Floats
    sources: tuple[str, ...] = SOURCES


@dataclass(frozen=True, slots=True)
class _Solved:
    """Inputs, the postures found for them, those evaluated, and the loads, all laid flat."""

    given: ScaledInputs
    solution: Solution
    state: Evaluation
    low_back: LowBack
    floor_friction: Floats
    reason_code: NDArray[np.int64]


def _solve(what: str, inputs: Mapping[str, Any]) -> _Solved:
    """Find postures: free, and against the bed or in a long stance where that is allowed and does nothing worse."""
    given = scaled_inputs(what, inputs)
    upright = np.zeros_like(given.task.brace)
    stance = np.full_like(given.task.stance, evidence.assumption("long_stance").typical)
    free, long = given.held_so(upright), given.held_so(upright, stance)
    lean, shift = np.flatnonzero(given.task.brace > 0), np.flatnonzero(given.weight_shift)
    ways = free, given.take(lean), long.take(shift)
    first, *others = _solutions(*ways)
    found = _evaluated(free, first)
    for other, solution, at in zip(ways[1:], others, (lean, shift), strict=True):
        found = _better_of(found, other, solution, at)
    return found


def _solutions(*ways: ScaledInputs) -> list[Solution]:
    """Search the postures of several sets of tasks at once."""
    columns = zip(*(tuple(getattr(way.task, f.name) for f in fields(Task)) for way in ways), strict=True)
    found = search(Task(*(np.concatenate(column) for column in columns)))
    ends = np.cumsum([way.task.pull.size for way in ways])
    return [found.take(slice(end - way.task.pull.size, end)) for way, end in zip(ways, ends, strict=True)]


def _better_of(found: _Solved, other: ScaledInputs, solution: Solution, at: NDArray[np.int64]) -> _Solved:
    """Return what was found, and at the places that may stand in another way what is better so."""
    if not at.size:
        return found
    tried = _evaluated(other, solution)
    take = _is_better(tried, found, at)
    better = at[take]
    if not better.size:
        return found
    task = found.given.task
    brace, stance = task.brace.copy(), task.stance.copy()
    brace[better], stance[better] = other.task.brace[take], other.task.stance[take]
    before = found.solution
    posture, cost, converged = before.posture.copy(), before.cost.copy(), before.converged.copy()
    posture[:, better] = solution.posture[:, take]
    cost[better], converged[better] = solution.cost[take], solution.converged[take]
    solution = replace(before, posture=posture, cost=cost, converged=converged)
    return _evaluated(found.given.held_so(brace, stance), solution)


def _evaluated(given: ScaledInputs, solution: Solution) -> _Solved:
    state = evaluate(given.task, solution.posture)
    back = low_back(
        moment_nm=state.moments.l5s1 * given.weight * given.stature,
        trunk_lean_rad=np.where(
            np.abs(state.trunk) <= np.pi, state.trunk, np.remainder(state.trunk + np.pi, 2 * np.pi) - np.pi
        ),
        weight_above_n=link_model.proportions().above_l5s1_mass * given.weight,
        pull_n=given.pull,
        lift_n=given.lift,
        back_arm_m=given.back_arm,
        hands_aside_m=given.hands_aside,
    )
    return _Solved(given, solution, state, back, *_why_not_held(given, solution, state))


def _is_better(other: _Solved, found: _Solved, at: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Say which other postures, leaning or in a long stance, to take in place of those found at some places.

    Those that hold where these do not; and where nothing that a limit looks at is larger, or so large that any limit on
    it could be passed, those with less effort and every one in which a force is held on: another way to stand so turns
    no answer into "over". Who holds on for a minute stands where that spares them; were less effort asked of it as
    well, they would stand back with a small force and near with a large one, and could manage the large one alone.
    """
    held, held_before = other.reason_code == _Code.HELD, found.reason_code[at] == _Code.HELD
    at_ease = np.maximum(_judged(found)[:, at], _always_within()[:, None])
    no_worse = (_judged(other) <= at_ease + 1e-9).all(axis=0)
    easier = (other.solution.cost <= found.solution.cost[at]) | (other.given.held > 0.0)
    return np.asarray(held & (~held_before | (easier & no_worse)))


def _judged(found: _Solved) -> Floats:
    """Return what limits on the body look at, shape (figure, n).

    Compression and shear [N], shoulder moment where the force is held on [N m], the pull over the figure for arms so
    far stretched over the bed, and floor friction.
    """
    state, back, given = found.state, found.low_back, found.given
    lead, span = evidence.assumption("arms_extended_lead"), evidence.assumption("arms_extended_span")
    over = (state.chain.shoulder.x * given.stature - lead.low) / (lead.high - lead.low)
    straight = (state.arm_span / link_model.proportions().arm - span.low) / (span.high - span.low)
    whole, arms_only = _figure("ccohs_whole_body"), _figure("ccohs_arms_extended")
    allowed = whole - np.clip(over, 0.0, 1.0) * np.clip(straight, 0.0, 1.0) * (whole - arms_only)
    shoulder = given.held * state.moments.shoulder * given.weight * given.stature
    figures = np.maximum(back.compression_n, 0.0), back.shear_n, shoulder, given.pull / allowed, found.floor_friction
    judged: Floats = np.abs(np.array(figures))
    return judged


def _figure(key: str) -> float:
    return float(evidence.row("limits", key=key)["value"])


@cache
def _always_within() -> Floats:
    """Return how much of each figure of `_judged` every limit on it lets pass; 0 where that depends on the case."""
    return np.array([0.0, _figure("shear_frequent"), 0.0, 1.0, _figure("floor_friction_min")])


def _why_not_held(given: ScaledInputs, solution: Solution, state: Evaluation) -> tuple[Floats, NDArray[np.int64]]:
    """Return the friction that the floor has to give, |horizontal| / vertical, and the place in `REASONS`.

    Of several reasons the first in `REASONS` is told, of several breaches the one farthest beyond its tolerance.
    """
    vertical, horizontal = np.asarray(state.moments.floor_vertical), np.asarray(state.moments.floor_horizontal)
    friction = np.abs(horizontal) / np.maximum(vertical, 1e-3)
    ratio = breach_ratios(state)
    code = np.where(ratio.max(axis=0) > 1.0, _Code.FIRST_BREACH + ratio.argmax(axis=0), _Code.HELD)
    settled = solution.converged & np.isfinite(ratio).all(axis=0) & np.isfinite(friction)
    code = np.where((code == _Code.HELD) & ~settled, _Code.NOT_SETTLED, code)
    task, shoulder = given.task, link_model.proportions().shoulder_height
    # whoever leans on the bed may leave to the shoes just what they give
    code = np.where(friction > given.shoe_friction * (1.0 + 1e-9), _Code.FEET_SLIP, code)
    code = np.where(vertical < 1e-3, _Code.FEET_LIFTED, code)
    return friction, np.where(task.bed_height > shoulder, _Code.BED_TOO_HIGH, code)


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
    facing_rad: Any = None,
    held: Any = False,
    weight_shift: Any = False,
) -> Sweep:
    """Return the postures of least effort and their loads for arrays; each is found as in `hold_posture`.

    >>> loads = sweep(stature_m=1.61, mass_kg=74.0, sex="F", reach_m=0.3, hand_height_m=0.9, bed_height_m=0.8,
    ...               pull_n=[50.0, 100.0, 150.0])
    >>> bool(loads.can_be_held.all()), loads.compression_n.shape
    (True, (3,))
    """
    solved = _solve("sweep", locals())
    given, state, back = solved.given, solved.state, solved.low_back
    size = given.weight * given.stature

    def shaped(value: Any) -> Any:
        return np.broadcast_to(value, given.stature.shape).reshape(given.shape)

    return Sweep(
        can_be_held=shaped(solved.reason_code == _Code.HELD),
        reason_code=shaped(solved.reason_code),
        converged=shaped(solved.solution.converged),
        compression_n=shaped(back.compression_n),
        shear_n=shaped(back.shear_n),
        muscle_n=shaped(back.muscle_n),
        l5s1_moment_nm=shaped(back.moment_nm),
        shoulder_moment_nm=shaped(state.moments.shoulder * size),
        elbow_moment_nm=shaped(state.moments.elbow * size),
        floor_friction=shaped(solved.floor_friction),
        cop_m=shaped(state.moments.centre_of_pressure * given.stature),
        extended_arm=shaped(state.arm_span / link_model.proportions().arm),
        shoulder_x_m=shaped(state.chain.shoulder.x * given.stature),
        trunk_flexion_deg=shaped(np.degrees(solved.solution.posture[2])),
        knee_flexion_deg=shaped(np.degrees(solved.solution.posture[1])),
        effort=shaped(solved.solution.cost),
        brace_n=shaped(state.brace * given.weight),
        side_bend_nm=shaped(back.side_bend_nm),
        twist_nm=shaped(back.twist_nm),
        stance_m=shaped(given.task.stance * given.stature),
    )


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
    facing_rad: float | None = None,
    held: bool = False,
    weight_shift: bool = False,
) -> Posture:
    """Return the posture of least joint effort in which a person holds a force at the bedside.

    min Σ (M_j / S_j)² + ((x_c − middle of base) / half base)² over lean of the shank, flexion of the knee and
    lean of the trunk, subject to reach, joint ranges, centre of pressure within the feet and a body clear of
    the bed. S_j are the median strengths of the sex, scaled with body weight and stature; they steer the
    posture and are no limit. The front toes stand under the bed edge, or further back when the hands are
    nearer than a comfortable distance; stance, distances and tolerances are assumptions in evidence.

    With `brace` the body may rest on the bed's edge ("thigh": thigh or pelvis; "knee"): a free posture stays where
    leaning holds no more and asks no less, of a shoulder too where the force is `held` on. `facing_rad` belongs to a
    force along the bed: 0 faces across, π/2 its head; the hands are then beside the plane of the body, and the edge
    is less in the way. With `weight_shift` one foot may stand a long step behind the other, on the same terms: the base
    reaches further back, so more of the body's weight, ahead of the heels and behind the toes, answers a pull or push.

    Source: winter_2009, drillis_contini_1966 (links), stobbe_1982 (strengths, memory fair),
    chaffin_andersson_martin (back arm, from memory).
    """
    solved = _solve("posture", locals())
    given, state = solved.given, solved.state
    if given.shape != ():
        faults = [Fault("array lengths", str(given.shape), "one person; `sweep` takes arrays")]
        raise InputError("posture", faults)

    def number(value: Any) -> float:
        return float(np.asarray(value).ravel()[0])

    tall, weight, toe = number(given.stature), number(given.weight), number(state.toe)
    chain, moments, p = state.chain, state.moments, link_model.proportions()

    def at(point: link_model.Point) -> tuple[float, float]:
        return number(point.x) * tall, number(point.z) * tall

    base = (toe - p.foot - number(given.task.stance)) * tall, toe * tall
    positions = {
        name: at(getattr(chain, name)) for name in ("ankle", "knee", "hip", "l5s1", "shoulder", "elbow", "hand", "head")
    }
    positions |= {"rear_heel": (base[0], 0.0), "front_toe": (base[1], 0.0)}
    joint_moments = {
        name: number(getattr(moments, name)) * weight * tall
        for name in ("elbow", "shoulder", "l5s1", "hip", "knee", "ankle")
    }
    reason, friction = REASONS[int(solved.reason_code[0])], number(solved.floor_friction)
    if solved.reason_code[0] == _Code.FEET_SLIP:
        shoes = number(given.shoe_friction)
        reason += f" (the floor would need friction {friction:.2f}, the shoes give {shoes:.2f})"
    brace_n = number(state.brace) * weight
    efforts = ("elbow", "shoulder", "l5s1", "hip", "knee", "balance")
    names = [f.name for f in fields(LowBack) if f.name != "sources"]
    parts: dict[str, Any] = {name: number(getattr(solved.low_back, name)) for name in names}
    back = LowBack(**parts)
    return Posture(
        can_be_held=bool(solved.reason_code[0] == _Code.HELD),
        reason=reason,
        converged=bool(solved.solution.converged[0]),
        technique=technique,
        bed_height_m=number(given.bed_height),
        hand_height_m=number(given.hand_height),
        joint_angles_deg=MappingProxyType(_joint_angles_deg(positions, *map(number, solved.solution.posture))),
        joint_positions_m=MappingProxyType(positions),
        moments_nm=MappingProxyType(joint_moments),
        effort=MappingProxyType({k: number(v) for k, v in zip(efforts, state.efforts, strict=True)}),
        low_back=back,
        compression_n=back.compression_n,
        shear_n=back.shear_n,
        muscle_n=back.muscle_n,
        shoulder_moment_nm=joint_moments["shoulder"],
        elbow_moment_nm=joint_moments["elbow"],
        floor_friction=friction,
        floor_vertical_n=number(moments.floor_vertical) * weight,
        floor_horizontal_n=number(moments.floor_horizontal) * weight,
        cop_m=number(moments.centre_of_pressure) * tall,
        base_m=base,
        brace_n=brace_n,
        brace_at_m=at(state.contact) if state.contact is not None and brace_n > 0 else None,
        extended_arm=number(state.arm_span) / p.arm,
        sources=SOURCES,
    )


def _joint_angles_deg(
    at: Mapping[str, tuple[float, float]], shank: float, knee: float, trunk: float
) -> dict[str, float]:
    """Return the angles of all joints; those of the arm follow from where shoulder, elbow and hand are."""

    def lean(upper: str, lower: str) -> float:
        return float(np.arctan2(at[lower][0] - at[upper][0], at[upper][1] - at[lower][1]))

    arm, forearm = lean("shoulder", "elbow"), lean("elbow", "hand")
    angles = {
        "ankle": shank,
        "knee": knee,
        "hip": trunk - shank + knee,
        "trunk": trunk,
        "shoulder": arm + trunk,
        "elbow": (forearm - arm) % (2 * np.pi),
    }
    return {name: float(np.degrees(angle)) for name, angle in angles.items()}
