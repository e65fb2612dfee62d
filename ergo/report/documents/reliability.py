"""The answer of `ergo sure`: the probability for each team, and what drives the answer."""

from __future__ import annotations

from ergo.assessment import cautions_of, demand_of
from ergo.inputs.scenario import Scenario
from ergo.report.blocks import Document, Paragraph, Title, cautions, titled
from ergo.report.tables.uncertainty import convergence_rows, distribution_rows, driver_rows, probability_rows
from ergo.teams.team_probabilities import Reliability, reliability_words
from ergo.uncertainty.sensitivity import Drivers
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["reliability_answer"]


def reliability_answer(scenario: Scenario, sure: Reliability, found: Drivers, units: Units = DEFAULT_UNITS) -> Document:
    """Return probabilities, convergence and drivers."""
    blocks = (
        Title(scenario.name, scenario.question),
        Paragraph(reliability_words(sure, demand_of(scenario), units)),
        *titled(probability_rows(sure, units), convergence_rows(sure)),
        *titled(driver_rows(found).without("source")),
        Paragraph(f"{found.why} (for {found.left} left, {found.right} right)"),
        *titled(distribution_rows(sure).without("source")),
    )
    return Document(scenario.name, (*blocks, *cautions(cautions_of(scenario))))
