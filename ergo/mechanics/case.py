"""The numbers of one scenario, ready for the mechanics: single values, or arrays of draws."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ergo.evidence import assumption, row
from ergo.inputs.scenario import OwnAid, Patient, Scenario, Sex, has_airway_lead, has_tube_holder
from ergo.mechanics.body import LEVELS, REGION, SEGMENTS, Body, build_body, limbs_laid_over
from ergo.mechanics.friction import Aid, Contact, along_last_axis, find_aid, skin_on_linen
from ergo.mechanics.mattress import Mattress, find_on_back, mattress_range, mattress_under
from ergo.mechanics.sliding import usual_slide_time
from ergo.remembered import remembered

__all__ = ["Case", "aid_of", "build_case", "find_lying", "mattress_of", "turns_over"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Case:
    """Everything a move's demand is computed from.

    Attributes
    ----------
    body : Body
    aid : Aid
    mu : ndarray, shape (..., interfaces) [-]
        From the gripped layer down to the bed.
    linen_mu : ndarray, shape (...) [-]
        Friction of what lies off the aid.
    covered : ndarray of bool, shape (segments,)
    head_carried : bool
        Else it drags and turns with the body.
    head_hands : 1 or 2
        With which the airway lead carries it: one where the other holds the tube.
    breakaway : ndarray [-]
    pull_rad : ndarray [rad]
    hand_height_m, turned_fraction : ndarray
    slide_time_s : ndarray [s]
        Time of one pull, of a short one where it was not `slide_time_stated`: see `slide_time`.
    overhang_m : float [m]
        How far the gripped layer reaches beyond the patient's side, where hands can take it.
    handler_shoulder_m : float [m]
        Height of a median woman's shoulder above the mattress.
    mattress : Mattress
    limbs_over_m : ndarray, shape (...) [m]
        How far limbs that are laid over before a turn move the centre of mass towards the side turned to.
    """

    body: Body
    aid: Aid
    mu: Floats
    linen_mu: Floats
    covered: NDArray[np.bool_]
    head_carried: bool
    head_hands: Literal[1, 2]
    breakaway: Floats
    pull_rad: Floats
    hand_height_m: Floats
    slide_time_s: Floats
    slide_time_stated: bool
    turned_fraction: Floats
    overhang_m: float
    handler_shoulder_m: float
    mattress: Mattress
    limbs_over_m: Floats

    def slide_time(self, distance_m: float) -> Floats:
        """Return how long a pull of this length takes [s]: as stated, or as it follows from the length."""
        return self.slide_time_s if self.slide_time_stated else usual_slide_time(distance_m, self.slide_time_s)


def aid_of(scenario: Scenario) -> Aid:
    """Return the aid that the scenario uses: its own, or one of the registry.

    >>> from ergo.inputs import examples
    >>> boost = examples.boost()
    >>> aid_of(boost).name
    'cotton draw sheet'
    """
    own = {aid.name: aid for aid in scenario.own_aids}
    return _own_aid(own[scenario.aid]) if scenario.aid in own else find_aid(scenario.aid)


def _first(*values: float | None) -> float:
    return next(value for value in values if value is not None)


def _own_aid(own: OwnAid) -> Aid:
    measured = bool(own.measured)
    note = own.measured or "friction entered by the user, not measured"
    known = "site measurement" if measured else "entered by the user"
    contacts = tuple(Contact(c.upper, c.lower, c.mu_low, c.mu, c.mu_high, "", known, note) for c in own.interfaces)
    flag = "" if measured else "unmeasured"
    every_move = ("slide", "turn", "lateral")
    usual = assumption("transfer_grip_gap")
    overhang = (usual.low, usual.typical, usual.high) if own.overhang_m is None else (own.overhang_m,) * 3
    capacity = own.rated_capacity_kg
    return Aid(
        own.name, contacts, own.covers, every_move, own.use, flag, capacity, overhang, known, note,
        own.transfer_by, own.far_edge,
    )  # fmt: skip


def build_case(scenario: Scenario, draws: Mapping[str, ArrayLike] | None = None) -> Case:
    """Return the numbers of a scenario.

    >>> from ergo.inputs import examples
    >>> boost = examples.boost()
    >>> case = build_case(boost, {"mu_0": [0.2, 0.4]})
    >>> case.aid.name, case.mu[:, 0].tolist()
    ('cotton draw sheet', [0.2, 0.4])
    """
    draws = draws or {}
    patient, handling = scenario.patient, scenario.handling
    aid = aid_of(scenario)

    def value(name: str, typical: float) -> Floats:
        return np.asarray(draws.get(name, typical), dtype=float)

    drawn = "breadth_scale" in draws or "depth_scale" in draws
    scales = value("breadth_scale", 1.0), value("depth_scale", 1.0)
    body = _body(patient.sex, partial(getattr, patient), *scales) if drawn else _lying([scenario])[0].body
    stack = [value(f"mu_{i}", contact.mu) for i, contact in enumerate(aid.contacts)]
    stated_gap, overhang, time = handling.grip_gap_m, handling.overhang_m, handling.slide_time_s
    shoulder = float(row("stature_fractions", item="shoulder height")["fraction_of_stature"])
    return Case(
        body=body,
        aid=aid,
        mu=along_last_axis(*stack),
        linen_mu=value("linen_mu", skin_on_linen().mu),
        covered=np.array([REGION[s] in aid.covers for s in SEGMENTS]),
        head_carried=handling.head_carried and has_airway_lead(scenario),
        head_hands=1 if patient.intubated and not has_tube_holder(scenario) else 2,
        breakaway=value("breakaway", assumption("breakaway_ratio").typical),
        pull_rad=value("pull_rad", np.radians(handling.pull_angle_deg)),
        hand_height_m=value("hand_height_m", handling.hand_height_m),
        slide_time_s=value("slide_time_s", assumption("slide_time").typical if time is None else time),
        slide_time_stated=time is not None,
        turned_fraction=value("turned_fraction", handling.turned_fraction),
        overhang_m=_first(stated_gap, overhang, aid.overhang_m[1]),
        handler_shoulder_m=shoulder * assumption("handler_stature").typical - scenario.bed.height_m,
        mattress=mattress_of(scenario, draws),
        limbs_over_m=_limbs_over(scenario, body),
    )


def turns_over(scenario: Scenario) -> bool:
    """Say whether the patient makes a half turn.

    >>> from ergo.inputs import examples
    >>> turns_over(examples.prone_turn(82.0, "slide sheet")), turns_over(examples.side_lying_turn())
    (True, False)
    """
    return scenario.makes("prone turn", "return to supine")


def _limbs_over(scenario: Scenario, body: Body) -> Floats:
    """Nothing where limbs stay as they lie."""
    if not scenario.handling.ankle_crossed_arm_tucked:
        return np.zeros(())
    return limbs_laid_over(body, "under the hip" if turns_over(scenario) else "across the chest")


def mattress_of(scenario: Scenario, draws: Mapping[str, ArrayLike]) -> Mattress:
    """Return what gives under the patient, with the immersion and the loss of every draw where they are drawn.

    >>> from ergo.inputs import examples
    >>> mattress_of(examples.boost(bed={"immersion_m": 0.0}), {}).gives
    False
    """
    patient, (sink, loss) = scenario.patient, _gives(scenario)
    if "immersion_m" not in draws and "mattress_loss" not in draws:
        return _lying([scenario])[0].mattress
    drawn = draws.get("immersion_m", sink), draws.get("mattress_loss", loss)
    return mattress_under(patient.mass_kg, patient.stature_m, *drawn)


def _gives(scenario: Scenario) -> tuple[float, float]:
    """Immersion of the reference patient into the scenario's mattress [m], and what it loses."""
    bed = scenario.bed
    stated, loss = bed.immersion_m, mattress_range(bed.mattress, "loss").typical
    return mattress_range(bed.mattress, "immersion").typical if stated is None else stated, loss


def find_lying(scenarios: Iterable[Scenario]) -> None:
    """Find the bodies of many patients, and how their mattresses bear them on the back, all together."""
    lying = _lying(list(scenarios))
    find_on_back([(one.body.outline, one.mattress) for one in lying])


class _Lying(NamedTuple):
    """A patient's body, and the mattress under it."""

    body: Body
    mattress: Mattress


_KNOWN: dict[tuple[Patient, float, float], _Lying] = {}  # neither aid, procedure nor team changes it
_MOST_KNOWN = 1024  # of about five kilobytes


def _lying(scenarios: Sequence[Scenario]) -> list[_Lying]:
    asked = [(scenario.patient, *_gives(scenario)) for scenario in scenarios]
    return remembered(_KNOWN, zip(asked, asked, strict=True), _found_lying, _MOST_KNOWN)


def _found_lying(asked: Sequence[tuple[Patient, float, float]]) -> list[_Lying]:
    patients, sink, loss = zip(*asked, strict=True)
    masses, statures = (np.array([getattr(p, name) for p in patients]) for name in ("mass_kg", "stature_m"))
    under = mattress_under(masses, statures, sink, loss)
    bodies: dict[int, Body] = {}
    for sex in {p.sex for p in patients}:
        same = [k for k, p in enumerate(patients) if p.sex == sex]
        bodies |= zip(same, _body(sex, partial(_told, [patients[k] for k in same])).each(), strict=True)
    return [
        _Lying(bodies[k], Mattress(np.asarray(pressed), np.asarray(lost)))
        for k, (pressed, lost) in enumerate(zip(under.pressed_m2, under.loss, strict=True))
    ]


def _told(patients: Sequence[Patient], name: str) -> Floats:
    """What is stated of each patient; not a number where nothing is."""
    return np.array([getattr(p, name) for p in patients], dtype=float)


def _body(sex: Sex, told: Callable[[str], Any], breadth_scale: ArrayLike = 1.0, depth_scale: ArrayLike = 1.0) -> Body:
    """The body of one patient, or of many of one sex, of whom this is told."""
    return build_body(
        sex,
        told("mass_kg"),
        told("stature_m"),
        measured={level: (told(f"{level}_breadth_m"), told(f"{level}_depth_m")) for level in LEVELS},
        breadth_scale=breadth_scale,
        depth_scale=depth_scale,
    )
