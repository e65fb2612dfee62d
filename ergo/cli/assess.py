"""`ergo assess`: assess the team of a scenario, move by move."""

from __future__ import annotations

import argparse
from typing import Any

from ergo.cli.files import note
from ergo.cli.options import add_json, add_scenario, add_units, units_of
from ergo.cli.output import show, show_json
from ergo.inputs.scenario import load_scenario
from ergo.report.documents.assessment import assessment_answer
from ergo.teams.this_team import helps, this_team, this_team_words
from ergo.units import DEFAULT_UNITS

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
    units = DEFAULT_UNITS if options.json else units_of(options)
    found = this_team(load_scenario(options.file, note), units=units)
    if options.json:
        show_json(found)
    else:
        would = helps(found, units)
        said = (*this_team_words(found, units), *([f"What would help: {'; '.join(would)}."] if would else []))
        show(assessment_answer(found.assessment, units, said))
    return 0
