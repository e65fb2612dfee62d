"""What one pair of hands can manage: the first force, from none up, at which a deciding limit or the posture fails."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ergo.evidence import row
from ergo.handlers.person import Person
from ergo.handlers.posture import Sweep, sweep
from ergo.inputs.scenario import Scenario, Technique
from ergo.limits.policy import POLICIES
from ergo.limits.registry import LIMITS, Condition, Limit, NotApplicable
from ergo.limits.values import ValueOf, arms_extended_force, endurance_s, figure, guideline, strength_that_most_have
from ergo.units import G

__all__ = ["Capacity", "Hands", "capacities", "person_condition", "reset"]

Floats = NDArray[np.float64]
Against = Literal["policy", "upper limits"]

_NEGLIGIBLE = 1e-9
_PARTS = np.linspace(0.0, 1.0, 5)  # of the force at which a limit on the force itself is reached
_ROUNDS = 2  # in which the force where a posture fails is sought between two of them


class Hands(NamedTuple):
    """One pair of hands in one action: where they are, which way they work, how long the force is held.

    `level` is the part of a newton towards the person (a push is negative), `up` the part upwards; lengths in m, the
    hands' height above the mattress. `back_arm_m` and `technique` None are those of the scenario.
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
    back_arm_m: float | None = None


class Capacity(NamedTuple):
    """The first force at which something fails [N], and whether a deciding limit does not cover where the hands are."""

    force_n: float
    uncovered: bool


_KNOWN: dict[tuple[object, ...], Capacity] = {}
_MOST_KNOWN = 100_000  # of about 300 bytes; then they start anew


def reset() -> None:
    """Forget every capacity that was found."""
    _KNOWN.clear()


def capacities(
    asked: Sequence[tuple[Scenario, Hands]], against: Against = "policy", rounds: int = _ROUNDS
) -> list[Capacity]:
    """Return what each pair of hands can manage: the limits of the policy, or the upper limits, and the posture.

    The upper limits are 6.4 kN at L5/S1 and the guideline that protects the low back of half the people. All postures
    that are not known yet are found together. Where one fails between two of the forces that were tried, the force is
    sought in so many more rounds; without any it lies within a few percent.

    >>> from ergo.inputs import examples
    >>> boost = examples.boost()
    >>> near = Hands(Person("F", 1.61, 74.0), 1.0, 0.0, 0.2, 0.1)
    >>> one, far = capacities([(boost, near), (boost, near._replace(reach_m=0.7))])
    >>> one.force_n > far.force_n > 0.0, one.uncovered
    (True, False)
    """
    keys = [_key(scenario, hands, against, rounds) for scenario, hands in asked]
    unlike = {key: ask for key, ask in zip(keys, asked, strict=True) if key not in _KNOWN}
    if unlike:
        if len(_KNOWN) + len(unlike) > _MOST_KNOWN:
            _KNOWN.clear()
            unlike = dict(zip(keys, asked, strict=True))
        found = _found(list(unlike.values()), against, rounds)
        _KNOWN.update(zip(unlike, found, strict=True))
    return [_KNOWN[key] for key in keys]


def _key(scenario: Scenario, hands: Hands, against: Against, rounds: int) -> tuple[object, ...]:
    person, handling, policy = hands.person, scenario.handling, scenario.policy
    body = person.sex, person.stature_m, person.mass_kg
    how = handling.technique, handling.brace, handling.shoe_friction, handling.back_arm_m
    rules = policy.protect, policy.site_limit_n, policy.minutes_between_efforts, policy.loadings_per_day
    return body, *hands[1:], scenario.bed.height_m, how, rules, against, rounds


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


def _found(asked: Sequence[tuple[Scenario, Hands]], against: Against, rounds: int) -> list[Capacity]:
    straight = [_by_force(scenario, hands, against) for scenario, hands in asked]
    top = np.array([force for force, _ in straight])
    uncovered = [out for _, out in straight]
    worth = [k for k, force in enumerate(top) if force > 0.0]
    if worth:
        top[worth] = _by_posture([asked[k] for k in worth], top[worth], against, rounds)
    return [Capacity(float(force), out) for force, out in zip(top, uncovered, strict=True)]


def _by_force(scenario: Scenario, hands: Hands, against: Against) -> tuple[float, bool]:
    """The force at which a limit on the force itself is reached; nil where one that decides says nothing."""
    condition = person_condition(scenario, hands)
    level, up = abs(hands.level), hands.up
    parts = {"start force": level, "hand force": level, "upward force": up, "held mass": 1.0 / G}
    if hands.held:
        parts |= {"start force": 0.0, "hand force": 0.0}
    else:
        parts["held mass"] = 0.0
    least, uncovered = float(row("posture_inputs", field="pull_n")["high"]), False
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


def _on_force(scenario: Scenario, against: Against) -> list[tuple[Limit, ValueOf]]:
    if against == "policy":
        return [(limit, limit.value) for limit in POLICIES[scenario.policy.protect].limits if not limit.by_posture]
    return [(limit, guideline(50)) for limit in LIMITS if limit.key == "pull_guideline"]


def _by_posture(asked: Sequence[tuple[Scenario, Hands]], top: Floats, against: Against, rounds: int) -> Floats:
    """The first force up to `top` at which a posture fails or is over a limit; straight between two forces."""
    low = np.zeros(len(asked))
    high = top.copy()
    found = top.copy()
    still = np.arange(len(asked))
    for _ in range(rounds + 1):
        forces = low[still, None] + _PARTS * (high[still] - low[still])[:, None]
        ratio = _posture_ratio([asked[int(k)] for k in still], forces, against)
        over = ratio > 1.0
        some = over.any(axis=1)
        first = np.argmax(over, axis=1)
        found[still[~some]] = high[still[~some]]
        still, forces, ratio, first = still[some], forces[some], ratio[some], first[some]
        if not len(still):
            break
        at, before = np.arange(len(still)), np.maximum(first - 1, 0)
        low[still], high[still] = forces[at, before], forces[at, first]
        below, above = ratio[at, before], ratio[at, first]
        rise = np.where(np.isfinite(above), above - below, np.inf)
        part = np.where(rise > 0.0, (1.0 - below) / np.where(rise > 0.0, rise, 1.0), 0.0)
        found[still] = low[still] + np.clip(part, 0.0, 1.0) * (high[still] - low[still])
        found[still[first == 0]] = 0.0
        still = still[first > 0]
        if not len(still):
            break
    return found


def _most(field: str) -> float:
    return float(row("posture_inputs", field=field)["high"])


def posture_of(asked: Sequence[tuple[Scenario, Hands]], forces: Floats) -> Sweep:
    """Return the postures that hold some forces, shape (hands, forces)."""

    def column(values: Iterable[float]) -> Floats:
        return np.array(list(values), dtype=float)[:, None]

    beds = column(scenario.bed.height_m for scenario, _ in asked)
    handling = [scenario.handling for scenario, _ in asked]
    return sweep(
        stature_m=column(hands.person.stature_m for _, hands in asked),
        mass_kg=column(hands.person.mass_kg for _, hands in asked),
        sex=np.array([hands.person.sex for _, hands in asked])[:, None],
        reach_m=np.minimum(column(hands.reach_m for _, hands in asked), _most("reach_m")),
        hand_height_m=beds + column(hands.hand_height_m for _, hands in asked),
        bed_height_m=beds,
        pull_n=forces * column(hands.level for _, hands in asked),
        lift_n=forces * column(hands.up for _, hands in asked),
        technique=np.array([hands.technique or how.technique for how, (_, hands) in zip(handling, asked, strict=True)])[
            :, None
        ],
        hands=np.array([hands.hands for _, hands in asked])[:, None],
        shoe_friction=column(how.shoe_friction for how in handling),
        brace=np.array([None if how.brace == "none" else how.brace for how in handling], dtype=object)[:, None],
        back_arm_m=column(hands.back_arm_m or how.back_arm_m for how, (_, hands) in zip(handling, asked, strict=True)),
    )


def _posture_ratio(asked: Sequence[tuple[Scenario, Hands]], forces: Floats, against: Against) -> Floats:
    """The worst ratio to the limits that follow from the posture; infinite where no posture holds the force."""
    found = posture_of(asked, forces)
    compression = np.maximum(found.compression_n, 0.0)
    if against == "upper limits":
        ratio = compression / figure("spine_upper_limit")
    else:
        ratio = _policy_ratio(asked, forces, found, compression)
    return np.where(found.can_be_held, ratio, np.inf)


def _policy_ratio(asked: Sequence[tuple[Scenario, Hands]], forces: Floats, found: Sweep, compression: Floats) -> Floats:
    conditions = [person_condition(scenario, hands) for scenario, hands in asked]
    deciding = [POLICIES[scenario.policy.protect].deciding for scenario, _ in asked]

    def decides(key: str) -> Floats:
        return np.array([key in keys for keys in deciding], dtype=float)[:, None]

    values = {limit.key: limit for limit in LIMITS}
    shear = [values["spine_shear"].value(c) for c in conditions]
    shear_n = np.array([np.nan if isinstance(v, NotApplicable) else v.value for v in shear])[:, None]
    level = np.array([0.0 if hands.held else hands.level for _, hands in asked])[:, None]
    seconds = np.array([c.seconds for c in conditions])[:, None]
    longest = figure("aorn_longest_hold")
    own = np.array([c.held_mass and c.seconds <= longest for c in conditions])[:, None]
    able = np.array([[strength_that_most_have(c.body_sex, c.percent, up) for up in (True, False)] for c in conditions])
    moment = found.shoulder_moment_nm
    part = np.abs(moment) / np.where(moment > 0.0, able[:, :1], able[:, 1:])
    rows = [
        decides("spine_lower_limit") * compression / figure("spine_lower_limit"),
        decides("spine_shear") * np.where(np.isnan(shear_n), np.inf, np.abs(found.shear_n) / shear_n),
        decides("floor_friction") * found.floor_friction / figure("floor_friction_min"),
        decides("ccohs_arms_extended")
        * np.maximum(forces * level, 0.0)
        / arms_extended_force(found.shoulder_x_m, found.extended_arm),
        decides("hold_endurance") * np.where(own | (seconds <= 0.0), 0.0, seconds / endurance_s(part)),
    ]
    return np.asarray(np.max(np.nan_to_num(np.array(np.broadcast_arrays(*rows)), nan=np.inf), axis=0))
