"""The probability that nobody is over a limit, against the size of the team."""

from __future__ import annotations

from ergo.report.figures.drawing import Axis, Colour, Drawing, Item, Line, Mark, Shape
from ergo.report.figures.label_layout import Room
from ergo.teams.team_probabilities import Reliability
from ergo.units import people_words, percent

__all__ = ["probability_curve"]

_LOW, _HIGH = -4.0, 118.0  # of the axis: marks at both ends stay whole


def probability_curve(sure: Reliability) -> Drawing:
    """Return the probability for every team drawn, the probability asked for and the team that it names."""
    probability_asked = sure.probability_asked
    best = sure.curve
    low, high = best[0].people - 0.7, best[-1].people + 0.7
    room, line = Room((low, high), (_LOW, _HIGH)), [(low, 100 * probability_asked), (high, 100 * probability_asked)]
    items: list[Item] = [Line(line, "over", 3.0)]
    points = [(float(c.people), 100 * c.probability) for c in best]
    items.append(Line(points, "quiet", 2.0))
    for kept in (line, points):
        room.keep_line(kept)
    room.keep_free(points, 16.0)
    items.append(room.at_end(100 * probability_asked, f"asked for: {100 * probability_asked:.0f} %", 14, "over"))
    for c in best:
        enough = c.probability >= probability_asked
        colour: Colour = "over" if not enough else "quiet" if sure.uncovered else "within"
        shape: Shape = "circle" if enough else "ring"
        spread = 200 * c.standard_error
        y = 100 * c.probability
        hover = f"{people_words(c.people)}, {c.left} left and {c.right} right: {percent(c.probability)}"
        items.append(Line([(c.people, max(y - spread, 0.0)), (c.people, min(y + spread, 100.0))], "ink", 2.0))
        items.append(Mark((c.people, y), shape, colour, 16, hover))
    first = next((c for c in best if c.people == sure.people), None)
    if first is not None:
        said = f"{people_words(first.people)}: {percent(first.probability)}"
        items.append(room.label((float(first.people), 100 * first.probability), said, 15, bold=True))
    return Drawing(
        x=Axis(low, high, "people in the room, roles included", [(c.people, str(c.people)) for c in best]),
        y=Axis(_LOW, _HIGH, "probability that nobody is over", [(v, f"{v} %") for v in range(0, 101, 25)], True),
        items=items,
        alt="Probability that nobody is over a limit, by team size: "
        + "; ".join(f"{people_words(c.people)} {percent(c.probability)}" for c in best)
        + ".",
        height=380,
    )
