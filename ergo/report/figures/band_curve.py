"""Nine draws in ten: the band of the ratio to a limit, or of the force in one pair of hands, by team size."""

from __future__ import annotations

from ergo.limits.policy import verdict_of
from ergo.report.figures.axes import round_ticks
from ergo.report.figures.drawing import VERDICT_MARK, Axis, Drawing, Item, Label, Line, Mark
from ergo.report.figures.label_layout import Room
from ergo.teams.team_probabilities import Reliability
from ergo.units import DEFAULT_UNITS, Units, people_words

__all__ = ["band_curve"]


def band_curve(sure: Reliability, of_force: bool = False, units: Units = DEFAULT_UNITS) -> Drawing:
    """Return the 5th, 50th and 95th percentile by team size, the same number on each side."""
    teams = [c for c in sure.curve if c.uncovered < 1.0]
    if not teams:
        said = "No limit that decides covers this case."
        return Drawing(x=Axis(0, 1), y=Axis(0, 1), items=[Label((0.5, 0.5), said)], alt=said, height=120)

    def three(i: int) -> tuple[float, float, float]:
        low, middle, high = teams[i].force_n if of_force else teams[i].ratio
        if of_force:
            return units.force_value(low), units.force_value(middle), units.force_value(high)
        return 100 * low, 100 * middle, 100 * high

    bands = [three(i) for i in range(len(teams))]
    left, right = teams[0].people - 0.8, teams[-1].people + 0.8
    top = max([b[2] for b in bands] + ([] if of_force else [115.0])) * 1.15
    unit = units.force if of_force else "%"
    room, limit = Room((left, right), (0.0, top)), [(left, 100.0), (right, 100.0)]
    items: list[Item] = [] if of_force else [Line(limit, "over", 3.5)]
    for c, (low, middle, high) in zip(teams, bands, strict=True):
        verdict = "not applicable" if of_force else verdict_of(c.ratio[1])
        hover = f"{people_words(c.people)}: {low:.0f} to {high:.0f} {unit}, middle {middle:.0f} {unit}"
        items.append(Line([(c.people, low), (c.people, high)], "quiet", 9.0, hover=hover))
        colour = "ink" if of_force else verdict
        items.append(Mark((c.people, middle), VERDICT_MARK[verdict] if not of_force else "circle", colour, 15, hover))
        ends = [
            Label((c.people, end), f"{end:.0f}", "middle", "ink", 13, False, (0, up), True)
            for end, up in ((high, 12), (low, -12))
        ]
        items += ends
        for label in ends:
            room.keep_words(label)
        room.keep_line([(c.people, low), (c.people, high)], 15.0)
    if not of_force:
        items.append(room.at_end(100.0, "limit", 14, "over"))
    what = f"largest force of one person, {units.force}" if of_force else "share of the limit used"
    ticks = [(v, t if of_force else f"{t} %") for v, t in round_ticks(0.0, top)]
    said = "; ".join(
        f"{people_words(c.people)} {low:.0f} to {high:.0f} {unit}"
        for c, (low, _, high) in zip(teams, bands, strict=True)
    )
    return Drawing(
        x=Axis(left, right, "people, as many on each side", [(c.people, str(c.people)) for c in teams]),
        y=Axis(0.0, top, what, ticks, True),
        items=items,
        alt=f"Nine draws in ten by team size, {what}: {said}.",
        height=380,
    )
