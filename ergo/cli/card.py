"""`ergo card`: a card for the bedside, or a unit's policy by the patient's mass."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from ergo.cli.files import check_output, note
from ergo.cli.options import add_units, units_of
from ergo.cli.output import check_page, write_page
from ergo.inputs.scenario import parse_scenario
from ergo.inputs.schema import read_bytes, read_toml
from ergo.inputs.unit import parse_unit
from ergo.report.documents.card import bedside_card, policy_document
from ergo.teams.policy_table import policy_bands
from ergo.teams.smallest_team import smallest_team
from ergo.unit.policy_cases import policy_cases

__all__ = ["register"]


def register(commands: Any) -> None:
    """Add the command to the command line."""
    command: argparse.ArgumentParser = commands.add_parser(
        "card",
        help="write a card for the bedside",
        description="write a card for the bedside on one side of A5; of a unit file its policy by the patient's mass",
    )
    command.add_argument("file", type=Path, metavar="FILE", help="a scenario or a unit file (TOML)")
    command.add_argument("-o", "--output", type=Path, required=True, help="OUT.html to print, OUT.md to paste")
    add_units(command)
    command.set_defaults(run=_run)


def _run(options: argparse.Namespace) -> int:
    check_page("card", options.output)
    check_output(options.output, options.file)
    name = str(options.file)
    data = read_toml(read_bytes(options.file), name)
    units = units_of(options)
    if "shifts" in data:
        unit = parse_unit(data, name, note)
        write_page(options.output, policy_document(unit.name, policy_bands(policy_cases(unit)), units))
    else:
        answer = smallest_team(parse_scenario(data, name, note), with_aids=False)
        write_page(options.output, bedside_card(answer, units))
    return 0
