"""An unplanned return to the back with whoever is on the unit, planned for beforehand."""

from __future__ import annotations

from ergo.inputs.scenario import Scenario
from ergo.teams.smallest_team import PROBABILITY_ASKED
from ergo.teams.this_team import ThisTeam, this_team

__all__ = ["IN_AN_ARREST", "emergency_return", "is_turned_prone"]

IN_AN_ARREST = (
    "In an arrest nobody opens this tool. Resuscitation begins face down where the patient cannot be turned at once, "
    "by the unit's own protocol. This is for planning: who is there, and can they turn the patient back?"
)


def is_turned_prone(scenario: Scenario) -> bool:
    """Return whether the patient of a case lies face down when it is done.

    >>> from ergo.inputs import examples
    >>> is_turned_prone(examples.prone_turn()), is_turned_prone(examples.boost())
    (True, False)
    """
    return scenario.makes("prone turn")


def emergency_return(
    scenario: Scenario, probability_asked: float = PROBABILITY_ASKED, *, team: tuple[int, int] | None = None
) -> ThisTeam:
    """Return whether the team of a scenario can turn the patient back, with the same bed, aid and people.

    `team` are the numbers on the left and on the right where nobody is stated.

    >>> from ergo.inputs import examples
    >>> found = emergency_return(examples.prone_turn(team={"left": 2, "right": 2}))
    >>> found.scenario.procedure, found.people
    ('return to supine', 5)
    """
    back = scenario.model_copy(update={"procedure": "return to supine", "moves": ()})
    if team is not None and not scenario.team.members:
        back = back.model_copy(update={"team": back.team.model_copy(update={"left": team[0], "right": team[1]})})
    return this_team(back, probability_asked, with_band=False)
