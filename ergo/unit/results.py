"""The figures of a unit's plan, out of the counts of its runs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from ergo.inputs.unit import AidPolicy, Cost, Shift, Unit
from ergo.unit.arrivals import task_kinds
from ergo.unit.run_statistics import Tally
from ergo.unit.simulation import ShiftPattern

__all__ = [
    "Estimate",
    "Level",
    "PeopleNeeded",
    "ShiftFigures",
    "TaskFigures",
    "estimate",
    "level_of",
    "pattern_of",
    "people_needed",
]

MOST_PEOPLE = 60  # handlers on one shift; beyond that more people are not the answer
CONFIDENCE = 0.95
DAYS_A_YEAR = 365.25


@dataclass(frozen=True, slots=True)
class Estimate:
    """A mean over runs with its 95 % confidence interval; one run has no interval."""

    mean: float
    low: float
    high: float
    runs: int


@dataclass(frozen=True, slots=True)
class ShiftFigures:
    """What one shift meets, a day."""

    shift: str
    handlers: int
    airway_leads: int
    events: Estimate
    people_minutes: Estimate
    """Given, in moves that this shift began [min a day]."""
    fte: Estimate
    staffed: Estimate
    """Share of events for which the shift had the whole team within limits."""
    on_time: Estimate
    covered: Estimate
    """Share of events both staffed and on time."""
    wait_min: Estimate
    wait_p95_min: Estimate
    busy: Estimate
    """People-minutes in moves over people-minutes on duty."""
    overtime_min: Estimate
    loadings: Estimate
    """Efforts a person and shift, mean."""
    loadings_p95: Estimate
    pull_n_s: Estimate
    """Cumulative pull a person and shift, force times time [N s], mean."""
    pull_p95_n_s: Estimate


@dataclass(frozen=True, slots=True)
class TaskFigures:
    """One kind of move: events a day x people x minutes = people-minutes a day, as needed."""

    task: str
    procedure: str
    aid: str
    events: Estimate
    people: Estimate
    minutes: Estimate
    people_minutes: Estimate
    covered: Estimate


@dataclass(frozen=True, slots=True)
class Level:
    """One aid policy with one staffing level."""

    policy: str
    extra_people: int
    shifts: tuple[ShiftFigures, ...]
    tasks: tuple[TaskFigures, ...]
    people_minutes_needed: Estimate
    people_minutes_given: Estimate
    hours: Estimate
    """People-hours needed a day."""
    fte: Estimate
    cost_a_year: Estimate
    covered: Estimate
    emergencies_covered: Estimate
    interruptions: Estimate
    missed_by_hour: tuple[float, ...]
    """Share of the events of each hour of the day that were not covered; the hours when it cannot be done."""


@dataclass(frozen=True, slots=True)
class PeopleNeeded:
    """The fewest people for handling on one shift that reach the target; None with the reason if none do."""

    policy: str
    shift: str
    people: int | None
    covered: Estimate
    why: str = ""


def estimate(values: Sequence[float], low: float = 0.0, high: float = np.inf) -> Estimate:
    """Return the mean of runs with its confidence interval after Student, cut to what is possible.

    mean ± t_{n-1, 0.975} s / √n

    Parameters
    ----------
    values : sequence of float
        One a run; none gives nil, one has no interval.
    low, high : float
        What is possible, in the unit of the values.

    Returns
    -------
    Estimate

    Source: Student, "The probable error of a mean", Biometrika 6 (1908).

    Examples
    --------
    >>> e = estimate([11.0, 12.0, 13.0])
    >>> round(e.mean, 3), round(e.low, 3), round(e.high, 3)
    (12.0, 9.516, 14.484)
    """
    if not values:
        return Estimate(0.0, 0.0, 0.0, 0)
    runs = len(values)
    mean = float(np.mean(values))
    if runs < 2:
        return Estimate(mean, mean, mean, runs)
    half = float(stdtrit(runs - 1, (1 + CONFIDENCE) / 2) * np.std(values, ddof=1) / np.sqrt(runs))
    return Estimate(mean, max(low, mean - half), min(high, mean + half), runs)


def pattern_of(unit: Unit, extra_people: int) -> tuple[ShiftPattern, tuple[int, ...]]:
    """Return the shifts in order of their start, and which of the unit's shifts each of them is.

    Parameters
    ----------
    unit : Unit
    extra_people : int
        For handling on every shift, more or fewer than stated; never fewer than nobody.

    Returns
    -------
    (ShiftPattern, tuple of int)

    Examples
    --------
    >>> from ergo.inputs.unit import parse_unit
    >>> night = {"name": "night", "start_h": 19.0, "hours": 12.0, "people": [{"role": "nurse", "count": 2}]}
    >>> day = {**night, "name": "day", "start_h": 7.0, "people": [{"role": "nurse", "count": 3}]}
    >>> ward = {"name": "x", "beds": 2, "lifts": 0, "rounds": [{"procedure": "boost"}], "shifts": [night, day]}
    >>> pattern, order = pattern_of(parse_unit({**ward, "policies": [{"name": "a", "aid": "slide sheet"}]}), 1)
    >>> pattern.start, pattern.handlers, order
    ((420.0, 1140.0), (4, 3), (1, 0))
    """
    order = tuple(sorted(range(len(unit.shifts)), key=lambda i: unit.shifts[i].start_h % 24))
    ordered = [unit.shifts[i] for i in order]
    return ShiftPattern(
        tuple(s.start_h % 24 * 60 for s in ordered),
        tuple(max(0, s.count("handling") + extra_people) for s in ordered),
        tuple(s.count("airway lead") for s in ordered),
        unit.lifts,
    ), order


def fte_of(hours_a_day: float, cost: Cost) -> float:
    """Return full-time equivalents: hours a year over the productive hours of one of them.

    Examples
    --------
    >>> round(fte_of(24.0, Cost(paid_hours_year=2000.0, productive_share=0.9)), 3)
    4.87
    """
    return hours_a_day * DAYS_A_YEAR / (cost.paid_hours_year * cost.productive_share)


def cost_of(hours_a_day: float, wage_per_h: float, cost: Cost) -> float:
    """Return the cost a year of hours a day: wage with benefits, over the productive share of paid hours.

    Examples
    --------
    >>> cost_of(1.0, 40.0, Cost(benefits_share=0.2, productive_share=1.0))
    18262.5
    """
    return hours_a_day * DAYS_A_YEAR * wage_per_h * cost.loading / cost.productive_share


def wage_of(shift: Shift, cost: Cost) -> float:
    """Return the mean wage an hour of the people on a shift."""
    people = sum(p.count for p in shift.people)
    if not people:
        return cost.wage_per_h
    paid = sum(p.count * (cost.wage_per_h if p.wage_per_h is None else p.wage_per_h) for p in shift.people)
    return paid / people


def level_of(unit: Unit, policy: AidPolicy, extra_people: int, runs: Sequence[Tally]) -> Level:
    """Return the figures of one policy and one staffing level from its runs.

    Parameters
    ----------
    unit : Unit
    policy : AidPolicy
    extra_people : int
        As the runs were served with.
    runs : sequence of Tally
        One a replication, each over the unit's days.

    Returns
    -------
    Level

    Examples
    --------
    >>> from ergo.inputs.unit import parse_unit
    >>> from ergo.unit.simulation import Job, serve
    >>> day = {"name": "day", "start_h": 0.0, "hours": 24.0, "people": [{"role": "nurse", "count": 2}]}
    >>> ward = {"name": "x", "beds": 2, "lifts": 0, "days": 1, "rounds": [{"procedure": "boost"}], "shifts": [day]}
    >>> unit = parse_unit({**ward, "policies": [{"name": "a", "aid": "slide sheet"}]})
    >>> run = Tally(shifts=1, kinds=1, on_time_min=15.0, emergency_on_time_min=2.0)
    >>> serve([[Job(arrival=0.0, kind=0, minutes=30.0, handlers=2)]], pattern_of(unit, 0)[0], run, 1440.0)
    >>> level = level_of(unit, unit.policies[0], 0, [run])
    >>> level.people_minutes_needed.mean, level.hours.mean, level.covered.mean
    (60.0, 1.0, 1.0)
    """
    pattern, order = pattern_of(unit, extra_people)
    days = unit.days

    def over(value: Callable[[Tally], float]) -> Estimate:
        return estimate([value(run) for run in runs])

    def share(value: Callable[[Tally], float]) -> Estimate:
        return estimate([value(run) for run in runs], high=1.0)

    def hours(run: Tally) -> float:
        return run.needed / 60.0 / days

    def cost(run: Tally) -> float:
        # what is missing is needed all the same: it is priced like the minutes that the shift did give
        given = [m / 60.0 / days for m in run.people_minutes]
        scale = run.needed / run.given if run.given else 1.0
        wages = [wage_of(unit.shifts[i], unit.cost) for i in order]
        return sum(cost_of(h * scale, w, unit.cost) for h, w in zip(given, wages, strict=True))

    return Level(
        policy.name,
        extra_people,
        tuple(_shift_figures(unit, unit.shifts[i], pattern, at, runs) for at, i in enumerate(order)),
        tuple(_task_figures(unit, policy, at, runs) for at in range(len(task_kinds(unit)))),
        over(lambda r: r.needed / days),
        over(lambda r: r.given / days),
        over(hours),
        over(lambda r: fte_of(hours(r), unit.cost)),
        over(cost),
        share(lambda r: _share(sum(r.covered), sum(r.events))),
        share(lambda r: _share(r.emergencies_covered, r.emergencies)),
        over(lambda r: r.interruptions / days),
        tuple(
            1.0 - _share(sum(r.hour_events[h] - r.hour_missed[h] for r in runs), sum(r.hour_events[h] for r in runs))
            for h in range(24)
        ),
    )


def _share(part: float, whole: float) -> float:
    """Return a share; of nothing, everything was done."""
    return part / whole if whole else 1.0


def _shift_figures(unit: Unit, shift: Shift, pattern: ShiftPattern, at: int, runs: Sequence[Tally]) -> ShiftFigures:
    days = unit.days

    def over(value: Callable[[Tally], float]) -> Estimate:
        return estimate([value(run) for run in runs])

    def share(value: Callable[[Tally], float]) -> Estimate:
        return estimate([value(run) for run in runs], high=1.0)

    handlers, airway = pattern.handlers[at], pattern.airway[at]
    on_duty = (handlers + airway) * shift.hours * 60.0
    return ShiftFigures(
        shift.name,
        handlers,
        airway,
        over(lambda r: r.events[at] / days),
        over(lambda r: r.people_minutes[at] / days),
        over(lambda r: fte_of(r.people_minutes[at] / 60.0 / days, unit.cost)),
        share(lambda r: _share(r.full[at], r.events[at])),
        share(lambda r: _share(r.on_time[at], r.events[at])),
        share(lambda r: _share(r.covered[at], r.events[at])),
        over(lambda r: r.wait_total[at] / r.events[at] if r.events[at] else 0.0),
        over(lambda r: r.wait_percentile(at, 95)),
        over(lambda r: (r.people_minutes[at] - r.overtime_minutes[at]) / days / on_duty if on_duty else 0.0),
        over(lambda r: r.overtime_minutes[at] / days),
        over(lambda r: r.loads[at].mean),
        over(lambda r: r.loads[at].percentile(95)),
        over(lambda r: r.pulls[at].mean),
        over(lambda r: r.pulls[at].percentile(95)),
    )


def _task_figures(unit: Unit, policy: AidPolicy, at: int, runs: Sequence[Tally]) -> TaskFigures:
    kind = task_kinds(unit)[at]

    def over(value: Callable[[Tally], float]) -> Estimate:
        return estimate([value(run) for run in runs])

    def share(value: Callable[[Tally], float]) -> Estimate:
        return estimate([value(run) for run in runs], high=1.0)

    def mean(total: Callable[[Tally], float], count: Callable[[Tally], float]) -> Estimate:
        return estimate([total(r) / count(r) for r in runs if count(r)])

    return TaskFigures(
        kind.name,
        kind.procedure,
        policy.aid_for(kind.procedure),
        over(lambda r: r.kind_events[at] / unit.days),
        mean(lambda r: r.kind_people_minutes[at], lambda r: r.kind_minutes[at]),
        mean(lambda r: r.kind_minutes[at], lambda r: r.kind_events[at]),
        over(lambda r: r.kind_people_minutes[at] / unit.days),
        share(lambda r: _share(r.kind_covered[at], r.kind_events[at])),
    )


def people_needed(unit: Unit, policy: AidPolicy, runs: Callable[[int], list[Tally]]) -> list[PeopleNeeded]:
    """Find for each shift the fewest people for handling with which its coverage reaches the target.

    The same number is added to every shift; since more people never lower the coverage, halving the interval
    finds the fewest.

    Parameters
    ----------
    unit : Unit
    policy : AidPolicy
    runs : callable
        runs(extra_people) -> the tallies of all replications; remembered by the caller.

    Returns
    -------
    list of PeopleNeeded
        In order of the shifts' start; up to 60 people on a shift.

    Examples
    --------
    >>> from ergo.inputs.unit import parse_unit
    >>> from ergo.unit.simulation import Job, serve
    >>> day = {"name": "day", "start_h": 0.0, "hours": 24.0, "people": [{"role": "nurse", "count": 9}]}
    >>> ward = {"name": "x", "beds": 2, "lifts": 0, "days": 1, "rounds": [{"procedure": "boost"}], "shifts": [day]}
    >>> unit = parse_unit({**ward, "policies": [{"name": "a", "aid": "slide sheet"}]})
    >>> def runs(extra_people):  # two moves of two people at once, neither of which may wait
    ...     run = Tally(shifts=1, kinds=1, on_time_min=0.0, emergency_on_time_min=0.0)
    ...     serve([[Job(0.0, 0, 30.0, 2), Job(0.0, 0, 30.0, 2)]], pattern_of(unit, extra_people)[0], run, 1440.0)
    ...     return [run]
    >>> people_needed(unit, unit.policies[0], runs)[0].people
    4
    """
    base, order = pattern_of(unit, 0)
    found = []
    for at, i in enumerate(order):
        name, count = unit.shifts[i].name, unit.shifts[i].count("handling")

        def covered(extra: int, at: int = at) -> Estimate:
            return estimate([_share(r.covered[at], r.events[at]) for r in runs(extra)], high=1.0)

        low, high = -max(base.handlers) - 1, MOST_PEOPLE - count  # nobody at all is enough where no move comes up
        best = covered(high)
        if best.mean < unit.target:
            why = f"{best.mean:.0%} with {MOST_PEOPLE} people: airway leads, lifts or limits decide"
            found.append(PeopleNeeded(policy.name, name, None, best, why))
            continue
        while high - low > 1:
            middle = (low + high) // 2
            if covered(middle).mean >= unit.target:
                high = middle
            else:
                low = middle
        found.append(PeopleNeeded(policy.name, name, max(0, count + high), covered(high)))
    return found
