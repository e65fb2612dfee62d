"""`ergo sure`: the probability that nobody is over a limit for each team, and what drives it."""

from __future__ import annotations

import argparse
from typing import Any

from ergo.assessment import demand_of
from ergo.cli.files import note
from ergo.cli.options import add_json, add_probability, add_scenario, add_units, units_of
from ergo.cli.output import show, show_json
from ergo.errors import Fault, InputError, probability_faults
from ergo.evidence import assumption
from ergo.inputs.scenario import load_scenario
from ergo.report.documents.reliability import reliability_answer
from ergo.report.json_export import sure_json
from ergo.teams.team_probabilities import MOST_DRAWS, reliability
from ergo.uncertainty.monte_carlo import DRAWS, SEED
from ergo.uncertainty.sensitivity import drivers

__all__ = ["register"]


def register(commands: Any) -> None:
    """Add the command to the command line."""
    said = "how sure is the answer: probability that nobody is over a limit per team, convergence, what drives it"
    command: argparse.ArgumentParser = commands.add_parser(
        "sure", help="probability per team, convergence, drivers", description=said
    )
    add_scenario(command)
    add_probability(command)
    command.add_argument("--draws", type=int, default=DRAWS, help=f"number of draws ({DRAWS} when left out)")
    command.add_argument("--seed", type=int, default=SEED, help="seed of the draws")
    add_json(command)
    add_units(command)
    command.set_defaults(run=_run)


def _run(options: argparse.Namespace) -> int:
    faults = []
    if options.probability is not None:
        faults += probability_faults("probability_asked", options.probability)
    least = assumption("draws_least").typical
    if not least <= options.draws <= MOST_DRAWS:
        faults.append(Fault("draws", str(options.draws), f"{least:g} to {MOST_DRAWS}"))
    if options.seed < 0:
        faults.append(Fault("seed", str(options.seed), "0 or more"))
    if faults:
        raise InputError("sure", faults)
    scenario = load_scenario(options.file, note)
    demand = demand_of(scenario)
    found = reliability(
        scenario, demand=demand, probability_asked=options.probability, draws=options.draws, seed=options.seed
    )
    why = drivers(scenario, found.chosen.left, found.chosen.right, seed=options.seed)
    if options.json:
        show_json(sure_json(scenario, found, why))
    else:
        show(reliability_answer(scenario, found, why, units_of(options)))
    return 0
