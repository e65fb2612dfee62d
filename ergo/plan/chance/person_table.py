"""What a force at the hands costs a person, tabulated with the assessment's own loads and checks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ergo.assessment.asked import Demand
from ergo.assessment.check import held
from ergo.assessment.crew import Person
from ergo.assessment.load import BodyLoad, load_of, stand_in
from ergo.limits.registry import Value
from ergo.mechanics.demand import Effort
from ergo.plan.chance.inputs import UncertainInput
from ergo.plan.chance.person_ratio import PersonTable, nodes_to
from ergo.plan.chance.postures import SPINE, Holding, costs_of, holding, of_one_newton, ratio_of
from ergo.units import G

__all__ = ["body_of", "person_tables"]

Floats = NDArray[np.float64]

_ROOM = 1.8  # the table reaches this far beyond the force at typical values; further out it goes on straight
_LEAST_SPAN = 0.2  # and at least over this part of the patient's weight, where the typical force is small or nil
_UNEVEN = 2.0  # times an even share of that is the most for one person: in no draw of the examples does anybody bear it

_ANY_N = 100.0  # a force at which limits that are proportional to it are asked
_NOBODY = BodyLoad(True, "", *[0.0] * 12)  # they do not look at the body


class _Key(NamedTuple):
    """All that makes one table differ from another within a case."""

    person: Person
    nodes: int
    asked: tuple[object, ...]


_Straight = tuple[tuple[float, float], tuple[float, float], float]


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


def person_tables(
    asked: Demand, crews: Mapping[str, Sequence[Sequence[Person]]], inputs: tuple[UncertainInput, ...]
) -> dict[tuple[int, int, Person], PersonTable]:
    """Tabulate every person in every effort.

    Parameters
    ----------
    asked : Demand
    crews : mapping of "left", "right" and "airway" to sequence of crews
        Smaller ones first: they leave a person the largest share.
    inputs : tuple of UncertainInput
        The height of the hands is among them.

    Returns
    -------
    dict of (move, effort, person without a place) to PersonTable
        Equal efforts have one table.

    Examples
    --------
    >>> from ergo.assessment.asked import demand_of
    >>> from ergo.assessment.crew import airway_lead, crew_of
    >>> from ergo.plan.chance.inputs import uncertain_inputs
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> boost = parse_scenario({"name": "x", "procedure": "boost", "patient": patient})
    >>> one = crew_of(boost, "left", 1)
    >>> crews = {"left": [one], "right": [one], "airway": [(airway_lead(),)]}
    >>> ((place, table),) = person_tables(demand_of(boost), crews, uncertain_inputs(boost)).items()
    >>> place == (0, 0, body_of(one[0])), bool(table.forces[0] == 0.0), bool(np.all(np.diff(table.forces) > 0))
    (True, True, True)
    """
    hand = next(i for i in inputs if i.name == "hand_height_m")
    shifts = (hand.low - hand.typical, hand.high - hand.typical)
    scenario, least = asked.scenario, _LEAST_SPAN * asked.scenario.patient.mass_kg * G
    bodies_in = {side: [[body_of(person) for person in crew] for crew in crews[side]] for side in crews}
    wanted: dict[tuple[int, int, Person], _Key] = {}
    unlike: dict[_Key, tuple[Effort, Holding]] = {}
    for m, (_, efforts) in enumerate(asked.moves):
        for e, effort in enumerate(efforts):
            whole = effort.part * max(float(effort.start_n) * _ROOM, least)
            one, turned = holding(effort, scenario), (float(effort.elevation), float(effort.hand_height_m))
            for crew in (bodies for side in crews if effort.falls_to(side) for bodies in bodies_in[side]):
                members, _, _ = stand_in(effort, crew)
                nodes = nodes_to(whole * min(1.0, _UNEVEN / len(members)))
                for person in members:
                    key = _Key(person, nodes, (one.place, one.beside, turned))
                    unlike.setdefault(wanted.setdefault((m, e, person), key), (effort, one))
    costs = costs_of(asked, [(key.person, one, key.nodes) for key, (_, one) in unlike.items()])
    straight: dict[tuple[object, ...], _Straight] = {}
    made: dict[_Key, PersonTable] = {}
    for (key, (effort, _)), cost in zip(unlike.items(), costs, strict=True):
        alike = key.person.sex, key.asked
        if alike not in straight:
            straight[alike] = _straight(asked, effort, key.person, shifts)
        made[key] = PersonTable.of(*straight[alike], along=cost[:-1], held=cost[-1])
    return {place: made[key] for place, key in wanted.items()}


def _straight(asked: Demand, effort: Effort, person: Person, shifts: tuple[float, float]) -> _Straight:
    """Return the worst ratios per newton, at the lowest and highest hand, and the limit of compression."""
    proportional = [limit for limit in asked.policy.limits if not limit.by_posture]
    compressed = [limit for limit in asked.policy.limits if limit.key == SPINE]
    there = of_one_newton(effort)
    load = load_of(asked.scenario, there, person, _ANY_N, _NOBODY)
    peak, steady = [0.0, 0.0], [0.0, 0.0]
    for i, shift in enumerate(shifts):
        shifted = replace(load, hand_height_m=load.hand_height_m + shift)
        for found in held(asked, there, shifted, proportional):
            per_n = steady if found.limit.quantity == "steady force" else peak
            per_n[i] = max(per_n[i], ratio_of(found) / load.start_n)
    spine = [f.value.value for f in held(asked, there, load, compressed) if isinstance(f.value, Value)]
    return (peak[0], peak[1]), (steady[0], steady[1]), spine[0] if spine else float("inf")
