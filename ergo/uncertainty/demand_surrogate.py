"""A scenario made fast: tables and closed forms from which a hundred thousand draws are judged in a second.

Slides are closed forms already and are evaluated draw by draw. A turn is smooth in breadth, depth and hand height: it
is solved at four values of each and interpolated. What a force at the hands costs a person is tabulated with the
assessment's own loads and checks, so every limit and the posture come from the same code as a single answer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ergo.assessment.demand import Demand
from ergo.assessment.load import participants, sharing_of
from ergo.assessment.team import Person, airway_lead, has_airway_lead, people_on_side
from ergo.handlers.load_sharing import best_shares
from ergo.inputs.scenario import Side
from ergo.mechanics.demand import efforts_of
from ergo.uncertainty.distributions import UncertainInput
from ergo.uncertainty.handler_surrogate import Borne, PersonTable, body_of, person_tables, posture_draws, worst_of
from ergo.uncertainty.roll_surrogate import TurnTable, turn_forces, turn_table, turn_weights

__all__ = ["DemandSurrogate", "build_demand_surrogate", "for_more", "team_forces", "worst_ratio"]

Floats = NDArray[np.float64]
Draws = Mapping[str, Floats]


@dataclass(frozen=True)
class DemandSurrogate:
    """Tables that stand in for a demand, for up to `most` people a side; keyed by move, effort and person."""

    demand: Demand
    inputs: tuple[UncertainInput, ...]
    turns: dict[int, TurnTable]
    most: int
    tables: dict[tuple[int, int, Person], PersonTable]


def build_demand_surrogate(demand: Demand, inputs: tuple[UncertainInput, ...], most: int) -> DemandSurrogate:
    """Build the tables of a demand.

    >>> from ergo.assessment import demand_of
    >>> from ergo.uncertainty.distributions import uncertain_inputs
    >>> from ergo.inputs import examples
    >>> boost = examples.boost()
    >>> len(build_demand_surrogate(demand_of(boost), uncertain_inputs(boost), 3).tables)  # one effort of three people
    3
    """
    demand = replace(demand, moves=tuple((m, efforts_of(m, demand.case, demand.scenario)) for m, _ in demand.moves))
    turns = {m: turn_table(move, demand.scenario, inputs) for m, (move, _) in enumerate(demand.moves) if move.is_turn}
    return DemandSurrogate(demand, inputs, turns, most, _tables(demand, inputs, 1, most))


def for_more(surrogate: DemandSurrogate, most: int) -> DemandSurrogate:
    """Return the same with tables for larger groups.

    >>> from ergo.assessment import demand_of
    >>> from ergo.uncertainty.distributions import uncertain_inputs
    >>> from ergo.inputs import examples
    >>> boost = examples.boost()
    >>> few, inputs = demand_of(boost), uncertain_inputs(boost)
    >>> len(for_more(build_demand_surrogate(few, inputs, 3), 4).tables)
    4
    """
    larger = _tables(surrogate.demand, surrogate.inputs, surrogate.most + 1, most)
    return replace(surrogate, most=most, tables=larger | surrogate.tables)


def _tables(
    demand: Demand, inputs: tuple[UncertainInput, ...], fewest: int, most: int
) -> dict[tuple[int, int, Person], PersonTable]:
    sides: tuple[Side, ...] = ("left", "right")
    groups: dict[str, list[Sequence[Person]]] = {
        side: [people_on_side(demand.scenario, side, n) for n in range(fewest, most + 1)] for side in sides
    }
    groups["airway"] = [(airway_lead(),)] if fewest == 1 else []
    return person_tables(demand, groups, inputs)


def team_forces(surrogate: DemandSurrogate, draws: Draws) -> dict[tuple[int, int], tuple[Floats, Floats]]:
    """Return the peak and steady force of every effort in every draw.

    >>> from ergo.assessment import demand_of
    >>> from ergo.uncertainty.distributions import uncertain_inputs
    >>> from ergo.inputs import examples
    >>> boost = examples.boost()
    >>> demand, inputs = demand_of(boost), uncertain_inputs(boost)
    >>> typical = {spread.name: np.array([spread.typical]) for spread in inputs}
    >>> start, steady = team_forces(build_demand_surrogate(demand, inputs, 2), typical)[(0, 0)]
    >>> bool(np.isclose(start[0], demand.moves[0][1][0].start_n)), bool(steady[0] < start[0])
    (True, True)
    """
    demand = surrogate.demand
    size = len(draws["breakaway"])
    typical = demand.case
    stack = [draws[f"mu_{i}"] for i in range(typical.mu.shape[-1])]
    broader = draws.get("breadth_scale", np.ones(size))
    case = replace(
        typical,
        body=replace(typical.body, half_breadth=typical.body.half_breadth * broader),
        mu=np.stack(stack, axis=-1),
        linen_mu=draws["linen_mu"],
        breakaway=draws["breakaway"],
        pull_rad=np.radians(draws["pull_deg"]),
        slide_time_s=draws["slide_time_s"],
    )
    found: dict[tuple[int, int], tuple[Floats, Floats]] = {}
    known: dict[tuple[bytes, bytes], tuple[Floats, Floats]] = {}
    weights = next((turn_weights(grid, draws) for grid in surrogate.turns.values()), np.empty(0))
    for m, (move, efforts) in enumerate(demand.moves):
        if m in surrogate.turns:
            by_role = turn_forces(surrogate.turns[m], move, case, draws, demand.scenario, weights)
        else:
            by_role = {x.role: (x.start_n, x.steady_n) for x in efforts_of(move, case, demand.scenario)}
        for e, effort in enumerate(efforts):
            start, steady = by_role.get(effort.role, (effort.start_n, effort.steady_n))
            forces = np.broadcast_to(start, (size,)), np.broadcast_to(steady, (size,))
            found[(m, e)] = known.setdefault((forces[0].tobytes(), forces[1].tobytes()), forces)
    return found


def worst_ratio(
    surrogate: DemandSurrogate,
    forces: Mapping[tuple[int, int], tuple[Floats, Floats]],
    draws: Draws,
    side: Side | str,
    people: int,
    effort_spread: Floats,
) -> tuple[Floats, Floats]:
    """Return, draw by draw, the worst ratio and the largest force of one side with `people` there.

    Each person's share is the best split times their own effort, over the sum of all these on the side.

    The ratio is not a number where nobody is over a limit but one that decides does not cover the draw.

    >>> from ergo.assessment import demand_of
    >>> from ergo.uncertainty.distributions import uncertain_inputs
    >>> from ergo.inputs import examples
    >>> boost = examples.boost()
    >>> inputs = uncertain_inputs(boost)
    >>> surrogate = build_demand_surrogate(demand_of(boost), inputs, 2)
    >>> typical = {spread.name: np.array([spread.typical]) for spread in inputs}
    >>> forces, even = team_forces(surrogate, typical), np.ones((6, 1))
    >>> (_, alone), (_, two) = (worst_ratio(surrogate, forces, typical, "left", n, even) for n in (1, 2))
    >>> (alone / two).tolist()  # a half each, where all try alike
    [2.0]
    """
    demand = surrogate.demand
    largest = np.zeros(len(draws["breakaway"]))
    if side == "airway" and not has_airway_lead(demand.scenario):
        return largest, largest
    hand = next(i for i in surrogate.inputs if i.name == "hand_height_m")
    held_so = posture_draws(draws, hand, demand.scenario.handling.back_arm_m)
    group = (airway_lead(),) if side == "airway" else people_on_side(demand.scenario, side, people)  # type: ignore[arg-type]
    bodies = [body_of(person) for person in group]
    borne: list[Borne] = []
    judged: set[tuple[object, ...]] = set()
    shares: dict[tuple[float, ...], tuple[Floats, Floats]] = {}
    for (m, e), (start, steady) in forces.items():
        effort = demand.moves[m][1][e]
        if not effort.falls_to(side):
            continue
        asks = effort.role, float(effort.centre_m), id(surrogate.tables[(m, e, bodies[0])]), id(start), id(steady)
        if asks in judged:  # the same effort again
            continue
        judged.add(asks)
        members, places, centre = participants(effort, group)
        even = sharing_of(effort, "realistic") == "best"
        stand = (even, effort.part, *places, centre)
        if stand not in shares:
            spread = np.ones_like(effort_spread) if even else effort_spread
            parts = best_shares(places, centre)[:, None] * spread[: len(members)]
            parts *= effort.part / parts.sum(axis=0)
            shares[stand] = parts, parts.max(axis=0)
        share, most = shares[stand]
        np.maximum(largest, most * start, out=largest)
        tables = [surrogate.tables[(m, e, body)] for body in bodies[: len(members)]]
        borne += map(Borne, tables, share * start)
    return worst_of(borne, held_so), largest
