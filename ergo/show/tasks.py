"""The long work of the page, each piece named, asked for in text and answered with a frozen result.

So it can be done in another process; what is asked for twice is the same text.
"""

from __future__ import annotations

from ergo.assessment import demand_of
from ergo.mechanics.case import aid_of
from ergo.plan.answer import AidOption, TeamAnswer
from ergo.plan.team import aid_option, smallest_team
from ergo.plan.trial import Trial, trial_of
from ergo.scenario import read_scenario

__all__ = ["answer", "option", "trial"]


def answer(case: str) -> TeamAnswer:
    """Return the smallest team of a case, without the other aids."""
    scenario = read_scenario(case.encode())
    return smallest_team(scenario, with_aids=False, asked=demand_of(scenario))


def option(case: str) -> AidOption | None:
    """Return the smallest team with the aid of a case, or None where that aid does not serve the move."""
    scenario = read_scenario(case.encode())
    return aid_option(scenario, scenario.aid)


def trial(case: str, aid: str) -> Trial:
    """Return what a trial of one aid would have to show for a case."""
    scenario = read_scenario(case.encode())
    return trial_of(scenario, aid_of(scenario.model_copy(update={"aid": aid})))
