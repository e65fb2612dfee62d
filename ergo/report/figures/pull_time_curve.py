"""The force that starts a slide against the time of the pull: what a jerk costs."""

from __future__ import annotations

from ergo.mechanics.pull_time import StartForce
from ergo.report.figures.axes import round_ticks
from ergo.report.figures.drawing import Axis, Drawing, Item, Line, Mark
from ergo.report.figures.label_layout import Room
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["pull_time_curve", "pull_time_words"]


_HIGHEST = 4.0  # times the usual force: nobody pulls harder, and the rest of the curve would be flat beside it


def pull_time_words(found: StartForce, units: Units = DEFAULT_UNITS) -> str:
    """Say what a pull in half the usual time costs."""
    return (
        f"The whole side starts this slide with {units.show_force(found.usual_n)} in {found.usual_s:.1f} s, and with "
        f"{units.show_force(found.hurried_n)} in half that time. From {found.unhurried_s:.1f} s on it takes no more "
        f"than the {units.show_force(found.breakaway_n)} that break it loose."
    )


def pull_time_curve(found: StartForce, units: Units = DEFAULT_UNITS) -> Drawing:
    """Return the start force of the whole side over the time of the pull, with the case's own time marked."""
    shown = found.start_n <= _HIGHEST * found.usual_n
    times, forces = found.time_s[shown].tolist(), [units.force_value(float(n)) for n in found.start_n[shown]]
    usual, least = units.force_value(found.usual_n), units.force_value(found.breakaway_n)
    left, right, top = 0.0, max(times) * 1.05, max([*forces, usual]) * 1.12
    curve, loose = list(zip(times, forces, strict=True)), [(left, least), (right, least)]
    items: list[Item] = [
        Line(loose, "quiet", 2.0, dash=True),
        Line(curve, "ink", 3.5),
        Mark(
            (found.usual_s, usual), "diamond", "ink", 17, f"{units.show_force(found.usual_n)} in {found.usual_s:.1f} s"
        ),
    ]
    room = Room((left, right), (0.0, top))
    for line in (curve, loose):
        room.keep_line(line)
    room.keep_free([(found.usual_s, usual)], 17)
    items.append(room.at_end(least, f"to break loose: {units.show_force(found.breakaway_n)}", 14, "quiet"))
    items.append(room.label((found.usual_s, usual), f"usual: {found.usual_s:.1f} s", 15, bold=True, mark=17.0))
    return Drawing(
        x=Axis(left, right, "time of the pull, s", round_ticks(left, right), True),
        y=Axis(0.0, top, f"start force of the whole side, {units.force}", round_ticks(0.0, top), True),
        items=items,
        alt=f"Start force against the time of the pull. {pull_time_words(found, units)}",
        height=340,
    )
