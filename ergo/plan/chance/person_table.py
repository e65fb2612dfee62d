"""What a force at the hands costs a person, tabulated with the assessment's own loads and checks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ergo.assessment.asked import Demand
from ergo.assessment.check import Held, held
from ergo.assessment.crew import Person
from ergo.assessment.load import BodyLoad, Row, bodies_of, load_of
from ergo.limits.registry import LIMITS, NotApplicable, Value
from ergo.mechanics.demand import Effort
from ergo.plan.chance.inputs import UncertainInput
from ergo.scenario import Scenario, Technique
from ergo.units import G

__all__ = ["PersonTable", "PostureDraws", "body_of", "person_ratio", "person_tables", "posture_draws"]

Floats = NDArray[np.float64]
Draws = Mapping[str, Floats]

_SPINE = "spine_action"
_NOT_HELD = 2.0  # ratio given to a force that no posture holds: twice over
_ROOM = 1.8  # the table reaches this far beyond the force at typical values; further out it goes on straight
_NEAR_M, _NEAR_RAD = 0.001, float(np.radians(0.5))  # hands this near each other are held alike
_NODE_N = 2.0  # force at the first node; the next stand at its square multiples, dense where a posture changes most
_LEAST_SPAN = 0.2  # and at least over this part of the patient's weight, where the typical force is small or nil


class PostureDraws(NamedTuple):
    """How a force is held, draw by draw: height of the hands within its spread, how far the technique goes from the
    stated one to the best, how much shorter the back's lever is, and the product of the last two."""

    height: Floats
    softer: Floats
    shorter: Floats
    both: Floats


_Posture = tuple[BodyLoad, BodyLoad]
"""A body with the stated technique, and with the best where the technique is drawn."""

_Place = tuple[Person, Effort, tuple[object, ...]]
"""Who holds, what with the hands where, and all of it that the posture depends on."""


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
    """Return a person without the place where they stand: two people of the same body share a table.

    Parameters
    ----------
    person : Person

    Returns
    -------
    Person

    Examples
    --------
    >>> from ergo.assessment.crew import crew_of
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> boost = parse_scenario({"name": "x", "procedure": "boost", "patient": patient})
    >>> (left,), (right,) = crew_of(boost, "left", 1), crew_of(boost, "right", 1)
    >>> left == right, body_of(left) == body_of(right)
    (False, True)
    """
    return replace(person, label="", along_m=0.0)


# Neither the patient's mass nor most aids change what a force costs a person, so one table serves many cases; and a
# posture does not ask for how long, by whom or for what a force is held, so it serves many tables.
_KNOWN: dict[tuple[object, ...], PersonTable] = {}
_POSTURES: dict[tuple[object, ...], list[_Posture]] = {}
_MOST_KNOWN, _MOST_POSTURES = 8192, 2048  # of about 2 kB and 10 kB; then they start anew


def person_tables(
    asked: Demand, people: Mapping[str, Sequence[Person]], inputs: tuple[UncertainInput, ...]
) -> dict[tuple[int, int, Person], PersonTable]:
    """Tabulate every person in every effort.

    Parameters
    ----------
    asked : Demand
    people : mapping of "left", "right" and "airway" to sequence of Person
    inputs : tuple of UncertainInput
        The height of the hands is among them.

    Returns
    -------
    dict of (move, effort, person without a place) to PersonTable
        All postures that are not known yet are found in one search.

    Examples
    --------
    >>> from ergo.assessment.asked import demand_of
    >>> from ergo.assessment.crew import airway_lead, crew_of
    >>> from ergo.plan.chance.inputs import uncertain_inputs
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> boost = parse_scenario({"name": "x", "procedure": "boost", "patient": patient})
    >>> one = crew_of(boost, "left", 1)
    >>> people = {"left": one, "right": one, "airway": [airway_lead()]}
    >>> ((place, table),) = person_tables(demand_of(boost), people, uncertain_inputs(boost)).items()
    >>> place == (0, 0, body_of(one[0])), bool(table.forces[0] == 0.0), bool(np.all(np.diff(table.forces) > 0))
    (True, True, True)
    """
    hand = next(i for i in inputs if i.name == "hand_height_m")
    shifts = (hand.low - hand.typical, hand.high - hand.typical)
    scenario, least = asked.scenario, _LEAST_SPAN * asked.scenario.patient.mass_kg * G
    wanted: dict[tuple[int, int, Person], tuple[object, ...]] = {}
    key: tuple[object, ...]
    unknown: dict[tuple[object, ...], tuple[_Place, list[Effort]]] = {}
    for m, (_, efforts) in enumerate(asked.moves):
        for e, effort in enumerate(efforts):
            count = _nodes(max(float(effort.start_n) * _ROOM, least))
            grip, near, steps = _grip(effort, scenario), _near(effort), list[Effort]()
            shape = (*grip, count, *_limited(effort, scenario), *shifts)
            sides = ("left", "right") if effort.side == "both" else (effort.side,)
            for person in dict.fromkeys(body_of(p) for side in sides for p in people[side]):
                wanted[(m, e, person)] = key = (person, shape)
                if key not in _KNOWN:
                    steps = steps or [_at(effort, _NODE_N * k**2) for k in range(count)]
                    unknown[key] = (person, near, _grip(near, scenario)), steps
    found = {key: _KNOWN[key] for key in wanted.values() if key not in unknown}
    postures = _postures_of(scenario, ((place, len(steps)) for place, steps in unknown.values()))
    for key, ((person, _, grip), steps) in unknown.items():
        found[key] = _person_table(asked, person, steps, postures[(person, grip)][: len(steps)], shifts)
    if len(_KNOWN) + len(unknown) > _MOST_KNOWN:
        _KNOWN.clear()
    _KNOWN.update((key, found[key]) for key in unknown)
    return {place: found[key] for place, key in wanted.items()}


def _postures_of(
    scenario: Scenario, wanted: Iterable[tuple[_Place, int]]
) -> Mapping[tuple[object, ...], Sequence[_Posture]]:
    """Return the postures of each person and grip from the least force up, as far as somebody wants them."""
    rows: dict[tuple[object, ...], list[Row]] = {}
    for (person, effort, grip), count in wanted:
        place = person, grip
        known = len(_POSTURES.get(place, ())) + len(rows.get(place, ()))
        rows.setdefault(place, []).extend((_at(effort, _NODE_N * k**2), person, 1.0) for k in range(known, count))
    every = [row for group in rows.values() for row in group]
    stated = scenario.handling.technique
    techniques: list[Technique] = [stated, "best"] if stated == "typical" else [stated]
    bodies = bodies_of(scenario, every * len(techniques), [t for t in techniques for _ in every])
    pairs = zip(bodies[: len(every)], bodies[len(bodies) - len(every) :], strict=True)
    found = {place: [*_POSTURES.get(place, ()), *islice(pairs, len(group))] for place, group in rows.items()}
    if len(_POSTURES) + len(found) > _MOST_POSTURES:
        _POSTURES.clear()
    _POSTURES.update(found)
    return found


def _nodes(top: float) -> int:
    """Return how many forces of the grid there are up to the first above `top`."""
    return int(np.ceil(np.sqrt(top / _NODE_N))) + 1


def _person_table(
    asked: Demand, person: Person, steps: list[Effort], postures: Sequence[_Posture], shifts: tuple[float, float]
) -> PersonTable:
    deciding = [limit for limit in LIMITS if limit.key in asked.policy.deciding]
    straight = {limit.key for limit in deciding if not limit.by_posture}
    bent = {limit.key for limit in deciding if limit.by_posture} - {_SPINE}
    compressed = {limit.key for limit in deciding} & {_SPINE}
    loads = [load_of(asked.scenario, step, person, 1.0, body) for step, (body, _) in zip(steps, postures, strict=True)]
    effort, last = steps[-1], loads[-1]
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
        max((_ratio_of(found) for found in held(asked, step, load, only=bent)), default=0.0)
        for step, load in zip(steps, loads, strict=True)
    ]
    spine = [f.value.value for f in held(asked, effort, last, only=compressed) if isinstance(f.value, Value)]
    compression, muscle = (
        np.array([[getattr(body, field) for body in bodies] for bodies in zip(*postures, strict=True)])
        for field in ("compression_n", "muscle_n")
    )
    along = np.array([posture, compression[0], muscle[0], compression[1] - compression[0], muscle[1] - muscle[0]])
    return PersonTable(
        forces=np.array([float(step.start_n) for step in steps]),
        peak_per_n=(per_n["peak"][0], per_n["peak"][1]),
        steady_per_n=(per_n["steady"][0], per_n["steady"][1]),
        along=along,
        steps=np.diff(along, axis=1),
        held=np.array([float(body.can_be_held) for body, _ in postures]),
        spine_limit=spine[0] if spine else float("inf"),
    )


def _ratio_of(found: Held) -> float:
    """Ratio of a deciding limit; one asked outside its range is no pass, one that does not cover the case is silent."""
    if found.ratio is not None:
        return found.ratio
    return _NOT_HELD if isinstance(found.value, NotApplicable) and found.value.outside else 0.0


def _grip(effort: Effort, scenario: Scenario) -> tuple[object, ...]:
    """All that the posture depends on, but for the person and the force."""
    numbers = (effort.elevation, effort.reach_m, effort.hand_height_m, scenario.bed.height_m)
    return (effort.hands, *(round(float(n), 9) for n in numbers), scenario.handling)


def _near(effort: Effort) -> Effort:
    """Return the effort with its hands moved to the nearest of a few places, so that one posture serves many cases."""
    reach, height = (np.round(np.asarray(m) / _NEAR_M) * _NEAR_M for m in (effort.reach_m, effort.hand_height_m))
    elevation = np.round(np.asarray(effort.elevation) / _NEAR_RAD) * _NEAR_RAD
    return replace(effort, reach_m=reach, hand_height_m=height, elevation=elevation)


def _limited(effort: Effort, scenario: Scenario) -> tuple[object, ...]:
    """What the limits ask beside that."""
    start = float(effort.start_n)
    return effort.role, effort.seconds, round(float(effort.held_kg) / start if start > 0 else 0.0, 9), scenario.policy


def _at(effort: Effort, force: float) -> Effort:
    """Return the effort with another force, kept steady at it."""
    there = np.asarray(force)
    scale = force / float(effort.start_n) if float(effort.start_n) > 0 else 0.0
    return replace(effort, start_n=there, steady_n=there, held_kg=effort.held_kg * scale)


def posture_draws(draws: Draws, hand: UncertainInput, back_arm_m: float) -> PostureDraws:
    """Return what the draws say of how a force is held; the same for everybody and every effort.

    Parameters
    ----------
    draws : mapping of input name to ndarray, shape (draws,)
    hand : UncertainInput
        How the height of the hands is spread.
    back_arm_m : float [m]
        The back's lever at which the tables were made.

    Returns
    -------
    PostureDraws

    Examples
    --------
    >>> hand = UncertainInput("hand_height_m", "hands", "triangular", 0.0, 0.1, 0.4, "m", "", "")
    >>> draws = {"hand_height_m": np.array([0.1]), "posture": np.array([0.5]), "back_arm_m": np.array([0.05])}
    >>> posture_draws(draws, hand, 0.06)
    PostureDraws(height=array([0.25]), softer=array([0.5]), shorter=array([0.2]), both=array([0.1]))
    """
    spread = hand.high - hand.low
    height = (draws["hand_height_m"] - hand.low) / spread if spread > 0 else np.zeros_like(draws["hand_height_m"])
    softer, shorter = draws["posture"], back_arm_m / draws["back_arm_m"] - 1.0
    return PostureDraws(height, softer, shorter, softer * shorter)


def person_ratio(grid: PersonTable, peak_n: Floats, steady_n: Floats, held_so: PostureDraws) -> Floats:
    """Return the worst ratio to the deciding limits of one person, draw by draw.

    max(peak x its ratio per newton, steady x its own, ratio of the posture, (C + t ΔC + a (M + t ΔM)) / C_limit), with
    C the compression, M what the muscle adds to it, Δ by how much the best posture changes them, t how far the
    technique goes to the best and a how much shorter the back's lever is.

    Parameters
    ----------
    grid : PersonTable
    peak_n, steady_n : ndarray, shape (draws,) [N]
        At this person's hands, not below zero.
    held_so : PostureDraws

    Returns
    -------
    ndarray, shape (draws,) [-]
        Beyond the table's forces its last piece goes on straight. At least 2 where no posture holds the force.

    Examples
    --------
    >>> along = np.array([[0.0] * 3, [1000.0, 1200.0, 1800.0], [500.0] * 3, [0.0] * 3, [0.0] * 3])
    >>> forces, steps = np.array([0.0, 2.0, 8.0]), np.diff(along, axis=1)
    >>> grid = PersonTable(forces, (0.1, 0.3), (0.0, 0.0), along, steps, np.ones(3), spine_limit=3400.0)
    >>> usual, middle = np.zeros(2), np.full(2, 0.5)  # hands half way up: 0.2 a newton
    >>> pull = np.array([1.0, 5.0])
    >>> person_ratio(grid, pull, pull, PostureDraws(middle, usual, usual, usual)).round(9).tolist()
    [0.323529412, 1.0]
    """
    spent = peak_n / _NODE_N
    index = np.minimum(np.sqrt(spent).astype(np.intp), len(grid.forces) - 2)
    part = (spent - index * index) / (2 * index + 1)  # forces stand at the squares

    def between(ends: tuple[float, float]) -> Floats | float:
        return ends[0] if ends[0] == ends[1] else ends[0] + held_so.height * (ends[1] - ends[0])

    ratio = np.maximum(peak_n * between(grid.peak_per_n), steady_n * between(grid.steady_per_n))
    rows = np.take(grid.steps, index, axis=1)
    rows *= part
    rows += np.take(grid.along, index, axis=1)
    posture, compression, muscle, softer_compression, softer_muscle = rows
    np.maximum(ratio, posture, out=ratio)
    if not grid.held.all():
        nearer = grid.held[np.where(part < 0.5, index, index + 1)]
        ratio[nearer == 0.0] = np.maximum(ratio[nearer == 0.0], _NOT_HELD)
    if np.isfinite(grid.spine_limit):
        # compression + softer Δcompression + shorter (muscle + softer Δmuscle)
        softer_compression *= held_so.softer
        muscle *= held_so.shorter
        softer_muscle *= held_so.both
        compression += softer_compression
        compression += muscle
        compression += softer_muscle
        compression /= grid.spine_limit
        np.maximum(ratio, compression, out=ratio)
    return ratio
