"""The smallest team of a case, while a helper looks at the other aids."""

from __future__ import annotations

import threading

from ergo.plan.answer import AidOption, TeamAnswer
from ergo.plan.team import aid_names, aid_option, own_option, smallest_team, with_options
from ergo.scenario import Scenario, dump_scenario
from ergo.show import tasks
from ergo.show.helper import Helper

__all__ = ["team_answer"]


def team_answer(scenario: Scenario, helper: Helper, confidence: float | None = None) -> TeamAnswer:
    """Return what `smallest_team` returns, in about the time of its longer half.

    The helper takes one aid after the other; once the team is found here, both do, so a slow helper delays nothing.

    Parameters
    ----------
    scenario : Scenario
    helper : Helper
    confidence : float, optional
        As for `smallest_team`.

    Returns
    -------
    TeamAnswer

    Raises
    ------
    InputError
        If the aid cannot serve the procedure, or the confidence is not between 0 and 1.
    """
    others = [name for name in aid_names(scenario) if name != scenario.aid]
    untaken = iter(others)  # gives each name to one of the two
    found: dict[str, AidOption | None] = {}

    def help_out() -> None:
        for name in untaken:
            case = dump_scenario(scenario.model_copy(update={"aid": name}))
            good, option = helper.do(tasks.option.__name__, (case, confidence))
            if good:
                found[name] = option

    beside = threading.Thread(target=help_out, daemon=True)
    beside.start()
    alone = smallest_team(scenario, confidence, with_aids=False)
    for name in untaken:
        found[name] = aid_option(scenario, name, confidence)
    beside.join()
    # What went wrong elsewhere goes wrong here again, where it is told.
    options = [found[name] if name in found else aid_option(scenario, name, confidence) for name in others]
    return with_options(alone, [own_option(alone), *options])
