"""Certainty, bed height and evidence as plain text."""

from __future__ import annotations

from ergo.inputs.scenario import Scenario
from ergo.report.tables.evidence import all_limit_rows, source_rows, validation_rows
from ergo.report.tables.handler import hardest_words, height_rows, height_words
from ergo.report.tables.uncertainty import convergence_rows, distribution_rows, driver_rows, probability_rows
from ergo.report.terminal import caution_lines, head_lines, titled_table
from ergo.teams.bed_height import TeamHeight
from ergo.teams.team_probabilities import Reliability
from ergo.uncertainty.sensitivity import Drivers
from ergo.units import DEFAULT_UNITS, Units
from ergo.validation.cases import validation_cases

__all__ = ["evidence_text", "height_text", "sure_text"]


def sure_text(scenario: Scenario, sure: Reliability, found: Drivers, units: Units = DEFAULT_UNITS) -> str:
    """Return probabilities, convergence and drivers as text."""
    lines = [*head_lines(scenario.name, scenario.question), sure.why]
    lines += titled_table(probability_rows(sure, units))
    lines += titled_table(convergence_rows(sure))
    lines += ["", f"{found.why} (for {found.left} left, {found.right} right)"]
    lines += titled_table(driver_rows(found), drop=("source",))
    lines += titled_table(distribution_rows(sure), drop=("source",))
    return "\n".join([*lines, *caution_lines()])


def height_text(scenario: Scenario, team: TeamHeight | None, units: Units = DEFAULT_UNITS) -> str:
    """Return the best bed height as text."""
    if team is None:
        return "\n".join([scenario.name, "", "Nobody exerts a force in this case."])
    lines = [scenario.name, "", height_words(team, units), f"Most loaded there: {hardest_words(team.hardest)}."]
    return "\n".join([*lines, *titled_table(height_rows(team, units)), *caution_lines()])


def evidence_text() -> str:
    """Return sources, limits and published cases as text."""
    cases = validation_cases()
    agree = sum(c.agrees for c in cases)
    lines = [f"{agree} of {len(cases)} published cases agree with the model."]
    lines += titled_table(validation_rows(cases), drop=("source",))
    lines += titled_table(all_limit_rows(), drop=("source",))
    lines += titled_table(source_rows())
    return "\n".join(lines)
