"""JSON of a unit plan and of a purchase."""

from __future__ import annotations

import math
from dataclasses import fields
from typing import Any

from ergo.inputs.schema import Default
from ergo.purchases.cost_model import Band, OptionCase, PurchaseCase
from ergo.unit.plan import UnitPlan
from ergo.unit.results import Estimate, Level, ShiftFigures, TaskFigures
from ergo.unit.staffing_request import StaffingRequest

__all__ = ["purchase_json", "unit_json"]


def unit_json(plan: UnitPlan, request: StaffingRequest | None = None) -> dict[str, Any]:
    """Return the plan of a unit as plain data.

    Keys: `unit`, `question`, `answer` (a sentence, or null), `target`, `patients`, `refused_columns[]` (`column`,
    `reason`), `days`, `replications`, `seed`, `needed[]` (`policy`, `shift`, `people` or null, `covered`, `why`),
    `levels[]` (`policy`, `extra_people`, `people_minutes_needed`, `people_minutes_given`, `hours`, `fte`,
    `cost_a_year`, `covered`, `emergencies_covered`, `interruptions`, `missed_by_hour`, `shifts[]`, `tasks[]`),
    `force[]` (`task`, `people`, `asked`, `limit`, `allowed`, `unit`, `verdict`, `source`), `currency`, `defaults[]`
    (`field`, `value`, `low`, `high`, `unit`, `source`, `year`, `known`, `note`), `sources`, `cautions`.

    A figure of the simulation is `mean`, `low` and `high` (95 % interval) and `runs`. A shift has `shift`,
    `handlers`, `airway_leads`, `events`, `people_minutes`, `fte`, `staffed`, `on_time`, `covered`, `wait_min`,
    `wait_p95_min`, `busy`, `overtime_min`, `loadings`, `loadings_p95`, `pull_n_s`, `pull_p95_n_s`; a task has `task`,
    `procedure`, `aid`, `events`, `people`, `minutes`, `people_minutes`, `covered`. All are for a day.
    """
    rows = request.force if request else ()
    return {
        "unit": plan.unit.name,
        "question": plan.unit.question,
        "answer": request.answer if request else None,
        "target": plan.unit.target,
        "patients": plan.patients,
        "refused_columns": [{"column": column, "reason": reason} for column, reason in plan.refused_columns],
        "days": plan.days,
        "replications": plan.replications,
        "seed": plan.seed,
        "needed": [
            {"policy": n.policy, "shift": n.shift, "people": n.people, "covered": _value(n.covered), "why": n.why}
            for n in plan.needed
        ],
        "levels": [_plain(level) for level in plan.levels],
        "force": [
            {
                "task": f.task,
                "people": f.people,
                "asked": f.force_n,
                "limit": f.limit,
                "allowed": f.limit_n,
                "unit": f.unit,
                "verdict": f.verdict,
                "source": f.source,
            }
            for f in rows
        ],
        "currency": plan.unit.cost.currency,
        "defaults": [_default(d) for d in plan.defaults],
        "sources": list(plan.sources),
        "cautions": list(plan.cautions),
    }


def _value(value: Any) -> Any:
    if isinstance(value, Estimate):
        return {"mean": value.mean, "low": value.low, "high": value.high, "runs": value.runs}
    if isinstance(value, ShiftFigures | TaskFigures):
        return _plain(value)
    return [_value(v) for v in value] if isinstance(value, tuple) else value


def _plain(figures: Level | ShiftFigures | TaskFigures) -> dict[str, Any]:
    return {f.name: _value(getattr(figures, f.name)) for f in fields(figures)}


def _default(d: Default) -> dict[str, Any]:
    return {
        "field": d.field,
        "value": d.value,
        "low": d.low,
        "high": d.high,
        "unit": d.unit,
        "source": d.source,
        "year": d.year,
        "known": d.known,
        "note": d.note,
    }


def purchase_json(case: PurchaseCase) -> dict[str, Any]:
    """Return a purchase as plain data.

    Keys: `purchase`, `question`, `currency`, `horizon_years`, `discount_rate`, `options[]`, `injury_evidence`,
    `injury_assumption`, `defaults[]` (as of a unit), `sources`, `draws`, `seed`. An option has `name`, `kind`,
    `first_cost`, `yearly_cost`, `cost_per_event`, `people_hours`, `hours_saved`, `yearly_saving`, `total_with`,
    `total_without`, `npv`, `payback`, `break_even_events`, each with `typical`, `p5`, `p50`, `p95`;
    `probability_npv_positive`, `one_way[]` (`what`, `low`, `high`, `npv_low`, `npv_high`), `capacity`, `unmeasured`.

    Null in place of a number of years or of moves says never.
    """
    return {
        "purchase": case.purchase.name,
        "question": case.purchase.question,
        "currency": case.purchase.currency,
        "horizon_years": case.purchase.horizon_years,
        "discount_rate": case.purchase.discount_rate,
        "options": [_option(o) for o in case.options],
        "injury_evidence": case.injury_evidence,
        "injury_assumption": case.injury_assumption,
        "defaults": [_default(d) for d in case.defaults],
        "sources": list(case.sources),
        "draws": case.draws,
        "seed": case.seed,
    }


def _option(option: OptionCase) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for f in fields(option):
        value = getattr(option, f.name)
        if isinstance(value, Band):
            value = {k: _finite(getattr(value, k)) for k in ("typical", "p5", "p50", "p95")}
        found[f.name] = value
    found["one_way"] = [
        {"what": s.what, "low": s.low, "high": s.high, "npv_low": s.npv_low, "npv_high": s.npv_high}
        for s in option.one_way
    ]
    found["unmeasured"] = list(option.unmeasured)
    return found


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None
