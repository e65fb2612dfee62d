"""Scenario -> assessment: the one package that knows every model.

team (who stands where) -> demand (what every move asks of each side) -> load (each person's share and body) ->
check (limits) -> verdict (and why).
"""

from __future__ import annotations

from ergo.assessment.cautions import CAUTIONS, assumed_besides, cautions_of, used_besides
from ergo.assessment.check import LimitCheck
from ergo.assessment.demand import Demand, demand_of, largest_team, team_most
from ergo.assessment.load import BodyLoad, PersonLoad
from ergo.assessment.placing import place_people
from ergo.assessment.possible_teams import possible_teams, stands_where_needed, why_no_team_is_possible
from ergo.assessment.team import Role, has_airway_lead, roles_of
from ergo.assessment.verdict import Assessment, MoveResult, judge
from ergo.handlers.person import Person
from ergo.inputs.scenario import Scenario

__all__ = [
    "CAUTIONS",
    "Assessment",
    "BodyLoad",
    "Demand",
    "LimitCheck",
    "MoveResult",
    "Person",
    "PersonLoad",
    "Role",
    "assess",
    "assumed_besides",
    "cautions_of",
    "demand_of",
    "has_airway_lead",
    "judge",
    "largest_team",
    "place_people",
    "possible_teams",
    "roles_of",
    "stands_where_needed",
    "team_most",
    "used_besides",
    "why_no_team_is_possible",
]


def assess(scenario: Scenario) -> Assessment:
    """Return the assessment of a scenario with its own team; people of the shift stand where they fit best.

    Parameters
    ----------
    scenario : Scenario

    Returns
    -------
    Assessment

    Raises
    ------
    InputError
        If the aid cannot serve the procedure.

    Examples
    --------
    >>> from ergo.inputs import examples
    >>> result = assess(examples.boost())
    >>> result.people, result.moves[0].move.kind
    (4, 'boost')
    """
    placed = place_people(scenario)
    return judge(demand_of(placed), placed.team.left, placed.team.right)
