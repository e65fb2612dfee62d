"""`ergo purchase`: what each option costs, when it pays back, and how sure that is."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from ergo.cli.files import check_output, note
from ergo.cli.output import check_page, show, show_json, write_page
from ergo.inputs.purchase import load_purchase
from ergo.purchases.cost_model import compare_purchase
from ergo.report.documents.purchase import purchase_document, purchase_text_answer

__all__ = ["register"]


def register(commands: Any) -> None:
    """Add the command to the command line."""
    said = "compare the cost of aids: break-even, payback, cost over some years, with ranges"
    command: argparse.ArgumentParser = commands.add_parser("purchase", help=said, description=said)
    command.add_argument("file", type=Path, help="a purchase (TOML)")
    command.add_argument("--json", action="store_true", help="print JSON")
    command.add_argument(
        "-o", "--output", type=Path, metavar="OUT", help="write the page for the meeting: OUT.html to print, OUT.md"
    )
    command.set_defaults(run=_run)


def _run(options: argparse.Namespace) -> int:
    if options.output is not None:
        check_page("purchase", options.output)
        check_output(options.output, options.file)
    case = compare_purchase(load_purchase(options.file, note))
    if options.json:
        show_json(case)
    else:
        show(purchase_text_answer(case))
    if options.output is not None:
        write_page(options.output, purchase_document(case), quiet=options.json)
    return 0
