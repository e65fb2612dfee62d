"""How a person holds each force of a grid and what that costs the body, remembered for every case that asks alike.

Neither the patient's mass nor most aids change it; and a posture does not ask for how long, by whom or for what a force
is held.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import islice
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ergo.assessment.asked import Demand
from ergo.assessment.check import Held, held
from ergo.assessment.crew import Person
from ergo.assessment.load import BodyLoad, Row, bodies_of, load_of
from ergo.limits.registry import NotApplicable
from ergo.mechanics.demand import Effort
from ergo.plan.chance.person_ratio import NOT_HELD, node_forces
from ergo.scenario import Scenario, Technique

__all__ = ["SPINE", "Holding", "costs_of", "holding", "of_one_newton", "ratio_of"]

Floats = NDArray[np.float64]

SPINE = "spine_action"
_NEAR_M, _NEAR_RAD = 0.001, float(np.radians(0.5))  # hands this near each other are held alike

_Posture = tuple[BodyLoad, BodyLoad]
"""A body with the stated technique, and with the best where the technique is drawn."""

_POSTURES: dict[tuple[object, ...], list[_Posture]] = {}
_COSTS: dict[tuple[object, ...], Floats] = {}
_MOST_POSTURES, _MOST_COSTS = 2048, 8192  # of about 10 kB and 1 kB; then they start anew


class Holding(NamedTuple):
    """An effort of 1 N, its hands at one of a few places; what a posture depends on there, and limits ask beside."""

    effort: Effort
    place: tuple[object, ...]
    beside: tuple[object, ...]


Asked = tuple[Person, Holding, int]


def holding(effort: Effort, scenario: Scenario) -> Holding:
    """Return how an effort is held, the hands moved by less than a millimetre to one of a few places.

    Parameters
    ----------
    effort : Effort
    scenario : Scenario

    Returns
    -------
    Holding
        At equal places everybody holds alike.

    Examples
    --------
    >>> from ergo.assessment.asked import demand_of
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> boost = parse_scenario({"name": "x", "procedure": "boost", "patient": patient})
    >>> effort = demand_of(boost).moves[0][1][0]
    >>> holding(effort, boost).place == holding(replace(effort, reach_m=effort.reach_m + 1e-5), boost).place
    True
    """
    reach, height = (np.round(np.asarray(m) / _NEAR_M) * _NEAR_M for m in (effort.reach_m, effort.hand_height_m))
    elevation = np.round(np.asarray(effort.elevation) / _NEAR_RAD) * _NEAR_RAD
    numbers = tuple(round(float(n), 9) for n in (elevation, reach, height, scenario.bed.height_m))
    one_newton = of_one_newton(effort)
    return Holding(
        replace(one_newton, reach_m=reach, hand_height_m=height, elevation=elevation),
        (effort.hands, numbers, scenario.handling),
        (effort.role, effort.seconds, round(float(one_newton.held_kg), 9), scenario.policy),
    )


def of_one_newton(effort: Effort) -> Effort:
    """Return the effort with a force of 1 N, kept steady; so many newtons are so many times of it.

    Parameters
    ----------
    effort : Effort

    Returns
    -------
    Effort
        What hangs at the hands is less by as much.

    Examples
    --------
    >>> from ergo.assessment.asked import demand_of
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> boost = parse_scenario({"name": "x", "procedure": "boost", "patient": patient})
    >>> float(of_one_newton(demand_of(boost).moves[0][1][0]).start_n)
    1.0
    """
    start, one = float(effort.start_n), np.ones(())
    return replace(
        effort, start_n=one, steady_n=one, held_kg=effort.held_kg / start if start > 0 else 0.0 * effort.held_kg
    )


def ratio_of(found: Held) -> float:
    """Return the ratio of a deciding limit.

    Parameters
    ----------
    found : Held

    Returns
    -------
    float [-]
        A limit asked outside its range is no pass, one that does not cover the case is silent.

    Examples
    --------
    >>> from ergo.limits.registry import LIMITS
    >>> ratio_of(Held(LIMITS[0], 0.0, NotApplicable("too high", outside=True), None))
    2.0
    """
    if found.ratio is not None:
        return found.ratio
    return NOT_HELD if isinstance(found.value, NotApplicable) and found.value.outside else 0.0


def costs_of(asked: Demand, wanted: Sequence[Asked]) -> list[Floats]:
    """Return what the first forces of the grid cost each person.

    Parameters
    ----------
    asked : Demand
    wanted : sequence of (Person, Holding, int)
        Who, without the place along the bed, and how many forces.

    Returns
    -------
    list of ndarray, shape (6, forces)
        The worst ratio to the deciding limits that follow from the posture, compression apart; compression [N]; what
        the back muscle adds to it [N]; by how much each of the two is less in the best posture [N]; and 1 where a
        posture holds the force. All postures that are not known yet are found in one search.

    Examples
    --------
    >>> from ergo.assessment.asked import demand_of
    >>> from ergo.assessment.crew import crew_of
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> boost = parse_scenario({"name": "x", "procedure": "boost", "patient": patient})
    >>> asked, (one,) = demand_of(boost), crew_of(boost, "left", 1)
    >>> pull = holding(asked.moves[0][1][0], boost)
    >>> few, more = costs_of(asked, [(one, pull, 3), (one, pull, 5)])
    >>> more.shape, bool(np.array_equal(few, more[:, :3])), bool((np.diff(more[1]) > 0).all())
    ((6, 5), True, True)
    """
    keys = [(person, one.place, one.beside) for person, one, _ in wanted]
    most: dict[tuple[object, ...], Asked] = {}
    for key, ask in zip(keys, wanted, strict=True):
        known = _COSTS[key].shape[1] if key in _COSTS else 0
        if ask[-1] > max(known, most[key][-1] if key in most else 0):
            most[key] = ask
    postures = _postures_of(asked.scenario, list(most.values()))
    found = {key: _costs(asked, *ask, postures[key[:2]]) for key, ask in most.items()}
    every = {key: found[key] if key in found else _COSTS[key] for key in keys}
    if len(_COSTS) + len(found) > _MOST_COSTS:
        _COSTS.clear()
    _COSTS.update(found)
    return [every[key][:, :count] for key, (_, _, count) in zip(keys, wanted, strict=True)]


def _postures_of(scenario: Scenario, wanted: Sequence[Asked]) -> Mapping[tuple[object, ...], Sequence[_Posture]]:
    """Return the postures at each place from the least force up, as far as somebody wants them."""
    rows: dict[tuple[object, ...], list[Row]] = {}
    for person, one, count in wanted:
        place = person, one.place
        known = len(_POSTURES.get(place, ())) + len(rows.get(place, ()))
        rows.setdefault(place, []).extend((one.effort, person, force) for force in node_forces(count)[known:].tolist())
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


def _costs(asked: Demand, person: Person, one: Holding, count: int, postures: Sequence[_Posture]) -> Floats:
    postures = postures[:count]
    bent = [limit for limit in asked.policy.limits if limit.by_posture and limit.key != SPINE]
    ratios = []
    for force, (body, _) in zip(node_forces(count).tolist(), postures, strict=True):
        load = load_of(asked.scenario, one.effort, person, force, body)
        ratios.append(max(map(ratio_of, held(asked, one.effort, load, bent)), default=0.0))
    compression, muscle = (
        np.array([[getattr(body, field) for body in bodies] for bodies in zip(*postures, strict=True)])
        for field in ("compression_n", "muscle_n")
    )
    can_be_held = [float(body.can_be_held) for body, _ in postures]
    softer = compression[1] - compression[0], muscle[1] - muscle[0]
    return np.array([ratios, compression[0], muscle[0], *softer, can_be_held])
