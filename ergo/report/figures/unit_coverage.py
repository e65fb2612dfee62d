"""Coverage, waiting and aids of a unit as rows with intervals."""

from __future__ import annotations

from ergo.limits.policy import Verdict
from ergo.report.figures.drawing import Drawing
from ergo.report.figures.intervals import IntervalRow, interval_rows
from ergo.report.tables.unit import share
from ergo.unit.plan import UnitPlan
from ergo.unit.results import Estimate, ShiftFigures
from ergo.units import people_words

__all__ = ["policy_coverage", "unit_coverage", "unit_waits"]


def _against(value: Estimate, target: float) -> Verdict:
    """Within where even the low end reaches the target, close where only the mean does, over where it does not."""
    if value.low >= target:
        return "within"
    return "close" if value.mean >= target else "over"


def _named(plan: UnitPlan, policy: str) -> list[tuple[str, ShiftFigures]]:
    found = []
    for at in range(len(plan.base(policy).shifts)):
        for level in (v for v in plan.levels if v.policy == policy):
            one = level.shifts[at]
            now = " (now)" if level.extra_people == 0 else ""
            found.append((f"{one.shift}: {people_words(one.handlers)}{now}", one))
    return found


def _percent(name: str, value: Estimate, target: float) -> IntervalRow:
    return IntervalRow(
        name, 100 * value.low, 100 * value.mean, 100 * value.high, share(value), _against(value, target)
    )  # fmt: skip


def unit_coverage(plan: UnitPlan, policy: str) -> Drawing:
    """Return the share of moves covered by shift and people on it, against the target."""
    target = plan.unit.target
    rows = [_percent(name, s.covered, target) for name, s in _named(plan, policy)]
    said = "; ".join(f"{r.name} {r.said}, {_word(r.verdict)}" for r in rows)
    alt = f"Share of moves covered, target {100 * target:.0f} %. {said}."
    return interval_rows(rows, "moves covered, %", alt, (100 * target, f"target {100 * target:.0f} %"), 100.0)


def _word(verdict: Verdict) -> str:
    return {"within": "reached", "close": "just reached", "over": "missed"}.get(verdict, verdict)


def unit_waits(plan: UnitPlan, policy: str) -> Drawing:
    """Return the 95th percentile of the wait by shift and people on it, against what counts as on time."""
    allowed = plan.unit.on_time_min
    rows = []
    for name, s in _named(plan, policy):
        w = s.wait_p95_min
        if not w.runs:
            continue  # no move was served: the table says so
        verdict: Verdict = "within" if w.high <= allowed else "close" if w.mean <= allowed else "over"
        rows.append(IntervalRow(name, w.low, w.mean, w.high, f"{w.mean:.0f} min, mean {s.wait_min.mean:.1f}", verdict))
    alt = f"Wait that 95 % of moves do not exceed; on time is {allowed:g} min. " + "; ".join(
        f"{r.name} {r.said}" for r in rows
    )
    return interval_rows(rows, "minutes", alt, (allowed, f"on time: {allowed:g}"))


def policy_coverage(plan: UnitPlan) -> Drawing:
    """Return the share of moves covered with each set of aids, with present staffing."""
    target = plan.unit.target
    rows = [_percent(p.name, plan.base(p.name).covered, target) for p in plan.unit.policies]
    alt = "Share of moves covered by aids, with present staffing. " + "; ".join(f"{r.name} {r.said}" for r in rows)
    return interval_rows(rows, "moves covered, %", alt, (100 * target, f"target {100 * target:.0f} %"), 100.0)
