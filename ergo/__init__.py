"""How many people and which aid a patient move needs, with physics and published limits.

>>> from ergo import load_scenario, assess, smallest_team
"""

from __future__ import annotations

from ergo.assess import Assessment, assess
from ergo.errors import Fault, InputError
from ergo.plan.team import TeamAnswer, smallest_team
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
