"""The smallest team of a case, every other team beside it, the smallest with every other aid, and why."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

from ergo.assessment import (
    Assessment,
    Role,
    demand_of,
    judge,
    largest_team,
    possible_teams,
    roles_of,
    why_no_team_is_possible,
)
from ergo.assessment.sentences import short_of_covered
from ergo.errors import InputError, probability_faults
from ergo.evidence import assumption
from ergo.inputs.scenario import Scenario, with_usual_people
from ergo.limits.guidance import Guidance, guidance_of
from ergo.limits.policy import Verdict
from ergo.mechanics.bed_clearance import BedClearance
from ergo.mechanics.case import aid_of
from ergo.mechanics.friction import Aid, registry
from ergo.teams.knife_edge import KnifeEdge, knife_edge_of
from ergo.teams.published_headcounts import PublishedHeadcount, published_headcounts, usual_headcounts
from ergo.teams.sentences import gain_words, why_words
from ergo.teams.size_curve import CurvePoint, drawn_point, typical_curve, with_team
from ergo.teams.team_probabilities import Reliability, reliability
from ergo.teams.team_search import Reasons, one_more, reasons_of
from ergo.teams.who_works import WayOfWorking, ways_of_working
from ergo.uncertainty.monte_carlo import Drawn
from ergo.units import Units

__all__ = [
    "PROBABILITY_ASKED",
    "AidOption",
    "FirstAnswer",
    "Needs",
    "Search",
    "TeamAnswer",
    "aid_names",
    "aid_option",
    "compare_aids",
    "own_option",
    "people_for",
    "smallest_team",
    "with_options",
]

PROBABILITY_ASKED = assumption("probability_asked").typical
"""That nobody is over a limit, where nothing else is asked for."""

Needs = int | Literal["lift", "no limit", "not possible"]
"""The number of people, or why there is none; "not possible" where a place or the airway lead is missing."""


@dataclass(frozen=True, slots=True)
class AidOption:
    """The smallest team with one aid."""

    aid: str
    people: int | None
    left: int | None
    right: int | None
    probability: float
    worst_ratio: float
    worst_person_force_n: float
    deciding: str
    unmeasured: bool
    note: str
    details: Aid
    """Layers with friction, cover, use and capacity."""
    landing: BedClearance | None
    verdict: Verdict
    missing: str = ""
    """What is missing at the bed for a team of any size."""
    people_by_force: int | None = None
    """That force alone would take."""

    @property
    def needs(self) -> Needs:
        """The number of people, or why there is none."""
        return _needs(self.people, self.missing, self.verdict)


@dataclass(frozen=True, slots=True)
class FirstAnswer:
    """How many people a scenario needs, and why.

    `people`, `left` and `right` are None when a mechanical lift is the answer, when no limit covers the case, or when
    something is `missing` at the bed for a team of any size. `probability_asked` is None for a team at typical values.
    `probability` is that nobody is over a limit with the team shown; 0 where the case is refused or none is possible.
    `uncovered` is the share of the draws in which nobody is, but one that decides does not cover where the hands are.
    """

    scenario: Scenario
    people: int | None
    left: int | None
    right: int | None
    roles: tuple[Role, ...]
    probability_asked: float | None
    probability: float
    uncovered: float
    reasons: Reasons
    assessment: Assessment
    missing: str
    why: str
    """In kg, N and cm; `why_in` says the same in other units."""

    def why_in(self, units: Units) -> str:
        """Return who is needed and why, in the reader's units."""
        best = None if self.people is None else self.assessment
        return why_words(
            best, self.assessment, self.probability, self.probability_asked, self.missing, units, self.uncovered,
            self.reasons,
        )  # fmt: skip

    @property
    def team(self) -> tuple[int, int] | None:
        """The people on the left and on the right; None where no team is named."""
        return None if self.left is None or self.right is None else (self.left, self.right)

    @property
    def needs(self) -> Needs:
        """The number of people, or why there is none."""
        short = short_of_covered(self.probability, self.uncovered, self.probability_asked or 0.0)
        return _needs(self.people, self.missing, "not applicable" if short else self.assessment.verdict)

    @property
    def use_lift(self) -> bool:
        """Whether a mechanical lift is the answer."""
        return self.needs == "lift"


@dataclass(frozen=True, slots=True)
class TeamAnswer(FirstAnswer):
    """The same with every other team's probability, what one more person or another aid buys, published headcounts."""

    sure: Reliability
    curve: tuple[CurvePoint, ...]
    one_more: Assessment | None
    aids: tuple[AidOption, ...]
    published: tuple[PublishedHeadcount, ...]
    usual: tuple[PublishedHeadcount, ...]
    """Headcounts of common practice, which nobody published."""
    guidance: Guidance
    gains: tuple[str, ...]
    ways: tuple[WayOfWorking, ...] = ()
    """Who works, as it is taught, from both sides and from the receiving side alone, beside each other."""
    knife_edge: KnifeEdge | None = None
    """Whether half a kilogram, a centimetre of bed height or other draws would change the number of people."""


def _needs(people: int | None, missing: str, verdict: Verdict) -> Needs:
    if people is not None:
        return people
    if missing:
        return "not possible"
    return "no limit" if verdict == "not applicable" else "lift"


class Search:
    """The smallest team of a case: the curve over team size, then the team, then the probability of every other.

    People of a shift whom the case states are not used: it is for those whom a unit usually has.

    >>> from ergo.inputs import examples
    >>> search = Search(examples.boost())
    >>> len(search.curve), search.first.people, search.whole.people, search.first.why == search.whole.why
    (5, 2, 2, True)
    """

    def __init__(self, scenario: Scenario, probability_asked: float | None = PROBABILITY_ASKED) -> None:
        if probability_asked is not None and (faults := probability_faults("probability_asked", probability_asked)):
            raise InputError("probability_asked", faults)
        self.scenario = scenario = with_usual_people(scenario)
        self.probability_asked = probability_asked
        self.demand = demand_of(scenario)

    @cached_property
    def curve(self) -> tuple[CurvePoint, ...]:
        """Every team size at typical values."""
        return typical_curve(self.demand)

    @cached_property
    def first(self) -> FirstAnswer:
        """The smallest team; no more of the others are judged than it takes to find it."""
        best, demand = self._best, self.demand
        shown = best or judge(demand, *largest_team(demand))
        missing = why_no_team_is_possible(demand)
        probability, uncovered = (
            (0.0, 0.0) if demand.refusals or missing else self._probability(shown.left, shown.right)
        )
        return FirstAnswer(
            scenario=self.scenario,
            people=best.people if best else None,
            left=best.left if best else None,
            right=best.right if best else None,
            roles=roles_of(self.scenario),
            probability_asked=self.probability_asked,
            probability=probability,
            uncovered=uncovered,
            reasons=self._reasons,
            assessment=shown,
            missing="" if demand.refusals else missing,
            why=why_words(
                best, shown, probability, self.probability_asked, missing, uncovered=uncovered, reasons=self._reasons
            ),
        )

    @cached_property
    def whole(self) -> TeamAnswer:
        """The answer with all that is found without looking at another aid."""
        curve, first, best, demand = self.curve, self.first, self._best, self.demand
        sure = reliability(
            self.scenario,
            demand=demand,
            probability_asked=self.probability_asked,
            drawn=self._drawn,
            asked=self._reasons,
        )
        self.__dict__.pop("_drawn", None)  # megabytes, and all is known now
        more = one_more(demand, best) if best else None
        return TeamAnswer(
            **{name: getattr(first, name) for name in FirstAnswer.__slots__},
            sure=sure,
            curve=tuple(drawn_point(point, sure) for point in (with_team(curve, best) if best else curve)),
            one_more=more,
            aids=(),
            published=published_headcounts(self.scenario),
            usual=usual_headcounts(self.scenario),
            guidance=guidance_of(self.scenario),
            gains=tuple(gain_words(best, more, (), self.scenario.aid)),
        )

    @cached_property
    def knife_edge(self) -> KnifeEdge | None:
        """Whether a small change would lead to another number of people."""
        if self._best is None or self.probability_asked is None:
            return None
        return knife_edge_of(self.demand, self._reasons, self._drawn, self.probability_asked)

    @cached_property
    def whole_with_edge(self) -> TeamAnswer:
        """The whole answer, and whether a small change would lead to another number of people."""
        edge = self.knife_edge  # it takes the draws, which the whole answer lets go of
        return replace(self.whole, knife_edge=edge)

    @cached_property
    def _drawn(self) -> Drawn:
        return Drawn.usual(self.demand)

    @cached_property
    def _reasons(self) -> Reasons:
        return reasons_of(self.demand, self.probability_asked, self._drawn)

    @cached_property
    def _best(self) -> Assessment | None:
        found = self._reasons
        return judge(self.demand, *found.team) if found.team is not None else None

    def _probability(self, left: int, right: int) -> tuple[float, float]:
        """Of a team, or of the surest where the team shown has people on a side that no move needs; and uncovered."""
        teams = possible_teams(self.demand)
        surest = max([(left, right)] if (left, right) in teams else teams, key=lambda t: self._drawn.probability(*t))
        return self._drawn.probability(*surest), self._drawn.uncovered(*surest)


def smallest_team(
    scenario: Scenario,
    probability: float | None = PROBABILITY_ASKED,
    progress: Callable[[float], bool] | None = None,
    *,
    with_aids: bool = True,
) -> TeamAnswer:
    """Return the smallest team with which nobody is over a deciding limit, at a stated probability.

    By force a team counts when every move is within the limits at typical values, and when nobody is over one in at
    least `probability` of the draws. Two other reasons may ask for more: that the others still hold the patient when
    one of them must let go, and guidance. People are fixed to a side for the whole procedure; roles come on top. Up to
    `team_most` a side and no more than there are places; beyond that a mechanical lift. Of one number of people it is
    the split in which all work least.

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
    search = Search(scenario, probability)
    if not with_aids:
        return search.whole
    alone = search.whole_with_edge
    compared = with_options(alone, compare_aids(scenario, probability, progress, known=own_option(alone)))
    return replace(compared, ways=ways_of_working(scenario, probability, known=alone.reasons))


def people_for(scenario: Scenario, probability_asked: float | None = PROBABILITY_ASKED) -> Needs:
    """Return only the number of people that a scenario needs, or why there is none.

    >>> from ergo.inputs import examples
    >>> people_for(examples.boost(aid="slide sheet"))
    2
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

    `known` is one that was found before; `progress` as for `smallest_team`.

    >>> from ergo.inputs import examples
    >>> needs = {option.aid: option.needs for option in compare_aids(examples.boost())}
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
    """Return the aids that a scenario can choose from, the registry's and its own, whether they serve it or not.

    >>> from ergo.inputs import examples
    >>> aid_names(examples.boost())[:3]
    ('no aid', 'cotton draw sheet', 'slide sheet')
    """
    return (*registry(), *(own.name for own in scenario.own_aids))


def aid_option(scenario: Scenario, name: str, probability_asked: float | None = PROBABILITY_ASKED) -> AidOption | None:
    """Return the smallest team with one of `aid_names`, or None if it does not serve the scenario's procedure.

    >>> from ergo.inputs import examples
    >>> aid_option(examples.boost(), "slide sheet").people, aid_option(examples.boost(), "transfer board")
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
    """Return an answer with its aids ranked, its own among them, and with what they and one more person gain in words.

    >>> from ergo.inputs import examples
    >>> case = examples.boost()
    >>> alone = smallest_team(case, with_aids=False)
    >>> with_options(alone, [aid_option(case, name) for name in aid_names(case)]).aids == smallest_team(case).aids
    True
    """
    aids = _ranked(options)
    gains = gain_words(answer.assessment if answer.people else None, answer.one_more, aids, answer.scenario.aid)
    return replace(answer, aids=aids, gains=tuple(gains))


def own_option(answer: FirstAnswer) -> AidOption:
    """Return what an answer says of its own aid, to stand beside the other aids.

    >>> from ergo.inputs import examples
    >>> case = examples.boost()
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
        worst_person_force_n=shown.worst_person_force_n,
        deciding=shown.deciding.label if shown.deciding else "",
        unmeasured=aid.unmeasured,
        note=aid.note,
        details=aid,
        landing=shown.landing,
        verdict="not applicable" if answer.needs == "no limit" else shown.verdict,
        missing=answer.missing,
        people_by_force=answer.reasons.people_by_force,
    )
