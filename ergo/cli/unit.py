"""`ergo unit`: plan one unit, or every unit of a folder."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

from ergo.cli.files import check_output, note
from ergo.cli.options import add_json
from ergo.cli.output import check_page, show, show_json, write, write_page
from ergo.errors import Fault, InputError
from ergo.evidence import assumption
from ergo.inputs.unit import load_unit
from ergo.report.csv_export import unit_csv
from ergo.report.documents.unit import staffing_document, unit_answer
from ergo.report.json_export import unit_json
from ergo.report.terminal_characters import visible, visible_lines
from ergo.unit.batch import Outcome, folder_seconds, plan_folder, unit_files
from ergo.unit.computing_time import Progress, check_work, duration
from ergo.unit.plan import UnitPlan, patients_of, plan_unit
from ergo.unit.staffing_request import StaffingRequest, staffing_request

__all__ = ["register"]


def register(commands: Any) -> None:
    """Add the command to the command line."""
    said = "plan the people of a unit: coverage, waiting, loads, people needed"
    command: argparse.ArgumentParser = commands.add_parser("unit", help=said, description=said)
    command.add_argument("file", type=Path, help="a unit (TOML), or a folder of units with their census files")
    add_json(command)
    command.add_argument("--csv", type=Path, metavar="OUT", help="write every figure of every shift: OUT.csv")
    command.add_argument(
        "-o", "--output", type=Path, metavar="OUT", help="write the staffing request: OUT.html to print, OUT.md"
    )
    command.add_argument("--workers", type=int, default=1, help="processes for a folder")
    command.add_argument(
        "--minutes",
        type=float,
        default=assumption("plan_time_most").typical / 60.0,
        help="most work for one unit, minutes of one core (%(default)g when left out)",
    )
    command.add_argument("--scheduler", default="", metavar="ADDRESS", help="a Dask scheduler for a folder")
    command.set_defaults(run=_run)


def _run(options: argparse.Namespace) -> int:
    if options.output is not None:
        check_page("unit", options.output)
    folder = options.file.is_dir()
    read = [file for one in (unit_files(options.file) if folder else [options.file]) for file in _read_for(one)]
    for output in (options.csv, options.output):
        if output is not None:
            check_output(output, *read)
    if folder:
        return _folder(options)
    unit = load_unit(options.file, note)
    patients = patients_of(unit, options.file.parent)
    most = 60.0 * options.minutes
    print(f"Work: {check_work(unit, patients, most)}", file=sys.stderr)
    plan = plan_unit(unit, patients=patients, progress=_shown(), most_seconds=most)
    request = staffing_request(plan)
    if options.json:
        show_json(unit_json(plan, request))
    else:
        show(unit_answer(plan, request))
    return _files(options, [plan], request)


def _shown() -> Progress | None:
    """Return what shows the part done on a terminal; elsewhere nothing does."""
    if not sys.stderr.isatty():
        return None

    def show_part_done(part: float) -> bool:
        print(f"\r{100 * part:3.0f} %", end="\n" if part >= 1.0 else "", file=sys.stderr, flush=True)
        return True

    return show_part_done


def _read_for(unit_file: Path) -> tuple[Path, ...]:
    """Return the files that the plan of a unit reads; a unit that is wrong is told later."""
    try:
        census = load_unit(unit_file).patients.census
    except InputError:
        census = ""
    return (unit_file, unit_file.parent / census) if census else (unit_file,)


def _files(options: argparse.Namespace, plans: list[UnitPlan], request: StaffingRequest | None) -> int:
    if options.csv is not None:
        write(options.csv, _together([unit_csv(p) for p in plans]), quiet=options.json)
    if options.output is not None and request is not None:
        write_page(options.output, staffing_document(request, plans[0]), quiet=options.json)
    return 0


def _together(tables: list[str]) -> str:
    """Return several tables with the same head as one."""
    head, _, _ = tables[0].partition("\r\n")
    return head + "\r\n" + "".join(table.partition("\r\n")[2] for table in tables)


def _folder(options: argparse.Namespace) -> int:
    if options.output is not None:
        raise InputError("unit", [Fault("output", str(options.output), "a staffing request is for one unit")])

    print(f"Work: about {duration(folder_seconds(options.file))} of one core", file=sys.stderr)
    found = plan_folder(
        options.file, None, options.workers, options.scheduler, _shown(), most_seconds=60.0 * options.minutes
    )
    if options.json:
        show_json({"units": [_outcome(one) for one in found]})
    plans = [one.plan for one in found if one.plan]
    for i, plan in enumerate(plans if not options.json else ()):
        print("\n" if i else "", end="")
        show(unit_answer(plan))
    if plans:
        _files(options, plans, None)
    wrong = [one for one in found if one.plan is None]
    for one in wrong:
        print(f"{visible(one.file)}: {visible_lines(one.fault)}", file=sys.stderr)
    return 2 if wrong else 0


def _outcome(one: Outcome) -> dict[str, Any]:
    return {"file": one.file, "fault": one.fault or None, "plan": unit_json(one.plan) if one.plan else None}
