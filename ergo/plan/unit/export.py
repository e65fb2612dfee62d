"""The figures of a unit's plan as CSV, one row a policy, level and shift."""

from __future__ import annotations

from dataclasses import fields

from ergo.plan.export import to_csv
from ergo.plan.unit.figures import Estimate, ShiftFigures
from ergo.plan.unit.plan import UnitPlan

__all__ = ["unit_csv"]

_PLAIN = ("shift", "handlers", "airway_leads")
_FIGURES = tuple(f.name for f in fields(ShiftFigures) if f.name not in _PLAIN)


def unit_csv(plan: UnitPlan) -> str:
    """Return every figure of every shift with its interval; a unit's own words cannot start a formula.

    Parameters
    ----------
    plan : UnitPlan

    Returns
    -------
    str
        Columns: unit, policy, extra people, shift, people, then mean, low and high of each figure of `ShiftFigures`.
    """
    header = ["unit", "policy", "extra_people", *_PLAIN]
    header += [f"{name}{end}" for name in _FIGURES for end in ("", "_low", "_high")]
    rows: list[list[object]] = []
    for level in plan.levels:
        for shift in level.shifts:
            row: list[object] = [plan.unit.name, level.policy, level.extra_people]
            row += [getattr(shift, name) for name in _PLAIN]
            for name in _FIGURES:
                figure: Estimate = getattr(shift, name)
                row += [figure.mean, figure.low, figure.high]
            rows.append(row)
    return to_csv(header, rows)
