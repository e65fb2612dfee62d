"""Long work of the page and of a few commands, each piece named, asked for in text, answered with a frozen result.

So it can be done in another process; what is asked for twice is the same text. What only some tasks need is loaded by
them: a command waits until all the rest is loaded.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from ergo.assessment import assess
from ergo.inputs.scenario import read_scenario
from ergo.mechanics.case import aid_of
from ergo.teams.aid_comparison import aid_option
from ergo.teams.size_curve import CurvePoint
from ergo.teams.smallest_team import AidOption, FirstAnswer, Search, TeamAnswer

if TYPE_CHECKING:
    from ergo.teams.aid_comparison import Trial
    from ergo.teams.bed_height import TeamHeight
    from ergo.uncertainty.sensitivity import Drivers

CASES = 24  # at hand, of up to 3 MB while they are worked on, then a few hundred kB

__all__ = ["answer", "curve", "drivers", "first", "height", "option", "trial"]


@lru_cache(maxsize=CASES)
def _search(case: str) -> Search:
    """Remembered, for the next question about the same case."""
    return Search(read_scenario(case.encode()))


def curve(case: str) -> tuple[CurvePoint, ...]:
    """Return every team size of a case at typical values."""
    return _search(case).curve


def first(case: str) -> FirstAnswer:
    """Return the smallest team of a case, before the probability of any larger one is known."""
    return _search(case).first


def answer(case: str) -> TeamAnswer:
    """Return the smallest team of a case with all that is found without looking at another aid."""
    return _search(case).whole


def drivers(case: str, left: int, right: int) -> Drivers:
    """Return what drives the answer of a case with a team."""
    from ergo.uncertainty.sensitivity import drivers as drivers_of

    return drivers_of(read_scenario(case.encode()), left, right)


def height(case: str) -> TeamHeight | None:
    """Return the best bed height for the own team of a case, or None where nothing depends on it."""
    from ergo.teams.bed_height import team_height

    return team_height(assess(read_scenario(case.encode())))


def option(case: str, probability_asked: float | None = None) -> AidOption | None:
    """Return the smallest team with the aid of a case, or None where that aid does not serve the move."""
    scenario = read_scenario(case.encode())
    return aid_option(scenario, scenario.aid, probability_asked)


def trial(case: str, aid: str) -> Trial:
    """Return what a trial of one aid would have to show for a case."""
    from ergo.teams.aid_comparison import trial_of

    scenario = read_scenario(case.encode())
    return trial_of(scenario, aid_of(scenario.model_copy(update={"aid": aid})))
