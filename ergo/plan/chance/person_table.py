"""What a force at the hands costs a person, tabulated with the assessment's own loads and checks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import islice

import numpy as np

from ergo.assessment.asked import Demand
from ergo.assessment.check import Held, held
from ergo.assessment.crew import Person
from ergo.assessment.load import BodyLoad, Row, bodies_of, load_of
from ergo.limits.registry import LIMITS, NotApplicable, Value
from ergo.mechanics.demand import Effort
from ergo.plan.chance.inputs import UncertainInput
from ergo.plan.chance.person_ratio import NODE_N, NOT_HELD, PersonTable
from ergo.scenario import Scenario, Technique
from ergo.units import G

__all__ = ["body_of", "person_tables"]

_SPINE = "spine_action"
_ROOM = 1.8  # the table reaches this far beyond the force at typical values; further out it goes on straight
_NEAR_M, _NEAR_RAD = 0.001, float(np.radians(0.5))  # hands this near each other are held alike
_LEAST_SPAN = 0.2  # and at least over this part of the patient's weight, where the typical force is small or nil


_Posture = tuple[BodyLoad, BodyLoad]
"""A body with the stated technique, and with the best where the technique is drawn."""

_Place = tuple[Person, Effort, tuple[object, ...]]
"""Who holds, what with the hands where, and all of it that the posture depends on."""


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
                    steps = steps or [_at(effort, NODE_N * k**2) for k in range(count)]
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
        rows.setdefault(place, []).extend((_at(effort, NODE_N * k**2), person, 1.0) for k in range(known, count))
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
    return int(np.ceil(np.sqrt(top / NODE_N))) + 1


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
    return PersonTable.of(
        forces=np.array([float(step.start_n) for step in steps]),
        peak_per_n=(per_n["peak"][0], per_n["peak"][1]),
        steady_per_n=(per_n["steady"][0], per_n["steady"][1]),
        along=along,
        held=np.array([float(body.can_be_held) for body, _ in postures]),
        spine_limit=spine[0] if spine else float("inf"),
    )


def _ratio_of(found: Held) -> float:
    """Ratio of a deciding limit; one asked outside its range is no pass, one that does not cover the case is silent."""
    if found.ratio is not None:
        return found.ratio
    return NOT_HELD if isinstance(found.value, NotApplicable) and found.value.outside else 0.0


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
