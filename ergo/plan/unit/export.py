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

    Examples
    --------
    >>> from ergo.plan.unit.file import parse_unit
    >>> from ergo.plan.unit.plan import plan_unit
    >>> from ergo.plan.unit.team_table import TeamNeed
    >>> day = {"name": "=day", "start_h": 0.0, "hours": 24.0, "people": [{"role": "nurse", "count": 2}]}
    >>> ward = {"name": "x", "beds": 2, "lifts": 0, "jitter_min": 0.0, "days": 1, "replications": 1, "shifts": [day]}
    >>> ward |= {"rounds": [{"procedure": "boost", "every_h": 4.0}], "policies": [{"name": "a", "aid": "slide sheet"}]}
    >>> lines = unit_csv(plan_unit(parse_unit(ward), lambda *case: TeamNeed(1, 1))).splitlines()
    >>> lines[0].split(",")[:7], lines[1].split(",")[:7]  # doctest: +NORMALIZE_WHITESPACE
    (['unit', 'policy', 'extra_people', 'shift', 'handlers', 'airway_leads', 'events'],
     ['x', 'a', '0', "'=day", '2', '0', '12.0'])
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
