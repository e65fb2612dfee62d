"""An unplanned return to the back with whoever is on the unit, planned for beforehand."""

from __future__ import annotations

from ergo.inputs.scenario import Scenario
from ergo.teams.smallest_team import PROBABILITY_ASKED
from ergo.teams.this_team import ThisTeam, this_team

__all__ = ["IN_AN_ARREST", "emergency_return"]

IN_AN_ARREST = (
    "In an arrest nobody opens this tool. Resuscitation begins face down where the patient cannot be turned at once, "
    "by the unit's own protocol. This is for planning: who is there, and can they turn the patient back?"
)


def emergency_return(scenario: Scenario, probability_asked: float = PROBABILITY_ASKED) -> ThisTeam:
    """Return whether the team of a scenario can turn the patient back, with the same bed, aid and people.

    >>> from ergo.inputs import examples
    >>> found = emergency_return(examples.prone_turn(team={"left": 2, "right": 2}))
    >>> found.scenario.procedure, found.people
    ('return to supine', 5)
    """
    back = scenario.model_copy(update={"procedure": "return to supine", "moves": ()})
    return this_team(back, probability_asked, with_band=False)
