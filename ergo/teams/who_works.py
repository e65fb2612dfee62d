"""The ways of working beside each other: as it is taught, from both sides, from the receiving side alone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import get_args

from ergo.assessment import demand_of, judge, largest_team
from ergo.inputs.scenario import Scenario, WhoWorks, with_usual_people
from ergo.teams.team_search import Reasons, reasons_of

__all__ = ["WayOfWorking", "ways_of_working"]


@dataclass(frozen=True, slots=True)
class WayOfWorking:
    """How many people force alone would take if a case were worked in one way.

    Attributes
    ----------
    who_works : "as taught", "both sides" or "receiving side"
    people : int or None
        Everybody in the room; None where no team is enough.
    left, right : int or None
    worst_ratio : float
        Largest ratio of an amount to its deciding limit with that team, or with the largest where none is enough.
    deciding_move : str
        Where that is.
    chosen : bool
        Whether the case is worked so.
    """

    who_works: WhoWorks
    people: int | None
    left: int | None
    right: int | None
    worst_ratio: float
    deciding_move: str
    chosen: bool


def ways_of_working(
    scenario: Scenario, probability_asked: float | None = None, *, known: Reasons | None = None
) -> tuple[WayOfWorking, ...]:
    """Return each way in which a case can be worked with the number of people that force alone would take.

    Empty where it makes no difference, as in a boost, which is always drawn from both sides. `known` are the reasons of
    the scenario's own way, where they were found before.

    >>> from ergo.inputs import examples
    >>> ways = ways_of_working(examples.lateral_transfer(aid="cotton draw sheet"))
    >>> {way.who_works: way.people for way in ways}["both sides"] <= ways[-1].people
    True
    """
    scenario, found = with_usual_people(scenario), []
    for way in get_args(WhoWorks):
        own = way == scenario.team.who_works
        case = scenario.model_copy(update={"team": scenario.team.model_copy(update={"who_works": way})})
        demand = demand_of(case)
        if own and known is not None and known.people == known.people_by_force:
            reasons = known
        else:
            reasons = reasons_of(demand, probability_asked, by_force_alone=True)
        team = reasons.team or largest_team(demand)
        result = judge(demand, *team, every_limit=False)
        found.append(
            WayOfWorking(
                way, reasons.people_by_force, reasons.left, reasons.right, result.worst_ratio, result.deciding_move, own
            )
        )
    alike = {(way.people, way.left, way.right, way.worst_ratio) for way in found}
    return tuple(found) if len(alike) > 1 else ()
