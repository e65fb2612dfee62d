"""Which teams find a place at the bed, with somebody wherever a move needs somebody, or why there is none."""

from __future__ import annotations

from ergo.assessment.demand import Demand, largest_team
from ergo.assessment.team import has_airway_lead, lacks_airway_lead
from ergo.inputs.scenario import Side

__all__ = ["possible_teams", "why_no_team_is_possible"]

_SIDES: tuple[Side, Side] = ("left", "right")


def possible_teams(demand: Demand) -> list[tuple[int, int]]:
    """Return the teams with somebody wherever a move needs somebody, in the order in which a team is looked for.

    Fewest people first, then evenest, then more on the far side. No side has more than its places, and one that no move
    needs has nobody; where none is needed, each has one who stands by, or more. Empty where no team is possible.
    """
    if why_no_team_is_possible(demand):
        return []
    needed = _needed(demand) or set(_SIDES)
    high = [most if side in needed else 0 for side, most in zip(_SIDES, largest_team(demand), strict=True)]
    low = [min(1, most) for most in high]
    near = 0 if demand.direction.receiving == "left" else 1
    teams = [(left, right) for left in range(low[0], high[0] + 1) for right in range(low[1], high[1] + 1)]
    return sorted(teams, key=lambda team: (sum(team), abs(team[0] - team[1]), team[near]))


def why_no_team_is_possible(demand: Demand) -> str:
    """Say what is missing at the bed for a team of any size; empty where nothing is."""
    places = dict(zip(_SIDES, largest_team(demand), strict=True))
    needed = _needed(demand)
    missing = [side for side in _SIDES if side in needed and not places[side]]
    if len(missing) == len(_SIDES) or (not needed and not any(places.values())):
        return "There is no place on either side of the bed, and a move needs somebody there: make room."
    if missing:
        return (
            f"There is no place on the {missing[0]} side of the bed, and a move needs somebody there: "
            "make room on that side."
        )
    held = any(effort.falls_to("airway") for _, efforts in demand.moves for effort in efforts)
    turned = any(lacks_airway_lead(demand.scenario, move) for move, _ in demand.moves)
    if turned or (held and not has_airway_lead(demand.scenario)):
        return "Somebody must be at the head, and no airway lead is set: add an airway lead to the team."
    return ""


def _needed(demand: Demand) -> set[Side]:
    """The sides where some move needs somebody."""
    efforts = [effort for _, efforts in demand.moves for effort in efforts]
    return {side for side in _SIDES if side in demand.guarded or any(effort.falls_to(side) for effort in efforts)}
