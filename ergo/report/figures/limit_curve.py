"""One limit over the height of the hands or the time between efforts, with the present case on it."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from ergo.limits.registry import Condition, Limit, Value
from ergo.report.figures.axes import round_ticks
from ergo.report.figures.drawing import Axis, Drawing, Item, Line, Mark

__all__ = ["Along", "limit_curve"]

Along = Literal["height of the hands", "time between efforts"]
_HEIGHTS_M = np.linspace(0.40, 1.60, 241)
_MINUTES = np.geomspace(0.1, 480.0, 121)
_TIMES = ((0.1, "6 s"), (1.0, "1 min"), (5.0, "5 min"), (30.0, "30 min"), (480.0, "8 h"))


def limit_curve(limit: Limit, here: Condition, along: Along) -> Drawing:
    """Return the limit's value where it has one, and a mark at the present case."""
    by_height = along == "height of the hands"

    def x(c: Condition) -> float:
        return 100.0 * c.hand_height_m if by_height else math.log10(c.minutes_between)

    if by_height:
        every = [here._replace(hand_height_m=float(h)) for h in _HEIGHTS_M]
    else:
        every = [here._replace(minutes_between=float(m)) for m in _MINUTES]
    pieces: list[list[tuple[float, float]]] = [[]]
    for c in every:
        found = limit.value(c)
        if isinstance(found, Value):
            pieces[-1].append((x(c), found.value))
        elif pieces[-1]:
            pieces.append([])
    items: list[Item] = [Line(piece, "within", 3.5) for piece in pieces if len(piece) > 1]
    top = 1.15 * max((y for piece in pieces for _, y in piece), default=1.0)
    present = limit.value(here)
    if isinstance(present, Value):
        said = f"{present.value:.0f} {limit.unit} here"
        items.append(Mark((x(here), present.value), "diamond", "ink", 18, f"{said}: {present.note}"))
        top = max(top, 1.15 * present.value)
    else:
        said = f"not covered here: {present.said()}"
        items.append(Line([(x(here), 0.0), (x(here), top)], "not applicable", 2.0, dash=True, hover=said))
    ends = (x(every[0]), x(every[-1]))
    ticks = round_ticks(*ends) if by_height else [(math.log10(m), text) for m, text in _TIMES]
    title = "hands above the floor, cm" if by_height else "time between efforts"
    return Drawing(
        x=Axis(*ends, title, ticks, True),
        y=Axis(0.0, top, f"{limit.quantity}, {limit.unit}", round_ticks(0.0, top), True),
        items=items,
        alt=f"{limit.label} over the {along}: {said}.",
        height=340,
    )
