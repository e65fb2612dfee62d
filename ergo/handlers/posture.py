"""How a person holds a load at the bedside, one person or many at once, and what that costs the body."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ergo import evidence
from ergo.errors import Fault, InputError
from ergo.handlers import link_model as linkage
from ergo.handlers.low_back import LowBack, low_back
from ergo.handlers.posture_objective import BRACES, BREACHES, SEXES, TECHNIQUES, Reading, Task, breach_ratios, read
from ergo.handlers.posture_solver import Found, search
from ergo.units import G

__all__ = ["REASONS", "TECHNIQUES", "Posture", "Stand", "Sweep", "hold_posture", "reasons", "stand", "sweep"]

Floats = NDArray[np.float64]

# the figures of Sweep.reason_code; what comes first is told first
REASONS = (
    "",
    "cannot be held: the bed is higher than the shoulder",
    "cannot be held: the load would lift the feet off the floor",
    "cannot be held: feet would slip",
    "cannot be held: the bed is below the knee, so there is nothing to brace against",
    "cannot be held: the posture search did not settle",
    *(f"cannot be held: {text}" for text in BREACHES),
)
_FIRST_BREACH = 6
_CHOICES: dict[str, tuple[Any, ...]] = {
    "sex": SEXES,
    "technique": TECHNIQUES,
    "hands": (1, 2),
    "brace": BRACES,
}
# Which assumption stands in for an input that is None.
_LEFT_OUT = {"shoe_friction": "shoe_friction", "back_arm_m": "extensor_arm"}


@dataclass(frozen=True, slots=True)
class Stand:
    """Checked inputs [SI], broadcast to one flat length, and the scaled task."""

    shape: tuple[int, ...]
    stature: Floats
    mass: Floats
    reach: Floats
    hand_height: Floats
    bed_height: Floats
    pull: Floats
    lift: Floats
    shoe_friction: Floats
    back_arm: Floats
    task: Task

    @property
    def weight(self) -> Floats:
        """Body weight [N]."""
        return self.mass * G


def _code(name: str, value: Any, faults: list[Fault]) -> NDArray[np.int64]:
    """Turn a choice, or an array of choices, into positions in the list of choices."""
    choices = _CHOICES[name]
    given = np.asarray(value, dtype=object)
    places = {choice: k for k, choice in enumerate(choices)}
    flat = given.ravel().tolist()
    try:
        # True is not the number 1
        found = [-1 if v is True else places.get(v, -1) for v in flat]
    except TypeError:  # lists and the like cannot be looked up
        found = [-1] * len(flat)
    if -1 in found:
        allowed = " or ".join("none" if c is None else str(c) for c in choices)
        faults.append(Fault(name, str(flat[found.index(-1)]), allowed))
        return np.zeros(given.shape, dtype=np.int64)
    return np.array(found, dtype=np.int64).reshape(given.shape)


def stand(what: str, inputs: Mapping[str, Any]) -> Stand:
    """Check and scale the inputs of a posture.

    Parameters
    ----------
    what : str
        Name for the error message.
    inputs : mapping
        The arguments of `posture.hold_posture`, scalars or arrays that broadcast; more names do no harm.

    Returns
    -------
    Stand

    Raises
    ------
    InputError
        With every field that is not a number, out of range, not a choice, or does not broadcast.

    Examples
    --------
    >>> nurse = dict(stature_m=1.61, mass_kg=74.0, sex="F", reach_m=0.3, hand_height_m=0.9, bed_height_m=0.8)
    >>> rest = dict(lift_n=0.0, technique="best", hands=2, brace=None, shoe_friction=None, back_arm_m=None)
    >>> found = stand("posture", nurse | rest | {"pull_n": [50.0, 100.0]})
    >>> found.shape, found.shoe_friction.tolist()
    ((2,), [0.5, 0.5])
    """
    given = dict(inputs) | {
        name: evidence.assumption(key).typical for name, key in _LEFT_OUT.items() if inputs[name] is None
    }
    faults: list[Fault] = []
    values: dict[str, Any] = {}
    for limit in evidence.table("posture_inputs"):
        name, low, high = limit["field"], float(limit["low"]), float(limit["high"])
        try:
            value = np.asarray(given[name], dtype=float)
        except (TypeError, ValueError):
            faults.append(Fault(name, str(given[name]), "a number", limit["unit"]))
            continue
        inside = (value >= low) & (value <= high)
        if not inside.all():
            shown = value[~inside].ravel()[0]
            faults.append(Fault(name, f"{shown:g}", f"{low:g} to {high:g}", limit["unit"]))
        values[name] = value
    codes = {name: _code(name, given[name], faults) for name in _CHOICES}
    if faults:
        raise InputError(what, faults)
    try:
        same = np.broadcast_arrays(*values.values(), *codes.values())
    except ValueError:
        shapes = ", ".join(f"{k} {np.shape(v)}" for k, v in {**values, **codes}.items() if np.ndim(v))
        raise InputError(what, [Fault("array lengths", shapes, "lengths that fit each other")]) from None
    flat = {name: array.ravel() for name, array in zip((*values, *codes), same, strict=True)}
    # a bed that nobody raised: mattress and hands go down together
    low_bed = evidence.assumption("low_bed_height").typical
    lowers = np.array([r["lowers_bed"] == "yes" for r in evidence.table("techniques")])[flat["technique"]]
    drop = np.where(lowers, np.maximum(flat["bed_height_m"] - low_bed, 0.0), 0.0)
    bed, hand = flat["bed_height_m"] - drop, np.maximum(flat["hand_height_m"] - drop, 0.0)
    tall, weight = flat["stature_m"], flat["mass_kg"] * G
    task = Task(
        pull=flat["pull_n"] / weight,
        lift=flat["lift_n"] / weight,
        reach=flat["reach_m"] / tall,
        hand_height=hand / tall,
        bed_height=bed / tall,
        sex=flat["sex"],
        technique=flat["technique"],
        hands=flat["hands"] + 1.0,
        brace=flat["brace"],
    )
    return Stand(
        shape=same[0].shape,
        stature=tall,
        mass=flat["mass_kg"],
        reach=flat["reach_m"],
        hand_height=hand,
        bed_height=bed,
        pull=flat["pull_n"],
        lift=flat["lift_n"],
        shoe_friction=flat["shoe_friction"],
        back_arm=flat["back_arm_m"],
        task=task,
    )


def reasons(given: Stand, found: Found, seen: Reading) -> tuple[Floats, NDArray[np.int64]]:
    """Return the floor friction that a posture needs, and why it cannot be held.

    μ = |floor's horizontal force| / floor's vertical force; of several reasons the first in `REASONS` is told, of
    several breaches the one farthest beyond its tolerance.

    Parameters
    ----------
    given : Stand
        n inputs, checked and scaled.
    found : Found
        The postures that the search found for them.
    seen : Reading
        Those postures read, as `looked_at` does.

    Returns
    -------
    tuple of ndarray, shape (n,)
        Friction [-], and the place in `REASONS`: 0 is a posture that can be held.

    Notes
    -----
    Source: statics; the tolerances of the breaches are judgements.

    Examples
    --------
    >>> from ergo.handlers.posture_solver import search
    >>> nurse = dict(stature_m=1.61, mass_kg=74.0, sex="F", reach_m=0.3, hand_height_m=0.9, bed_height_m=0.8)
    >>> rest = dict(lift_n=0.0, technique="typical", hands=2, brace=None, shoe_friction=0.5, back_arm_m=0.06)
    >>> given = stand("posture", nurse | rest | {"pull_n": [100.0, 500.0]})
    >>> found = search(given.task)
    >>> friction, code = reasons(given, found, looked_at(given, found))
    >>> [round(float(mu), 2) for mu in friction], [REASONS[k] for k in code]
    ([0.14, 0.69], ['', 'cannot be held: feet would slip'])
    """
    moments = seen.moments
    vertical, horizontal = np.asarray(moments.floor_vertical), np.asarray(moments.floor_horizontal)
    friction = np.abs(horizontal) / np.maximum(vertical, 1e-3)
    ratio = breach_ratios(seen)
    code = np.where(ratio.max(axis=0) > 1.0, _FIRST_BREACH + ratio.argmax(axis=0), 0)
    code = np.where((code == 0) & ~found.converged, 5, code)
    task = given.task
    code = np.where((task.brace > 0) & (task.bed_height < seen.chain.knee.z), 4, code)
    code = np.where(friction > given.shoe_friction, 3, code)
    code = np.where(vertical < 1e-3, 2, code)
    return friction, np.where(task.bed_height > _shoulder_height(), 1, code)


def _shoulder_height() -> float:
    return float(evidence.row("stature_fractions", item="shoulder height")["fraction_of_stature"])


def looked_at(given: Stand, found: Found) -> Reading:
    """Return the final reading of the postures found."""
    return read(given.task, found.posture)


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
    sources: tuple[str, ...]


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
        trunk_lean_rad=lean,
        weight_above_n=p.above_l5s1_mass * weight,
        pull_n=number(given.pull),
        lift_n=number(given.lift),
        back_arm_m=arm,
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
        sources=SOURCES,
    )


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
    sources: tuple[str, ...] = SOURCES


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
        trunk_lean_rad=seen.trunk,
        weight_above_n=linkage.proportions().above_l5s1_mass * given.weight,
        pull_n=given.pull,
        lift_n=given.lift,
        back_arm_m=given.back_arm,
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
