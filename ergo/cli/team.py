"""`ergo team`: find the smallest team for a scenario."""

from __future__ import annotations

import argparse
from typing import Any

from ergo.cli.files import note
from ergo.cli.options import add_json, add_probability, add_scenario, add_units, units_of
from ergo.cli.output import show, show_json
from ergo.inputs.scenario import load_scenario
from ergo.report.documents.team import team_answer
from ergo.report.json_export import team_json
from ergo.teams.smallest_team import PROBABILITY_ASKED, smallest_team
from ergo.teams.this_team import this_team, this_team_words
from ergo.units import DEFAULT_UNITS

__all__ = ["register"]


def register(commands: Any) -> None:
    """Add the command to the command line."""
    said = "find the smallest team for a scenario"
    command: argparse.ArgumentParser = commands.add_parser("team", help=said, description=said)
    add_scenario(command)
    add_json(command)
    add_units(command)
    add_probability(command)
    command.set_defaults(run=_run)


def _run(options: argparse.Namespace) -> int:
    case = load_scenario(options.file, note)
    answer = smallest_team(case, options.probability)
    asked, units = answer.probability_asked or PROBABILITY_ASKED, DEFAULT_UNITS if options.json else units_of(options)
    shift = this_team(case, asked, units=units) if case.team.members else None
    if options.json:
        show_json(team_json(answer, shift))
        return 0
    show(team_answer(answer, units, this_team_words(shift, units) if shift else ()))
    return 0
