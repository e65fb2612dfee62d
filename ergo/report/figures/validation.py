"""Predicted over published, case by case."""

from __future__ import annotations

import math
from collections.abc import Sequence

from ergo.report.figures.drawing import Axis, Colour, Drawing, Item, Line, Mark, Shape
from ergo.validation.case import ValidationCase

__all__ = ["validation_figure"]

_TICKS = (
    (0.25, "a quarter"),
    (0.5, "half"),
    (0.71, "0.7"),
    (1.0, "same"),
    (1.41, "1.4"),
    (2.0, "twice"),
    (4.0, "4 times"),
)


def validation_figure(cases: Sequence[ValidationCase]) -> Drawing:
    """Return the ratio of prediction to publication for every case that has both as figures of one sign."""
    shown = [c for c in cases if c.published and c.predicted and c.predicted / c.published > 0]
    ratios = [_ratio(c, c.predicted) for c in shown]
    ends = [(_ratio(c, c.band_low), _ratio(c, c.band_high)) for c in shown]
    logs = [math.log10(v) for v in [*ratios, *(e for pair in ends for e in pair)] if v is not None and v > 0]
    low, high = min([*logs, -0.1]) - 0.05, max([*logs, 0.1]) + 0.05
    items: list[Item] = [Line([(0.0, -0.7), (0.0, len(shown) - 0.3)], "ink", 2.5)]
    for row, (case, ratio, (start, end)) in enumerate(zip(shown, ratios, ends, strict=True)):
        hover = f"{case.task}\npublished {case.published:g} {case.unit}, predicted {case.predicted:.4g}\n{case.source}"
        if start is not None and end is not None and min(start, end) > 0:
            items.append(Line([(math.log10(start), row), (math.log10(end), row)], "quiet", 7.0, hover=hover))
        shape: Shape = "circle" if case.agrees else "square"
        colour: Colour = "within" if case.agrees else "over"
        if ratio is not None:
            items.append(Mark((math.log10(ratio), row), shape, colour, 14, hover))
    ticks = [(math.log10(v), t) for v, t in _TICKS if low <= math.log10(v) <= high]
    names = [(float(i), f"{c.id}{'' if c.agrees else ', miss'}") for i, c in enumerate(shown)]
    return Drawing(
        x=Axis(low, high, "predicted over published", ticks, True),
        y=Axis(len(shown) - 0.3, -0.7, "", names),
        items=items,
        alt="Predicted over published. "
        + "; ".join(f"{c.id} {r:.2f}, {'agrees' if c.agrees else 'misses'}" for c, r in zip(shown, ratios, strict=True))
        + ".",
        height=90 + 30 * len(shown),
    )


def _ratio(case: ValidationCase, value: float | None) -> float | None:
    return None if value is None or not case.published else value / case.published
