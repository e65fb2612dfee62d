"""Friction before and after a site's own pulls."""

from __future__ import annotations

from ergo.report.figures.axes import round_ticks
from ergo.report.figures.drawing import Axis, Drawing, Item, Label, Line, Mark
from ergo.uncertainty.site_friction import FrictionUpdate

__all__ = ["friction_density"]


def friction_density(found: FrictionUpdate) -> Drawing:
    """Return how likely each friction is before and after, with the pulls as marks."""
    before = [(float(m), float(d)) for m, d in zip(found.mu, found.density_before, strict=True)]
    after = [(float(m), float(d)) for m, d in zip(found.mu, found.density_after, strict=True)]
    pulls = [mu for one in found.measured for mu in one]
    low, high = min(float(found.mu[0]), *pulls) * 0.97, max(float(found.mu[-1]), *pulls) * 1.03
    top = max(d for _, d in [*before, *after]) * 1.25
    low_before, middle_before, high_before = found.before_5_50_95
    low_after, middle_after, high_after = found.after_5_50_95
    items: list[Item] = [Line(before, "quiet", 3.0, dash=True), Line(after, "within", 4.0)]
    for line, name in ((before, "before"), (after, "after")):
        peak = max(line, key=lambda p: p[1])
        mu = middle_before if name == "before" else middle_after
        said = f"{name}: {mu:.2f}"
        if name == "before":  # beside its curve, where the narrower one does not run through it
            items.append(Label((high_before, 0.0), said, "middle", "quiet", 15, True, (0, 34), True))
        else:
            items.append(Label(peak, said, "middle", "within", 15, True, (0, 14), True))
    items += [Mark((m, 0.03 * top), "triangle", "ink", 13, f"a pull: friction {m:.2f}") for m in pulls]
    return Drawing(
        x=Axis(low, high, f"friction of {found.before.upper} on {found.before.lower}", round_ticks(low, high, 6)),
        y=Axis(0.0, top),
        items=items,
        alt=(
            f"Friction of {found.before.upper} on {found.before.lower}: before {low_before:.2f} to "
            f"{high_before:.2f}, after {len(pulls)} pulls {low_after:.2f} to {high_after:.2f}."
        ),
        height=300,
    )
