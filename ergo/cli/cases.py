"""`ergo cases`: assess every row of a table of cases, or find its smallest team."""

from __future__ import annotations

import argparse
import csv
import io
import sys
from pathlib import Path
from typing import Any

from ergo.cli.files import check_output
from ergo.cli.output import show, write
from ergo.errors import Fault, InputError
from ergo.inputs.schema import read_bytes, read_text
from ergo.report.blocks import Document, Paragraph
from ergo.report.csv_export import to_csv
from ergo.teams.case_tables import assess_many, smallest_teams

__all__ = ["register"]

_LARGEST_FILE = 50_000_000  # bytes: some hundred thousand rows
_LONGEST_LINE = 10_000
_WIDTH = 40


def register(commands: Any) -> None:
    """Add the command to the command line."""
    said = "the smallest team of every row of a table of cases (CSV), or the assessment of its own team"
    command: argparse.ArgumentParser = commands.add_parser("cases", help=said, description=said)
    command.add_argument(
        "file",
        type=Path,
        help="a table (CSV) with the columns procedure, sex, mass_kg, stature_m, aid, and any field of a scenario by "
        "its dotted name, as bed.width_m",
    )
    command.add_argument(
        "-o", "--output", type=Path, metavar="OUT", required=True, help="the same table with the answers: OUT.csv"
    )
    command.add_argument(
        "--probability",
        type=float,
        help="probability that nobody is over a limit, 0 to 1 (the smallest team at typical values when left out)",
    )
    command.add_argument(
        "--own-team", action="store_true", help="assess each row's own team.left and team.right instead"
    )
    command.set_defaults(run=_run)


def _run(options: argparse.Namespace) -> int:
    if options.own_team and options.probability is not None:
        raise InputError("cases", [Fault("probability", str(options.probability), "left out with --own-team")])
    check_output(options.output, options.file)
    frame = _read(options.file)
    show_part_done = _bar if sys.stderr.isatty() else None
    if options.own_team:
        found = assess_many(frame, progress=show_part_done)
    else:
        found = smallest_teams(frame, options.probability, progress=show_part_done)
    if show_part_done:
        print(file=sys.stderr)
    stated = [[cell if cell == cell else None for cell in row] for row in frame.itertuples(index=False, name=None)]
    answers = found.astype(object).where(found.notna(), None).itertuples(index=False, name=None)
    rows = ([*one, *answer] for one, answer in zip(stated, answers, strict=True))
    write(options.output, to_csv([*map(str, frame.columns), *found.columns], rows))
    wrong = int((found["fault"] != "").sum())
    said = f"{len(found)} case{'' if len(found) == 1 else 's'}"
    said += f", {wrong} with a fault: see the column fault" if wrong else ""
    show(Document("cases", (Paragraph(said),)))
    return 2 if wrong else 0


def _read(path: Path) -> Any:
    """Return the table with every cell as text, so that one bad cell spoils no other; None for an empty one."""
    import pandas as pd

    what = str(path)
    text = read_text(read_bytes(path, _LARGEST_FILE), what, _LARGEST_FILE, _LONGEST_LINE)
    border = max(",;\t", key=text.split("\n", 1)[0].count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=border, strict=True)
    try:
        head, *rows = (row for row in reader if any(row))
    except csv.Error as error:
        raise InputError(what, [Fault("file", f"line {reader.line_num}", f"a table in CSV ({error})")]) from None
    except ValueError:
        raise InputError(what, [Fault("file", path.name, "names of columns in the first row")]) from None
    wide = [Fault(f"row {k}", f"{len(row)} cells", f"at most {len(head)}") for k, row in enumerate(rows, 2)
            if len(row) > len(head)]  # fmt: skip
    if wide:  # a cell without a name would move the others
        raise InputError(what, wide)
    cells = ([cell or None for cell in row] + [None] * (len(head) - len(row)) for row in rows)
    return pd.DataFrame(list(cells), columns=head, dtype=object)


def _bar(part: float) -> None:
    done = round(_WIDTH * part)
    print(f"\r[{'=' * done}{' ' * (_WIDTH - done)}] {100 * part:3.0f} %", end="", file=sys.stderr, flush=True)
