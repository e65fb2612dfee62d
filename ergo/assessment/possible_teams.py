"""Which teams find a place at the bed, with somebody wherever a move needs somebody, or why there is none."""

from __future__ import annotations

from functools import cache

import numpy as np

from ergo.assessment.demand import Demand, largest_team
from ergo.assessment.team import has_airway_lead, lacks_airway_lead
from ergo.inputs.scenario import SIDES, Side

__all__ = ["nobody_where_needed", "possible_teams", "stands_where_needed", "why_no_team_is_possible"]


def possible_teams(demand: Demand) -> list[tuple[int, int]]:
    """Return the teams with somebody wherever a move needs somebody, in the order in which a team is looked for.

    Fewest people first, then evenest, then more on the far side. No side has more than its places, and one that no move
    can use has nobody; where none is needed, each has one who stands by, or more. Empty where no team is possible.
    """
    if why_no_team_is_possible(demand):
        return []
    needed, useful = _needed(demand), _useful(demand)
    if not useful:
        needed = useful = set(SIDES)
    most = largest_team(demand)
    high = [n if side in useful else 0 for side, n in zip(SIDES, most, strict=True)]
    low = [min(1, n) if side in needed else 0 for side, n in zip(SIDES, most, strict=True)]
    return list(_in_order(tuple(low), tuple(high), 0 if demand.direction.receiving == "left" else 1))


@cache
def _in_order(low: tuple[int, ...], high: tuple[int, ...], near: int) -> tuple[tuple[int, int], ...]:
    """The teams with at least and at most so many people on the left and on the right; `near` is the near side."""
    teams = [
        (left, right) for left in range(low[0], high[0] + 1) for right in range(low[1], high[1] + 1) if left + right
    ]
    return tuple(sorted(teams, key=lambda team: (sum(team), abs(team[0] - team[1]), team[near])))


def why_no_team_is_possible(demand: Demand) -> str:
    """Say what is missing at the bed for a team of any size; empty where nothing is."""
    places = dict(zip(SIDES, largest_team(demand), strict=True))
    needed = _needed(demand)
    missing = [side for side in SIDES if side in needed and not places[side]]
    if len(missing) == len(SIDES) or (not needed and not any(places.values())):
        return "There is no place on either side of the bed, and a move needs somebody there: make room."
    if missing:
        return (
            f"There is no place on the {missing[0]} side of the bed, and a move needs somebody there: "
            "make room on that side."
        )
    held = any(task.group == "airway" for task in demand.tasks)
    turned = any(lacks_airway_lead(demand.scenario, move) for move, _ in demand.moves)
    if turned or (held and not has_airway_lead(demand.scenario)):
        return "Somebody must be at the head, and no airway lead is set: add an airway lead to the team."
    return ""


def nobody_where_needed(demand: Demand, move: int, left: int, right: int) -> tuple[str, ...]:
    """Say where a team has nobody though one of the moves needs somebody there, whatever the others can do.

    >>> from ergo.assessment.demand import demand_of
    >>> from ergo.inputs import examples
    >>> nobody_where_needed(demand_of(examples.boost()), 0, 4, 0)
    ('nobody stands on the right side, and one side alone would turn the patient',)
    """
    planned, ways = demand.moves[move]
    empty = [side for side, people in zip(SIDES, (left, right), strict=True) if not people]
    said = [f"nobody stands on the {side} side to guard the edge" for side in empty if side in demand.guarded]
    if len(empty) == 1 and any(demand.tasks[n].along for way in ways for n in way):
        said.append(f"nobody stands on the {empty[0]} side, and one side alone would turn the patient")
    if lacks_airway_lead(demand.scenario, planned):
        said.append("nobody leads at the head")
    return tuple(said)


def stands_where_needed(demand: Demand, left: int, right: int) -> bool:
    """Say whether a team has somebody wherever one of the moves needs somebody.

    >>> from ergo.assessment.demand import demand_of
    >>> from ergo.inputs import examples
    >>> boost = demand_of(examples.boost())
    >>> stands_where_needed(boost, 4, 0), stands_where_needed(boost, 1, 1)
    (False, True)
    """
    return not any(nobody_where_needed(demand, move, left, right) for move in range(len(demand.moves)))


def _needed(demand: Demand) -> set[Side]:
    """The sides where some move needs somebody: where it is guarded, drawn along the bed, or nobody else can do it."""
    needed = set(demand.guarded)
    for task in demand.tasks:
        sides = {task.side_of(action) for action in task.instants.actions}
        if task.along:  # one side alone would turn the patient
            needed |= sides
        elif task.group != "airway":
            needed |= sides if len(sides) == 1 else {task.towards}
    return needed


def _useful(demand: Demand) -> set[Side]:
    """The sides where somebody can do something in some move, or must stand."""
    found = _needed(demand)
    for task in demand.tasks:
        if task.group != "airway":
            found |= {task.side_of(action) for action in task.instants.actions if np.any(action.gain > 0.0)}
    return found
