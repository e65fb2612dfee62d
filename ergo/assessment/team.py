"""Who stands at the bed: the people on each side, and those who do something other than pull."""

from __future__ import annotations

from dataclasses import dataclass

from ergo.handlers.load_sharing import station_name, stations
from ergo.handlers.reference_team import mixed_team
from ergo.inputs.scenario import Member, Scenario, Sex, Side

__all__ = ["Person", "Role", "airway_lead", "crew_of", "roles_of"]


@dataclass(frozen=True, slots=True)
class Person:
    """One person at the bedside: place along the patient [m], stature [m], body mass [kg]."""

    label: str
    position_m: float
    sex: Sex
    stature_m: float
    mass_kg: float


@dataclass(frozen=True, slots=True)
class Role:
    """A person who does not pull."""

    name: str
    people: int
    reason: str


def roles_of(scenario: Scenario) -> tuple[Role, ...]:
    """Return the people who do not pull.

    Parameters
    ----------
    scenario : Scenario

    Returns
    -------
    tuple of Role

    Examples
    --------
    >>> from ergo.inputs.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6, "intubated": True}
    >>> [r.name for r in roles_of(parse_scenario({"name": "x", "procedure": "prone turn", "patient": patient}))]
    ['airway lead']
    """
    team = scenario.team
    wanted = team.airway_lead if team.airway_lead is not None else scenario.patient.intubated
    found = []
    if wanted:
        found.append(Role("airway lead", 1, "holds head and tube, and nothing else"))
    if team.lines_and_drains:
        found.append(Role("lines and drains", team.lines_and_drains, "keeps lines and drains free"))
    if team.separate_caller:
        found.append(Role("caller", 1, "counts and watches"))
    return tuple(found)


def crew_of(scenario: Scenario, side: Side, people: int) -> tuple[Person, ...]:
    """Return the people on one side: the scenario's own members where their number fits, else a mixed team.

    Parameters
    ----------
    scenario : Scenario
    side : "left" or "right"
    people : int

    Returns
    -------
    tuple of Person
        Evenly from the patient's shoulder to the knee, unless a member says otherwise.

    Examples
    --------
    >>> from ergo.inputs.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> boost = parse_scenario({"name": "x", "procedure": "boost", "patient": patient})
    >>> [person.label for person in crew_of(boost, "left", 2)]
    ['left side, at the shoulder', 'left side, at the knee']
    """
    if not people:
        return ()
    stature = scenario.patient.stature_m
    named = [m for m in scenario.team.members if m.side == side]
    members: list[Member | None] = [*named] if len(named) == people else [None] * people
    spread, default = stations(people, stature), mixed_team(people)
    crew = []
    for i, member in enumerate(members):
        along = member.position_m if member and member.position_m is not None else float(spread[i])
        handler = default[i]
        crew.append(
            Person(
                label=f"{side} side, at the {station_name(along, stature)}",
                position_m=along,
                sex=(member.sex if member and member.sex else None) or _sex(handler.sex),
                stature_m=(member.stature_m if member else None) or handler.stature_m,
                mass_kg=(member.mass_kg if member else None) or handler.mass_kg,
            )
        )
    return tuple(crew)


def airway_lead() -> Person:
    """Return the person at the head: the first of a mixed team, the smallest woman.

    Returns
    -------
    Person
        At the top of the patient's head.

    Notes
    -----
    Source: fryar_2025 (5th percentile of women's stature, mass at their median BMI); that it is she is a judgement.

    Examples
    --------
    >>> lead = airway_lead()
    >>> lead.sex, round(lead.stature_m, 3), round(lead.mass_kg, 1)
    ('F', 1.496, 63.3)
    """
    first = mixed_team(1)[0]
    return Person("airway lead", 0.0, _sex(first.sex), first.stature_m, first.mass_kg)


def _sex(word: str) -> Sex:
    return "F" if word == "F" else "M"
