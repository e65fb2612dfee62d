"""What a posture is asked for: inputs checked with every fault at once, broadcast, and scaled to the body."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ergo import evidence
from ergo.errors import Fault, InputError
from ergo.handlers.link_model import proportions
from ergo.handlers.posture_objective import BRACES, SEXES, TECHNIQUES, Task
from ergo.units import G

__all__ = ["ScaledInputs", "scaled_inputs"]

Floats = NDArray[np.float64]

_CHOICES: dict[str, tuple[Any, ...]] = {
    "sex": SEXES,
    "technique": TECHNIQUES,
    "hands": (1, 2),
    "brace": BRACES,
    "held": (False, True),
    "weight_shift": (False, True),
}
_YES_OR_NO = ("held", "weight_shift")
# Which assumption stands in for an input that is None.
_LEFT_OUT = {"shoe_friction": "shoe_friction", "back_arm_m": "extensor_arm"}
# Not a number where the force does not go along the bed.
_FACING = "facing_rad"


@dataclass(frozen=True, slots=True)
class ScaledInputs:
    """Checked inputs [SI], broadcast and laid flat, and the same scaled to body weight and stature."""

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
    facing: Floats
    held: Floats
    weight_shift: NDArray[np.bool_]
    task: Task

    @property
    def weight(self) -> Floats:
        """Body weight [N]."""
        return self.mass * G

    @property
    def hands_aside(self) -> Floats:
        """How far beside the plane of the body the hands are that push or pull along the bed [m], else 0.

        (reach + half the body's breadth) cos ψ: who faces the bed's head comes into line with the force.
        """
        breadth = proportions().half_breadth * self.stature
        return np.where(np.isfinite(self.facing), (self.reach + breadth) * np.cos(self.facing), 0.0)

    def take(self, index: Any) -> ScaledInputs:
        """Return the inputs at these places."""
        rest = {f.name: getattr(self, f.name) for f in fields(self) if f.name not in ("shape", "task")}
        return ScaledInputs((len(index),), task=self.task.take(index), **{k: v[index] for k, v in rest.items()})

    def held_so(self, brace: NDArray[np.int64], stance: Floats | None = None) -> ScaledInputs:
        """Return the same with what is leaned on the bed, and with another stance where one is given."""
        task = replace(self.task, brace=brace)
        return replace(self, task=task if stance is None else replace(task, stance=stance))


def _choice_places(name: str, value: Any, faults: list[Fault]) -> NDArray[np.int64]:
    """Turn a choice, or an array of choices, into positions in the list of choices."""
    choices = _CHOICES[name]
    given = np.asarray(value, dtype=object)
    places = {choice: k for k, choice in enumerate(choices)}
    flat = given.ravel().tolist()
    try:
        # True is not the number 1
        found = [-1 if v is True and name not in _YES_OR_NO else places.get(v, -1) for v in flat]
    except TypeError:  # lists and the like cannot be looked up
        found = [-1] * len(flat)
    if -1 in found:
        allowed = " or ".join("none" if c is None else str(c) for c in choices)
        faults.append(Fault(name, str(flat[found.index(-1)]), allowed))
        return np.zeros(given.shape, dtype=np.int64)
    return np.array(found, dtype=np.int64).reshape(given.shape)


def scaled_inputs(what: str, inputs: Mapping[str, Any]) -> ScaledInputs:
    """Check and scale the arguments of `posture.hold_posture`; `what` names them in the error, more do no harm.

    >>> nurse = dict(stature_m=1.61, mass_kg=74.0, sex="F", reach_m=0.3, hand_height_m=0.9, bed_height_m=0.8)
    >>> rest = dict(lift_n=0.0, technique="best", hands=2, brace=None, shoe_friction=None, back_arm_m=None,
    ...             facing_rad=None, held=False, weight_shift=False)
    >>> given = scaled_inputs("posture", nurse | rest | {"pull_n": [50.0, 100.0]})
    >>> given.shape, given.shoe_friction.tolist()
    ((2,), [0.5, 0.5])
    """
    given = dict(inputs) | {
        name: evidence.assumption(key).typical for name, key in _LEFT_OUT.items() if inputs[name] is None
    }
    if given[_FACING] is None:
        given[_FACING] = np.nan
    faults: list[Fault] = []
    values: dict[str, Any] = {}
    for limit in evidence.table("posture_inputs"):
        name, low, high = limit["field"], float(limit["low"]), float(limit["high"])
        try:
            value = np.asarray(given[name], dtype=float)
        except (TypeError, ValueError):
            faults.append(Fault(name, str(given[name]), "a number", limit["unit"]))
            continue
        inside = (value >= low) & (value <= high) | ((name == _FACING) & np.isnan(value))
        if not inside.all():
            shown = value[~inside].ravel()[0]
            faults.append(Fault(name, f"{shown:g}", f"{low:g} to {high:g}", limit["unit"]))
        values[name] = value
    codes = {name: _choice_places(name, given[name], faults) for name in _CHOICES}
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
    along_bed = np.isfinite(flat[_FACING])
    task = Task(
        pull=flat["pull_n"] / weight,
        lift=flat["lift_n"] / weight,
        reach=flat["reach_m"] / tall,
        hand_height=hand / tall,
        bed_height=bed / tall,
        sex=flat["sex"],
        technique=flat["technique"],
        hands=flat["hands"] + 1.0,
        # the edge gives no support along the bed
        brace=np.where(along_bed, 0, flat["brace"]),
        shoe_friction=flat["shoe_friction"],
        across=np.where(along_bed, np.cos(flat[_FACING]), 1.0),
        stance=np.full(tall.shape, proportions().stance),
    )
    return ScaledInputs(
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
        facing=flat[_FACING],
        held=flat["held"].astype(float),
        weight_shift=flat["weight_shift"].astype(bool),
        task=task,
    )
