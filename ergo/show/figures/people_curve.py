"""Force on the most loaded person against the size of the team, with the limit that decides at each size."""

from __future__ import annotations

from ergo.assess import LimitCheck
from ergo.plan.team import CurvePoint, TeamAnswer
from ergo.show.figures.axes import round_ticks
from ergo.show.figures.drawing import VERDICT_MARK, Axis, Drawing, Item, Label, Line, Mark
from ergo.units import DEFAULT_UNITS, G, Units

__all__ = ["people_curve"]


def people_curve(answer: TeamAnswer, units: Units = DEFAULT_UNITS) -> Drawing:
    """Return the curve of force per person over team size.

    Parameters
    ----------
    answer : TeamAnswer
    units : Units

    Returns
    -------
    Drawing
        At each size the force that the deciding limit judges, and that limit as a bar across; a held mass is drawn
        as its weight. The answer is marked where its two sides differ.
    """
    points = [p for p in answer.curve if p.check is not None and p.check.limit is not None]
    heights = [_force(p.check, units) for p in points if p.check]
    limits = [_limit(p.check, units) for p in points if p.check]
    top = max([*heights, *limits, units.force_value(100.0)]) * 1.12
    items: list[Item] = [
        Line([(p.people, h) for p, h in zip(points, heights, strict=True)], "quiet", 2.0),
    ]
    for p, limit in zip(points, limits, strict=True):
        items.append(Line([(p.people - 0.75, limit), (p.people + 0.75, limit)], "over", 4.0))
    items += _limit_names(points, limits, top)
    for p, height in zip(points, heights, strict=True):
        items.append(Mark((p.people, height), VERDICT_MARK[p.verdict], p.verdict, 17, _hover(p, units)))
        items.append(Label((p.people, height), f"{height:.0f}", "start", size=14, shift=(13, 11), backed=True))
    items += _answer(answer, units)
    low, high = _span(answer)
    return Drawing(
        x=Axis(low - 1.2, high + 1.2, "people in the room, roles included", _sizes(answer)),
        y=Axis(0.0, top, f"most loaded person, {units.force}", round_ticks(0.0, top), grid=True),
        items=items,
        alt=_alt(answer, units),
        height=400,
    )


def _force(check: LimitCheck | None, units: Units) -> float:
    assert check is not None
    return units.force_value(check.demand * (G if check.unit == "kg" else 1.0))


def _limit(check: LimitCheck | None, units: Units) -> float:
    assert check is not None
    assert check.limit is not None
    return units.force_value(check.limit * (G if check.unit == "kg" else 1.0))


def _span(answer: TeamAnswer) -> tuple[int, int]:
    sizes = [p.people for p in answer.curve] + ([answer.people] if answer.people else [])
    return min(sizes), max(sizes)


def _sizes(answer: TeamAnswer) -> list[tuple[float, str]]:
    return [(p.people, f"{p.people}") for p in answer.curve]


def _limit_names(points: list[CurvePoint], limits: list[float], top: float) -> list[Item]:
    """Name each run of equal limits once, above its bar."""
    items: list[Item] = []
    start = 0
    for i in range(1, len(points) + 1):
        ended = i == len(points) or points[i].deciding != points[start].deciding
        if not ended:
            continue
        last = points[i - 1]
        right = last is points[-1]
        at = (last.people + 0.75 if right else points[start].people - 0.75, limits[i - 1])
        below = limits[i - 1] > 0.9 * top
        items.append(
            Label(
                at,
                f"limit: {_wrapped(last.deciding)}",
                "end" if right else "start",
                "over",
                13,
                bold=True,
                shift=(0, -20 if below else 20),
                backed=True,
            )
        )
        start = i
    return items


def _wrapped(text: str, width: int = 26) -> str:
    lines = [""]
    for word in text.split():
        if lines[-1] and len(lines[-1]) + len(word) >= width:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    return "\n".join(lines)


def _hover(p: CurvePoint, units: Units) -> str:
    check = p.check
    assert check is not None
    assert check.limit is not None
    return (
        f"{p.people} people, {p.a_side} a side: {p.verdict}\n{check.who}: {_force(check, units):.0f} {units.force} "
        f"against {_limit(check, units):.0f} {units.force}\n{check.label}\nin {p.deciding_move}"
    )


def _answer(answer: TeamAnswer, units: Units) -> list[Item]:
    deciding = answer.assessment.deciding
    if answer.people is None or deciding is None or deciding.limit is None:
        return []
    height = _force(deciding, units)
    at = (float(answer.people), height)
    verdict = answer.assessment.verdict
    return [
        Mark(at, "ring", "ink", 32),
        Mark(at, VERDICT_MARK[verdict], verdict, 17),
        Label(
            at,
            f"answer: {answer.left} left + {answer.right} right",
            "middle",
            size=14,
            bold=True,
            shift=(0, -28),
            backed=True,
        ),
    ]


def _alt(answer: TeamAnswer, units: Units) -> str:
    said = f"Force on the most loaded person against team size. {answer.why} "
    parts = [
        f"{p.people} people: {_force(p.check, units):.0f} {units.force}, {p.verdict}"
        for p in answer.curve
        if p.check is not None and p.check.limit is not None
    ]
    return said + "; ".join(parts) + "."
