"""The hours of the day when moves are not covered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ergo.report.figures.drawing import Axis, Drawing, Item, Label, Line, Polygon
from ergo.report.figures.label_layout import Room

__all__ = ["hours_missed"]

_EVERY = 6  # hours between two ticks: at 390 px more would crowd
_APART = 2  # hours between two figures over bars: next to each other they run into one line
_ENDS = (-0.2, 24.2)
_HIGH = 250.0  # pixels between the axes
_DIGITS = 11.0  # as broad as a bar on a telephone: larger ones run into the bar beside them


def hours_missed(missed: Sequence[float], target: float) -> Drawing:
    """Return a bar an hour: the share of its moves that were late or lacked people."""
    allowed = 100.0 * (1.0 - target)
    top = max(100.0 * max(missed, default=0.0), 2.0 * allowed, 10.0) * 1.22
    items: list[Item] = []
    for hour, part in enumerate(missed):
        value = 100.0 * part
        over = value > allowed
        box = [(hour + 0.08, 0.0), (hour + 0.08, value), (hour + 0.92, value), (hour + 0.92, 0.0)]
        said = f"{hour}:00 to {hour + 1}:00: {value:.0f} % not covered"
        items.append(Polygon(box, "over" if over else "within", "over" if over else "within", hover=said))
    items.append(Line([(0.0, allowed), (24.0, allowed)], "ink", 2.0, dash=True))
    target_words = Label((24.0, top), f"dashed: target, at most {allowed:.0f} %", "end", size=13, shift=(0, -8))
    items += [target_words, *_figures([100.0 * part for part in missed], allowed, target_words, top)]
    late = [f"{h}:00 ({100 * v:.0f} %)" for h, v in enumerate(missed) if 100.0 * v > allowed]
    return Drawing(
        x=Axis(*_ENDS, "hour of the day", [(float(h), f"{h}") for h in range(0, 25, _EVERY)]),
        y=Axis(0.0, top, "not covered, %", [(v, f"{v:.0f}") for v in _ticks(top)], grid=True),
        items=items,
        alt="Share of moves not covered by hour of the day. "
        + (f"Above the target in the hours from {', '.join(late)}." if late else "No hour is above the target."),
        height=320,
    )


def _figures(values: Sequence[float], allowed: float, target_words: Label, top: float) -> list[Label]:
    """The figures over the bars above the target, the worst first, where they touch no other on a telephone."""
    room = Room(_ENDS, (0.0, top), high=_HIGH)
    room.keep_words(target_words)
    worst = sorted((hour for hour, v in enumerate(values) if v > allowed), key=lambda h: -values[h])
    labels: dict[int, Label] = {}
    for hour in worst:
        label = Label((hour + 0.5, values[hour]), f"{values[hour]:.0f}", size=_DIGITS, bold=True, shift=(0, 9))
        apart = all(abs(hour - other) >= _APART for other in labels)
        if apart and room.takes(replace(label, text=f"{label.text} ")):  # a gap between two
            labels[hour] = label
    return list(labels.values())


def _ticks(top: float) -> list[float]:
    step = 25.0 if top > 50 else 10.0 if top > 20 else 5.0
    return [step * i for i in range(int(top / step) + 1)]
