"""The search for the smallest team of one case, each finding as soon as somebody asks for it."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cached_property

from ergo.assessment import Assessment, Demand, demand_of, judge, largest_team, roles_of
from ergo.errors import Fault, InputError
from ergo.evidence import assumption
from ergo.limits.policy import ENOUGH
from ergo.plan.answer import FirstAnswer, TeamAnswer
from ergo.plan.chance.confidence import sureness
from ergo.plan.chance.drawn import MOST, Drawn, possible_teams
from ergo.plan.published import published_headcounts
from ergo.plan.team_curve import CurvePoint, drawn_point, typical_curve
from ergo.plan.team_words import gain_words, why_words
from ergo.scenario import Scenario

__all__ = ["Search"]


class Search:
    """The smallest team of a case: the curve over team size, then the team, then the chance of every other.

    Parameters
    ----------
    scenario : Scenario
    confidence : float, optional
        0 to 1; `confidence` in evidence when left out.
    at_once : bool
        Whether the whole is what will be asked for: everybody's postures are then looked for together, which takes
        less time than in two steps, and more until the first answer. Changes no result.

    Raises
    ------
    InputError
        If the aid cannot serve the procedure, or the confidence is not between 0 and 1.

    Examples
    --------
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> search = Search(parse_scenario({"name": "x", "procedure": "boost", "patient": patient}))
    >>> len(search.curve), search.first.people, search.whole.people, search.first.why == search.whole.why
    (6, 4, 4, True)
    """

    def __init__(self, scenario: Scenario, confidence: float | None = None, *, at_once: bool = False) -> None:
        if confidence is not None and not 0.0 < confidence < 1.0:
            raise InputError("confidence", [Fault("confidence", str(confidence), "between 0 and 1")])
        self.scenario = scenario
        self.confidence = assumption("confidence").typical if confidence is None else confidence
        self.asked = demand_of(scenario)
        self._at_once = at_once

    @cached_property
    def curve(self) -> tuple[CurvePoint, ...]:
        """Every team size at typical values."""
        return typical_curve(self.asked)

    @cached_property
    def first(self) -> FirstAnswer:
        """The smallest team; no more of the others are judged than it takes to find it."""
        best, asked = self._best, self.asked
        shown = best or judge(asked, *largest_team(asked))
        team, teams = (shown.left, shown.right), possible_teams(asked)
        chance = self._drawn.chance(*team) if team in teams else max(self._drawn.chance(*t) for t in teams)
        return FirstAnswer(
            scenario=self.scenario,
            people=best.people if best else None,
            left=best.left if best else None,
            right=best.right if best else None,
            roles=roles_of(self.scenario),
            confidence=self.confidence,
            chance=chance,
            assessment=shown,
            why=why_words(best, shown, chance, self.confidence),
        )

    @cached_property
    def whole(self) -> TeamAnswer:
        """The answer with all that is found without looking at another aid."""
        curve = self.curve  # its people's postures are those of every team that is judged afterwards
        first, best, asked = self.first, self._best, self.asked
        sure = sureness(self.scenario, asked=asked, confidence=self.confidence, drawn=self._drawn)
        self.__dict__.pop("_drawn", None)  # megabytes, and all is known now
        one_more = _one_more(asked, best) if best else None
        return TeamAnswer(
            **{name: getattr(first, name) for name in FirstAnswer.__slots__},
            sure=sure,
            curve=tuple(drawn_point(point, sure) for point in curve),
            one_more=one_more,
            aids=(),
            published=published_headcounts(self.scenario),
            gains=tuple(gain_words(best, one_more, (), self.scenario.aid)),
        )

    @cached_property
    def _drawn(self) -> Drawn:
        return Drawn.usual(self.asked, MOST) if self._at_once else Drawn.usual(self.asked)

    @cached_property
    def _best(self) -> Assessment | None:
        drawn, wanted = self._drawn, self.confidence
        teams = (t for t in possible_teams(self.asked) if drawn.can_reach(*t, wanted))
        return _first_enough(self.asked, (t for t in teams if drawn.chance(*t) >= wanted))


def _first_enough(asked: Demand, teams: Iterable[tuple[int, int]]) -> Assessment | None:
    """Return the first team that is within every limit at typical values."""
    if asked.refusals:
        return None
    enough = (team for team in teams if judge(asked, *team, every_limit=False).verdict in ENOUGH)
    return next((judge(asked, *team) for team in enough), None)


def _one_more(asked: Demand, best: Assessment) -> Assessment | None:
    """Return the better of the two teams with one more person, where there is a place."""
    left_most, right_most = largest_team(asked)
    near = 0 if asked.direction.receiving == "left" else 1
    teams = sorted([(best.left + 1, best.right), (best.left, best.right + 1)], key=lambda team: team[near])
    possible = [judge(asked, *t) for t in teams if t[0] <= left_most and t[1] <= right_most]
    return min(possible, key=lambda a: (a.worst_ratio, _total_force(a)), default=None)


def _total_force(result: Assessment) -> float:
    return sum(m.worst_person_force_n for m in result.moves)
