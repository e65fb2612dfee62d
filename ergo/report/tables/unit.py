"""Tables of a unit's plan: the page, the printed request and the CSV files show the same ones."""

from __future__ import annotations

from math import inf

from ergo.inputs.schema import Default
from ergo.report.blocks import Table
from ergo.report.tables.case import citation, verdict_words
from ergo.unit.plan import UnitPlan
from ergo.unit.results import MOST_PEOPLE, Estimate, percent_against
from ergo.unit.staffing_request import ForceRow, StaffingRequest
from ergo.units import DEFAULT_UNITS, Units

__all__ = [
    "amount",
    "default_rows",
    "force_rows",
    "headcount_rows",
    "hour_rows",
    "load_rows",
    "needed_rows",
    "option_rows",
    "policy_rows",
    "share",
    "shift_rows",
    "task_rows",
    "variation_rows",
    "work_rows",
]


def share(value: Estimate) -> str:
    """Return a share with its interval.

    >>> share(Estimate(0.684, 0.433, 0.935, 4)), share(Estimate(0.5, 0.5, 0.5, 1))
    ('68 % (43 to 94)', '50 %')
    """
    return f"{100 * value.mean:.0f} %{_interval(value)}"


def _interval(value: Estimate) -> str:
    return f" ({100 * value.low:.0f} to {100 * value.high:.0f})" if value.runs > 1 else ""


def _share_against(value: Estimate, target: float) -> str:
    """Return a share that is held against a target: one that misses it never reads as if it reached it."""
    return percent_against(value.mean, target) + _interval(value)


def _number(value: Estimate, digits: int = 0) -> str:
    if value.runs == 0:
        return "–"
    if value.runs < 2:
        return f"{value.mean:,.{digits}f}"
    return f"{value.mean:,.{digits}f} ({value.low:,.{digits}f} to {value.high:,.{digits}f})"


def _longest(wait_min: float) -> str:
    return f"{wait_min:.0f} min" if wait_min < inf else "no move served"


def _impulse(value: Estimate, units: Units) -> str:
    """Force times time in the reader's unit of force."""
    low, mean, high = (units.force_value(v) for v in (value.low, value.mean, value.high))
    return _number(Estimate(mean, low, high, value.runs))


def needed_rows(plan: UnitPlan) -> Table:
    """Return the fewest people by policy and shift."""
    rows = [
        (
            n.policy,
            n.shift,
            "no number is enough" if n.people is None else f"{n.people}",
            "–" if n.fewest is None else f"{n.fewest} to {MOST_PEOPLE if n.most is None else n.most}",
            f"{n.airway_leads}",
            _share_against(n.covered, plan.unit.target),
            n.why or "–",
        )
        for n in plan.needed
    ]
    head = (
        "aids",
        "shift",
        f"people for handling, {100 * plan.unit.target:.0f} % on time",
        "over the runs",
        "airway leads",
        "covered with them",
        "note",
    )
    return Table("People needed", head, tuple(rows))


def shift_rows(plan: UnitPlan, policy: str) -> Table:
    """Return coverage and waiting by staffing level and shift, for one policy."""
    rows = []
    for level in plan.levels:
        if level.policy != policy:
            continue
        rows += [
            (
                _level(level.extra_people),
                s.shift,
                f"{s.handlers} + {s.airway_leads}",
                f"{s.events.mean:.0f}",
                _share_against(s.covered, plan.unit.target),
                share(s.staffed),
                share(s.on_time),
                _number(s.not_served),
                _number(s.wait_min, 1),
                _number(s.wait_p95_min),
                share(s.busy),
                _number(s.fte, 1),
            )
            for s in level.shifts
        ]
    head = (
        "people",
        "shift",
        "handling + airway leads",
        "moves a day",
        "covered",
        "whole team present",
        "on time",
        "not served in this plan",
        "mean wait of those served, min",
        "95th percentile of it, min",
        "busy with moves",
        "FTE",
    )
    return Table("Coverage and waiting by shift", head, tuple(rows))


def load_rows(plan: UnitPlan, policy: str, units: Units = DEFAULT_UNITS) -> Table:
    """Return what one person takes on in one shift, for one policy."""
    rows = [
        (
            _level(level.extra_people),
            s.shift,
            _number(s.loadings),
            _number(s.loadings_p95),
            _impulse(s.pull_n_s, units),
            _impulse(s.pull_p95_n_s, units),
            _number(s.overtime_min),
        )
        for level in plan.levels
        if level.policy == policy
        for s in level.shifts
    ]
    head = (
        "people",
        "shift",
        "efforts, mean",
        "efforts, 95th percentile",
        f"pull times time, mean, {units.force} s",
        f"95th percentile, {units.force} s",
        "minutes past the shift's end, all people",
    )
    return Table("What one person takes on in a shift", head, tuple(rows))


def _level(extra: int) -> str:
    return "as now" if extra == 0 else f"{abs(extra)} {'more' if extra > 0 else 'fewer'}"


def task_rows(plan: UnitPlan, policy: str) -> Table:
    """Return what each kind of move takes, with present staffing."""
    rows = [
        (
            t.task,
            t.aid,
            f"{t.events.mean:.1f}",
            f"{t.people.mean:.1f}",
            f"{t.minutes.mean:.1f}",
            f"{t.people_minutes.mean:,.0f}",
            share(t.covered),
        )
        for t in plan.base(policy).tasks
    ]
    head = ("move", "aid", "a day", "people", "minutes", "people-minutes a day", "covered")
    return Table("Moves", head, tuple(rows))


def hour_rows(plan: UnitPlan, policy: str, extra: int) -> Table:
    """Return the share of moves of each hour that is not covered."""
    level = plan.level(policy, extra)
    rows = [(f"{h:02d}:00", f"{100 * v:.0f} %") for h, v in enumerate(level.missed_by_hour)]
    return Table("Moves not covered by hour", ("hour", "not covered"), tuple(rows))


def policy_rows(plan: UnitPlan) -> Table:
    """Return the aid policies side by side, with present staffing."""
    money = plan.unit.cost.currency
    rows = []
    for policy in plan.unit.policies:
        base = plan.base(policy.name)
        needed = [n for n in plan.needed if n.policy == policy.name]
        rows.append(
            (
                policy.name,
                share(base.covered),
                _number(base.people_minutes_needed),
                f"{base.hours.mean:.1f}",
                _number(base.fte, 1),
                f"{base.cost_a_year.mean:,.0f}",
                ", ".join(f"{n.shift} {'–' if n.people is None else n.people}" for n in needed),
                _longest(max(s.wait_p95_min.mean for s in base.shifts)),
            )
        )
    head = (
        "aids",
        "covered now",
        "people-minutes a day",
        "hours a day",
        "FTE",
        f"{money} a year",
        f"people for {100 * plan.unit.target:.0f} % on time",
        "wait, 95th percentile, worst shift",
    )
    return Table("Aids side by side", head, tuple(rows))


def work_rows(request: StaffingRequest) -> Table:
    """Return tasks x people x minutes = hours = FTE = cost."""
    rows = [
        (
            w.task,
            w.aid or "–",
            f"{w.events:.1f}",
            f"{w.people:.1f}",
            f"{w.minutes:.1f}",
            f"{w.hours:.1f}",
            f"{w.fte:.1f}",
            f"{w.cost:,.0f}",
        )
        for w in (*request.work, request.total)
    ]
    head = ("move", "aid", "a day", "people", "minutes", "hours a day", "FTE", f"{request.currency} a year")
    return Table("The work", head, tuple(rows))


def amount(value: float, unit: str, units: Units) -> str:
    """Return a force or a held mass in the reader's unit; anything else as it is.

    >>> amount(128.77, "N", Units(force="lbf")), amount(8.386, "kg", DEFAULT_UNITS)
    ('29 lbf', '8.4 kg')
    """
    if unit == "N":
        return units.show_force(value)
    return f"{units.mass_value(value):.1f} {units.mass}" if unit == "kg" else f"{value:.2f} {unit}"


def force_rows(request: StaffingRequest, units: Units = DEFAULT_UNITS) -> Table:
    """Return one row a move: what is asked of one person at n, n + 1 and n + 2 people, and what is allowed."""
    moves: dict[str, list[ForceRow]] = {}
    for row in request.force:
        moves.setdefault(row.task, []).append(row)
    rows = []
    for task, found in moves.items():
        cells = [f"{f.people}: {amount(f.force_n, f.unit, units)} {verdict_words(f.verdict)}" for f in found[:3]]
        first = found[0]
        allowed = amount(first.limit_n, first.unit, units)
        rows.append((task, *cells, *["–"] * (3 - len(cells)), f"{first.limit}: {allowed}", first.source))
    head = ("move", "people: force with n", "with n + 1", "with n + 2", "deciding limit with n", "source")
    return Table("Asked of the most loaded person", head, tuple(rows))


def headcount_rows(request: StaffingRequest) -> Table:
    """Return published headcounts of the same tasks."""
    rows = [(p.task, p.condition or "–", p.people, citation(p.source), p.known) for p in request.published]
    return Table("Published headcounts", ("task", "patient", "people", "source", "known"), tuple(rows))


def option_rows(request: StaffingRequest, units: Units = DEFAULT_UNITS) -> Table:
    """Return the options, "do nothing" first."""
    rows = [
        (
            o.name,
            share(o.covered),
            _longest(o.wait_p95_min),
            f"{units.force_value(o.pull_p95_n_s):,.0f} {units.force} s",
            f"{o.people_to_pay_a_year:,.0f}",
        )
        for o in request.options
    ]
    head = (
        "option",
        "covered",
        "wait, 95th percentile",
        "pull times time a person, 95th percentile",
        f"added pay, {request.currency} a year",
    )
    return Table("Options", head, tuple(rows))


def variation_rows(request: StaffingRequest) -> Table:
    """Return what the hours depend on."""
    rows = [
        (v.what, f"{v.low:g}", f"{v.high:g}", f"{v.hours_low:.1f}", f"{v.hours_high:.1f}") for v in request.sensitivity
    ]
    head = ("input", "low", "high", "hours a day at low", "at high")
    return Table("What the hours depend on", head, tuple(rows))


def default_rows(defaults: tuple[Default, ...]) -> Table:
    """Return every default that stands, with source and year."""
    rows = [
        (
            d.field,
            f"{d.value:g} {d.unit}",
            f"{d.low:g} to {d.high:g}",
            citation(d.source) if d.source else "none",
            d.year,
            d.known,
            d.note,
        )
        for d in defaults
    ]
    head = ("field", "value", "range", "source", "year", "how it is known", "note")
    return Table("Starting values in use", head, tuple(rows))
