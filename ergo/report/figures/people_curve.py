"""How much of its limit the most loaded person uses, against the size of the team."""

from __future__ import annotations

from collections.abc import Sequence

from ergo.assessment import LimitCheck
from ergo.evidence import assumption
from ergo.limits.policy import ENOUGH, Verdict
from ergo.report.figures.axes import round_ticks, wrapped
from ergo.report.figures.drawing import VERDICT_MARK, Anchor, Axis, Drawing, Item, Label, Line, Mark
from ergo.report.figures.label_layout import Room
from ergo.report.marks_and_amounts import limit_amount
from ergo.teams.size_curve import CurvePoint
from ergo.teams.smallest_team import TeamAnswer
from ergo.units import DEFAULT_UNITS, Units, people_words, percent

__all__ = ["people_curve"]

_HEIGHT = 420


def people_curve(
    curve: Sequence[CurvePoint], answer: TeamAnswer | None = None, units: Units = DEFAULT_UNITS
) -> Drawing:
    """Return the curve of demand over team size, as a percentage of the limit that decides."""
    points = [p for p in curve if p.check is not None and p.check.ratio is not None]
    chosen = answer.assessment.deciding if answer else _first_within(points)
    percents = [100.0 * p.worst_ratio for p in points]
    own = 100.0 * answer.assessment.worst_ratio if answer else 0.0
    top = max([*percents, own, 115.0]) * 1.15
    sizes = [p.people for p in curve] + ([answer.people] if answer and answer.people else [])
    low, high = min(sizes), max(sizes)
    close = 100.0 * assumption("close_threshold").typical
    line = [(float(p.people), y) for p, y in zip(points, percents, strict=True)]
    room = Room((low - 1.0, high + 1.9), (0.0, top), high=_HEIGHT - 70.0)
    room.keep_free(line, 17)
    room.keep_line(line)
    if answer is not None and answer.people is not None:
        room.keep_free([(float(answer.people), own)], 34)
    items: list[Item] = [
        Line([(low - 1.0, 100.0), (high + 1.8, 100.0)], "over", 3.5),
        Line([(low - 1.0, close), (high + 1.8, close)], "close", 2.0, dash=True),
        Line(line, "quiet", 2.0),
    ]
    if chosen is not None and chosen.limit is not None:
        name = f"limit {limit_amount(chosen.limit, chosen.unit, units)}:\n{wrapped(chosen.label, 22)}"
        lines = name.count("\n") + 1
        ends: list[tuple[float, Anchor]] = [(high + 1.8, "end"), (low - 1.0, "start")]
        places = [
            Label((x, 100.0), name, anchor, "over", 14, True, (0, sign * (8 + 9 * lines)), True)
            for sign in (1, -1)
            for x, anchor in ends
        ]
        items.append(room.first_free(places))
    if answer is not None:
        items += _answer(answer, own, units, room)
    for p, y in zip(points, percents, strict=True):
        items.append(Mark((p.people, y), VERDICT_MARK[p.verdict], p.verdict, 17, _hover(p, units)))
        if (answer is None or p.people != answer.people) and p.check is not None:
            items.append(room.label((p.people, y), f"{y:.0f}", 14, mark=17))  # per cent, as the axis says
    return Drawing(
        x=Axis(
            low - 1.0, high + 1.9, "people in the room, roles included", [(p.people, f"{p.people}") for p in points]
        ),
        y=Axis(0.0, top, "share of the limit used", [(v, f"{t} %") for v, t in round_ticks(0.0, top)], grid=True),
        items=items,
        alt=_alt(curve, answer, units),
        height=_HEIGHT,
    )


def _first_within(points: Sequence[CurvePoint]) -> LimitCheck | None:
    """The limit that decides the first size that is not over, to name one before the answer is known."""
    return next((p.check for p in points if p.verdict in ENOUGH), points[-1].check if points else None)


def _against(check: LimitCheck, units: Units) -> str:
    return f"{limit_amount(check.amount, check.unit, units)} against {limit_amount(check.limit, check.unit, units)}"


def _hover(p: CurvePoint, units: Units) -> str:
    assert p.check is not None
    return (
        f"{people_words(p.people)}, {p.left} left and {p.right} right: {p.verdict}\n"
        f"{p.check.person.words}: {_against(p.check, units)}\n"
        f"{p.deciding}\nin {p.deciding_move}"
        + ("" if p.probability is None else f"\nnobody over a limit in {percent(p.probability)} of cases")
    )


def _answer(answer: TeamAnswer, percent: float, units: Units, room: Room) -> list[Item]:
    deciding = answer.assessment.deciding
    if answer.people is None or deciding is None:
        return []
    at = (float(answer.people), percent)
    verdict: Verdict = answer.assessment.verdict
    said = f"{people_words(answer.people)}: {percent:.0f} %"
    hover = f"{answer.left} left, {answer.right} right: {_against(deciding, units)}\n{deciding.label}"
    return [
        Mark(at, "ring", "ink", 34),
        Mark(at, VERDICT_MARK[verdict], verdict, 17, hover),
        room.label(at, said, 16, bold=True, mark=34),
    ]


def _alt(curve: Sequence[CurvePoint], answer: TeamAnswer | None, units: Units) -> str:
    parts = [
        f"{people_words(p.people)}: {limit_amount(p.check.amount, p.check.unit, units)}, "
        f"{100 * p.worst_ratio:.0f} % of the limit, {p.verdict}"
        for p in curve
        if p.check is not None
    ]
    said = f"{answer.why_in(units)} " if answer else ""
    return f"Share of the limit that the most loaded person uses, by team size. {said}{'; '.join(parts)}."
