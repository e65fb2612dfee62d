"""Parts of a report on a stated team: whether these can do it, and whether they could turn the patient back."""

from __future__ import annotations

from ergo.assessment import demand_of
from ergo.report.blocks import Block, Bullets, Figure, Heading, Paragraph, titled
from ergo.report.figures.bed_plan import bed_plan
from ergo.report.tables.shift import does_rows, shift_rows
from ergo.teams.emergency_return import IN_AN_ARREST
from ergo.teams.this_team import ThisTeam, this_team_words
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["return_part", "shift_part"]


def shift_part(found: ThisTeam, units: Units = DEFAULT_UNITS) -> tuple[Block, ...]:
    """Return whether the people of a shift can make a move, with who stands where and does what."""
    first, *more = this_team_words(found, units)
    result = found.assessment
    plan = bed_plan(demand_of(found.scenario), result.hardest_move, (found.left, found.right), units)
    tables = titled(shift_rows(found, units), does_rows(found, units)) if found.places else ()
    return (Heading("Can these do it?"), Paragraph(first), Bullets(tuple(more)), Figure(plan, 560), *tables)


def return_part(found: ThisTeam, units: Units = DEFAULT_UNITS) -> tuple[Block, ...]:
    """Return whether a team can turn the patient back when nobody planned it."""
    first, *more = this_team_words(found, units)
    return (
        Heading("If the patient must be turned back at once"),
        Paragraph(IN_AN_ARREST),
        Paragraph(first),
        Bullets(tuple(more)),
    )
