"""Commands about certainty, bodies and evidence: `ergo sure`, `ergo height`, `ergo evidence`."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import Any

from ergo.assessment import assess, demand_of
from ergo.errors import Fault, InputError
from ergo.plan.bed_height import team_height
from ergo.plan.confidence import DRAWS, SEED, sureness
from ergo.plan.export import to_csv
from ergo.plan.sensitivity import drivers
from ergo.scenario import load_scenario
from ergo.show.machine import to_json
from ergo.show.machine_sure import evidence_json, height_json, sure_json
from ergo.show.save import save_text
from ergo.show.text_sure import evidence_text, height_text, sure_text
from ergo.units import Units

__all__ = ["register"]

_MOST_DRAWS = 10_000_000


def register(
    commands: Any, add_units: Callable[[argparse.ArgumentParser], None], units: Callable[[argparse.Namespace], Units]
) -> None:
    """Add the commands to the command line's own."""
    sure = commands.add_parser("sure", help="chance per team, convergence, drivers", description=_SURE)
    sure.add_argument("file", type=Path, help="a scenario (TOML)")
    sure.add_argument("--confidence", type=float, help="chance that nobody is over a limit, 0 to 1 (0.9 when left out)")
    sure.add_argument("--draws", type=int, default=DRAWS, help=f"number of draws ({DRAWS} when left out)")
    sure.add_argument("--seed", type=int, default=SEED, help="seed of the draws")
    height = commands.add_parser("height", help="best bed height for the team", description=_HEIGHT)
    height.add_argument("file", type=Path, help="a scenario (TOML)")
    known = commands.add_parser("evidence", help="sources, limits, validation dossier", description=_EVIDENCE)
    known.add_argument("--csv", type=Path, metavar="DIR", help="write every table as CSV into this folder")
    for command, run in ((sure, _sure), (height, _height), (known, _evidence)):
        command.add_argument("--json", action="store_true", help="print JSON with SI units")
        add_units(command)
        command.set_defaults(run=lambda options, run=run: run(options, units(options)))


_SURE = "how sure is the answer: chance that nobody is over a limit per team, convergence, what drives it"
_HEIGHT = "the mattress height that spares the most loaded back of the scenario's team"
_EVIDENCE = "every source with how it is known, every limit, and published cases beside the model's predictions"


def _sure(options: argparse.Namespace, units: Units) -> int:
    faults = []
    if options.confidence is not None and not 0.0 < options.confidence < 1.0:
        faults.append(Fault("confidence", str(options.confidence), "between 0 and 1"))
    if not 1 <= options.draws <= _MOST_DRAWS:
        faults.append(Fault("draws", str(options.draws), f"1 to {_MOST_DRAWS}"))
    if options.seed < 0:
        faults.append(Fault("seed", str(options.seed), "0 or more"))
    if faults:
        raise InputError("sure", faults)
    scenario = load_scenario(options.file)
    found = sureness(
        scenario, asked=demand_of(scenario), confidence=options.confidence, draws=options.draws, seed=options.seed
    )
    why = drivers(scenario, found.chosen.left, found.chosen.right, seed=options.seed)
    print(to_json(sure_json(scenario, found, why)) if options.json else sure_text(scenario, found, why, units))
    return 0


def _height(options: argparse.Namespace, units: Units) -> int:
    scenario = load_scenario(options.file)
    found = team_height(assess(scenario))
    print(to_json(height_json(scenario, found)) if options.json else height_text(scenario, found, units))
    return 0


def _evidence(options: argparse.Namespace, units: Units) -> int:
    from ergo.show.rows_evidence import all_limit_rows, assumption_rows, source_rows

    del units  # the publications' own units are shown
    if options.csv is not None:
        from ergo.plan.dossier import dossier
        from ergo.show.rows_evidence import dossier_rows

        folder: Path = options.csv
        try:
            folder.mkdir(parents=True, exist_ok=True)
            for rows in (source_rows(), all_limit_rows(), assumption_rows(), dossier_rows(dossier())):
                path = folder / f"{rows.title.lower().replace(' ', '_')}.csv"
                save_text(path, to_csv(rows.head, rows.rows))
                print(f"Wrote {path}")
        except OSError as error:
            raise InputError("evidence", [Fault("csv", str(folder), error.strerror or "cannot be written")]) from None
        return 0
    print(to_json(evidence_json()) if options.json else evidence_text())
    return 0
