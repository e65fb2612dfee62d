"""Moves a year out of a unit's plan, for a purchase."""

from __future__ import annotations

from ergo.inputs.purchase import Purchase, Ranged, Volume
from ergo.unit.plan import UnitPlan
from ergo.unit.results import DAYS_A_YEAR

__all__ = ["volumes_of", "with_volumes"]


def volumes_of(plan: UnitPlan) -> dict[str, Ranged]:
    """Return the moves a year of each procedure, with the interval over the runs.

    events a year = events a day x 365.25; low and high add up those of rounds, planned and unplanned moves.
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
    """Return the purchase with the moves a year of a unit's plan; a procedure that the unit lacks stays as stated."""
    found = volumes_of(plan)
    volumes = tuple(
        Volume(procedure=v.procedure, events_a_year=found.get(v.procedure, v.events_a_year)) for v in purchase.volumes
    )
    return purchase.model_copy(update={"volumes": volumes})
