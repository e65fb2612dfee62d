"""What a scenario asks of each side, before any team is chosen, and what it refuses."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ergo.errors import Fault, InputError
from ergo.evidence import assumption
from ergo.inputs.scenario import SIDES, Scenario, Side
from ergo.limits.policy import POLICIES, DecidingPolicy
from ergo.mechanics.bed_clearance import BedClearance
from ergo.mechanics.case import Case, build_case
from ergo.mechanics.demand import TeamTask, ways_of
from ergo.mechanics.friction import Aid
from ergo.mechanics.procedure import Direction, PlannedMove, bed_clearance_of, direction_of, plan_moves
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["Demand", "demand_of", "easiest_ways", "largest_team", "refusal_sentences", "team_most"]


@dataclass(frozen=True)
class Demand:
    """What a scenario asks, before any team is chosen.

    `moves` pairs each planned move with the ways in which it can be made, each the numbers of its `tasks`. `refusals`
    are sentences: over rated capacity, or no room for the roll. `guarded` are the sides where somebody must stand even
    if nothing is pulled there (common practice, no source). `places` are the move, the way and the part of the way in
    which each task comes first. `capacities` remembers what each body can manage in a task.
    """

    scenario: Scenario
    case: Case
    direction: Direction
    landing: BedClearance | None
    moves: tuple[tuple[PlannedMove, tuple[tuple[int, ...], ...]], ...]
    tasks: tuple[TeamTask, ...]
    places: tuple[tuple[int, int, int], ...]
    refusals: tuple[str, ...]
    policy: DecidingPolicy
    guarded: frozenset[Side]
    capacities: dict[Any, Any] = field(default_factory=dict, compare=False, repr=False)


def demand_of(scenario: Scenario) -> Demand:
    """Return what every move of a scenario asks of each side; InputError if the aid cannot serve the procedure.

    >>> from ergo.inputs import examples
    >>> demand = demand_of(examples.boost())
    >>> [(move.kind, [[demand.tasks[n].group for n in way] for way in ways]) for move, ways in demand.moves]
    [('boost', [['sides']])]
    """
    case = build_case(scenario)
    planned = plan_moves(scenario, case)
    _check_aid(case, planned)
    turns_over = any(m.to_rad >= np.pi - 1e-9 for m in planned)
    room = bed_clearance_of(scenario, case) if turns_over else None
    tasks: dict[tuple[object, ...], tuple[TeamTask, tuple[int, int, int]]] = {}
    moves = tuple((move, _ways(m, move, case, scenario, tasks)) for m, move in enumerate(planned))
    return Demand(
        scenario=scenario,
        case=case,
        direction=direction_of(scenario),
        landing=room,
        moves=moves,
        tasks=tuple(task for task, _ in tasks.values()),
        places=tuple(place for _, place in tasks.values()),
        refusals=refusal_sentences(scenario, case.aid, room),
        policy=POLICIES[scenario.policy.protect],
        guarded=frozenset(SIDES if any(m.guarded for m in planned) else ()),
    )


def _ways(
    number: int,
    move: PlannedMove,
    case: Case,
    scenario: Scenario,
    tasks: dict[tuple[object, ...], tuple[TeamTask, tuple[int, int, int]]],
) -> tuple[tuple[int, ...], ...]:
    """Put what the ways of a move ask into `tasks`, what comes again once, and return the numbers of each way."""
    ways = []
    for w, way in enumerate(ways_of(move, case, scenario)):
        keys = []
        for k, task in enumerate(way):
            if _needs_force(task):
                keys.append(_asks(task))
                tasks.setdefault(keys[-1], (task, (number, w, k)))
        order = list(tasks)
        ways.append(tuple(order.index(key) for key in keys))
    return tuple(ways)


def _asks(task: TeamTask) -> tuple[object, ...]:
    """All that a task asks of a team."""
    at = task.instants
    told = ((a.name, a.side, *(v.tobytes() for v in (a.gain, a.slip, a.reach_m))) for a in at.actions)
    return task.group, task.part, task.towards, task.hold_s, at.angle.tobytes(), at.resistance.tobytes(), *told


def easiest_ways(demand: Demand, effort: NDArray[np.float64]) -> list[tuple[NDArray[np.float64], NDArray[np.intp]]]:
    """Return for each move the effort of its easiest way, and which way that is; a way is as hard as its hardest task.

    `effort` is that of each task, shape (tasks, ...); a way in which nothing needs a force takes none.

    >>> from ergo.inputs import examples
    >>> demand = demand_of(examples.boost())
    >>> easiest_ways(demand, np.array([[0.5, 2.0]]))[0][0].tolist()
    [0.5, 2.0]
    """
    found = []
    for _, ways in demand.moves:
        hardest = np.stack([np.max(effort[list(way)], axis=0, initial=0.0) for way in ways])
        found.append((np.min(hardest, axis=0), np.argmin(hardest, axis=0)))
    return found


def largest_team(demand: Demand) -> tuple[int, int]:
    """Return the most people that find a place on the left and on the right: of its bed, at most `team_most` a side."""
    most, bed = team_most(), demand.scenario.bed
    return min(bed.places_left, most), min(bed.places_right, most)


def team_most() -> int:
    """Return the most people on one side of a bed, `team_most` of the assumptions."""
    return int(assumption("team_most").typical)


def _needs_force(task: TeamTask) -> bool:
    """What is not a number is no force of zero, it is over every limit; and some draw may need a hold."""
    return task.falls or not bool(np.all(task.instants.resistance <= 0.0))


def _check_aid(case: Case, planned: tuple[PlannedMove, ...]) -> None:
    faults = []
    needed = {_service(m) for m in planned} - {""}
    able = set(case.aid.serves) | ({"lateral"} if "slide" in case.aid.serves else set())
    if needed - able:
        faults.append(Fault("aid", repr(case.aid.name), f"does not serve a {' or '.join(sorted(needed - able))} move"))
    if any(m.kind == "counter-slide" for m in planned) and not case.aid.two_layers:
        faults.append(Fault("aid", repr(case.aid.name), "drawing the upper layer back needs an aid with two layers"))
    if faults:
        raise InputError("scenario", faults)


def _service(move: PlannedMove) -> str:
    if move.kind in ("limb hold", "head hold"):
        return ""
    if move.is_turn:
        return "turn"
    return "lateral" if move.kind == "lateral transfer" else "slide"


def refusal_sentences(
    scenario: Scenario, aid: Aid, landing: BedClearance | None, units: Units = DEFAULT_UNITS
) -> tuple[str, ...]:
    """Say which rated capacity the patient exceeds, and whether the bed is too narrow to turn the patient over."""
    mass, width = units.show_mass, units.show_length
    rated = (("bed", scenario.bed.rated_capacity_kg), (aid.name, aid.rated_capacity_kg))
    said = [
        f"The patient's {mass(scenario.patient.mass_kg)} exceed the rated capacity of the {what}, {mass(kg)}."
        for what, kg in rated
        if kg is not None and scenario.patient.mass_kg > kg
    ]
    if landing is not None and not bool(landing.fits):
        said.append(
            f"The bed is too narrow: {width(scenario.bed.width_m)} leave no room to turn this patient over, "
            "even if drawn back during the turn."
        )
    return tuple(said)
