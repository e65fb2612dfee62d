"""The probability against the number of draws: whether more draws would change the answer."""

from __future__ import annotations

import math

from ergo.evidence import assumption
from ergo.report.figures.drawing import Axis, Drawing, Item, Line, Mark
from ergo.teams.team_probabilities import Reliability
from ergo.units import percent

__all__ = ["convergence"]


def convergence(sure: Reliability) -> Drawing:
    """Return the running probability of the team shown, with two standard errors either way."""
    least = assumption("draws_least").typical
    seen = [one for one in sure.convergence if one[0] >= least] or [sure.convergence[-1]]
    points = [(math.log2(n), 100 * p, 200 * e) for n, p, e in seen]
    first, last = points[0][0], points[-1][0]
    low = max(0.0, min(p - e for _, p, e in points) - 2.0)
    high = min(104.0, max(p + e for _, p, e in points) + 2.0)
    items: list[Item] = [Line([(first, points[-1][1]), (last, points[-1][1])], "quiet", 2.0, dash=True)]
    items.append(Line([(x, p) for x, p, _ in points], "quiet", 2.0))
    for (x, p, e), (n, probability, _) in zip(points, seen, strict=True):
        items.append(Line([(x, max(p - e, 0.0)), (x, min(p + e, 100.0))], "ink", 2.5))
        items.append(Mark((x, p), "circle", "within", 11, f"{n} draws: {percent(probability)}"))
    n, probability, error = seen[-1]
    every = max(1, round((last - first) / 5))
    ticks = [(x, f"{2 ** round(x):,}".replace(",", " ")) for i, (x, _, _) in enumerate(points) if i % every == 0]
    step = 5 if high - low < 40 else 10
    marks = [(float(v), f"{v} %") for v in range(0, 101, step) if low <= v <= high]
    return Drawing(
        x=Axis(first - 0.3, last + 0.3, "cases tried (draws)", ticks),
        y=Axis(low, high, "probability that nobody is over", marks, True),
        items=items,
        alt=f"After {n} draws the probability is {percent(probability, 1)}, standard error {100 * error:.2f} %.",
        height=300,
    )
