"""How many people and which aid a patient move needs, with physics and published limits.

>>> from ergo import load_scenario, assess, smallest_team
"""

from __future__ import annotations

import os
import sys

# `python -m ergo` would run a tomllib.py that lies beside the case: leave the current folder out, unless we live there.
if sys.argv[:1] == ["-m"] and not sys.flags.safe_path:
    _home = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
    sys.path[:] = [path for path in sys.path if path == _home or path not in ("", os.getcwd())]

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ergo.assessment import Assessment, assess
    from ergo.errors import Fault, InputError
    from ergo.inputs import examples
    from ergo.inputs.scenario import Scenario, dump_scenario, load_scenario, parse_scenario
    from ergo.teams.aid_comparison import smallest_team
    from ergo.teams.smallest_team import TeamAnswer

__all__ = [
    "Assessment",
    "Fault",
    "InputError",
    "Scenario",
    "TeamAnswer",
    "assess",
    "dump_scenario",
    "examples",
    "load_scenario",
    "parse_scenario",
    "smallest_team",
]

__version__ = "0.1.0"

_HOMES = {
    "Assessment": "ergo.assessment",
    "Fault": "ergo.errors",
    "InputError": "ergo.errors",
    "assess": "ergo.assessment",
    "Scenario": "ergo.inputs.scenario",
    "TeamAnswer": "ergo.teams.smallest_team",
    "dump_scenario": "ergo.inputs.scenario",
    "load_scenario": "ergo.inputs.scenario",
    "parse_scenario": "ergo.inputs.scenario",
    "smallest_team": "ergo.teams.aid_comparison",
}


def __getattr__(name: str) -> Any:
    """Load a public name when it is first asked for, so that `import ergo` costs nothing."""
    if name == "examples":
        return import_module("ergo.inputs.examples")
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'ergo' has no attribute {name!r}")
