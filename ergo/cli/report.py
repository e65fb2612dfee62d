"""`ergo report`: write the report, to print or to paste."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from ergo.cli.files import check_output, note
from ergo.cli.options import add_scenario, add_units, units_of
from ergo.cli.output import check_page, write_page
from ergo.inputs.scenario import load_scenario
from ergo.report.documents.case import case_report
from ergo.teams.smallest_team import smallest_team

__all__ = ["register"]


def register(commands: Any) -> None:
    """Add the command to the command line."""
    command: argparse.ArgumentParser = commands.add_parser(
        "report", help="write the report", description="write the report: HTML or Markdown"
    )
    add_scenario(command)
    command.add_argument("-o", "--output", type=Path, required=True, help="OUT.html to print, OUT.md to paste")
    add_units(command)
    command.set_defaults(run=_run)


def _run(options: argparse.Namespace) -> int:
    check_page("report", options.output)
    check_output(options.output, options.file)
    answer = smallest_team(load_scenario(options.file, note))
    write_page(options.output, case_report(answer, units_of(options)))
    return 0
