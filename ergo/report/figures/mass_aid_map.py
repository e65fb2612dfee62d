"""People needed by patient mass and aid, as a table with shading and words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal

from ergo.report.figures.axes import wrapped
from ergo.report.figures.drawing import Axis, Drawing, Item, Label, Line, Polygon
from ergo.teams.smallest_team import Needs
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["Cell", "cell_words", "mass_aid_map"]

Cell = Needs | Literal["cannot serve"]
"""Number of people, or why there is none; "cannot serve" where the aid is not made for the move."""


def cell_words(cell: Cell | None) -> str:
    """Return what a cell says; an ellipsis while it is not computed."""
    if cell == "cannot serve":
        return "not for this"
    return "…" if cell is None else str(cell)


def mass_aid_map(
    cells: Mapping[tuple[str, float], Cell],
    aids: Sequence[str],
    masses_kg: Sequence[float],
    here: tuple[str, float],
    units: Units = DEFAULT_UNITS,
) -> Drawing:
    """Return the map of people needed."""
    nearest = min(range(len(masses_kg)), key=lambda i: abs(masses_kg[i] - here[1]))
    items: list[Item] = []
    for row, aid in enumerate(aids):
        for column, mass in enumerate(masses_kg):
            items += _cell(cells.get((aid, mass)), column, row)
    if here[0] in aids:
        row = list(aids).index(here[0])
        box = [
            (nearest - 0.5, row - 0.5),
            (nearest + 0.5, row - 0.5),
            (nearest + 0.5, row + 0.5),
            (nearest - 0.5, row + 0.5),
        ]
        items.append(Line([*box, box[0]], "ink", 4.0))
    return Drawing(
        x=Axis(-0.5, len(masses_kg) - 0.5, f"patient mass, {units.mass}", _mass_ticks(masses_kg, units)),
        y=Axis(len(aids) - 0.5, -0.5, "", [(i, wrapped(a, 16)) for i, a in enumerate(aids)]),
        items=items,
        alt=_alt(cells, aids, masses_kg, units),
        height=90 + 56 * len(aids),
    )


def _cell(cell: Cell | None, column: int, row: int) -> list[Item]:
    box = [(column + x, row + y) for x, y in ((-0.48, -0.46), (0.48, -0.46), (0.48, 0.46), (-0.48, 0.46))]
    at = (float(column), float(row))
    if isinstance(cell, int):
        # More people is a deeper shade; the number itself says it too.
        return [
            Polygon(box, "within", "faint", opacity=min(0.08 + 0.035 * cell, 0.5)),
            Label(at, str(cell), size=17, bold=True),
        ]
    if cell == "lift":
        return [Polygon(box, "over", "over", opacity=0.25), Label(at, "■\nlift", size=12, bold=True)]
    return [Polygon(box, "bed", "faint", opacity=0.4), Label(at, cell_words(cell), size=12, colour="quiet")]


def _mass_ticks(masses_kg: Sequence[float], units: Units) -> list[tuple[float, str]]:
    return [(i, f"{units.mass_value(m):.0f}") for i, m in enumerate(masses_kg)]


def _alt(cells: Mapping[tuple[str, float], Cell], aids: Sequence[str], masses_kg: Sequence[float], units: Units) -> str:
    said = []
    for aid in aids:
        row = [cells.get((aid, m)) for m in masses_kg]
        first, last = units.show_mass(masses_kg[0]), units.show_mass(masses_kg[-1])
        said.append(f"{aid}: {cell_words(row[0])} at {first}, {cell_words(row[-1])} at {last}")
    return "People needed by patient mass and aid. " + "; ".join(said) + "."
