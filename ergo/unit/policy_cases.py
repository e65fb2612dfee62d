"""The moves and aids of a unit, each as a case, for its policy by the patient's mass."""

from __future__ import annotations

from ergo.inputs.scenario import Scenario
from ergo.inputs.unit import Unit
from ergo.unit.arrivals import task_kinds
from ergo.unit.team_lookup import AssessedNeed

__all__ = ["policy_cases"]

_MIDDLE = 82.0, "M", 1.75  # replaced by every mass of the table


def policy_cases(unit: Unit) -> tuple[Scenario, ...]:
    """Return every move of a unit with the aid of its first policy, and with those of the others where they differ.

    >>> from ergo.inputs.examples import scenario_folder
    >>> from ergo.inputs.unit import load_unit
    >>> unit = load_unit(scenario_folder() / "units" / "example_hospital_icu.toml")
    >>> len({(case.procedure, case.aid) for case in policy_cases(unit)}) == len(policy_cases(unit))
    True
    """
    procedures = dict.fromkeys(kind.procedure for kind in task_kinds(unit))
    pairs = dict.fromkeys((p, policy.aid_for(p)) for policy in unit.policies for p in procedures)
    mass, sex, stature = _MIDDLE
    return tuple(AssessedNeed().scenario(procedure, aid, mass, sex, stature) for procedure, aid in pairs)
