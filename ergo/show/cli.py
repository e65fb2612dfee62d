"""The command line: `ergo assess`, `team`, `sure`, `height`, `unit`, `purchase`, `report`, `evidence`, `page`.

Exit 0 answered, 2 bad input.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
from collections.abc import Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import get_args

from ergo import __version__
from ergo.assessment import assess
from ergo.errors import Fault, InputError
from ergo.plan.team import smallest_team
from ergo.scenario import load_scenario
from ergo.show.machine import assessment_json, team_json, to_json
from ergo.show.save import save_text
from ergo.show.text import assessment_text, team_text
from ergo.units import ForceUnit, LengthUnit, MassUnit, Units

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
        command.add_argument("file", type=Path, help="a scenario (TOML)")
        command.add_argument("--json", action="store_true", help="print JSON with SI units")
        _add_units(command)
        command.set_defaults(run=run)
        if name == "team":
            command.add_argument(
                "--confidence", type=float, help="chance that nobody is over a limit, 0 to 1 (0.9 when left out)"
            )
    report = commands.add_parser("report", help="write the report", description="write the report: HTML or Markdown")
    report.add_argument("file", type=Path, help="a scenario (TOML)")
    report.add_argument("-o", "--output", type=Path, required=True, help="OUT.html to print, OUT.md to paste")
    _add_units(report)
    report.set_defaults(run=_report)
    if not named or named[0] not in _QUICK:
        from ergo.show.commands import purchase, sureness, unit  # they load what they plan with: half a second

        sureness.register(commands, _add_units, _units)
        unit.register(commands)
        purchase.register(commands)
    page = commands.add_parser("page", help="open the page in a browser", description="open the page in a browser")
    page.add_argument("--port", type=int, default=8501, help="port on this machine")
    page.set_defaults(run=_page)
    return parser


def _add_units(command: argparse.ArgumentParser) -> None:
    command.add_argument("--mass", choices=get_args(MassUnit), default="kg", help="unit of masses in text")
    command.add_argument("--force", choices=get_args(ForceUnit), default="N", help="unit of forces in text")
    command.add_argument("--length", choices=get_args(LengthUnit), default="cm", help="unit of lengths in text")


def _units(options: argparse.Namespace) -> Units:
    return Units(options.mass, options.force, options.length)


def _assess(options: argparse.Namespace) -> int:
    result = assess(load_scenario(options.file))
    print(to_json(assessment_json(result)) if options.json else assessment_text(result, _units(options)))
    return 0


def _team(options: argparse.Namespace) -> int:
    answer = smallest_team(load_scenario(options.file), options.confidence)
    print(to_json(team_json(answer)) if options.json else team_text(answer, _units(options)))
    return 0


def _report(options: argparse.Namespace) -> int:
    from ergo.show.report import report_html, report_markdown  # figures are needed by this command only

    writers = {".html": report_html, ".htm": report_html, ".md": report_markdown}
    path: Path = options.output
    if path.suffix.lower() not in writers:
        raise InputError("report", [Fault("output", str(path), "a name that ends in .html or .md")])
    save_text(path, writers[path.suffix.lower()](smallest_team(load_scenario(options.file)), _units(options)))
    print(f"Wrote {path}")
    return 0


def _page(options: argparse.Namespace) -> int:
    found = find_spec("ergo.show.pages")
    if found is None or found.origin is None:
        raise InputError("page", [])
    start = Path(found.origin).with_name("start.py")
    return subprocess.call(
        [
            sys.executable,
            "-m",
            "streamlit",
            "run",
            str(start),
            f"--server.port={options.port}",
            "--server.address=localhost",
        ]
    )


if __name__ == "__main__":
    sys.exit(main())
