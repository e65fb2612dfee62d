"""Moves a year out of a unit's plan, for a purchase."""

from __future__ import annotations

from ergo.inputs.purchase import Purchase, Ranged, Volume
from ergo.unit.plan import UnitPlan
from ergo.unit.results import DAYS_A_YEAR

__all__ = ["volumes_of", "with_volumes"]


def volumes_of(plan: UnitPlan) -> dict[str, Ranged]:
    """Return the moves a year of each procedure, with the interval over the runs.

    events a year = events a day x 365.25; low and high add up those of rounds, planned and unplanned moves.

    Parameters
    ----------
    plan : UnitPlan

    Returns
    -------
    dict
        By procedure [moves/year], of the unit's first policy: every policy meets the same moves.

    Examples
    --------
    >>> from ergo.inputs.unit import parse_unit
    >>> from ergo.unit.plan import plan_unit
    >>> from ergo.unit.team_lookup import TeamNeed
    >>> day = {"name": "day", "start_h": 0.0, "hours": 24.0, "people": [{"role": "nurse", "count": 2}]}
    >>> ward = {"name": "x", "beds": 2, "lifts": 0, "jitter_min": 0.0, "days": 1, "replications": 1, "shifts": [day]}
    >>> ward |= {"rounds": [{"procedure": "boost", "every_h": 4.0}], "policies": [{"name": "a", "aid": "slide sheet"}]}
    >>> plan = plan_unit(parse_unit(ward), lambda *case: TeamNeed(1, 1))
    >>> volumes_of(plan)["boost"].typical  # 2 beds, 6 times a day
    4383.0
    """
    found: dict[str, tuple[float, float, float]] = {}
    for task in plan.base(plan.unit.policies[0].name).tasks:
        low, mean, high = found.get(task.procedure, (0.0, 0.0, 0.0))
        e = task.events
        found[task.procedure] = (low + e.low, mean + e.mean, high + e.high)
    return {
        name: Ranged(typical=mean * DAYS_A_YEAR, low=low * DAYS_A_YEAR, high=high * DAYS_A_YEAR)
        for name, (low, mean, high) in found.items()
    }


def with_volumes(purchase: Purchase, plan: UnitPlan) -> Purchase:
    """Return the purchase with the moves a year of a unit's plan; a procedure that the unit lacks stays as stated.

    Parameters
    ----------
    purchase : Purchase
    plan : UnitPlan

    Returns
    -------
    Purchase
        With the procedures of its own volumes, no others.

    Examples
    --------
    >>> from ergo.inputs.purchase import load_purchase
    >>> from ergo.inputs.unit import parse_unit
    >>> from ergo.unit.plan import plan_unit
    >>> from ergo.unit.team_lookup import TeamNeed
    >>> from ergo.inputs.examples import scenario_folder
    >>> day = {"name": "day", "start_h": 0.0, "hours": 24.0, "people": [{"role": "nurse", "count": 2}]}
    >>> ward = {"name": "x", "beds": 2, "lifts": 0, "jitter_min": 0.0, "days": 1, "replications": 1, "shifts": [day]}
    >>> ward |= {"rounds": [{"procedure": "boost", "every_h": 4.0}], "policies": [{"name": "a", "aid": "slide sheet"}]}
    >>> plan = plan_unit(parse_unit(ward), lambda *case: TeamNeed(1, 1))
    >>> pads = load_purchase(scenario_folder() / "purchases" / "turning_pad.toml")
    >>> [(volume.procedure, volume.events_a_year.typical) for volume in with_volumes(pads, plan).volumes]
    [('side-lying turn', 60000.0), ('boost', 4383.0)]
    """
    found = volumes_of(plan)
    volumes = tuple(
        Volume(procedure=v.procedure, events_a_year=found.get(v.procedure, v.events_a_year)) for v in purchase.volumes
    )
    return purchase.model_copy(update={"volumes": volumes})
