"""What a person is asked to do, checked and scaled, and the verdict on a posture that was found."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ergo import evidence
from ergo.errors import Fault, InputError
from ergo.people.effort import BREACHES, Reading, breach_ratios, read
from ergo.people.search import Found
from ergo.people.task import BRACES, SEXES, TECHNIQUES, Task
from ergo.units import G

__all__ = ["REASONS", "Stand", "reasons", "stand"]

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
    >>> from ergo.people.search import search
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
