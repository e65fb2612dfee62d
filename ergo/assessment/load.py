"""What one person does in one action, and what it costs the body."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from ergo.assessment.team import Person
from ergo.evidence import row
from ergo.handlers.posture import REASONS, sweep
from ergo.handlers.strength import shoulder_action, strength
from ergo.inputs.scenario import Scenario, Sex, Technique
from ergo.mechanics.demand import Effort
from ergo.mechanics.hand_actions import ActionName
from ergo.remembered import remembered

__all__ = [
    "BodyLoad",
    "PersonLoad",
    "Row",
    "bodies_of",
    "bodies_of_many",
    "facing_of",
    "hands_within_search",
    "load_of",
    "loads_of",
    "shifts_weight",
]

Row = tuple[Effort, Person, float]


@dataclass(frozen=True, slots=True)
class BodyLoad:
    """One person's body while holding the force.

    Forces in N, moments in N m, lengths in m. `share_strong_enough` is the part of the person's sex that has the
    strength for the torso and shoulder moments; `shoulder_over_bed_m` is how far the shoulder leans over the edge, and
    `brace_n` what the edge pushes back with when the body rests on it. Side bend and twist come with a force along the
    bed; `stance_m` is from ankle to ankle.
    """

    can_be_held: bool
    reason: str
    compression_n: float
    shear_n: float
    muscle_n: float
    l5s1_moment_nm: float
    shoulder_moment_nm: float
    elbow_moment_nm: float
    floor_friction: float
    extended_arm: float
    shoulder_over_bed_m: float
    trunk_flexion_deg: float
    knee_flexion_deg: float
    share_strong_enough: float
    brace_n: float
    side_bend_nm: float
    twist_nm: float
    stance_m: float


@dataclass(frozen=True, slots=True)
class PersonLoad:
    """What one person does in one effort.

    `start_n`, `steady_n` and `hold_n` are along the line of the hands: peak, while it lasts, held at the end; `pull_n`
    is the level part of the peak towards the person, negative in a push; `lift_n` is its upward part, negative where
    the hands pull down. `capacity_n` is what the person can manage there; `part` says
    which part of a move in parts.
    """

    person: Person
    role: ActionName
    fraction: float
    start_n: float
    steady_n: float
    hold_n: float
    pull_n: float
    lift_n: float
    held_kg: float
    reach_m: float
    hand_height_m: float
    body: BodyLoad
    capacity_n: float = float("inf")
    part: str = ""

    @property
    def does(self) -> str:
        """What the person does, and in which part of the move."""
        return f"{self.role}, {self.part}" if self.part else self.role

    @property
    def held_share(self) -> float:
        """The part of the peak that is held at the end of the move."""
        return self.hold_n / self.start_n if self.start_n > 0 else 0.0

    @property
    def sex(self) -> Sex:
        """The person's sex."""
        return self.person.sex


def loads_of(scenario: Scenario, rows: Sequence[Row]) -> list[PersonLoad]:
    """Return the load of each row: an effort, a person, and the fraction of the effort that falls to them."""
    bodies = bodies_of(scenario, rows, [scenario.handling.technique] * len(rows))
    return [load_of(scenario, *row, body) for row, body in zip(rows, bodies, strict=True)]


def bodies_of(scenario: Scenario, rows: Sequence[Row], techniques: Sequence[Technique]) -> list[BodyLoad]:
    """Return the posture, one technique a row, that holds each row's force, and what it costs the body."""
    return bodies_of_many([scenario] * len(rows), rows, techniques)


_KNOWN: dict[tuple[object, ...], BodyLoad] = {}
_MOST_KNOWN = 20_000  # of about a kilobyte; then they start anew


def bodies_of_many(cases: Sequence[Scenario], rows: Sequence[Row], techniques: Sequence[Technique]) -> list[BodyLoad]:
    """Return the same for rows of several cases; a body that was found before is remembered."""
    asked = list(zip(cases, rows, techniques, strict=True))
    keys = [_key(*one) for one in asked]
    return remembered(_KNOWN, zip(keys, asked, strict=True), _searched, _MOST_KNOWN)


def _key(case: Scenario, row: Row, technique: Technique) -> tuple[object, ...]:
    """All that a body depends on."""
    (effort, person, fraction), how = row, case.handling
    numbers = effort.start_n, effort.elevation, effort.reach_m, effort.hand_height_m
    hands = effort.hands, effort.along_bed, bool(effort.hold_n > 0)
    bed = case.bed.height_m, technique, how.shoe_friction, how.brace, how.back_arm_m, how.facing_deg, how.weight_shift
    return person.sex, person.stature_m, person.mass_kg, fraction, *map(float, numbers), *hands, *bed


def _searched(asked: Sequence[tuple[Scenario, Row, Technique]]) -> list[BodyLoad]:
    cases, rows, techniques = zip(*asked, strict=True)
    beds = [case.bed.height_m for case in cases]
    handling = [case.handling for case in cases]

    def column(values: Sequence[float]) -> np.ndarray:
        return np.array(values, dtype=float)

    # Nobody holds the largest force that a posture is searched for; a larger one need not be tried.
    start = np.minimum(column([f * float(effort.start_n) for effort, _, f in rows]), _most("pull_n"))
    up = column([float(effort.elevation) for effort, _, _ in rows])
    sexes = np.array([person.sex for _, person, _ in rows])
    found = sweep(
        stature_m=column([person.stature_m for _, person, _ in rows]),
        mass_kg=column([person.mass_kg for _, person, _ in rows]),
        sex=sexes,
        reach_m=np.minimum(column([float(effort.reach_m) for effort, _, _ in rows]), _most("reach_m")),
        hand_height_m=column(
            [bed + float(effort.hand_height_m) for bed, (effort, _, _) in zip(beds, rows, strict=True)]
        ),
        bed_height_m=column(beds),
        pull_n=start * np.cos(up),
        lift_n=start * np.sin(up),
        technique=np.array(techniques),
        hands=np.array([effort.hands for effort, _, _ in rows]),
        shoe_friction=column([how.shoe_friction for how in handling]),
        brace=[None if how.brace == "none" else how.brace for how in handling],
        back_arm_m=column([how.back_arm_m for how in handling]),
        held=[bool(effort.hold_n > 0) for effort, _, _ in rows],
        weight_shift=[
            shifts_weight(case, bool(effort.hold_n > 0)) for case, (effort, _, _) in zip(cases, rows, strict=True)
        ],
        facing_rad=column(
            [
                np.nan if (facing := facing_of(case, effort.along_bed, technique)) is None else facing
                for case, (effort, _, _), technique in zip(cases, rows, techniques, strict=True)
            ]
        ),
    )
    columns = (  # in the order of the fields of BodyLoad
        found.can_be_held,
        np.array(REASONS)[found.reason_code],
        found.compression_n,
        found.shear_n,
        found.muscle_n,
        found.l5s1_moment_nm,
        found.shoulder_moment_nm,
        found.elbow_moment_nm,
        found.floor_friction,
        found.extended_arm,
        found.shoulder_x_m,
        found.trunk_flexion_deg,
        found.knee_flexion_deg,
        _share_strong_enough(sexes, found.l5s1_moment_nm, found.shoulder_moment_nm),
        found.brace_n,
        found.side_bend_nm,
        found.twist_nm,
        found.stance_m,
    )
    return [BodyLoad(*row) for row in zip(*(column.tolist() for column in columns), strict=True)]


def facing_of(scenario: Scenario, along_bed: bool, technique: Technique) -> float | None:
    """Return how far from across the bed towards its head a person turns [rad]; None where the force goes across.

    >>> from ergo.inputs import examples
    >>> boost = examples.boost()
    >>> [round(np.degrees(facing_of(boost, True, how))) for how in ("bed too low", "typical", "best")]
    [0, 45, 70]
    """
    if not along_bed:
        return None
    stated = scenario.handling.facing_deg
    return math.radians(_facing_deg(technique) if stated is None else stated)


def shifts_weight(scenario: Scenario, held: bool) -> bool:
    """Return whether somebody may shift weight in a long stance: where that is done, and nothing is held still.

    >>> from ergo.inputs import examples
    >>> shifts = examples.boost(handling={"weight_shift": True})
    >>> shifts_weight(shifts, held=False), shifts_weight(shifts, held=True)
    (True, False)
    """
    return scenario.handling.weight_shift and not held


@cache
def _facing_deg(technique: Technique) -> float:
    """Return how far from across the bed towards its head a technique turns."""
    return float(row("techniques", technique=technique)["facing_deg"])


@cache
def _most(field: str) -> float:
    """The largest value of a field that a posture search takes; nobody's hands get that far or hold that much."""
    return float(row("posture_inputs", field=field)["high"])


def hands_within_search(load: PersonLoad) -> dict[str, float]:
    """Return where a person's hands are and how they pull and lift, no further and no harder than postures are tried.

    >>> from ergo.assessment import assess
    >>> from ergo.inputs import examples
    >>> load = assess(examples.boost()).moves[0].loads[0]
    >>> hands_within_search(load) == {"reach_m": load.reach_m, "pull_n": load.pull_n, "lift_n": load.lift_n}
    True
    """
    part = min(1.0, _most("pull_n") / max(load.start_n, 1e-9))
    return {
        "reach_m": min(load.reach_m, _most("reach_m")),
        "pull_n": load.pull_n * part,
        "lift_n": load.lift_n * part,
    }


def _share_strong_enough(sexes: np.ndarray, torso_nm: np.ndarray, shoulder_nm: np.ndarray) -> np.ndarray:
    """The part of each person's own sex that has the strength for the torso and the shoulder moment."""
    able = np.ones(len(sexes))
    sides: tuple[Sex, ...] = ("F", "M")
    for sex in sides:
        torso = strength("torso extension", sex).share_strong_enough(torso_nm)
        up, down = (strength(shoulder_action(sign), sex).share_strong_enough(shoulder_nm) for sign in (1.0, -1.0))
        own = np.minimum(torso, np.where(shoulder_nm > 0, up, down))
        able = np.where(sexes == sex, own, able)
    return able


def load_of(
    scenario: Scenario,
    effort: Effort,
    person: Person,
    fraction: float,
    body: BodyLoad,
    capacity_n: float = float("inf"),
) -> PersonLoad:
    """Return what a person does in an effort, with the body that was found for it."""
    start, up = fraction * float(effort.start_n), float(effort.elevation)
    return PersonLoad(
        person=person,
        role=effort.role,
        fraction=fraction,
        start_n=start,
        steady_n=fraction * float(effort.steady_n),
        hold_n=fraction * float(effort.hold_n),
        pull_n=start * float(np.cos(up)),
        lift_n=start * float(np.sin(up)),
        held_kg=fraction * float(effort.held_kg),
        reach_m=float(effort.reach_m),
        hand_height_m=scenario.bed.height_m + float(effort.hand_height_m),
        body=body,
        capacity_n=capacity_n,
        part=effort.part,
    )
