"""What a better aid buys, and what a trial of it must show."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from ergo.errors import InputError
from ergo.inputs.scenario import Interface, OwnAid, Region, Scenario
from ergo.mechanics.case import aid_of
from ergo.mechanics.friction import Aid, registry, slip_friction
from ergo.mechanics.sliding import steady_pull
from ergo.teams.sentences import gain_words
from ergo.teams.smallest_team import PROBABILITY_ASKED, AidOption, FirstAnswer, Needs, Search, TeamAnswer

__all__ = [
    "Trial",
    "aid_names",
    "aid_option",
    "compare_aids",
    "own_option",
    "people_for",
    "smallest_team",
    "trial_of",
    "with_options",
]


def smallest_team(
    scenario: Scenario,
    probability: float | None = PROBABILITY_ASKED,
    progress: Callable[[float], bool] | None = None,
    *,
    with_aids: bool = True,
) -> TeamAnswer:
    """Return the smallest team with which nobody is over a deciding limit, at a stated probability.

    A team counts when every move is within the limits at typical values, and when nobody is over one in at least
    `probability` of the draws. People are fixed to a side for the whole procedure; roles come on top.
    Up to `team_most` a side and no more than there are places; beyond that a mechanical lift. Of all teams that
    count it is the one with the fewest people, then the evenest, then the one with more on the far side.

    Parameters
    ----------
    scenario : Scenario
        Its own team is not used, except for roles and sharing.
    probability : float or None
        0 to 1, `probability_asked` in evidence when left out; None for the smallest team at typical values.
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
        If the aid cannot serve the procedure, or the probability is not between 0 and 1.

    Examples
    --------
    >>> from ergo.inputs import examples
    >>> answer = smallest_team(examples.prone_turn())
    >>> answer.use_lift, answer.people == answer.left + answer.right + 1, answer.probability >= 0.9
    (False, True, True)
    """
    alone = Search(scenario, probability, at_once=True).whole
    if not with_aids:
        return alone
    return with_options(alone, compare_aids(scenario, probability, progress, known=own_option(alone)))


def people_for(scenario: Scenario, probability_asked: float | None = PROBABILITY_ASKED) -> Needs:
    """Return only the number of people that a scenario needs, or why there is none.

    Parameters
    ----------
    scenario : Scenario
    probability_asked : float, optional
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
    >>> from ergo.inputs import examples
    >>> case = examples.prone_turn()
    >>> people_for(case) == smallest_team(case, with_aids=False).people
    True
    """
    return Search(scenario, probability_asked).first.needs


def compare_aids(
    scenario: Scenario,
    probability_asked: float | None = PROBABILITY_ASKED,
    progress: Callable[[float], bool] | None = None,
    *,
    known: AidOption | None = None,
) -> tuple[AidOption, ...]:
    """Return the smallest team with each aid that can serve the scenario's procedure, fewest people first.

    Parameters
    ----------
    scenario : Scenario
    probability_asked : float, optional
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
    >>> from ergo.inputs import examples
    >>> options = compare_aids(examples.boost())
    >>> needs = {option.aid: option.needs for option in options}
    >>> needs["slide sheet"] < needs["no aid"], "transfer board" in needs  # a board only bridges two beds
    (True, False)
    """
    options = []
    names = aid_names(scenario)
    for i, name in enumerate(names):
        if progress is not None and not progress(i / len(names)):
            break
        options.append(
            known if known is not None and name == known.aid else aid_option(scenario, name, probability_asked)
        )
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
    >>> from ergo.inputs import examples
    >>> aid_names(examples.boost())[:3]
    ('no aid', 'cotton draw sheet', 'slide sheet')
    """
    return (*registry(), *(own.name for own in scenario.own_aids))


def aid_option(scenario: Scenario, name: str, probability_asked: float | None = PROBABILITY_ASKED) -> AidOption | None:
    """Return the smallest team with one aid, or None if it does not serve the scenario's procedure.

    Parameters
    ----------
    scenario : Scenario
    name : str
        One of `aid_names`.
    probability_asked : float, optional
        As for `smallest_team`.

    Returns
    -------
    AidOption or None

    Examples
    --------
    >>> from ergo.inputs import examples
    >>> boost = examples.boost()
    >>> aid_option(boost, "slide sheet").people, aid_option(boost, "transfer board")
    (2, None)
    """
    try:
        return own_option(Search(scenario.model_copy(update={"aid": name}), probability_asked).first)
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
    >>> from ergo.inputs import examples
    >>> case = examples.boost(60.0)
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
    >>> from ergo.inputs import examples
    >>> case = examples.boost(60.0)
    >>> own_option(smallest_team(case, with_aids=False)) == aid_option(case, case.aid)
    True
    """
    aid, shown = aid_of(answer.scenario), answer.assessment
    return AidOption(
        aid=aid.name,
        people=answer.people,
        left=answer.left,
        right=answer.right,
        probability=answer.probability,
        worst_ratio=shown.worst_ratio,
        worst_person_force_n=max((m.worst_person_force_n for m in shown.moves), default=0.0),
        deciding=shown.deciding.label if shown.deciding else "",
        unmeasured=aid.unmeasured,
        note=aid.note,
        details=aid,
        landing=shown.landing,
        verdict=shown.verdict,
        missing=answer.missing,
    )


_NAME = "aid on trial"


@dataclass(frozen=True, slots=True)
class Trial:
    """One aid on trial with the scenario's patient.

    Attributes
    ----------
    mu_low, mu, mu_high : float [-]
        Friction at which the stack slips: low, typical, high.
    reading_low_n, reading_n, reading_high_n : float [N]
        Steady level pull that would show it, with the whole weight of the scenario's patient on the aid.
    people_low, people_high : int or "lift" or "no limit"
        The scenario's answer if the friction proves to be at either end.
    """

    aid: str
    mu_low: float
    mu: float
    mu_high: float
    reading_low_n: float
    reading_n: float
    reading_high_n: float
    people_low: Needs
    people_high: Needs


def trial_of(scenario: Scenario, aid: Aid) -> Trial:
    """Return what a trial of an aid would have to find.

    F = μ m g on a level bed with a level pull; μ of the weakest interface.

    Parameters
    ----------
    scenario : Scenario
    aid : Aid
        One that serves the scenario's procedure.

    Returns
    -------
    Trial

    Examples
    --------
    >>> from ergo.mechanics.friction import find_aid
    >>> from ergo.inputs import examples
    >>> case = examples.boost()
    >>> trial = trial_of(case, find_aid("slide sheet"))
    >>> round(trial.reading_n), trial.people_low <= trial.people_high
    (130, True)
    """
    ends = [[c.mu_low for c in aid.contacts], [c.mu for c in aid.contacts], [c.mu_high for c in aid.contacts]]
    mu = [float(slip_friction(values)) for values in ends]
    reading = [float(steady_pull(scenario.patient.mass_kg, m, 0.0, 0.0)) for m in mu]
    return Trial(
        aid=aid.name,
        mu_low=mu[0],
        mu=mu[1],
        mu_high=mu[2],
        reading_low_n=reading[0],
        reading_n=reading[1],
        reading_high_n=reading[2],
        people_low=people_for(_with_friction(scenario, aid, ends[0])),
        people_high=people_for(_with_friction(scenario, aid, ends[2])),
    )


def _with_friction(scenario: Scenario, aid: Aid, mu: list[float]) -> Scenario:
    """The scenario with this aid's friction set, as if it had been measured."""
    regions: tuple[Region, ...] = aid.covers  # type: ignore[assignment]
    layers = tuple(
        Interface(upper=c.upper, lower=c.lower, mu_low=m, mu=m, mu_high=m)
        for c, m in zip(aid.contacts, mu, strict=True)
    )
    own = OwnAid(name=_NAME, interfaces=layers, covers=regions, rated_capacity_kg=aid.rated_capacity_kg)
    return scenario.model_copy(update={"aid": _NAME, "own_aids": (own,)})
