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
    low = min(float(found.mu[0]), *found.measured) * 0.97
    high = max(float(found.mu[-1]), *found.measured) * 1.03
    top = max(d for _, d in [*before, *after]) * 1.25
    contact_end = found.before.mu_high
    items: list[Item] = [Line(before, "quiet", 3.0, dash=True), Line(after, "within", 4.0)]
    for line, name in ((before, "before"), (after, "after")):
        peak = max(line, key=lambda p: p[1])
        mu = found.before.mu if name == "before" else found.after.mu
        said = f"{name}: {mu:.2f}"
        if name == "before":  # beside its curve, where the narrower one does not run through it
            items.append(Label((contact_end, 0.0), said, "middle", "quiet", 15, True, (0, 34), True))
        else:
            items.append(Label(peak, said, "middle", "within", 15, True, (0, 14), True))
    items += [Mark((m, 0.03 * top), "triangle", "ink", 13, f"a pull: friction {m:.2f}") for m in found.measured]
    return Drawing(
        x=Axis(low, high, f"friction of {found.before.upper} on {found.before.lower}", round_ticks(low, high, 6)),
        y=Axis(0.0, top),
        items=items,
        alt=(
            f"Friction of {found.before.upper} on {found.before.lower}: before {found.before.mu_low:.2f} to "
            f"{found.before.mu_high:.2f}, after {len(found.measured)} pulls {found.after.mu_low:.2f} to "
            f"{found.after.mu_high:.2f}."
        ),
        height=300,
    )
