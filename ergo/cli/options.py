"""What several commands take alike: a scenario, `--json`, and the units of the text."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import get_args

from ergo.evidence import assumption
from ergo.units import ForceUnit, LengthUnit, MassUnit, Units

__all__ = ["add_json", "add_probability", "add_scenario", "add_units", "units_of"]


def add_scenario(command: argparse.ArgumentParser) -> None:
    """Let a command take a scenario file."""
    command.add_argument("file", type=Path, help="a scenario (TOML)")


def add_json(command: argparse.ArgumentParser) -> None:
    """Let a command print JSON."""
    command.add_argument("--json", action="store_true", help="print JSON with SI units")


def add_probability(command: argparse.ArgumentParser) -> None:
    """Let a command take the probability that a team must reach."""
    command.add_argument(
        "--probability",
        type=float,
        default=assumption("probability_asked").typical,
        help="probability that nobody is over a limit, 0 to 1 (0.9 when left out)",
    )


def add_units(command: argparse.ArgumentParser) -> None:
    """Let a command take the units of its text."""
    command.add_argument("--mass", choices=get_args(MassUnit), default="kg", help="unit of masses in text")
    command.add_argument("--force", choices=get_args(ForceUnit), default="N", help="unit of forces in text")
    command.add_argument("--length", choices=get_args(LengthUnit), default="cm", help="unit of lengths in text")


def units_of(options: argparse.Namespace) -> Units:
    """Return the units that were asked for."""
    return Units(options.mass, options.force, options.length)
