"""`ergo team`: find the smallest team for a scenario."""

from __future__ import annotations

import argparse
from typing import Any

from ergo.show.commands.options import add_confidence, add_json, add_scenario, add_units, units_of
from ergo.show.helper import Helper

__all__ = ["register"]


def register(commands: Any) -> None:
    """Add the command to the command line."""
    said = "find the smallest team for a scenario"
    command: argparse.ArgumentParser = commands.add_parser("team", help=said, description=said)
    add_scenario(command)
    add_json(command)
    add_units(command)
    add_confidence(command)
    command.set_defaults(run=_run)


def _run(options: argparse.Namespace) -> int:
    with Helper(own_core=True) as helper:  # it loads while the models load here
        from ergo.scenario import load_scenario
        from ergo.show.commands.side_by_side import team_answer
        from ergo.show.machine import team_json, to_json
        from ergo.show.terminal import team_text

        answer = team_answer(load_scenario(options.file), helper, options.confidence)
        print(to_json(team_json(answer)) if options.json else team_text(answer, units_of(options)))
    return 0
