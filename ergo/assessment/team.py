"""Who stands at the bed: the people on each side, and those who do something other than pull."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import Literal

import numpy as np

from ergo.evidence import row
from ergo.handlers.load_sharing import station_at, stations
from ergo.handlers.person import Person, usual_person
from ergo.handlers.reference_team import mixed_team
from ergo.inputs.scenario import (
    Member,
    Scenario,
    Side,
    Team,
    has_airway_lead,
    has_tube_holder,
    limb_guides,
    line_minders,
)
from ergo.mechanics.procedure import PlannedMove
from ergo.units import G

__all__ = [
    "Person",
    "Role",
    "RoleName",
    "airway_lead",
    "at_the_head",
    "has_airway_lead",
    "lacks_airway_lead",
    "letters_of",
    "member_person",
    "people_of_team",
    "people_on_side",
    "roles_of",
    "strongest_first",
]

RoleName = Literal["airway lead", "tube holder", "lines and drains", "limbs", "caller"]


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
    if minders := line_minders(scenario):
        found.append(Role("lines and drains", minders, "keeps lines and drains free"))
    if guides := limb_guides(scenario):
        found.append(Role("limbs", guides, "guides heavy or injured limbs, and nothing else"))
    if team.separate_caller:
        found.append(Role("caller", 1, "counts and watches"))
    return tuple(found)


def lacks_airway_lead(scenario: Scenario, move: PlannedMove) -> bool:
    """Say whether an intubated patient is turned and nobody leads at the head (common practice, no source)."""
    return scenario.patient.intubated and move.is_turn and not has_airway_lead(scenario)


def people_on_side(scenario: Scenario, side: Side, people: int) -> tuple[Person, ...]:
    """Return the people on one side: the scenario's own members where their number fits, else a mixed team.

    They stand evenly from the patient's shoulder to the knee, unless a member says otherwise; of stated people the
    strongest next to the shoulder, in whatever order they are listed.

    >>> from ergo.inputs import examples
    >>> boost = examples.boost()
    >>> [person.words for person in people_on_side(boost, "left", 2)]
    ['left side, at the shoulder', 'left side, at the knee']
    """
    return people_of_team(scenario.team, side, people, scenario.patient.stature_m)


def people_of_team(team: Team, side: Side, people: int, stature_m: float) -> tuple[Person, ...]:
    """Return the people of a team on one side, beside a patient of this stature, as `people_on_side`."""
    if not people:
        return ()
    members = [m for m in team.members if m.side == side]
    if len(members) != people:
        return _unstated(side, people, stature_m)
    bodies = [member_person(member) for member in members]
    order = sorted(range(people), key=lambda i: strongest_first(bodies[i]))
    default = dict(zip(order, stations(people, stature_m), strict=True))
    places = [float(default[i]) if member.position_m is None else member.position_m for i, member in enumerate(members)]
    at = [station_at(place, stature_m) for place in places]
    ranks = np.argsort(np.argsort(places, kind="stable"), kind="stable")
    letters = {id(m): letter for m, letter in zip(team.members, letters_of(team), strict=True)}
    return tuple(
        replace(
            bodies[i],
            side=side,
            index=int(ranks[i]),
            position_m=places[i],
            station=at[i],
            numbered=len(set(at)) < people,
            letter=letters[id(member)],
        )
        for i, member in enumerate(members)
    )


def _unstated(side: Side, people: int, stature_m: float) -> tuple[Person, ...]:
    return tuple(replace(p, position_m=p.position_m * stature_m) for p in _beside_one_metre(side, people))


@cache
def _beside_one_metre(side: Side, people: int) -> tuple[Person, ...]:
    """Unstated people stand at the same landmarks beside every patient."""
    places = stations(people, 1.0)
    at = [station_at(place, 1.0) for place in places]
    return tuple(
        replace(
            usual,
            side=side,
            index=i,
            position_m=float(place),
            station=at[i],
            numbered=len(set(at)) < people,
        )
        for i, (place, usual) in enumerate(zip(places, mixed_team(people), strict=True))
    )


def strongest_first(person: Person) -> tuple[float, float, float]:
    """Return what people are put in order by: without a restriction before with one, then by size.

    The first of a side gives all they can; were it the weakest, one more person could make a team worse.

    >>> strongest_first(Person("F", 1.7, 60.0)) < strongest_first(Person("F", 1.8, 60.0, most_lift_n=49.0))
    True
    """
    return -min(person.most_lift_n, person.most_force_n), -person.stature_m, -person.mass_kg


def letters_of(team: Team) -> tuple[str, ...]:
    """Return what the people of the shift are called, in their order: A, B, C and on.

    >>> from ergo.inputs import examples
    >>> letters_of(examples.boost(team={"members": [{"size": "small"}, {"size": "tall"}]}).team)
    ('A', 'B')
    """
    return tuple(chr(ord("A") + i) if i < 26 else f"A{i - 25}" for i in range(len(team.members)))


def member_person(member: Member) -> Person:
    """Return a stated person; what is not stated of the body is that of the first of a usual team.

    >>> from ergo.inputs.scenario import Member
    >>> small = member_person(Member(size="small", most_lift_kg=5.0))
    >>> small.sex, round(small.stature_m, 2), round(small.most_lift_n, 1)
    ('F', 1.5, 49.0)
    """
    usual = mixed_team(1)[0]
    if member.size:
        entry = row("handler_sizes", size=member.size)
        usual = usual_person(entry["sex"], entry["percentile"])
    elif member.sex:
        usual = next(p for p in mixed_team(10) if p.sex == member.sex)
    sex, stature, mass = usual.sex, usual.stature_m, usual.mass_kg
    if member.stature_m:
        mass, stature = mass * (member.stature_m / stature) ** 2, member.stature_m
    lift = member.most_lift_kg * G if member.restricted and member.most_lift_kg is not None else np.inf
    force = member.most_force_n if member.restricted and member.most_force_n is not None else np.inf
    return Person(sex, stature, member.mass_kg or mass, most_lift_n=float(lift), most_force_n=float(force))


def airway_lead(scenario: Scenario | None = None) -> Person:
    """Return the person at the patient's head: who does it of the shift, else the first of a mixed team.

    Source: fryar_2025 (medians of women); that it is she is a judgement.

    >>> lead = airway_lead()
    >>> lead.sex, round(lead.stature_m, 3), round(lead.mass_kg, 1)
    ('F', 1.612, 73.5)
    """
    usual = mixed_team(1)[0]
    if scenario is not None:
        for member, letter in zip(scenario.team.members, letters_of(scenario.team), strict=True):
            if member.role == "airway":
                return replace(member_person(member), role="airway lead", letter=letter)
    return replace(usual, role="airway lead")


def at_the_head(scenario: Scenario) -> tuple[Person, ...]:
    """Return the airway lead, where a case has one.

    >>> from ergo.inputs import examples
    >>> len(at_the_head(examples.prone_turn())), len(at_the_head(examples.boost()))
    (1, 0)
    """
    return (airway_lead(scenario),) if has_airway_lead(scenario) else ()
