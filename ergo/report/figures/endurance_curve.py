"""How long a hold lasts beside how long muscles last at that effort."""

from __future__ import annotations

import math
from collections.abc import Sequence
from textwrap import wrap

import numpy as np

from ergo.evidence import assumption
from ergo.handlers.strength import endurance_time
from ergo.report.figures.drawing import VERDICT_MARK, Axis, Drawing, Item, Label, Line, Mark
from ergo.report.figures.label_layout import Room
from ergo.report.tables.handler import hold_verdict
from ergo.teams.hold_times import HoldTime

__all__ = ["endurance_curve"]

_LETTERS = 28  # of a row of names beside a mark
_SECONDS = ((5, "5 s"), (10, "10 s"), (30, "30 s"), (60, "1 min"), (120, "2 min"), (300, "5 min"), (900, "15 min"))


def endurance_curve(holds: Sequence[HoldTime], region: str = "shoulder") -> Drawing:
    """Return the endurance curve of one region with each hold as a mark; below the curve it lasts."""
    span = assumption("endurance_valid_fraction")
    fraction = np.linspace(span.low, span.high, 71)
    times = endurance_time(fraction, region).time_s
    curve = [(100.0 * float(f), math.log10(float(t))) for f, t in zip(fraction, times, strict=True)]
    own = [h for h in holds if h.region == region]
    low, high = math.log10(4.0), max(curve[0][1], *(math.log10(max(h.seconds, 5.0)) for h in own), 2.5) + 0.1
    right = 100.0 * max([span.high, *(h.fraction for h in own)]) + 5.0
    room, name = (
        Room((0.0, right), (low, high)),
        Label(curve[20], f"{region}:\nlasts no longer", "start", "over", 14, True, (10, 18), True),
    )
    items: list[Item] = [Line(curve, "over", 3.5), name]
    room.keep_words(name)
    room.keep_line(curve)
    by_effort = sorted(own, key=lambda h: -h.ratio)
    at = {h: (100.0 * h.fraction, math.log10(h.seconds)) for h in by_effort}
    room.keep_free(at.values(), 16.0)
    for h in by_effort:
        verdict = hold_verdict(h)
        hover = f"{h.role}, {h.seconds:.0f} s: {h.person.words}\n{h.move}"
        items.append(Mark(at[h], VERDICT_MARK[verdict], verdict, 16, hover))
    # one word a role, at its longest hold for its effort; the table names every move
    named = [(at[h], h.role) for h in {h.role: h for h in reversed(by_effort)}.values()]
    items += [room.label(place, "\n".join(wrap(roles, _LETTERS)), 14) for place, roles in room.together(named, 14)]
    return Drawing(
        x=Axis(
            0.0,
            right,
            "effort, of median strength",
            [(v, f"{v} %") for v in range(0, 101, 20) if v < right],
        ),
        y=Axis(low, high, "time held", [(math.log10(s), t) for s, t in _SECONDS if low < math.log10(s) < high], True),
        items=items,
        alt=_alt(own, region),
        height=380,
    )


def _alt(holds: Sequence[HoldTime], region: str) -> str:
    if not holds:
        return f"Nothing is held; the curve shows how long a {region} lasts."
    worst = max(holds, key=lambda h: h.ratio)
    lasts = f"{'at least ' if worst.at_least else ''}{worst.endurance_s:.0f} s"
    return (
        f"Hold times against endurance of the {region}. The longest for its effort is “{worst.move}”, {worst.role}: "
        f"{worst.seconds:.0f} s held at {100 * worst.fraction:.0f} % of strength, which lasts {lasts}."
    )
