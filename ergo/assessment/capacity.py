"""What one pair of hands can manage: the first force, from none up, at which a deciding limit or the posture fails."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ergo.assessment.load import facing_of, shifts_weight
from ergo.evidence import row
from ergo.handlers.person import Person
from ergo.handlers.posture import Sweep, sweep
from ergo.inputs.scenario import Protect, Scenario, Technique
from ergo.limits.policy import POLICIES
from ergo.limits.registry import LIMITS, Condition, Limit, NotApplicable
from ergo.limits.values import ValueOf, arms_extended_force, endurance_s, figure, guideline, strength_that_most_have
from ergo.remembered import remembered
from ergo.units import G

__all__ = ["Capacity", "Hands", "capacities", "capacities_by_back_arm", "force_limit", "person_condition"]

Floats = NDArray[np.float64]
Against = Literal["policy", "upper limits"]

_NEGLIGIBLE = 1e-9
_ENDS = np.array([0.0, 1.0])  # of the force at which a limit on the force itself is reached
_PARTS = np.linspace(0.0, 1.0, 5)
_FEW_PARTS = np.array([0.0, 0.4, 0.75, 1.0])
_ROUNDS = 3  # in which the force where a posture fails is sought between two of them


class Hands(NamedTuple):
    """One pair of hands in one action: where they are, which way they work, how long the force is held.

    `level` is the part of a newton towards the person (a push is negative), `up` the part upwards; lengths in m, the
    hands' height above the mattress. `technique` None is that of the scenario.
    """

    person: Person
    level: float
    up: float
    reach_m: float
    hand_height_m: float
    hold_s: float = 0.0
    hands: Literal[1, 2] = 2
    held: bool = False
    along: bool = False
    technique: Technique | None = None


class Capacity(NamedTuple):
    """The first force at which something fails [N], whether a deciding limit does not cover where the hands are, and
    whether it is the posture that fails, not a limit on the force itself."""

    force_n: float
    uncovered: bool
    by_posture: bool = False


_KNOWN: dict[tuple[object, ...], tuple[Capacity, ...]] = {}
_MOST_KNOWN = 100_000  # of about 300 bytes; then they start anew


def capacities(asked: Sequence[tuple[Scenario, Hands]], against: Against = "policy") -> list[Capacity]:
    """Return what each pair of hands can manage: the limits of the policy, or the upper limits, and the posture.

    The upper limits are 6.4 kN at L5/S1 and the guideline that protects the low back of half the people. All postures
    that are not known yet are found together.

    >>> from ergo.inputs import examples
    >>> boost = examples.boost()
    >>> near = Hands(Person("F", 1.61, 74.0), 1.0, 0.0, 0.2, 0.1)
    >>> one, far = capacities([(boost, near), (boost, near._replace(reach_m=0.7))])
    >>> one.force_n > far.force_n > 0.0, one.uncovered
    (True, False)
    """
    return [every[0] for every in _remembered(asked, against, (None,), _ROUNDS)]


def capacities_by_back_arm(
    asked: Sequence[tuple[Scenario, Hands]], back_arms_m: tuple[float, ...]
) -> list[tuple[Capacity, ...]]:
    """Return the same at each of some moment arms of the back, from few forces: within a few percent.

    >>> from ergo.inputs import examples
    >>> boost, low = examples.boost(), Hands(Person("F", 1.61, 74.0), 0.0, 1.0, 0.3, 0.1)
    >>> ((short, long),) = capacities_by_back_arm([(boost, low)], (0.05, 0.06))
    >>> short.force_n <= long.force_n
    True
    """
    return _remembered(asked, "policy", back_arms_m, 0)


def _remembered(
    asked: Sequence[tuple[Scenario, Hands]], against: Against, back_arms: tuple[float | None, ...], rounds: int
) -> list[tuple[Capacity, ...]]:
    rules: dict[int, tuple[object, ...]] = {}
    keys = []
    for scenario, hands in asked:
        if id(scenario) not in rules:
            rules[id(scenario)] = (*_rules(scenario), against, back_arms, rounds)
        keys.append((hands, rules[id(scenario)]))
    pairs = zip(keys, asked, strict=True)
    return remembered(_KNOWN, pairs, lambda some: _found(some, against, back_arms, rounds), _MOST_KNOWN)


def _rules(scenario: Scenario) -> tuple[object, ...]:
    """All of a scenario that a capacity depends on beside the hands."""
    handling, policy = scenario.handling, scenario.policy
    how = handling.technique, handling.brace, handling.shoe_friction, handling.back_arm_m, handling.facing_deg
    stance = handling.weight_shift
    return (
        scenario.bed.height_m, *how, stance, policy.protect, policy.site_limit_n, policy.minutes_between_efforts,
        policy.loadings_per_day,
    )  # fmt: skip


def person_condition(scenario: Scenario, hands: Hands) -> Condition:
    """Return what limits on the force itself may depend on; nothing of the posture."""
    policy, stated = POLICIES[scenario.policy.protect], scenario.policy
    return Condition(
        sex=policy.sex or hands.person.sex,
        percent=policy.percent,
        minutes_between=stated.minutes_between_efforts,
        loadings_per_day=stated.loadings_per_day,
        hand_height_m=scenario.bed.height_m + hands.hand_height_m,
        extended_arm=0.0,
        shoulder_over_bed_m=0.0,
        shoulder_moment_nm=0.0,
        hands=hands.hands,
        seconds=hands.hold_s,
        site_limit_n=stated.site_limit_n,
        reach_m=hands.reach_m,
        stature_m=hands.person.stature_m,
        steepness_deg=float(np.degrees(np.arctan2(hands.up, abs(hands.level)))),
        held_mass=hands.held,
        own_sex=hands.person.sex,
        kind="push" if hands.level < -_NEGLIGIBLE else "pull",
    )


def _found(
    asked: Sequence[tuple[Scenario, Hands]], against: Against, back_arms: tuple[float | None, ...], rounds: int
) -> list[tuple[Capacity, ...]]:
    known: dict[tuple[object, ...], tuple[float, bool]] = {}
    straight = []
    for scenario, hands in asked:
        # a level force is limited whoever the person is and wherever the hands reach
        flat, person = abs(hands.up) <= _NEGLIGIBLE, hands.person
        who: object = (person.sex, person.most_force_n) if flat else (person, hands.reach_m)
        key = id(scenario), who, hands.level, hands.up, hands.hand_height_m, hands.hold_s, hands.hands, hands.held
        if key not in known:
            known[key] = force_limit(scenario, hands, against)
        straight.append(known[key])
    top = np.array([force for force, _ in straight])
    forces = np.repeat(top[:, None], len(back_arms), axis=1)
    worth = np.flatnonzero(top > 0.0)
    if len(worth):
        some = [asked[int(k)] for k in worth]
        tables = _Bodies.of(some)
        if rounds:
            forces[worth, 0] = _by_posture(some, tables, top[worth], against, rounds)
        else:
            forces[worth] = _by_few_forces(some, tables, top[worth], back_arms)
    return [
        tuple(Capacity(float(force), out, most > 0.0 and force < most) for force in row)
        for row, (most, out) in zip(forces.tolist(), straight, strict=True)
    ]


def force_limit(scenario: Scenario, hands: Hands, against: Against = "policy") -> tuple[float, bool]:
    """Return the force at which a limit on the force itself is reached [N], and whether one that decides says nothing.

    The force is nil where one says nothing.
    """
    condition = person_condition(scenario, hands)
    level, up = abs(hands.level), hands.up
    parts = {"start force": level, "hand force": level, "upward force": up}
    if hands.held:
        parts = {"upward force": up, "held mass": 1.0 / G}
    least, uncovered = min(_most("pull_n"), hands.person.most_force_n), False
    if up > _NEGLIGIBLE:
        least = min(least, hands.person.most_lift_n / up)
    for limit, value_of in _on_force(scenario, against):
        part = parts.get(limit.quantity, 0.0)
        if part <= _NEGLIGIBLE:
            continue
        value = value_of(condition)
        if isinstance(value, NotApplicable):
            uncovered |= value.outside
        else:
            least = min(least, value.value / part)
    return (0.0 if uncovered else least), uncovered


def _on_force(scenario: Scenario, against: Against) -> tuple[tuple[Limit, ValueOf], ...]:
    if against == "policy":
        return _of_policy(scenario.policy.protect)
    return tuple((limit, guideline(50)) for limit in LIMITS if limit.key == "pull_guideline")


@cache
def _of_policy(protect: Protect) -> tuple[tuple[Limit, ValueOf], ...]:
    return tuple((limit, limit.value) for limit in POLICIES[protect].limits if not limit.by_posture)


def _by_posture(
    asked: Sequence[tuple[Scenario, Hands]], bodies: _Bodies, top: Floats, against: Against, rounds: int
) -> Floats:
    """The first force up to `top` at which a posture fails or is over a limit; straight between two forces.

    Loads of the body fall and then rise with a force, so what holds empty hands and the most holds all between.
    """
    low, high = np.zeros(len(top)), top.copy()
    found, still = _at_ends(asked, bodies, top, against)
    for _ in range(rounds):
        if not len(still):
            break
        forces = low[still, None] + _PARTS * (high[still] - low[still])[:, None]
        some = bodies.picked(still)
        ratio = _posture_ratio([asked[int(k)] for k in still], some, forces, some.sweep(forces), against, None)
        first, found[still] = _crossing(forces, ratio)
        at = np.flatnonzero((first > 0) & (first < len(_PARTS)))
        low[still[at]], high[still[at]] = forces[at, first[at] - 1], forces[at, first[at]]
        still = still[at]
    return found


def _at_ends(
    asked: Sequence[tuple[Scenario, Hands]], bodies: _Bodies, top: Floats, against: Against
) -> tuple[Floats, NDArray[np.intp]]:
    """The whole force, or none, where the ends settle it; and which rows they do not settle."""
    ends = _ENDS * top[:, None]
    over = _posture_ratio(asked, bodies, ends, bodies.sweep(ends), against, None) > 1.0
    return np.where(over[:, 0], 0.0, top), np.flatnonzero(~over[:, 0] & over[:, 1])


def _by_few_forces(
    asked: Sequence[tuple[Scenario, Hands]], bodies: _Bodies, top: Floats, back_arms: tuple[float | None, ...]
) -> Floats:
    """The same from a few forces alone, at each moment arm of the back: no posture depends on it.

    Where no posture holds the next force, the last that is held lies somewhere between, and a few more are tried.
    """
    found = np.repeat(top[:, None], len(back_arms), axis=1)
    ends = _ENDS * top[:, None]
    at_ends = bodies.sweep(ends)
    over = np.array([_posture_ratio(asked, bodies, ends, at_ends, "policy", arm) > 1.0 for arm in back_arms])
    open_rows = np.flatnonzero(over.any(axis=(0, 2)))
    if not len(open_rows):
        return found
    asked, bodies = [asked[int(k)] for k in open_rows], bodies.picked(open_rows)
    found[open_rows] = _between(asked, bodies, top[open_rows], back_arms)
    return found


def _between(
    asked: Sequence[tuple[Scenario, Hands]], bodies: _Bodies, top: Floats, back_arms: tuple[float | None, ...]
) -> Floats:
    forces = _FEW_PARTS * top[:, None]
    postures = bodies.sweep(forces)
    every = [_posture_ratio(asked, bodies, forces, postures, "policy", arm) for arm in back_arms]
    crossings = [_crossing(forces, ratio) for ratio in every]
    found = np.stack([force for _, force in crossings], axis=1)
    held = postures.can_be_held
    lost = np.flatnonzero(held[:, 0] & ~held.all(axis=1))
    if not len(lost):
        return found
    end = np.argmax(~held[lost], axis=1)
    low, high = forces[lost, end - 1, None], forces[lost, end, None]
    finer, some = low + _PARTS * (high - low), bodies.picked(lost)
    postures, whose = some.sweep(finer), [asked[int(k)] for k in lost]
    for a, arm in enumerate(back_arms):
        first, _ = crossings[a]
        between = _crossing(finer, _posture_ratio(whose, some, finer, postures, "policy", arm))[1]
        found[lost, a] = np.where(first[lost] == end, between, found[lost, a])
    return found


def _crossing(forces: Floats, ratio: Floats) -> tuple[NDArray[np.intp], Floats]:
    """The number of the first force at which a ratio is over 1, past the last where none is, and the force of 1."""
    over = ratio > 1.0
    first = np.where(over.any(axis=1), np.argmax(over, axis=1), forces.shape[1])
    rows = np.arange(len(forces))
    before, after = np.maximum(first - 1, 0), np.minimum(first, forces.shape[1] - 1)
    below, above = ratio[rows, before], ratio[rows, after]
    with np.errstate(invalid="ignore"):  # where no posture holds even the first force
        rise = np.where(np.isfinite(above), above - below, np.inf)
        part = np.where(rise > 0.0, (1.0 - below) / np.where(rise > 0.0, rise, 1.0), 0.0)
    between = forces[rows, before] + np.clip(part, 0.0, 1.0) * (forces[rows, after] - forces[rows, before])
    return first, np.where(first == 0, 0.0, np.where(first < forces.shape[1], between, forces[:, -1]))


@cache
def _most(field: str) -> float:
    return float(row("posture_inputs", field=field)["high"])


@dataclass(frozen=True, slots=True)
class _Bodies:
    """What a posture depends on, a row a pair of hands, as columns."""

    columns: dict[str, NDArray[Any]]

    @classmethod
    def of(cls, asked: Sequence[tuple[Scenario, Hands]]) -> _Bodies:
        beds = np.array([scenario.bed.height_m for scenario, _ in asked])
        hands = [one for _, one in asked]
        how = [scenario.handling for scenario, _ in asked]
        people = [one.person for one in hands]
        return cls(
            {
                "stature_m": np.array([p.stature_m for p in people]),
                "mass_kg": np.array([p.mass_kg for p in people]),
                "sex": np.array([p.sex for p in people]),
                "reach_m": np.minimum(np.array([one.reach_m for one in hands]), _most("reach_m")),
                "hand_height_m": beds + np.array([one.hand_height_m for one in hands]),
                "bed_height_m": beds,
                "level": np.array([one.level for one in hands]),
                "up": np.array([one.up for one in hands]),
                "technique": np.array([one.technique or h.technique for h, one in zip(how, hands, strict=True)]),
                "hands": np.array([one.hands for one in hands]),
                "shoe_friction": np.array([h.shoe_friction for h in how]),
                "brace": np.array([None if h.brace == "none" else h.brace for h in how], dtype=object),
                "back_arm_m": np.array([h.back_arm_m for h in how]),
                "hold_s": np.array([one.hold_s for one in hands]),
                "held": np.array([one.hold_s > 0.0 for one in hands]),
                "weight_shift": np.array([shifts_weight(case, one.hold_s > 0.0) for case, one in asked]),
                "facing_rad": np.array([_facing(case, one) for case, one in asked]),
                "mass_held": np.array([one.held for one in hands]),
            }
        )

    def picked(self, rows: NDArray[np.intp]) -> _Bodies:
        return _Bodies({name: column[rows] for name, column in self.columns.items()})

    def of_all(self, name: str) -> NDArray[Any]:
        return self.columns[name][:, None]

    def sweep(self, forces: Floats) -> Sweep:
        given = {name: self.of_all(name) for name in self.columns if name not in ("level", "up", "hold_s", "mass_held")}
        return sweep(**given, pull_n=forces * self.of_all("level"), lift_n=forces * self.of_all("up"))


def _facing(scenario: Scenario, hands: Hands) -> float:
    """How far a person turns towards the head of the bed [rad]; not a number where the force goes across."""
    facing = facing_of(scenario, hands.along, hands.technique or scenario.handling.technique)
    return float("nan") if facing is None else facing


def _posture_ratio(
    asked: Sequence[tuple[Scenario, Hands]],
    bodies: _Bodies,
    forces: Floats,
    found: Sweep,
    against: Against,
    back_arm_m: float | None,
) -> Floats:
    """The worst ratio to the limits that follow from the posture; infinite where no posture holds the force."""
    compression = found.compression_n
    if back_arm_m is not None:
        compression = compression + found.muscle_n * (bodies.of_all("back_arm_m") / back_arm_m - 1.0)
    compression = np.maximum(compression, 0.0)
    if against == "upper limits":
        ratio = compression / figure("spine_upper_limit")
    else:
        ratio = _policy_ratio(asked, bodies, forces, found, compression)
    return np.where(found.can_be_held, ratio, np.inf)


def _policy_ratio(
    asked: Sequence[tuple[Scenario, Hands]], bodies: _Bodies, forces: Floats, found: Sweep, compression: Floats
) -> Floats:
    rules: dict[int, tuple[Any, ...]] = {}
    for scenario, hands in asked:
        if id(scenario) not in rules:
            rules[id(scenario)] = _posture_rules(scenario, hands)
    every = [rules[id(scenario)] for scenario, _ in asked]
    decides = np.array([r[0] for r in every], dtype=float)
    shear_n = np.array([r[1] for r in every])[:, None]
    percent = np.array([r[2] for r in every])
    sex = bodies.columns["sex"]
    able = np.empty((len(sex), 2))
    for one in {(str(s), int(p)) for s, p in zip(sex, percent, strict=True)}:
        like = (sex == one[0]) & (percent == one[1])
        able[like] = [strength_that_most_have("F" if one[0] == "F" else "M", one[1], up) for up in (True, False)]
    moment = found.shoulder_moment_nm
    part = np.abs(moment) / np.where(moment > 0.0, able[:, :1], able[:, 1:])
    seconds, held = bodies.of_all("hold_s"), bodies.of_all("mass_held")
    own = held & (seconds <= figure("aorn_longest_hold"))
    level = np.where(held, 0.0, bodies.of_all("level"))
    rows = [
        compression / figure("spine_lower_limit"),
        np.abs(found.shear_n) / shear_n,
        found.floor_friction / figure("floor_friction_min"),
        np.maximum(forces * level, 0.0) / arms_extended_force(found.shoulder_x_m, found.extended_arm),
        np.where(own | (seconds <= 0.0), 0.0, seconds / endurance_s(part)),
    ]
    worst = np.zeros(forces.shape)
    for i, ratio in enumerate(rows):
        np.maximum(worst, np.where(decides[:, i : i + 1] > 0.0, np.nan_to_num(ratio, nan=np.inf), 0.0), out=worst)
    return worst


_BY_POSTURE = ("spine_lower_limit", "spine_shear", "floor_friction", "ccohs_arms_extended", "hold_endurance")


def _posture_rules(scenario: Scenario, hands: Hands) -> tuple[Any, ...]:
    """Which limits that follow from the posture decide, the limit of shear, and the share of people protected."""
    policy = POLICIES[scenario.policy.protect]
    found = next(limit for limit in LIMITS if limit.key == "spine_shear").value(person_condition(scenario, hands))
    shear_n = 1e-9 if isinstance(found, NotApplicable) else found.value  # nothing is within a limit that says nothing
    return [key in policy.deciding for key in _BY_POSTURE], shear_n, policy.percent
