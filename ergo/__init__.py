"""How many people and which aid a patient move needs, with physics and published limits.

>>> from ergo import load_scenario, assess, smallest_team
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ergo.assessment import Assessment, assess
    from ergo.errors import Fault, InputError
    from ergo.plan.answer import TeamAnswer
    from ergo.plan.team import smallest_team
    from ergo.scenario import Scenario, dump_scenario, load_scenario, parse_scenario

__all__ = [
    "Assessment",
    "Fault",
    "InputError",
    "Scenario",
    "TeamAnswer",
    "assess",
    "dump_scenario",
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
    "Scenario": "ergo.scenario",
    "TeamAnswer": "ergo.plan.answer",
    "dump_scenario": "ergo.scenario",
    "load_scenario": "ergo.scenario",
    "parse_scenario": "ergo.scenario",
    "smallest_team": "ergo.plan.team",
}


def __getattr__(name: str) -> Any:
    """Load a public name when it is first asked for, so that `import ergo` costs nothing."""
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'ergo' has no attribute {name!r}")
