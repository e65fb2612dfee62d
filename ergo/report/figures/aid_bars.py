"""Aids side by side: one mark for each person in the room."""

from __future__ import annotations

from collections.abc import Sequence

from ergo.report.figures.axes import round_ticks, wrapped
from ergo.report.figures.drawing import Axis, Drawing, Item, Label, Mark, Shape
from ergo.report.marks_and_amounts import needs_words
from ergo.teams.smallest_team import AidOption
from ergo.units import DEFAULT_UNITS, Units, people_words

__all__ = ["aid_bars"]


def aid_bars(aids: Sequence[AidOption], chosen: str, units: Units = DEFAULT_UNITS) -> Drawing:
    """Return people needed by aid, as a row of marks each."""
    most = max((o.people or 0 for o in aids), default=1) or 1
    items: list[Item] = []
    for row, option in enumerate(aids):
        if option.needs in ("no limit", "not possible"):
            items.append(Label((1.0, row), str(option.needs), "start", "quiet", 15, True, (-9, 0)))
            continue
        if option.people is None:
            items.append(Mark((1.0, row), "square", "over", 18))
            items.append(Label((1.0, row), "mechanical lift", "start", "over", 15, True, (18, 0)))
            continue
        shape: Shape = "ring" if option.unmeasured else "circle"
        hover = (
            f"{option.aid}: {people_words(option.people)}, most loaded {units.show_force(option.worst_person_force_n)}"
        )
        items += [Mark((float(n), row), shape, "within", 17, hover) for n in range(1, option.people + 1)]
        bold = option.aid == chosen
        items.append(Label((float(option.people), row), str(option.people), "start", size=17, bold=bold, shift=(16, 0)))
    names = [(float(i), wrapped(o.aid, 16) + ("\n(this case)" if o.aid == chosen else "")) for i, o in enumerate(aids)]
    return Drawing(
        x=Axis(0.3, most + 1.4, "people in the room", [t for t in round_ticks(1.0, most, 6) if t[0] % 1 == 0]),
        y=Axis(len(aids) - 0.4, -0.6, "", names),
        items=items,
        alt=_alt(aids),
        height=90 + 58 * len(aids),
    )


def _alt(aids: Sequence[AidOption]) -> str:
    said = [f"{o.aid}: {needs_words(o.needs)}{', friction not measured' if o.unmeasured else ''}" for o in aids]
    return "People needed by aid. " + "; ".join(said) + "."
