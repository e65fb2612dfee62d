"""One input after the other at its low and its high end: what a purchase depends on."""

from __future__ import annotations

from collections.abc import Sequence

from ergo.purchases.cost_model import OptionCase
from ergo.report.figures.axes import round_ticks, wrapped
from ergo.report.figures.drawing import Axis, Drawing, Item, Label, Line, Mark, Polygon
from ergo.report.tables.purchase import swing_cells

__all__ = ["tornado"]

_MOST = 8


def tornado(option: OptionCase, currency: str) -> Drawing:
    """Return one bar an input, from the net present value at its low end to that at its high end."""
    rows = option.one_way[:_MOST]
    ends = [v for s in rows for v in (s.npv_low, s.npv_high)]
    low, high = min([0.0, *ends]), max([0.0, *ends, 1.0])
    wide = high - low
    scale, word = (1e6, "million ") if wide >= 2e6 else (1e3, "thousand ") if wide >= 2e3 else (1.0, "")
    items: list[Item] = [Line([(0.0, -0.7), (0.0, len(rows) - 0.5)], "ink", 2.5)]
    items.append(Label((0.0, -0.7), "breaks even", size=13, bold=True, shift=(0, 9)))
    typical = option.npv.typical / scale
    items.append(Line([(typical, -0.5), (typical, len(rows) - 0.5)], "quiet", 1.5, dash=True))
    cells = swing_cells(option, currency)[:_MOST]
    for i, (s, (what, at_low, at_high, worth_low, worth_high)) in enumerate(zip(rows, cells, strict=True)):
        a, b = s.npv_low / scale, s.npv_high / scale
        hover = f"{what}: {at_low} gives {worth_low}, {at_high} gives {worth_high}"
        for start, end in _parts(min(a, b), max(a, b)):
            kind = "over" if end <= 0 else "within"
            box = [(start, i - 0.26), (start, i + 0.26), (end, i + 0.26), (end, i - 0.26)]
            items.append(Polygon(box, "over" if kind == "over" else "within", "quiet", hover=hover, opacity=0.75))
        items.append(Mark((a, i), "ring", "ink", 12, hover))
        items.append(Mark((b, i), "circle", "ink", 12, hover))
    return Drawing(
        x=Axis(
            (low - 0.06 * wide) / scale,
            (high + 0.06 * wide) / scale,
            f"{word}{currency}",
            _ticks(low / scale, high / scale),
        ),
        y=Axis(len(rows) - 0.4, -1.15, "", [(float(i), wrapped(s.what, 24)) for i, s in enumerate(rows)]),
        items=items,
        alt=_alt(option.name, cells),
        height=110 + 56 * len(rows),
    )


def _parts(low: float, high: float) -> list[tuple[float, float]]:
    """Cut a bar where it crosses break-even."""
    return [(low, 0.0), (0.0, high)] if low < 0.0 < high else [(low, high)]


def _ticks(low: float, high: float) -> list[tuple[float, str]]:
    return [(v, t.replace("-", "−")) for v, t in round_ticks(low, high, 5)]


def _alt(name: str, cells: Sequence[tuple[str, ...]]) -> str:
    said = [f"{what} from {low} to {high}: {worth} to {more}" for what, low, high, worth, more in cells]
    return f"What decides whether {name} pays, largest first. " + "; ".join(said) + "."
