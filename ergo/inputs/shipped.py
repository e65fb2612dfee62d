"""The scenarios that come with the tool, wherever it is installed."""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path

from ergo.inputs.scenario import Scenario, load_scenario, parse_scenario

__all__ = ["FIRST", "examples", "scenario_folder"]

FIRST = "prone_two_layer_pad"


def scenario_folder() -> Path | None:
    """Return the folder of scenario files: beside the package, or where an installation puts them."""
    beside = Path(__file__).resolve().parents[2] / "scenarios"
    installed = Path(sys.prefix) / "share" / "ergo" / "scenarios"
    return next((folder for folder in (beside, installed) if folder.is_dir()), None)


@cache
def examples() -> dict[str, Scenario]:
    """Return every scenario by the name of its file, the first one first."""
    folder = scenario_folder()
    found = {path.stem: load_scenario(path) for path in sorted(folder.glob("*.toml"))} if folder else {}
    if FIRST not in found:
        patient = {"sex": "M", "mass_kg": 80.0, "stature_m": 1.75, "intubated": True}
        found[FIRST] = parse_scenario({"name": "Prone turn", "procedure": "prone turn", "patient": patient})
    return {FIRST: found[FIRST], **found}
