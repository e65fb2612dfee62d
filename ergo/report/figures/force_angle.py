"""Force against the roll angle: what each side does, and what the whole turn would take from one side alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ergo.report.figures.axes import round_ticks
from ergo.report.figures.cross_section import SHORT_WORDS, TurnView, at_angle, balance_points, side_colour
from ergo.report.figures.drawing import Axis, Drawing, Item, Label, Line, Mark, Point
from ergo.report.figures.label_layout import Room
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["force_angle"]

_LEAST_TOP_N, _MOST_TIMES = 50.0, 4.0  # what is far above all that the team does runs out of the drawing
_NO_FORCE_N = 0.5
_ROOM = (250.0, 250.0)  # pixels that a telephone leaves for the curves
Curve = tuple[str, bool, bool, NDArray[np.float64]]


def force_angle(view: TurnView, angle_deg: float, units: Units = DEFAULT_UNITS) -> Drawing:
    """Return force against roll angle for one turn with a team, the shown angle marked.

    Full lines are what all on one side give together in one action, dashed ones what a side alone would have to give.
    """
    angle = np.degrees(view.forces.angle)
    curves = _curves(view)
    together = max([float(c.max()) for _, _, alone, c in curves if not alone] + [0.0])
    alone = [c[np.isfinite(c)] for _, _, is_alone, c in curves if is_alone]
    peak = max([float(c.max()) for c in alone if len(c)] + [together, _LEAST_TOP_N])
    top_n = 1.25 * min(peak, max(_MOST_TIMES * together, _LEAST_TOP_N))
    top = units.force_value(top_n)
    items: list[Item] = [Line([(angle_deg, 0.0), (angle_deg, top)], "ink", 2.0)]
    room = Room((view.from_deg, view.to_deg), (0.0, top), *_ROOM)
    balance = [
        Label((at, top), "balance", "start", "quiet", 13, shift=(4, -8), backed=True) for at in balance_points(view)
    ]
    for label in balance:
        room.keep_words(label)
    for name, receiving, is_alone, force in curves:
        colour = side_colour(receiving)
        for part in _inside(angle, force, top_n, units):
            items.append(Line(part, colour, 2.0 if is_alone else 4.0, is_alone))
        items += _name(name, angle, force, top_n, receiving, is_alone, room, units)
    for hands in at_angle(view, angle_deg).hands:
        if hands.force_n >= _NO_FORCE_N:
            items.append(Mark((angle_deg, units.force_value(hands.force_n)), "circle", hands.colour, 14))
    items += [Line([(label.at[0], 0.0), label.at], "quiet", 1.5, dash=True) for label in balance]
    items += balance
    return Drawing(
        x=Axis(view.from_deg, view.to_deg, "roll angle, degrees", _angles(view)),
        y=Axis(0.0, top, f"whole side, {units.force}", round_ticks(0.0, top), grid=True),
        items=items,
        alt=_alt(curves, angle, units),
        height=360,
    )


def _curves(view: TurnView) -> list[Curve]:
    """Name, whether of the receiving side, whether alone, and force: what each side would need alone, then together."""
    together: list[Curve] = [
        (f"{action.side}: {SHORT_WORDS[action.name]}", action.receiving, False, action.force_n)
        for action in view.forces.actions
        if action.force_n.max() >= _NO_FORCE_N
    ]
    alone: list[Curve] = []
    for receiving in (True, False):
        able = [a for a in view.forces.actions if a.receiving is receiving]
        least = np.min([a.alone_n for a in able], axis=0) if able else np.array([np.inf])
        if np.any(np.isfinite(least)) and not any(np.allclose(least, force) for _, _, _, force in together):
            alone.append((f"{able[0].side} side alone", receiving, True, least))
    return alone + together


def _inside(angle: NDArray[np.float64], force: NDArray[np.float64], top_n: float, units: Units) -> list[list[Point]]:
    """The parts of a curve that lie within the drawing."""
    parts: list[list[Point]] = [[]]
    for a, f in zip(angle, force, strict=True):
        if f <= top_n:
            parts[-1].append((float(a), units.force_value(float(f))))
        elif parts[-1]:
            parts.append([])
    return [part for part in parts if len(part) > 1]


def _name(
    name: str,
    angle: NDArray[np.float64],
    force: NDArray[np.float64],
    top_n: float,
    receiving: bool,
    alone: bool,
    room: Room,
    units: Units,
) -> list[Item]:
    shown = np.where(np.isfinite(force) & (force <= top_n), force, -1.0)
    at = int(np.argmax(shown))
    if shown[at] < _NO_FORCE_N:
        return []
    said = name if alone else f"{name}, {units.show_force(float(force[at]))}"
    place = (float(angle[at]), units.force_value(float(shown[at])))
    found = room.label(place, said, 13, bold=not alone, mark=6.0)
    return [replace(found, colour=side_colour(receiving))]


def _angles(view: TurnView) -> list[tuple[float, str]]:
    return [(v, f"{said}°") for v, said in round_ticks(view.from_deg, view.to_deg, 6)]


def _alt(curves: list[Curve], angle: NDArray[np.float64], units: Units) -> str:
    said = []
    for name, _, _, force in curves:
        known = np.where(np.isfinite(force), force, 0.0)
        at = int(np.argmax(known))
        said.append(f"{name}: at most {units.show_force(float(known[at]))}, at {angle[at]:.0f} degrees")
    return "Force of each side against the roll angle: " + ("; ".join(said) or "nobody gives any") + "."
