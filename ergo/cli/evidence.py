"""`ergo evidence`: every source, every limit, and published cases beside the model's predictions."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from ergo.cli.options import add_json, add_units
from ergo.cli.output import show, show_json, write
from ergo.errors import Fault, InputError
from ergo.report.csv_export import to_csv
from ergo.report.documents.evidence import evidence_answer
from ergo.report.json_export import evidence_json
from ergo.report.tables.evidence import all_limit_rows, assumption_rows, source_rows, validation_rows
from ergo.validation.cases import validation_cases

__all__ = ["register"]


def register(commands: Any) -> None:
    """Add the command to the command line."""
    said = "every source with how it is known, every limit, and published cases beside the model's predictions"
    command: argparse.ArgumentParser = commands.add_parser(
        "evidence", help="sources, limits, published cases", description=said
    )
    command.add_argument("--csv", type=Path, metavar="DIR", help="write every table as CSV into this folder")
    add_json(command)
    add_units(command)  # accepted as everywhere; the publications' own units are shown
    command.set_defaults(run=_run)


def _run(options: argparse.Namespace) -> int:
    if options.csv is not None:
        _write(options.csv)
    elif options.json:
        show_json(evidence_json())
    else:
        show(evidence_answer())
    return 0


def _write(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError("evidence", [Fault("csv", str(folder), error.strerror or "cannot be written")]) from None
    for rows in (source_rows(), all_limit_rows(), assumption_rows(), validation_rows(validation_cases())):
        write(folder / f"{rows.title.lower().replace(' ', '_')}.csv", to_csv(rows.head, rows.rows))
