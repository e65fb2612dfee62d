"""Force of the whole team against the roll angle: pull, counter-hold and brake."""

from __future__ import annotations

import numpy as np

from ergo.report.figures.axes import round_ticks
from ergo.report.figures.cross_section import TurnView, at_angle, balance_points
from ergo.report.figures.drawing import Anchor, Axis, Colour, Drawing, Item, Label, Line, Mark, Point
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["force_angle"]


def force_angle(view: TurnView, angle_deg: float, units: Units = DEFAULT_UNITS) -> Drawing:
    """Return force against roll angle for one turn, with the shown angle marked."""
    angle = np.degrees(view.lifting.angle)
    curves: list[tuple[str, Colour, bool, list[Point]]] = [
        ("pull", "within", False, _points(angle, view.lifting.force_n, units)),
        ("counter-hold", "close", True, _points(angle, view.counter_n, units)),
        ("lowering", "over", False, _points(angle, view.lowering.force_n, units)),
    ]
    curves = [c for c in curves if max(y for _, y in c[3]) > 0]
    top = max([y for *_, points in curves for _, y in points] + [units.force_value(50.0)]) * 1.25
    items: list[Item] = [Line([(angle_deg, 0.0), (angle_deg, top)], "ink", 2.0)]
    for name, colour, dash, points in curves:
        peak = max(points, key=lambda p: p[1])
        items.append(Line(points, colour, 3.5, dash))
        side: Anchor = "end" if peak[0] > (view.from_deg + view.to_deg) / 2 else "start"
        said = f"{name}, most {peak[1]:.0f} {units.force} at {peak[0]:.0f}°"
        items.append(Label(peak, said, side, colour, 14, bold=True, shift=(0, 13), backed=True))
    now = at_angle(view, angle_deg)
    for value, colour in ((now.pull_n, "within"), (now.counter_n, "close"), (now.brake_n, "over")):
        if value > 0:
            items.append(Mark((angle_deg, units.force_value(value)), "circle", colour, 14))
    for at in balance_points(view):
        items.append(Line([(at, 0.0), (at, top)], "quiet", 1.5, dash=True))
        items.append(Label((at, top), "balance", "start", "quiet", 13, shift=(4, -8), backed=True))
    return Drawing(
        x=Axis(view.from_deg, view.to_deg, "roll angle, degrees", _angles(view)),
        y=Axis(0.0, top, f"whole team, {units.force}", round_ticks(0.0, top), grid=True),
        items=items,
        alt=_alt(curves, units),
        height=330,
    )


def _points(angle: np.ndarray, force: np.ndarray, units: Units) -> list[Point]:
    return [(float(a), units.force_value(float(f))) for a, f in zip(angle, force, strict=True)]


def _angles(view: TurnView) -> list[tuple[float, str]]:
    return [(v, f"{said}°") for v, said in round_ticks(view.from_deg, view.to_deg, 6)]


def _alt(curves: list[tuple[str, Colour, bool, list[Point]]], units: Units) -> str:
    said = []
    for name, _, _, points in curves:
        peak = max(points, key=lambda p: p[1])
        said.append(f"{name} is largest, {peak[1]:.0f} {units.force}, at {peak[0]:.0f} degrees")
    return "Force of the whole team against the roll angle: " + "; ".join(said) + "."
