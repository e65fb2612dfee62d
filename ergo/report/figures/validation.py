"""Predicted against measured, for the cases that could have been missed on either side."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from ergo.report.figures.drawing import Axis, Colour, Drawing, Item, Line, Mark, Shape
from ergo.report.figures.label_layout import Room
from ergo.validation.case import ValidationCase

__all__ = ["validation_figure"]

_NEWTONS = (50, 100, 200, 500, 1000, 2000, 5000)
_SIDE = 0.13  # people: cases of one published number stand this far apart


def validation_figure(cases: Sequence[ValidationCase], unit: str = "N") -> Drawing:
    """Return measured figures to the right and predicted ones upwards, with their bands and the line of equality.

    Forces and loads in "N" on logarithmic axes, or headcounts in "people". Circles lie inside their band, squares
    outside; a range that was published is a level line. What is negative is left to the table.
    """
    shown = [c for c in cases if c.kind == "two-sided" and c.unit == unit and c.error_factor is not None]

    def at(value: float) -> float:
        return math.log10(value) if unit == "N" else value

    ends = [v for c in shown for v in (c.published, c.published_to, c.predicted, c.low, c.high) if v]
    least, most = min(ends, default=1.0), max(ends, default=10.0)
    low, high = (at(0.8 * least), at(1.25 * most)) if unit == "N" else (least - 0.7, most + 0.7)
    equal = [(low, low), (high, high)]
    items: list[Item] = [Line(equal, "ink", 2.5)]
    room = Room((low, high), (low, high))
    room.keep_line(equal)
    marks: list[tuple[tuple[float, float], str]] = []
    seen = Counter[float]()
    for case in shown:
        start, end = case.published or 1.0, case.published_to or case.published or 1.0
        x = at(math.sqrt(start * end) if unit == "N" else 0.5 * (start + end))
        if unit != "N":
            seen[x] += 1
            x += _SIDE * (seen[x] // 2) * (-1) ** seen[x]
        place = x, at(case.predicted or 1.0)
        shape: Shape = "circle" if case.inside else "square"
        colour: Colour = "within" if case.inside else "over"
        said = f"{case.id}: {case.task}\npredicted {case.predicted:.3g} {case.unit}\n{case.source}"
        if case.low and case.high:
            items.append(Line([(x, at(case.low)), (x, at(case.high))], "quiet", 6.0, hover=said))
            room.keep_line([(x, at(case.low)), (x, at(case.high))])
        if case.published_to:
            items.append(Line([(at(v), place[1]) for v in (start, end)], "quiet", 3.0, hover=said))
        items.append(Mark(place, shape, colour, 14, said))
        marks.append((place, case.id))
    room.keep_free([place for place, _ in marks], 16.0)
    items += [room.label(place, names, 13) for place, names in room.together(marks, 13)]
    numbers = _NEWTONS if unit == "N" else range(math.ceil(low), math.floor(high) + 1)
    ticks = [(at(v), str(v)) for v in numbers if low <= at(v) <= high]
    what = "measured, N" if unit == "N" else "published, people"
    return Drawing(
        x=Axis(low, high, what, ticks, True),
        y=Axis(low, high, "predicted, 5 to 95 %", ticks, True),
        items=items,
        alt="Predicted against published. "
        + "; ".join(
            f"{c.id} {_figure(c)} {c.unit}, predicted {c.predicted:.3g}, {'inside' if c.inside else 'outside'}"
            for c in shown
        )
        + ".",
        height=460,
    )


def _figure(case: ValidationCase) -> str:
    return f"{case.published:g}" if case.published_to is None else f"{case.published:g} to {case.published_to:g}"
