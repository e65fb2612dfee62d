"""Who stands at the bed: the people on each side, and those who do something other than pull."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from ergo.handlers.load_sharing import station_at, stations
from ergo.handlers.person import Person
from ergo.handlers.reference_team import mixed_team
from ergo.inputs.scenario import Member, Scenario, Side, has_airway_lead, has_tube_holder
from ergo.mechanics.procedure import PlannedMove

__all__ = [
    "Person",
    "Role",
    "RoleName",
    "airway_lead",
    "has_airway_lead",
    "lacks_airway_lead",
    "people_on_side",
    "roles_of",
]

RoleName = Literal["airway lead", "tube holder", "lines and drains", "caller"]


@dataclass(frozen=True, slots=True)
class Role:
    """A person who does not pull."""

    name: RoleName
    people: int
    reason: str


def roles_of(scenario: Scenario) -> tuple[Role, ...]:
    """Return the people who do not pull.

    >>> from ergo.inputs import examples
    >>> [r.name for r in roles_of(examples.prone_turn())]
    ['airway lead']
    """
    team = scenario.team
    found = []
    if has_airway_lead(scenario):
        does = "carries" if scenario.handling.head_carried else "guides"
        tube = " and holds the tube" if scenario.patient.intubated and not has_tube_holder(scenario) else ""
        found.append(Role("airway lead", 1, f"{does} the head{tube}, and nothing else"))
    if has_tube_holder(scenario):
        found.append(Role("tube holder", 1, "holds the tube, so that the airway lead has both hands for the head"))
    if team.lines_and_drains:
        found.append(Role("lines and drains", team.lines_and_drains, "keeps lines and drains free"))
    if team.separate_caller:
        found.append(Role("caller", 1, "counts and watches"))
    return tuple(found)


def lacks_airway_lead(scenario: Scenario, move: PlannedMove) -> bool:
    """Say whether an intubated patient is turned and nobody leads at the head (common practice, no source)."""
    return scenario.patient.intubated and move.is_turn and not has_airway_lead(scenario)


def people_on_side(scenario: Scenario, side: Side, people: int) -> tuple[Person, ...]:
    """Return the people on one side: the scenario's own members where their number fits, else a mixed team.

    They stand evenly from the patient's shoulder to the knee, unless a member says otherwise.

    >>> from ergo.inputs import examples
    >>> boost = examples.boost()
    >>> [person.words for person in people_on_side(boost, "left", 2)]
    ['left side, at the shoulder', 'left side, at the knee']
    """
    if not people:
        return ()
    stature = scenario.patient.stature_m
    named = [m for m in scenario.team.members if m.side == side]
    members: list[Member | None] = [*named] if len(named) == people else [None] * people
    spread = stations(people, stature)
    places = [
        float(own) if member and (own := member.position_m) is not None else float(default)
        for member, default in zip(members, spread, strict=True)
    ]
    at = [station_at(place, stature) for place in places]
    ranks = np.argsort(np.argsort(places, kind="stable"), kind="stable")
    group = []
    for i, (member, usual) in enumerate(zip(members, mixed_team(people), strict=True)):
        group.append(
            Person(
                sex=(member and member.sex) or usual.sex,
                stature_m=(member and member.stature_m) or usual.stature_m,
                mass_kg=(member and member.mass_kg) or usual.mass_kg,
                side=side,
                index=int(ranks[i]),
                position_m=places[i],
                station=at[i],
                numbered=len(set(at)) < people,
            )
        )
    return tuple(group)


def airway_lead() -> Person:
    """Return the person at the patient's head: the first of a mixed team, the smallest woman.

    Source: fryar_2025 (5th percentile of women's stature, mass at their median BMI); that it is she is a judgement.

    >>> lead = airway_lead()
    >>> lead.sex, round(lead.stature_m, 3), round(lead.mass_kg, 1)
    ('F', 1.496, 63.3)
    """
    return replace(mixed_team(1)[0], role="airway lead")
