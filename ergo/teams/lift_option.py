"""A ceiling or floor lift with a repositioning sheet, beside the aids that hands draw."""

from __future__ import annotations

from dataclasses import dataclass

from ergo.assessment import demand_of
from ergo.evidence import Range, assumption
from ergo.inputs.scenario import Move, Scenario
from ergo.limits.values import Standing
from ergo.teams.team_search import reasons_of
from ergo.units import DEFAULT_UNITS, Units, people_words

__all__ = ["LiftOption", "lift_before_hands", "lift_option", "lift_words", "placing_the_sheet"]


@dataclass(frozen=True, slots=True)
class LiftOption:
    """What a move with a lift takes: people by guidance, the hand work that remains, minutes, capacity.

    `people` is what guidance asks for at the lift and `people_placing` what it takes to roll the patient onto the
    sheet, both sides and nobody for head or lines counted; None where no team can. `first` says that the unit's policy
    asks for the lift at this mass; `refused` why it cannot be used.
    """

    people: int
    people_placing: int | None
    minutes: Range
    capacity_kg: float | None
    first: bool
    refused: str
    standing: Standing


def placing_the_sheet(scenario: Scenario) -> Scenario:
    """Return what hands still do when a lift moves the patient: a small roll to either side, to lay the sheet in.

    >>> from ergo.inputs import examples
    >>> [move.kind for move in placing_the_sheet(examples.boost()).moves]
    ['micro-turn', 'micro-turn']
    """
    rolls = Move(kind="micro-turn", towards="left"), Move(kind="micro-turn", towards="right")
    team = scenario.team.model_copy(update={"members": (), "airway_lead": None, "left": 2, "right": 2})
    return scenario.model_copy(
        update={
            "procedure": "own sequence",
            "moves": rolls,
            "aid": "cotton draw sheet",
            "team": team,
            "question": "",
        }
    )


def lift_option(scenario: Scenario) -> LiftOption:
    """Return a lift as an option of a scenario's move.

    Source: osha_3182 (people at a lift); minutes are a judgement.

    >>> from ergo.inputs import examples
    >>> found = lift_option(examples.boost(policy={"lift_from_kg": 60.0}))
    >>> found.people, found.first, found.people_placing
    (2, True, 2)
    """
    people, minutes = assumption("lift_people"), assumption("lift_minutes")
    placing = reasons_of(demand_of(placing_the_sheet(scenario)), by_force_alone=True)
    sides = None if placing.team is None else sum(placing.team)
    policy, mass = scenario.policy, scenario.patient.mass_kg
    capacity = policy.lift_capacity_kg
    refused = "over its rated capacity" if capacity is not None and mass > capacity else ""
    return LiftOption(
        people=int(people.typical),
        people_placing=sides,
        minutes=minutes,
        capacity_kg=capacity,
        first=policy.asks_for_lift(mass),
        refused=refused,
        standing=Standing(people.source, people.known),
    )


def lift_before_hands(team: tuple[int, int] | None) -> str:
    """Say that a lift comes before so many people at the sides; empty where no more than is advised, or no team.

    Source: hse_l23 (lifting by hand); that it holds for a pull is a judgement.

    >>> lift_before_hands((2, 2)), lift_before_hands((3, 2)).partition(":")[0]
    ('', 'A lift first')
    """
    most = int(assumption("hands_most_advised").typical)
    if team is None or sum(team) <= most:
        return ""
    return f"A lift first: a lift by hand by more than {most} people is advised against, and this takes more."


def lift_words(scenario: Scenario, found: LiftOption, units: Units = DEFAULT_UNITS) -> str:
    """Say what a lift takes, first where the unit's policy asks for it.

    >>> from ergo.inputs import examples
    >>> case = examples.boost(policy={"lift_from_kg": 60.0})
    >>> lift_words(case, lift_option(case)).partition(":")[0]
    "The unit's policy asks for a lift from 60 kg on"
    """
    mass = units.show_mass
    people = people_words(found.people)
    said = f"A ceiling or floor lift with a repositioning sheet: {people} by guidance"
    if found.first and scenario.policy.lift_from_kg is not None:
        said = f"The unit's policy asks for a lift from {mass(scenario.policy.lift_from_kg)} on: {people}"
    if found.people_placing is None:
        said += "; no team can roll the patient onto the sheet by hand within the limits, so it must lie there already"
    else:
        said += f"; rolling the patient onto the sheet takes {found.people_placing} at the sides"
    said += f"; {found.minutes.low:g} to {found.minutes.high:g} minutes with its preparation (a judgement)"
    if found.refused:
        said += f"; not for this patient, who is {found.refused}, {mass(found.capacity_kg or 0.0)}"
    elif found.capacity_kg is not None:
        said += f"; rated for {mass(found.capacity_kg)}"
    else:
        said += "; look up its rated capacity"
    return said + "."
