"""The most loaded back of a mixed team against the height of the mattress."""

from __future__ import annotations

from ergo.limits.policy import verdict_of
from ergo.report.figures.axes import round_ticks
from ergo.report.figures.drawing import VERDICT_MARK, Axis, Drawing, Item, Line, Mark
from ergo.report.figures.label_layout import Room
from ergo.report.tables.handler import height_words
from ergo.teams.bed_height import TeamHeight
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["height_curve"]


def height_curve(team: TeamHeight, units: Units = DEFAULT_UNITS) -> Drawing:
    """Return the curve of the worst L5/S1 compression over its limit against mattress height."""
    heights = [100.0 * float(h) for h in team.heights_m]
    percents = [100.0 * float(r) for r in team.worst_ratio]
    able = [bool(v) for v in team.can_be_held]
    low, high = min(heights), max(heights)
    present, now = 100.0 * team.present_height_m, 100.0 * team.present_ratio
    low, high = min(low, present) - 1.0, max(high, present) + 1.0
    top = max([*percents, now, 115.0]) * 1.12
    items: list[Item] = [Line([(low, 100.0), (high, 100.0)], "over", 3.5)]
    limit = f"lower limit {units.show_force(team.limit_n)}"
    items.append(Line(list(zip(heights, percents, strict=True)), "quiet", 1.5, dash=True))
    for first, last in _runs(able):
        items.append(Line(list(zip(heights[first:last], percents[first:last], strict=True)), "ink", 3.5))
    verdict = verdict_of(team.present_ratio) if team.present_can_be_held else "over"
    items.append(Mark((present, now), VERDICT_MARK[verdict], verdict, 17, f"now: {now:.0f} %"))
    room = Room((low, high), (0.0, top), high=260.0)
    for line in ([(low, 100.0), (high, 100.0)], list(zip(heights, percents, strict=True))):
        room.keep_line(line)
    room.keep_free([(present, now)], 17)
    named = [((present, now), f"now {now:.0f} %", 17.0)]
    if team.found and abs(team.height_m - team.present_height_m) * 100 >= 1:
        best, ratio = 100.0 * team.height_m, 100.0 * team.ratio
        mark = verdict_of(team.ratio)
        items += [
            Mark((best, ratio), "ring", "ink", 30),
            Mark((best, ratio), VERDICT_MARK[mark], mark, 15, f"best: {ratio:.0f} %"),
        ]
        room.keep_free([(best, ratio)], 30)
        named.append(((best, ratio), f"best {ratio:.0f} %", 30.0))
    items.append(room.at_end(100.0, limit, 14, "over"))
    for at, words, size in named:
        items.append(room.label(at, words, 15, bold=True, mark=size))
    ticks = [(v, units.show_length(v / 100.0)) for v, _ in round_ticks(low, high, 6)]
    return Drawing(
        x=Axis(low, high, "mattress above the floor", ticks),
        y=Axis(
            0.0, top, "most loaded back, of the lower limit", [(v, f"{t} %") for v, t in round_ticks(0.0, top)], True
        ),
        items=items,
        alt=f"Compression of the most loaded back against mattress height. {height_words(team, units)}",
        height=340,
    )


def _runs(able: list[bool]) -> list[tuple[int, int]]:
    """Stretches of True, as slices."""
    found, start = [], None
    for i, yes in enumerate([*able, False]):
        if yes and start is None:
            start = i
        elif not yes and start is not None:
            found.append((start, i))
            start = None
    return found
