"""The smallest team for a scenario, and what a better aid buys."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

from ergo.errors import InputError
from ergo.mechanics.case import aid_of
from ergo.mechanics.layers import registry
from ergo.plan.answer import AidOption, FirstAnswer, Needs, TeamAnswer
from ergo.plan.search import Search
from ergo.plan.team_words import gain_words
from ergo.scenario import Scenario

__all__ = [
    "aid_names",
    "aid_option",
    "compare_aids",
    "own_option",
    "people_for",
    "smallest_team",
    "with_options",
]


def smallest_team(
    scenario: Scenario,
    confidence: float | None = None,
    progress: Callable[[float], bool] | None = None,
    *,
    with_aids: bool = True,
) -> TeamAnswer:
    """Return the smallest team with which nobody is over a deciding limit, at a stated confidence.

    A team counts when every move is within the limits at typical values, and when nobody is over one in at least
    `confidence` of the draws. People are fixed to a side for the whole procedure; roles come on top. Up to `team_most`
    a side and no more than there are places; beyond that a mechanical lift.

    Parameters
    ----------
    scenario : Scenario
        Its own team is not used, except for roles and sharing.
    confidence : float, optional
        0 to 1; `confidence` in evidence when left out.
    progress : callable, optional
        Told the part done, 0 to 1; returns False to stop comparing aids.
    with_aids : bool
        Whether to look at every other aid too, which takes several times as long.

    Returns
    -------
    TeamAnswer

    Raises
    ------
    InputError
        If the aid cannot serve the procedure, or the confidence is not between 0 and 1.

    Examples
    --------
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6, "intubated": True}
    >>> answer = smallest_team(parse_scenario({"name": "x", "procedure": "prone turn", "patient": patient}))
    >>> answer.use_lift, answer.people == answer.left + answer.right + 1, answer.chance >= 0.9
    (False, True, True)
    """
    alone = Search(scenario, confidence, at_once=True).whole
    if not with_aids:
        return alone
    return with_options(alone, compare_aids(scenario, confidence, progress, known=own_option(alone)))


def people_for(scenario: Scenario, confidence: float | None = None) -> Needs:
    """Return only the number of people that a scenario needs, or why there is none.

    Parameters
    ----------
    scenario : Scenario
    confidence : float, optional
        As for `smallest_team`.

    Returns
    -------
    int or "lift" or "no limit"

    Raises
    ------
    InputError
        If the aid cannot serve the procedure.

    Examples
    --------
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6, "intubated": True}
    >>> case = parse_scenario({"name": "x", "procedure": "prone turn", "patient": patient})
    >>> people_for(case) == smallest_team(case, with_aids=False).people
    True
    """
    return Search(scenario, confidence).first.needs


def compare_aids(
    scenario: Scenario,
    confidence: float | None = None,
    progress: Callable[[float], bool] | None = None,
    *,
    known: AidOption | None = None,
) -> tuple[AidOption, ...]:
    """Return the smallest team with each aid that can serve the scenario's procedure, fewest people first.

    Parameters
    ----------
    scenario : Scenario
    confidence : float, optional
    progress : callable, optional
        As for `smallest_team`.
    known : AidOption, optional
        One that was worked out before.

    Returns
    -------
    tuple of AidOption
        The scenario's own aids are among them.

    Examples
    --------
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> options = compare_aids(parse_scenario({"name": "x", "procedure": "boost", "patient": patient}))
    >>> needs = {option.aid: option.needs for option in options}
    >>> needs["slide sheet"] < needs["no aid"], "transfer board" in needs  # a board only bridges two beds
    (True, False)
    """
    options = []
    names = aid_names(scenario)
    for i, name in enumerate(names):
        if progress is not None and not progress(i / len(names)):
            break
        options.append(known if known is not None and name == known.aid else aid_option(scenario, name, confidence))
    return _ranked(options)


def aid_names(scenario: Scenario) -> tuple[str, ...]:
    """Return the aids that a scenario can choose from: the registry's and its own.

    Parameters
    ----------
    scenario : Scenario

    Returns
    -------
    tuple of str
        Also those that do not serve its procedure.

    Examples
    --------
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> aid_names(parse_scenario({"name": "x", "procedure": "boost", "patient": patient}))[:3]
    ('no aid', 'cotton draw sheet', 'slide sheet')
    """
    return (*registry(), *(own.name for own in scenario.own_aids))


def aid_option(scenario: Scenario, name: str, confidence: float | None = None) -> AidOption | None:
    """Return the smallest team with one aid, or None if it does not serve the scenario's procedure.

    Parameters
    ----------
    scenario : Scenario
    name : str
        One of `aid_names`.
    confidence : float, optional
        As for `smallest_team`.

    Returns
    -------
    AidOption or None

    Examples
    --------
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> boost = parse_scenario({"name": "x", "procedure": "boost", "patient": patient})
    >>> aid_option(boost, "slide sheet").people, aid_option(boost, "transfer board")
    (2, None)
    """
    try:
        return own_option(Search(scenario.model_copy(update={"aid": name}), confidence).first)
    except InputError:
        return None


def _ranked(options: Iterable[AidOption | None]) -> tuple[AidOption, ...]:
    serving = [o for o in options if o is not None]
    return tuple(sorted(serving, key=lambda o: (o.people is None, o.people or 0, o.worst_ratio)))


def with_options(answer: TeamAnswer, options: Iterable[AidOption | None]) -> TeamAnswer:
    """Return an answer that was found without the other aids, with them.

    Parameters
    ----------
    answer : TeamAnswer
    options : iterable of AidOption or None
        In any order, the answer's own aid among them; None, for an aid that does not serve, is left out.

    Returns
    -------
    TeamAnswer
        With the options ranked, fewest people first, and with what they and one more person gain in words.

    Examples
    --------
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 60.0, "stature_m": 1.6}
    >>> case = parse_scenario({"name": "x", "procedure": "boost", "patient": patient})
    >>> alone = smallest_team(case, with_aids=False)
    >>> with_options(alone, [aid_option(case, name) for name in aid_names(case)]) == smallest_team(case)
    True
    """
    aids = _ranked(options)
    gains = gain_words(answer.assessment if answer.people else None, answer.one_more, aids, answer.scenario.aid)
    return replace(answer, aids=aids, gains=tuple(gains))


def own_option(answer: FirstAnswer) -> AidOption:
    """Return what an answer says of its own aid, to stand beside the other aids.

    Parameters
    ----------
    answer : FirstAnswer

    Returns
    -------
    AidOption

    Examples
    --------
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 60.0, "stature_m": 1.6}
    >>> case = parse_scenario({"name": "x", "procedure": "boost", "patient": patient})
    >>> own_option(smallest_team(case, with_aids=False)) == aid_option(case, case.aid)
    True
    """
    aid, shown = aid_of(answer.scenario), answer.assessment
    return AidOption(
        aid=aid.name,
        people=answer.people,
        left=answer.left,
        right=answer.right,
        chance=answer.chance,
        worst_ratio=shown.worst_ratio,
        worst_person_force_n=max((m.worst_person_force_n for m in shown.moves), default=0.0),
        deciding=shown.deciding.label if shown.deciding else "",
        unmeasured=aid.unmeasured,
        note=aid.note,
        details=aid,
        landing=shown.landing,
        verdict=shown.verdict,
    )
