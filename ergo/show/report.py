"""The report: one HTML file to print, or Markdown to paste."""

from __future__ import annotations

from ergo.plan.team import TeamAnswer
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["report_html", "report_markdown"]


def report_html(answer: TeamAnswer, units: Units = DEFAULT_UNITS) -> str:
    """Return the report as HTML."""
    return answer.why


def report_markdown(answer: TeamAnswer, units: Units = DEFAULT_UNITS) -> str:
    """Return the report as Markdown."""
    return answer.why


def class_sheet(answer: TeamAnswer, units: Units = DEFAULT_UNITS) -> str:
    """Return a sheet for a class."""
    return answer.why
