"""`ergo height`: the mattress height that spares the most loaded back."""

from __future__ import annotations

import argparse
from typing import Any

from ergo.cli.files import note
from ergo.cli.options import add_json, add_scenario, add_units, units_of
from ergo.cli.output import show, show_json
from ergo.inputs.scenario import load_scenario
from ergo.report.documents.bed_height import height_answer
from ergo.report.json_export import height_json
from ergo.teams.bed_height import best_height

__all__ = ["register"]


def register(commands: Any) -> None:
    """Add the command to the command line."""
    said = "the mattress height that spares the most loaded back of the smallest team"
    command: argparse.ArgumentParser = commands.add_parser(
        "height", help="best bed height for the smallest team", description=said
    )
    add_scenario(command)
    add_json(command)
    add_units(command)
    command.set_defaults(run=_run)


def _run(options: argparse.Namespace) -> int:
    scenario = load_scenario(options.file, note)
    found = best_height(scenario)
    if options.json:
        show_json(height_json(scenario, found))
    else:
        show(height_answer(scenario, found, units_of(options)))
    return 0
