"""The answer of `ergo height`: the mattress height that spares the most loaded back."""

from __future__ import annotations

from ergo.assessment import cautions_of
from ergo.inputs.scenario import Scenario
from ergo.report.blocks import Document, Paragraph, Title, cautions, titled
from ergo.report.tables.handler import hardest_words, height_rows, height_words
from ergo.teams.bed_height import NoHeight, TeamHeight
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["height_answer"]


def height_answer(scenario: Scenario, team: TeamHeight | NoHeight, units: Units = DEFAULT_UNITS) -> Document:
    """Return the best bed height, or what decides that no height answers."""
    title = Title(scenario.name)
    if isinstance(team, NoHeight):
        return Document(scenario.name, (title, Paragraph(team.why_in(units)), *cautions(cautions_of(scenario))))
    said = (Paragraph(height_words(team, units)), Paragraph(f"{hardest_words(team.hardest)}.", "Most loaded there"))
    return Document(scenario.name, (title, *said, *titled(height_rows(team, units)), *cautions(cautions_of(scenario))))
