"""`ergo assess`: assess the team of a scenario, move by move."""

from __future__ import annotations

import argparse
from typing import Any

from ergo.assessment import assess
from ergo.cli.files import note
from ergo.cli.options import add_json, add_scenario, add_units, units_of
from ergo.cli.output import show, show_json
from ergo.inputs.scenario import load_scenario
from ergo.report.documents.assessment import assessment_answer

__all__ = ["register"]


def register(commands: Any) -> None:
    """Add the command to the command line."""
    said = "assess the team of a scenario, move by move"
    command: argparse.ArgumentParser = commands.add_parser("assess", help=said, description=said)
    add_scenario(command)
    add_json(command)
    add_units(command)
    command.set_defaults(run=_run)


def _run(options: argparse.Namespace) -> int:
    result = assess(load_scenario(options.file, note))
    if options.json:
        show_json(result)
    else:
        show(assessment_answer(result, units_of(options)))
    return 0
