"""Where the people of a shift stand best: who leads at the head, who minds the lines, who works on which side."""

from __future__ import annotations

from itertools import product

import numpy as np
from numpy.typing import NDArray

from ergo.assessment.demand import Demand, demand_of, largest_team
from ergo.assessment.team import has_airway_lead, member_person, strongest_first
from ergo.assessment.team_share import find_capacities, team_efforts
from ergo.errors import Fault, InputError
from ergo.handlers.person import Person
from ergo.inputs.scenario import SIDES, Duty, Member, Scenario, Side, limb_guides, line_minders
from ergo.limits.guidance import guidance_of

__all__ = ["place_people"]

_MOST_WAYS = 4096  # of dividing people between two sides that are looked at


def place_people(scenario: Scenario) -> Scenario:
    """Return the scenario with every person of the shift where all work least: head, lines, and the two sides.

    Of those who may lead at the head and mind lines, who may do nothing with the hands goes first. Whoever may do
    nothing that is needed stands by. People who are put somewhere stay there. InputError where a role is left without
    anybody who may do it.

    >>> from ergo.inputs import examples
    >>> shift = [{"size": "small"}, {"size": "tall", "most_lift_kg": 5.0}, {"size": "medium"}]
    >>> one = place_people(examples.prone_turn(team={"members": shift}))
    >>> [(m.role, m.side is not None) for m in one.team.members]
    [('hands', True), ('airway', False), ('hands', True)]
    """
    if not scenario.team.members:
        return scenario
    members, faults = list(scenario.team.members), []
    needed: list[tuple[Duty, int]] = [
        ("airway", int(has_airway_lead(scenario))),
        ("lines", line_minders(scenario)),
        ("limbs", limb_guides(scenario)),
    ]
    unplaced = any(m.role is None and m.side is None for m in members)  # else somebody who is not in the list comes
    for duty, number in needed:
        free = number - sum(m.role == duty for m in members)
        able = [i for i, m in enumerate(members) if m.role is None and m.side is None and duty in m.duties]
        # who may do nothing with the hands first, then the smallest
        able.sort(key=lambda i: ("hands" in members[i].duties, _weakest_first(members[i])))
        if free > len(able) and unplaced:
            faults.append(Fault("team.members", f"{len(able)} who may", f"{free} more for {_WORDS[duty]}", "people"))
        for i in able[: max(free, 0)]:
            members[i] = members[i].model_copy(update={"role": duty})
    if faults:
        raise InputError("team", faults)
    working = [i for i, m in enumerate(members) if m.role in (None, "hands") and (m.side or "hands" in m.duties)]
    for i, side in zip(working, _best_sides(scenario, [members[i] for i in working]), strict=True):
        members[i] = members[i].model_copy(update={"role": "hands", "side": side})
    counts: dict[str, object] = {side: sum(m.side == side for m in members) for side in SIDES}
    team = scenario.team.model_copy(update=counts | {"members": tuple(members)})
    return scenario.model_copy(update={"team": team})


_WORDS: dict[Duty, str] = {
    "airway": "the head and the airway",
    "lines": "lines and drains",
    "hands": "the sides",
    "limbs": "the limbs",
}


def _weakest_first(member: Member) -> tuple[float, ...]:
    return tuple(-part for part in strongest_first(member_person(member)))


def _best_sides(scenario: Scenario, members: list[Member]) -> list[Side]:
    """The division between the sides in which all work least, of those with as many on each side as guidance asks for
    where one of them is within the limits; of equals the evenest. The order of the list does not matter.
    """
    if not members:
        return []
    bare = scenario.model_copy(update={"team": scenario.team.model_copy(update={"members": ()})})
    demand = demand_of(bare)
    listed = [member_person(m) for m in members]
    order = sorted(range(len(members)), key=lambda i: strongest_first(listed[i]))
    members, people = [members[i] for i in order], [listed[i] for i in order]
    ways = _ways(demand, members, people)
    find_capacities([(demand, people)])
    effort = team_efforts(demand, people, ways)
    left = ways.sum(axis=1)
    uneven = np.abs(2 * left - len(members))
    alone = np.zeros(len(ways), dtype=bool)
    for side in demand.guarded:
        there = left if side == "left" else len(members) - left
        alone |= there == 0
    fewer = np.maximum((guidance_of(scenario).each_side or 0) - np.minimum(left, len(members) - left), 0)
    over = effort > 1.0
    best = min(range(len(ways)), key=lambda k: (alone[k], over[k], fewer[k], round(float(effort[k]), 9), uneven[k], k))
    sides: dict[int, Side] = {i: "left" if there else "right" for i, there in zip(order, ways[best], strict=True)}
    return [sides[i] for i in range(len(members))]


def _ways(demand: Demand, members: list[Member], people: list[Person]) -> NDArray[np.bool_]:
    """Who stands on the left in each way of dividing people between the sides, shape (ways, people).

    People of one body are exchangeable; no side takes more than its places, and who is put on a side stays there.
    """
    most = dict(zip(SIDES, largest_team(demand), strict=True))
    classes: dict[tuple[Person, Side | None], list[int]] = {}
    for i, (member, person) in enumerate(zip(members, people, strict=True)):
        classes.setdefault((person.bare, member.side), []).append(i)
    choices = []
    for (_, side), who in classes.items():
        choices.append([len(who)] if side == "left" else [0] if side == "right" else list(range(len(who) + 1)))
    found = []
    for counts in product(*choices):
        left = sum(counts)
        if left > most["left"] or len(members) - left > most["right"]:
            continue
        row = np.zeros(len(members), dtype=bool)
        for who, count in zip(classes.values(), counts, strict=True):
            row[who[:count]] = True
        found.append(row)
        if len(found) >= _MOST_WAYS:
            break
    if not found:
        places = f"{most['left']} places on the left and {most['right']} on the right"
        raise InputError("team", [Fault("team.members", f"{len(members)} people", f"no more than the {places}")])
    return np.array(found)
