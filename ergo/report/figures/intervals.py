"""Rows of a value with its interval: coverage, waiting, what decides a purchase."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ergo.limits.policy import Verdict
from ergo.report.figures.axes import round_ticks, wrapped
from ergo.report.figures.drawing import VERDICT_MARK, Axis, Drawing, Item, Label, Line, Mark

__all__ = ["IntervalRow", "interval_rows"]


@dataclass(frozen=True, slots=True)
class IntervalRow:
    """One row: its name, low end, value, high end, the words beside it, and the verdict of its mark."""

    name: str
    low: float
    value: float
    high: float
    said: str
    verdict: Verdict


def interval_rows(
    rows: Sequence[IntervalRow], axis: str, alt: str, line: tuple[float, str] | None = None, top: float | None = None
) -> Drawing:
    """Return rows of values with their intervals."""
    highest = max([r.high for r in rows] + ([line[0]] if line else []), default=1.0)
    lowest = min([0.0, *(r.low for r in rows)])
    end = top if top is not None else highest * 1.08 or 1.0
    items: list[Item] = []
    if line is not None:
        items.append(Line([(line[0], -0.75), (line[0], len(rows) - 0.5)], "ink", 2.0, dash=True))
        items.append(Label((line[0], -0.75), line[1], "end", size=14, bold=True, shift=(-6, -6)))
    for i, r in enumerate(rows):
        hover = f"{r.name}: {r.said}"
        items.append(Line([(r.low, i), (r.high, i)], r.verdict, 5.0, hover=hover))
        items.append(Mark((r.value, i), VERDICT_MARK[r.verdict], r.verdict, 16, hover))
    ticks = round_ticks(lowest, end, 5)
    return Drawing(
        x=Axis(lowest - 0.03 * (end - lowest), end + 0.05 * (end - lowest), axis, ticks),
        y=Axis(len(rows) - 0.4, -1.0, "", [(float(i), f"{wrapped(r.name, 24)}\n{r.said}") for i, r in enumerate(rows)]),
        items=items,
        alt=alt,
        height=110 + 52 * len(rows),
    )
