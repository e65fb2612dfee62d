"""Examples: one small scenario of each kind, and the files that come with the tool, wherever it is installed."""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path
from typing import Any

from ergo.inputs.scenario import Scenario, load_scenario, parse_scenario

__all__ = [
    "FIRST",
    "boost",
    "lateral_transfer",
    "limb_hold",
    "own_sequence",
    "prone_turn",
    "return_to_supine",
    "scenario_folder",
    "shipped",
    "side_lying_turn",
    "slide_to_the_side",
]

FIRST = "prone_two_layer_pad"


def boost(mass_kg: float = 70.0, aid: str = "cotton draw sheet", **parts: Any) -> Scenario:
    """Return a boost of a woman of 1.6 m; `parts` are the scenario's other fields, as in its file.

    >>> boost(aid="slide sheet", bed={"tilt_deg": -10.0}).bed.tilt_deg
    -10.0
    """
    return _example("boost", mass_kg, aid, parts)


def slide_to_the_side(mass_kg: float = 70.0, aid: str = "cotton draw sheet", **parts: Any) -> Scenario:
    """Return a slide to the edge of the bed; see `boost`."""
    return _example("slide to the side", mass_kg, aid, parts)


def side_lying_turn(mass_kg: float = 70.0, aid: str = "cotton draw sheet", **parts: Any) -> Scenario:
    """Return a turn onto the side; see `boost`."""
    return _example("side-lying turn", mass_kg, aid, parts)


def lateral_transfer(mass_kg: float = 70.0, aid: str = "cotton draw sheet", **parts: Any) -> Scenario:
    """Return a transfer from bed to stretcher; see `boost`."""
    return _example("lateral transfer", mass_kg, aid, parts)


def prone_turn(
    mass_kg: float = 70.0, aid: str = "cotton draw sheet", *, intubated: bool = True, **parts: Any
) -> Scenario:
    """Return a turn from the back onto the front, of an intubated patient; see `boost`."""
    return _example("prone turn", mass_kg, aid, parts, intubated)


def return_to_supine(
    mass_kg: float = 70.0, aid: str = "cotton draw sheet", *, intubated: bool = True, **parts: Any
) -> Scenario:
    """Return a turn from the front onto the back, of an intubated patient; see `boost`."""
    return _example("return to supine", mass_kg, aid, parts, intubated)


def limb_hold(mass_kg: float = 70.0, aid: str = "cotton draw sheet", **parts: Any) -> Scenario:
    """Return a leg that is held for care; see `boost`."""
    return _example("limb hold", mass_kg, aid, parts)


def own_sequence(mass_kg: float = 70.0, aid: str = "cotton draw sheet", **parts: Any) -> Scenario:
    """Return a slide, a turn onto the side that is held, and the way back, stated move by move; see `boost`."""
    moves = (
        {"kind": "slide to the side", "towards": "right"},
        {"kind": "side-lying turn", "towards": "left", "hold_s": 30.0},
        {"kind": "centring", "towards": "right"},
    )
    return _example("own sequence", mass_kg, aid, {"moves": moves, **parts})


def _example(procedure: str, mass_kg: float, aid: str, parts: dict[str, Any], intubated: bool = False) -> Scenario:
    patient = {"sex": "F", "mass_kg": mass_kg, "stature_m": 1.6, "intubated": intubated}
    stated = {"name": procedure.capitalize(), "procedure": procedure, "patient": patient, "aid": aid}
    return parse_scenario({**stated, **parts}, "the example")


def scenario_folder() -> Path | None:
    """Return the folder of scenario files: beside the package, or where an installation puts them."""
    beside = Path(__file__).resolve().parents[2] / "scenarios"
    installed = Path(sys.prefix) / "share" / "ergo" / "scenarios"
    return next((folder for folder in (beside, installed) if folder.is_dir()), None)


@cache
def shipped() -> dict[str, Scenario]:
    """Return every scenario that comes as a file, by its name, the first one first."""
    folder = scenario_folder()
    found = {path.stem: load_scenario(path) for path in sorted(folder.glob("*.toml"))} if folder else {}
    return {FIRST: found.get(FIRST) or prone_turn(80.0, "two-layer turning pad"), **found}
