"""The curve over the number of people: what the most loaded person must do, and how sure that is."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from ergo.assessment import Assessment, Demand, LimitCheck, largest_team
from ergo.assessment.team_share import team_effort_of
from ergo.assessment.verdict import judge_teams
from ergo.limits.policy import Verdict
from ergo.teams.team_probabilities import Reliability
from ergo.teams.team_search import best_splits

__all__ = ["CurvePoint", "drawn_point", "typical_curve", "with_team"]


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """One number of people, everybody counted, with the split between the sides in which all work least.

    The verdict, ratio and force are those at typical values; `probability` is that nobody is over a limit, and the two
    spans are the 5th and 95th percentile of the ratio and of the force in one pair of hands, None where not drawn.
    """

    left: int
    right: int
    people: int
    probability: float | None
    ratio_span: tuple[float, float] | None
    force_span_n: tuple[float, float] | None
    verdict: Verdict
    worst_ratio: float
    worst_person_force_n: float
    deciding: str
    deciding_move: str
    check: LimitCheck | None
    """The limit that decides, with what is asked of it and by whom."""


def typical_curve(demand: Demand) -> tuple[CurvePoint, ...]:
    """Return the curve over the number of people at typical values, before any draw: it takes a fraction of the time.

    It ends a few people beyond the first number that is enough; more people do no less than is seen there.
    Where no team is possible, the largest that finds a place stands alone, so that something can be shown.
    """
    teams = [(demand, *team) for team in _teams(demand)]
    return tuple(map(_point, judge_teams(teams, every_limit=False)))


def _teams(demand: Demand) -> list[tuple[int, int]]:
    """Each number of people up to a few beyond the first that is enough at typical values."""
    teams = list(best_splits(demand)) or [largest_team(demand)]
    enough = [i for i, team in enumerate(teams) if team_effort_of(demand, *team)[0] <= 1.0]
    return teams[: enough[0] + _BEYOND + 1] if enough else teams


_BEYOND = 4


def with_team(curve: Iterable[CurvePoint], team: Assessment) -> tuple[CurvePoint, ...]:
    """Return the curve with a team in place of the other split of as many people."""
    return tuple(_point(team) if point.people == team.people else point for point in curve)


def drawn_point(point: CurvePoint, sure: Reliability) -> CurvePoint:
    """Return a point of the curve with the probability and the spans that were drawn for its team."""
    drawn = next((c for c in sure.curve if (c.left, c.right) == (point.left, point.right)), None)
    if drawn is None or drawn.uncovered == 1.0:
        return point
    spans = (drawn.ratio[0], drawn.ratio[2]), (drawn.force_n[0], drawn.force_n[2])
    return replace(point, probability=drawn.probability, ratio_span=spans[0], force_span_n=spans[1])


def _point(result: Assessment) -> CurvePoint:
    reason, where = _reason(result)
    return CurvePoint(
        left=result.left,
        right=result.right,
        people=result.people,
        probability=None,
        ratio_span=None,
        force_span_n=None,
        verdict=result.verdict,
        worst_ratio=result.worst_ratio,
        worst_person_force_n=result.worst_person_force_n,
        deciding=reason,
        deciding_move=where,
        check=result.deciding,
    )


def _reason(result: Assessment) -> tuple[str, str]:
    """What decides, and in which move: a limit, or what no limit can say, as where no posture holds the force."""
    if result.verdict == "over" and result.worst_ratio <= 1.0:
        for move in result.moves:
            if move.unmet:
                return move.unmet[0], move.move.name
        if result.refusals:
            return result.refusals[0], ""
    return (result.deciding.label if result.deciding else ""), result.deciding_move
