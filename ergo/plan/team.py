"""The smallest team for a scenario, the whole curve, what one more person and what a better aid buys."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Literal

from ergo.assessment import Assessment, Demand, Role, demand_of, judge, roles_of
from ergo.errors import Fault, InputError
from ergo.evidence import assumption
from ergo.limits.policy import Verdict
from ergo.mechanics.case import aid_of
from ergo.mechanics.landing import Landing
from ergo.mechanics.layers import Aid, registry
from ergo.plan.chance.confidence import Sureness, sureness
from ergo.plan.chance.drawn import Drawn, possible_teams
from ergo.plan.published import PublishedHeadcount, published_headcounts
from ergo.plan.team_curve import CurvePoint, drawn_point, typical_curve
from ergo.plan.team_words import gain_words, why_words
from ergo.plan.typical import ENOUGH, largest_team
from ergo.scenario import Scenario

__all__ = [
    "AidOption",
    "TeamAnswer",
    "aid_names",
    "aid_option",
    "compare_aids",
    "own_option",
    "people_for",
    "smallest_sure",
    "smallest_team",
    "with_options",
]


@dataclass(frozen=True, slots=True)
class AidOption:
    """The smallest team with one aid."""

    aid: str
    people: int | None
    left: int | None
    right: int | None
    chance: float
    worst_ratio: float
    worst_person_force_n: float
    deciding: str
    unmeasured: bool
    note: str
    details: Aid
    """Layers with friction, cover, use and capacity."""
    landing: Landing | None
    verdict: Verdict

    @property
    def needs(self) -> int | Literal["lift", "no limit"]:
        """The number of people, or why there is none."""
        if self.people is not None:
            return self.people
        return "no limit" if self.verdict == "not applicable" else "lift"


@dataclass(frozen=True, slots=True)
class TeamAnswer:
    """How many people a scenario needs, and why.

    `people`, `left` and `right` are None when a mechanical lift is the answer, or when no limit covers the case.
    `chance` is that nobody is over a limit with the team shown.
    """

    scenario: Scenario
    people: int | None
    left: int | None
    right: int | None
    roles: tuple[Role, ...]
    use_lift: bool
    confidence: float
    chance: float
    sure: Sureness
    assessment: Assessment
    curve: tuple[CurvePoint, ...]
    one_more: Assessment | None
    aids: tuple[AidOption, ...]
    published: tuple[PublishedHeadcount, ...]
    why: str
    gains: tuple[str, ...]


def smallest_team(
    scenario: Scenario,
    confidence: float | None = None,
    progress: Callable[[float], bool] | None = None,
    *,
    with_aids: bool = True,
    asked: Demand | None = None,
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
    asked : Demand, optional
        The scenario's demand, where it was worked out before.

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
    if confidence is not None and not 0.0 < confidence < 1.0:
        raise InputError("confidence", [Fault("confidence", str(confidence), "between 0 and 1")])
    asked = asked or demand_of(scenario)
    typical = typical_curve(asked)
    sure = sureness(scenario, asked=asked, confidence=confidence)
    best = smallest_sure(asked, sure)
    shown = best or judge(asked, *largest_team(asked))
    chance = _chance(sure, shown)
    one_more = _one_more(asked, best) if best else None
    uncovered = best is None and shown.verdict == "not applicable"
    alone = TeamAnswer(
        scenario=scenario,
        people=best.people if best else None,
        left=best.left if best else None,
        right=best.right if best else None,
        roles=roles_of(scenario),
        use_lift=best is None and not uncovered,
        confidence=sure.confidence,
        chance=chance,
        sure=sure,
        assessment=shown,
        curve=tuple(drawn_point(point, sure) for point in typical),
        one_more=one_more,
        aids=(),
        published=published_headcounts(scenario),
        why=why_words(best, shown, uncovered, chance, sure.confidence),
        gains=tuple(gain_words(best, one_more, (), scenario.aid)),
    )
    if not with_aids:
        return alone
    return with_options(alone, compare_aids(scenario, confidence, progress, known=own_option(alone)))


def people_for(scenario: Scenario, confidence: float | None = None) -> int | Literal["lift", "no limit"]:
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
    return _option(demand_of(scenario), confidence).needs


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
    """
    options = []
    names = aid_names(scenario)
    for i, name in enumerate(names):
        if progress is not None and not progress(i / len(names)):
            break
        options.append(known if known is not None and name == known.aid else aid_option(scenario, name, confidence))
    return _ranked(options)


def aid_names(scenario: Scenario) -> tuple[str, ...]:
    """Return the aids that a scenario can choose from: the registry's and its own."""
    return (*registry(), *(own.name for own in scenario.own_aids))


def aid_option(scenario: Scenario, name: str, confidence: float | None = None) -> AidOption | None:
    """Return the smallest team with one aid, or None if it does not serve the scenario's procedure."""
    other = scenario.model_copy(update={"aid": name})
    try:
        asked = demand_of(other)
    except InputError:
        return None
    return _option(asked, confidence)


def _ranked(options: Iterable[AidOption | None]) -> tuple[AidOption, ...]:
    serving = [o for o in options if o is not None]
    return tuple(sorted(serving, key=lambda o: (o.people is None, o.people or 0, o.worst_ratio)))


def with_options(answer: TeamAnswer, options: Iterable[AidOption | None]) -> TeamAnswer:
    """Return an answer that was found without the other aids, with them.

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


def _option(asked: Demand, confidence: float | None) -> AidOption:
    """Judge no more than the smallest team takes to find."""
    wanted = assumption("confidence").typical if confidence is None else confidence
    drawn, teams = Drawn.usual(asked), possible_teams(asked)
    best = _first_enough(asked, (t for t in teams if drawn.can_reach(*t, wanted) and drawn.chance(*t) >= wanted))
    shown = best or judge(asked, *largest_team(asked))
    team = shown.left, shown.right
    chance = drawn.chance(*team) if team in teams else max(drawn.chance(*t) for t in teams)
    return _as_option(shown, best is not None, chance, asked.case.aid)


def own_option(answer: TeamAnswer) -> AidOption:
    """Return what an answer says of its own aid, to stand beside the other aids.

    Examples
    --------
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 60.0, "stature_m": 1.6}
    >>> case = parse_scenario({"name": "x", "procedure": "boost", "patient": patient})
    >>> own_option(smallest_team(case, with_aids=False)) == aid_option(case, case.aid)
    True
    """
    return _as_option(answer.assessment, answer.people is not None, answer.chance, aid_of(answer.scenario))


def _as_option(shown: Assessment, enough: bool, chance: float, aid: Aid) -> AidOption:
    return AidOption(
        aid=aid.name,
        people=shown.people if enough else None,
        left=shown.left if enough else None,
        right=shown.right if enough else None,
        chance=chance,
        worst_ratio=shown.worst_ratio,
        worst_person_force_n=max((m.worst_person_force_n for m in shown.moves), default=0.0),
        deciding=shown.deciding.label if shown.deciding else "",
        unmeasured=aid.unmeasured,
        note=aid.note,
        details=aid,
        landing=shown.landing,
        verdict=shown.verdict,
    )


def smallest_sure(asked: Demand, sure: Sureness) -> Assessment | None:
    """Return the first team, fewest people first, that is sure enough and within every limit at typical values.

    None where there is none.
    """
    return _first_enough(asked, ((c.left, c.right) for c in sure.every if c.chance >= sure.confidence))


def _first_enough(asked: Demand, teams: Iterable[tuple[int, int]]) -> Assessment | None:
    """Return the first team that is within every limit at typical values."""
    if asked.refusals:
        return None
    return next((result for team in teams if (result := judge(asked, *team)).verdict in ENOUGH), None)


def _chance(sure: Sureness, shown: Assessment) -> float:
    """The chance of the team shown, or of the surest where that one was not drawn."""
    of_team = {(c.left, c.right): c.chance for c in sure.every}
    return of_team.get((shown.left, shown.right), sure.chosen.chance)


def _on_receiving_side(asked: Demand, team: tuple[int, int]) -> int:
    return team[0] if asked.direction.receiving == "left" else team[1]


def _one_more(asked: Demand, best: Assessment) -> Assessment | None:
    """Return the better of the two teams with one more person, where there is a place."""
    left_most, right_most = largest_team(asked)
    teams = [(best.left + 1, best.right), (best.left, best.right + 1)]
    teams.sort(key=lambda t: _on_receiving_side(asked, t))
    possible = [judge(asked, *t) for t in teams if t[0] <= left_most and t[1] <= right_most]
    return min(possible, key=lambda a: (a.worst_ratio, _total_force(a)), default=None)


def _total_force(result: Assessment) -> float:
    return sum(m.worst_person_force_n for m in result.moves)
