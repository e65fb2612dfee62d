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
from ergo.teams.smallest_team import Search, smallest_team
from ergo.teams.this_team import this_team

__all__ = ["register"]


def register(commands: Any) -> None:
    """Add the command to the command line."""
    command: argparse.ArgumentParser = commands.add_parser(
        "report",
        help="write the report",
        description="write the report on two pages, HTML or Markdown; the HTML opens as the case again",
    )
    add_scenario(command)
    command.add_argument("-o", "--output", type=Path, required=True, help="OUT.html to print, OUT.md to paste")
    command.add_argument(
        "--annex", action="store_true", help="all moves, working, aids and sources behind the two pages"
    )
    add_units(command)
    command.set_defaults(run=_run)


def _run(options: argparse.Namespace) -> int:
    check_page("report", options.output)
    check_output(options.output, options.file)
    case, units = load_scenario(options.file, note), units_of(options)
    answer = smallest_team(case) if options.annex else Search(case).whole_with_edge
    shift = this_team(case, units=units) if case.team.members else None
    lift = lift_option(answer.scenario)
    if not options.annex:
        write_page(options.output, case_report(answer, units, stated=case, lift=lift, shift=shift))
        return 0
    back = emergency_return(case, team=answer.team) if is_turned_prone(case) and (answer.team or shift) else None
    page = case_report(answer, units, stated=case, annex=True, lift=lift, shift=shift, back=back)
    write_page(options.output, page)
    return 0
