"""How many people and which aid a patient move needs, with physics and published limits.

A case: `load_scenario`, `parse_scenario`, `examples`, then `assess` its own team or look for its `smallest_team`.
Many cases in a table: `assess_many`, `smallest_teams`. The bare models, for scalars and arrays in SI units:
`slide_force`, `turn_force`, `brake_force`, `mattress_support`, `share_force`, `low_back`; what both sides can do at
each instant of a move and how hard a team must work for it: `turn_actions`, `slide_actions`, `team_effort`. A unit and
a purchase: `plan_unit`, `compare_purchase`. What all figures rest on: `evidence`.

>>> import ergo
>>> ergo.smallest_team(ergo.examples.boost(aid="slide sheet"), with_aids=False).people
2
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
    from ergo import evidence
    from ergo.assessment import Assessment, assess
    from ergo.errors import Fault, InputError
    from ergo.handlers.load_sharing import SharedForce, share_force
    from ergo.handlers.low_back import LowBack, low_back
    from ergo.handlers.team_effort import TeamEffort, team_effort
    from ergo.inputs import examples
    from ergo.inputs.purchase import Purchase, load_purchase
    from ergo.inputs.scenario import Scenario, dump_scenario, load_scenario, parse_scenario
    from ergo.inputs.unit import Unit, load_unit
    from ergo.mechanics.hand_actions import Instants, slide_actions, turn_actions
    from ergo.mechanics.mattress import MattressSupport, mattress_support
    from ergo.mechanics.rolling import Turn, brake_force, turn_force
    from ergo.mechanics.sliding import SlideForce, slide_force
    from ergo.purchases.cost_model import PurchaseCase, compare_purchase
    from ergo.teams.case_tables import assess_many, smallest_teams
    from ergo.teams.smallest_team import TeamAnswer, smallest_team
    from ergo.teams.this_team import ThisTeam, this_team
    from ergo.unit.plan import UnitPlan, plan_unit

__all__ = [
    "Assessment",
    "Fault",
    "InputError",
    "Instants",
    "LowBack",
    "MattressSupport",
    "Purchase",
    "PurchaseCase",
    "Scenario",
    "SharedForce",
    "SlideForce",
    "TeamAnswer",
    "TeamEffort",
    "ThisTeam",
    "Turn",
    "Unit",
    "UnitPlan",
    "assess",
    "assess_many",
    "brake_force",
    "compare_purchase",
    "dump_scenario",
    "evidence",
    "examples",
    "load_purchase",
    "load_scenario",
    "load_unit",
    "low_back",
    "mattress_support",
    "parse_scenario",
    "plan_unit",
    "share_force",
    "slide_actions",
    "slide_force",
    "smallest_team",
    "smallest_teams",
    "team_effort",
    "this_team",
    "turn_actions",
    "turn_force",
]

__version__ = "0.1.0"

_HOMES = {
    "Assessment": "ergo.assessment",
    "Fault": "ergo.errors",
    "InputError": "ergo.errors",
    "LowBack": "ergo.handlers.low_back",
    "Purchase": "ergo.inputs.purchase",
    "PurchaseCase": "ergo.purchases.cost_model",
    "Scenario": "ergo.inputs.scenario",
    "SharedForce": "ergo.handlers.load_sharing",
    "SlideForce": "ergo.mechanics.sliding",
    "TeamAnswer": "ergo.teams.smallest_team",
    "ThisTeam": "ergo.teams.this_team",
    "Turn": "ergo.mechanics.rolling",
    "Unit": "ergo.inputs.unit",
    "UnitPlan": "ergo.unit.plan",
    "assess": "ergo.assessment",
    "assess_many": "ergo.teams.case_tables",
    "brake_force": "ergo.mechanics.rolling",
    "compare_purchase": "ergo.purchases.cost_model",
    "dump_scenario": "ergo.inputs.scenario",
    "evidence": "ergo.evidence",
    "examples": "ergo.inputs.examples",
    "load_purchase": "ergo.inputs.purchase",
    "load_scenario": "ergo.inputs.scenario",
    "load_unit": "ergo.inputs.unit",
    "low_back": "ergo.handlers.low_back",
    "MattressSupport": "ergo.mechanics.mattress",
    "mattress_support": "ergo.mechanics.mattress",
    "parse_scenario": "ergo.inputs.scenario",
    "plan_unit": "ergo.unit.plan",
    "share_force": "ergo.handlers.load_sharing",
    "slide_force": "ergo.mechanics.sliding",
    "smallest_team": "ergo.teams.smallest_team",
    "smallest_teams": "ergo.teams.case_tables",
    "this_team": "ergo.teams.this_team",
    "turn_force": "ergo.mechanics.rolling",
    "Instants": "ergo.mechanics.hand_actions",
    "TeamEffort": "ergo.handlers.team_effort",
    "slide_actions": "ergo.mechanics.hand_actions",
    "team_effort": "ergo.handlers.team_effort",
    "turn_actions": "ergo.mechanics.hand_actions",
}
_MODULES = ("evidence", "examples")  # public as a whole


def __getattr__(name: str) -> Any:
    """Load a public name when it is first asked for, so that `import ergo` costs nothing."""
    if name in _HOMES:
        home = import_module(_HOMES[name])
        return home if name in _MODULES else getattr(home, name)
    raise AttributeError(f"module 'ergo' has no attribute {name!r}")


def __dir__() -> list[str]:
    """The public names, before any of them is loaded."""
    return sorted({*globals(), *__all__})
