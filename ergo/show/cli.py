"""The command line: `ergo assess`, `team`, `sure`, `height`, `unit`, `purchase`, `report`, `evidence`, `page`.

Exit 0 answered, 2 bad input.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from functools import partial
from pathlib import Path

from ergo import __version__
from ergo.assessment import assess
from ergo.errors import InputError
from ergo.plan.team import smallest_team
from ergo.scenario import load_scenario
from ergo.show.commands.options import add_confidence, add_json, add_scenario, add_units, units_of
from ergo.show.commands.output import check_page, write_page
from ergo.show.machine import assessment_json, team_json, to_json
from ergo.show.terminal import assessment_text, team_text

__all__ = ["main"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line.

    Parameters
    ----------
    arguments : sequence of str, optional
        What stands after `ergo`; the process's own when left out.

    Returns
    -------
    int
        0 answered, 2 bad input.
    """
    given = list(sys.argv[1:] if arguments is None else arguments)
    options = _parser(given[:1]).parse_args(given)
    try:
        return int(options.run(options))
    except InputError as error:
        print(error, file=sys.stderr)
        return 2
    except BrokenPipeError:  # the reader closed the pipe, as `head` does
        sys.stderr.close()
        return 0


_QUICK = ("assess", "team", "report", "page")


def _parser(named: Sequence[str]) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="ergo", description="How many people and which aid a patient move needs, and why."
    )
    parser.add_argument("--version", action="version", version=f"ergo {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    for name, run, said in (
        ("assess", _assess, "judge the team of a scenario, move by move"),
        ("team", _team, "find the smallest team for a scenario"),
    ):
        command = commands.add_parser(name, help=said, description=said)
        add_scenario(command)
        add_json(command)
        add_units(command)
        command.set_defaults(run=run)
        if name == "team":
            add_confidence(command)
    report = commands.add_parser("report", help="write the report", description="write the report: HTML or Markdown")
    add_scenario(report)
    report.add_argument("-o", "--output", type=Path, required=True, help="OUT.html to print, OUT.md to paste")
    add_units(report)
    report.set_defaults(run=_report)
    if not named or named[0] not in _QUICK:
        # they load what they plan with: half a second
        from ergo.show.commands import evidence, height, purchase, sure, unit

        for slow in (sure, height, evidence, unit, purchase):
            slow.register(commands)
    page = commands.add_parser(
        "page",
        help="serve the page to this machine",
        description="serve the page to this machine, to be opened in a browser",
    )
    page.add_argument("--port", type=int, default=8501, help="port on this machine")
    page.set_defaults(run=_page)
    return parser


def _assess(options: argparse.Namespace) -> int:
    result = assess(load_scenario(options.file))
    print(to_json(assessment_json(result)) if options.json else assessment_text(result, units_of(options)))
    return 0


def _team(options: argparse.Namespace) -> int:
    answer = smallest_team(load_scenario(options.file), options.confidence)
    print(to_json(team_json(answer)) if options.json else team_text(answer, units_of(options)))
    return 0


def _report(options: argparse.Namespace) -> int:
    check_page("report", options.output)
    from ergo.show.report import report_html, report_markdown  # figures are needed by this command only

    answer, units = smallest_team(load_scenario(options.file)), units_of(options)
    write_page(options.output, partial(report_html, answer, units), partial(report_markdown, answer, units))
    return 0


def _page(options: argparse.Namespace) -> int:
    from ergo.show.commands.page import serve  # a network is needed by this command only

    return serve(options.port)
