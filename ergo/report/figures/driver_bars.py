"""What drives the answer: each input from its low to its high end, and its share of the variance."""

from __future__ import annotations

from ergo.report.figures.axes import round_ticks, wrapped
from ergo.report.figures.drawing import Axis, Drawing, Item, Label, Line, Mark
from ergo.uncertainty.sensitivity import Driver, Drivers

__all__ = ["driver_bars"]

_SHOWN = 10


def driver_bars(found: Drivers) -> Drawing:
    """Return the inputs, the strongest first, as bars of the ratio to the limit that decides."""
    shown = found.ranked[:_SHOWN]
    values = [100 * v for d in shown for v in (d.low_ratio, d.high_ratio)]
    typical = 100 * found.typical_ratio
    low, high = min([*values, typical]), max([*values, typical])
    room = max(high - low, 5.0)
    left, right = low - 0.08 * room, high + 0.08 * room
    items: list[Item] = [Line([(typical, -0.7), (typical, len(shown) - 0.3)], "quiet", 2.0, dash=True)]
    items.append(Label((typical, -0.7), f"typical {typical:.0f} %", "middle", "quiet", 14, False, (0, 9), True))
    if left < 100 < right:
        items.append(Line([(100.0, -0.7), (100.0, len(shown) - 0.3)], "over", 3.0))
        items.append(Label((100.0, -0.7), "limit", "start", "over", 14, True, (4, 9), True))
    for row, d in enumerate(shown):
        a, b = 100 * d.low_ratio, 100 * d.high_ratio
        hover = (
            f"{d.label}\nlow end {a:.0f} %, high end {b:.0f} %\nshare of the variance {100 * d.total:.0f} %; {d.basis}"
        )
        items.append(Line([(a, row), (b, row)], "within", 11.0, hover=hover))
        items.append(Mark((a, row), "ring", "ink", 11, hover))
        items.append(Mark((b, row), "square", "ink", 11, hover))
    names = [(float(i), f"{wrapped(d.label, 20)}\n{_share(d)}") for i, d in enumerate(shown)]
    lines = max((1 + name.count("\n") for _, name in names), default=1)
    ticks = [(v, f"{t} %") for v, t in round_ticks(left, right, 4)]
    return Drawing(
        x=Axis(left, right, "share of the limit used", ticks, True),
        y=Axis(len(shown) - 0.3, -1.1, "", names),
        items=items,
        alt="What drives the share of the limit used. "
        + "; ".join(
            f"{d.label}: {100 * d.low_ratio:.0f} % to {100 * d.high_ratio:.0f} %, {100 * d.total:.0f} % of the variance"
            for d in shown
        )
        + ".",
        height=90 + max(64, 20 * lines) * len(shown),
    )


def _share(driver: Driver) -> str:
    share = "under 1 %" if driver.total < 0.005 else f"{100 * driver.total:.0f} %"
    return share + (", assumed" if driver.basis == "assumption" else "")
