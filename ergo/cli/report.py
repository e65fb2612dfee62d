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
from ergo.teams.emergency_return import emergency_return, is_turned_prone
from ergo.teams.lift_option import lift_option
from ergo.teams.smallest_team import smallest_team
from ergo.teams.this_team import this_team

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
    case = load_scenario(options.file, note)
    answer = smallest_team(case)
    team = None if answer.left is None or answer.right is None else (answer.left, answer.right)
    shift = this_team(case) if case.team.members else None
    back = emergency_return(case, team=team) if is_turned_prone(case) and (team or shift) else None
    page = case_report(answer, units_of(options), lift=lift_option(answer.scenario), shift=shift, back=back)
    write_page(options.output, page)
    return 0
