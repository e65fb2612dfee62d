"""`ergo assess`: judge the team of a scenario, move by move."""

from __future__ import annotations

import argparse
from typing import Any

from ergo.assessment import assess
from ergo.cli.options import add_json, add_scenario, add_units, units_of
from ergo.inputs.scenario import load_scenario
from ergo.report.json_export import assessment_json, to_json
from ergo.report.terminal import assessment_text

__all__ = ["register"]


def register(commands: Any) -> None:
    """Add the command to the command line."""
    said = "judge the team of a scenario, move by move"
    command: argparse.ArgumentParser = commands.add_parser("assess", help=said, description=said)
    add_scenario(command)
    add_json(command)
    add_units(command)
    command.set_defaults(run=_run)


def _run(options: argparse.Namespace) -> int:
    result = assess(load_scenario(options.file))
    print(to_json(assessment_json(result)) if options.json else assessment_text(result, units_of(options)))
    return 0
