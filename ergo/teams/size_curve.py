"""The curve over team size: what the most loaded person must do, and how sure that is."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ergo.assessment import Assessment, Demand, LimitCheck, judge, largest_team, team_most
from ergo.limits.policy import Verdict
from ergo.teams.team_probabilities import Reliability

__all__ = ["CurvePoint", "drawn_point", "typical_curve"]


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """One team size: `a_side` people on each side, everybody counted in `people`.

    The verdict, ratio and force are those at typical values; `probability` is that nobody is over a limit, and the two
    spans are the 5th and 95th percentile of the ratio and of the force in one pair of hands, None where not drawn.
    """

    a_side: int
    people: int
    probability: float | None
    ratio_span: tuple[float, float] | None
    force_span_n: tuple[float, float] | None
    verdict: Verdict
    worst_ratio: float
    worst_person_force_n: float
    deciding: str
    deciding_move: str
    possible: bool
    check: LimitCheck | None
    """The limit that decides, with what is asked of it and by whom."""


def typical_curve(demand: Demand) -> tuple[CurvePoint, ...]:
    """Return the curve over team size at typical values, before any draw: it takes a fraction of the time."""
    return tuple(_point(demand, n) for n in range(1, team_most() + 1))


def drawn_point(point: CurvePoint, sure: Reliability) -> CurvePoint:
    """Return a point of the curve with the probability and the spans that were drawn for its size."""
    if point.a_side > len(sure.curve) or sure.curve[point.a_side - 1].uncovered == 1.0:
        return point
    drawn = sure.curve[point.a_side - 1]
    spans = (drawn.ratio[0], drawn.ratio[2]), (drawn.force_n[0], drawn.force_n[2])
    return replace(point, probability=drawn.probability, ratio_span=spans[0], force_span_n=spans[1])


def _point(demand: Demand, n: int) -> CurvePoint:
    result = judge(demand, n, n, every_limit=False)
    left_most, right_most = largest_team(demand)
    reason, where = _reason(result)
    return CurvePoint(
        a_side=n,
        people=result.people,
        probability=None,
        ratio_span=None,
        force_span_n=None,
        verdict=result.verdict,
        worst_ratio=result.worst_ratio,
        worst_person_force_n=max((m.worst_person_force_n for m in result.moves), default=0.0),
        deciding=reason,
        deciding_move=where,
        possible=n <= left_most and n <= right_most,
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
