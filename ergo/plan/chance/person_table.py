"""What a force at the hands costs a person, tabulated with the assessment's own loads and checks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ergo.assessment.asked import Demand
from ergo.assessment.check import Held, held
from ergo.assessment.crew import Person
from ergo.assessment.load import PersonLoad, Row, loads_of
from ergo.limits.registry import LIMITS, NotApplicable, Value
from ergo.mechanics.demand import Effort
from ergo.plan.chance.inputs import UncertainInput
from ergo.scenario import Scenario, Technique
from ergo.units import G

__all__ = ["PersonTable", "body_of", "person_ratio", "person_tables"]

Floats = NDArray[np.float64]
Draws = Mapping[str, Floats]

_SPINE = "spine_action"
_FORCES = 16  # nodes along the force at the hands; what follows from the posture is nearly straight between them
_NOT_HELD = 2.0  # ratio given to a force that no posture holds: twice over
_ROOM = 1.8  # the table reaches this far beyond the force at typical values; further out it goes on straight
_GRID = np.linspace(0.0, 1.0, _FORCES) ** 2  # dense at small forces, where a posture changes most
_LEAST_SPAN = 0.2  # and at least over this part of the patient's weight, where the typical force is small or nil


@dataclass(frozen=True, slots=True)
class PersonTable:
    """What a force costs one person in one effort.

    `peak_per_n` and `steady_per_n` are the worst ratios per newton, at the lowest and highest hand, to the deciding
    limits that are proportional to the peak and to the steady force. The rows of `along` run over `forces`: the worst
    ratio to the limits that follow from the posture found, compression apart; compression, and what the back muscle
    adds to it; and by how much each of the two is less in the best posture, so that the back's lever and the technique
    can be drawn. `steps` are their differences. `held` is 1 where a posture holds the force.
    """

    forces: Floats
    peak_per_n: tuple[float, float]
    steady_per_n: tuple[float, float]
    along: Floats
    steps: Floats
    held: Floats
    spine_limit: float


def body_of(person: Person) -> Person:
    """Strip a person of the place: two people of the same body share a table."""
    return replace(person, label="", along_m=0.0)


# Neither the patient's mass nor most aids change what a force costs a person, so one table serves many cases.
_KNOWN: dict[tuple[object, ...], PersonTable] = {}
_MOST_KNOWN = 8192  # of about 2 kB; then it starts anew


def person_tables(
    asked: Demand, people: dict[str, list[Person]], inputs: tuple[UncertainInput, ...]
) -> dict[tuple[int, int, Person], PersonTable]:
    """Tabulate every person in every effort; all postures that are not known yet are found in one search."""
    hand = next(i for i in inputs if i.name == "hand_height_m")
    shifts = (hand.low - hand.typical, hand.high - hand.typical)
    places: dict[tuple[int, int, Person], tuple[object, ...]] = {}
    key: tuple[object, ...]
    wanted: dict[tuple[object, ...], list[Row]] = {}
    stepped: dict[tuple[object, ...], list[Effort]] = {}
    for m, (_, efforts) in enumerate(asked.moves):
        for e, effort in enumerate(efforts):
            top = _reaching(max(float(effort.start_n) * _ROOM, _LEAST_SPAN * asked.scenario.patient.mass_kg * G))
            shape = _shape(effort, top, shifts, asked.scenario)
            sides = ("left", "right") if effort.side == "both" else (effort.side,)
            for person in dict.fromkeys(body_of(p) for side in sides for p in people[side]):
                places[(m, e, person)] = key = (person, shape)
                if key not in wanted:
                    if shape not in stepped:
                        stepped[shape] = [_at(effort, force) for force in top * _GRID]
                    wanted[key] = [(step, person, 1.0) for step in stepped[shape]]
    found = {key: table for key in wanted if (table := _KNOWN.get(key)) is not None}
    unknown = {key: rows for key, rows in wanted.items() if key not in found}
    rows = [row for group in unknown.values() for row in group]
    technique = asked.scenario.handling.technique
    techniques: list[Technique] = [technique, "best"] if technique == "typical" else [technique]
    loads = loads_of(asked.scenario, rows * len(techniques), [t for t in techniques for _ in rows])
    stated, best = loads[: len(rows)], loads[len(loads) - len(rows) :]
    for k, (key, group) in enumerate(unknown.items()):
        span = slice(k * _FORCES, (k + 1) * _FORCES)
        found[key] = _person_table(asked, group, stated[span], best[span], shifts)
    if len(_KNOWN) + len(unknown) > _MOST_KNOWN:
        _KNOWN.clear()
    _KNOWN.update((key, found[key]) for key in unknown)
    return {place: found[key] for place, key in places.items()}


def _reaching(force: float) -> float:
    """Return the next of a few round forces, four to each doubling, so that like efforts share a table."""
    return float(2.0 ** (np.ceil(np.log2(force) * 4.0) / 4.0))


def _person_table(
    asked: Demand, rows: list[Row], stated: list[PersonLoad], best: list[PersonLoad], shifts: tuple[float, float]
) -> PersonTable:
    deciding = [limit for limit in LIMITS if limit.key in asked.policy.deciding]
    straight = {limit.key for limit in deciding if not limit.by_posture}
    bent = {limit.key for limit in deciding if limit.by_posture} - {_SPINE}
    compressed = {limit.key for limit in deciding} & {_SPINE}
    effort, last = rows[-1][0], stated[-1]
    per_n: dict[str, list[float]] = {"steady": [], "peak": []}
    for shift in shifts:
        there = replace(last, hand_height_m=last.hand_height_m + shift)
        worst = {"steady": 0.0, "peak": 0.0}
        for found in held(asked, effort, there, only=straight):
            phase = "steady" if found.limit.quantity == "steady force" else "peak"
            worst[phase] = max(worst[phase], _ratio_of(found) / last.start_n)
        for phase, ratio in worst.items():
            per_n[phase].append(ratio)
    posture = [
        max((_ratio_of(found) for found in held(asked, row[0], load, only=bent)), default=0.0)
        for row, load in zip(rows, stated, strict=True)
    ]
    spine = [f.value.value for f in held(asked, effort, last, only=compressed) if isinstance(f.value, Value)]
    compression, muscle = (
        np.array([[getattr(load.body, field) for load in loads] for loads in (stated, best)])
        for field in ("compression_n", "muscle_n")
    )
    along = np.array([posture, compression[0], muscle[0], compression[1] - compression[0], muscle[1] - muscle[0]])
    return PersonTable(
        forces=np.array([float(row[0].start_n) for row in rows]),
        peak_per_n=(per_n["peak"][0], per_n["peak"][1]),
        steady_per_n=(per_n["steady"][0], per_n["steady"][1]),
        along=along,
        steps=np.diff(along, axis=1),
        held=np.array([float(load.body.can_be_held) for load in stated]),
        spine_limit=spine[0] if spine else float("inf"),
    )


def _ratio_of(found: Held) -> float:
    """Ratio of a deciding limit; one asked outside its range is no pass, one that does not cover the case is silent."""
    if found.ratio is not None:
        return found.ratio
    return _NOT_HELD if isinstance(found.value, NotApplicable) and found.value.outside else 0.0


def _shape(effort: Effort, top: float, shifts: tuple[float, float], scenario: Scenario) -> tuple[object, ...]:
    """All that the cost of a force depends on, but for the person."""
    start = float(effort.start_n)
    held_kg = float(effort.held_kg) / start if start > 0 else 0.0
    numbers = (effort.elevation, effort.reach_m, effort.hand_height_m, held_kg, top, *shifts, scenario.bed.height_m)
    stated = (scenario.policy, scenario.handling)
    return (effort.role, effort.hands, effort.seconds, *(round(float(n), 9) for n in numbers), *stated)


def _at(effort: Effort, force: float) -> Effort:
    """Return the effort with another force, kept steady at it."""
    there = np.asarray(force)
    scale = force / float(effort.start_n) if float(effort.start_n) > 0 else 0.0
    return replace(effort, start_n=there, steady_n=there, held_kg=effort.held_kg * scale)


def person_ratio(
    grid: PersonTable, hand: UncertainInput, back_arm_m: float, peak_n: Floats, steady_n: Floats, draws: Draws
) -> Floats:
    """Return the worst ratio to the deciding limits of one person, draw by draw.

    Parameters
    ----------
    grid : PersonTable
    hand : UncertainInput
        How the height of the hands is spread.
    back_arm_m : float [m]
        The back's lever at which the table was made.
    peak_n, steady_n : ndarray, shape (draws,) [N]
        At this person's hands.
    draws : mapping of input name to ndarray, shape (draws,)

    Returns
    -------
    ndarray, shape (draws,)
    """
    t = (draws["hand_height_m"] - hand.low) / (hand.high - hand.low) if hand.high > hand.low else 0.0
    forces = grid.forces
    index = np.minimum((np.sqrt(peak_n / forces[-1]) * (_FORCES - 1)).astype(np.intp), _FORCES - 2)
    part = (peak_n - forces[index]) / (forces[index + 1] - forces[index])

    def between(ends: tuple[float, float]) -> Floats | float:
        return ends[0] + t * (ends[1] - ends[0])

    ratio = np.maximum(peak_n * between(grid.peak_per_n), steady_n * between(grid.steady_per_n))
    posture, compression, muscle, softer_compression, softer_muscle = (
        np.take(grid.along, index, axis=1) + np.take(grid.steps, index, axis=1) * part
    )
    np.maximum(ratio, posture, out=ratio)
    if not grid.held.all():
        nearer = grid.held[np.where(part < 0.5, index, index + 1)]
        ratio[nearer == 0.0] = np.maximum(ratio[nearer == 0.0], _NOT_HELD)
    if np.isfinite(grid.spine_limit):
        softer = draws["posture"]
        compression = compression + softer * softer_compression
        muscle = muscle + softer * softer_muscle
        compression = compression + muscle * (back_arm_m / draws["back_arm_m"] - 1.0)
        np.maximum(ratio, compression / grid.spine_limit, out=ratio)
    return ratio
