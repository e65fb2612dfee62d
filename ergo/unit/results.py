"""The figures of a unit's plan, out of the counts of its runs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

import numpy as np
from scipy.special import stdtrit

from ergo.inputs.unit import AidPolicy, Cost, Shift, Unit
from ergo.unit.arrivals import task_kinds
from ergo.unit.run_statistics import Tally
from ergo.unit.simulation import ShiftPattern

__all__ = [
    "MOST_PEOPLE",
    "Estimate",
    "Extra",
    "Level",
    "PeopleNeeded",
    "Resource",
    "ShiftFigures",
    "ShortDuty",
    "TaskFigures",
    "estimate",
    "level_of",
    "more_people",
    "pattern_of",
    "people_needed",
    "percent_against",
    "short_duties",
]

MOST_PEOPLE = 60  # handlers on one shift; beyond that more people are not the answer
CONFIDENCE = 0.95
DAYS_A_YEAR = 365.25


Resource = Literal["airway lead", "lift"]


@dataclass(frozen=True, slots=True)
class Extra:
    """More than stated: people for handling by shift in order of their start, airway leads on every shift, lifts."""

    handlers: tuple[int, ...]
    airway: int = 0
    lifts: int = 0


OneRun = Callable[[Extra, int], Tally]
"""one(extra, run) -> the tally of one replication, remembered by the caller."""


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
    not_served: Estimate
    """Events not begun within eight hours after the end of the plan; the waits are those of the others."""
    wait_min: Estimate
    """Infinite, of no runs, where no move was served."""
    wait_p95_min: Estimate
    busy: Estimate
    """People-minutes in moves over people-minutes on duty, both within the plan and the shift."""
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
    """The fewest people for handling on one shift that reach the target; None with the reason if none do.

    `covered` is the share with the people needed on all shifts together. `fewest` and `most` are those that single
    runs need, None where a run does not reach the target with the most people looked at.
    """

    policy: str
    shift: str
    people: int | None
    covered: Estimate
    why: str = ""
    airway_leads: int = 0
    fewest: int | None = None
    most: int | None = None


@dataclass(frozen=True, slots=True)
class ShortDuty:
    """A duty of which one more saves more people for handling than it takes: the people needed with it, by shift."""

    policy: str
    duty: Resource
    people: tuple[int | None, ...]
    people_now: tuple[int | None, ...]


def estimate(values: Sequence[float], low: float = 0.0, high: float = np.inf) -> Estimate:
    """Return the mean of runs with its confidence interval after Student, cut to what is possible.

    mean ± t_{n-1, 0.975} s / √n; Student, "The probable error of a mean", Biometrika 6 (1908).
    """
    if not values:
        return Estimate(0.0, 0.0, 0.0, 0)
    runs = len(values)
    mean = float(np.mean(values))
    if runs < 2:
        return Estimate(mean, mean, mean, runs)
    half = float(stdtrit(runs - 1, (1 + CONFIDENCE) / 2) * np.std(values, ddof=1) / np.sqrt(runs))
    return Estimate(mean, max(low, mean - half), min(high, mean + half), runs)


def percent_against(value: float, target: float) -> str:
    """Return a share in percent with as many digits as it takes not to look like the target that it misses.

    >>> percent_against(0.5562, 0.95), percent_against(0.9497, 0.95), percent_against(0.949996, 0.95)
    ('56 %', '94.97 %', 'just under 95 %')
    """
    for digits in (0, 1, 2):
        shown = round(100.0 * value, digits)
        if value >= target or shown < round(100.0 * target, 9):
            return f"{shown:.{digits}f} %"
    return f"just under {100.0 * target:g} %"


def more_people(unit: Unit, extra_people: int) -> Extra:
    """Return as many more people for handling on every shift."""
    return Extra((extra_people,) * len(unit.shifts))


def pattern_of(unit: Unit, extra: Extra) -> tuple[ShiftPattern, tuple[int, ...]]:
    """Return the shifts in order of their start, and which of the unit's shifts each of them is."""
    order = tuple(sorted(range(len(unit.shifts)), key=lambda i: unit.shifts[i].start_h % 24))
    ordered = [unit.shifts[i] for i in order]
    return ShiftPattern(
        tuple(s.start_h % 24 * 60 for s in ordered),
        tuple(max(0, s.count("handling") + n) for s, n in zip(ordered, extra.handlers, strict=True)),
        tuple(s.count("airway lead") + extra.airway for s in ordered),
        unit.lifts + extra.lifts,
    ), order


def fte_of(hours_a_day: float, cost: Cost) -> float:
    """Return full-time equivalents: hours a year over the productive hours of one of them.

    >>> round(fte_of(24.0, Cost(paid_hours_year=2000.0, productive_share=0.9)), 3)
    4.87
    """
    return hours_a_day * DAYS_A_YEAR / (cost.paid_hours_year * cost.productive_share)


def cost_of(hours_a_day: float, wage_per_h: float, cost: Cost) -> float:
    """Return the cost a year of hours a day: wage with benefits, over the productive share of paid hours.

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
    """Return the figures of one policy and one staffing level from its runs, one a replication."""
    pattern, order = pattern_of(unit, more_people(unit, extra_people))
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
        wages = [wage_of(unit.shifts[i], unit.cost) for i in order]
        if not run.given:
            return cost_of(hours(run), sum(wages) / len(wages), unit.cost)
        scale = run.needed / run.given
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


def _wait(values: Sequence[float]) -> Estimate:
    return estimate(values) if values else Estimate(np.inf, np.inf, np.inf, 0)


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
    waited = [r for r in runs if r.events[at] > r.not_served[at] or not r.events[at]]
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
        over(lambda r: r.not_served[at]),
        _wait([r.wait_total[at] / max(r.events[at] - r.not_served[at], 1) for r in waited]),
        _wait([r.wait_percentile(at, 95) for r in waited]),
        over(lambda r: r.on_duty_minutes[at] / days / on_duty if on_duty else 0.0),
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


def people_needed(unit: Unit, policy: AidPolicy, one: OneRun) -> list[PeopleNeeded]:
    """Find the fewest people for handling on each shift with which every shift's coverage reaches the target.

    Two steps, both in the same runs as the staffing levels: the same number more on every shift until each reaches the
    target, then all shifts with their own numbers together, one more or fewer as long as every shift reaches it. More
    people never lower the coverage, so halving an interval finds the fewest. Shifts are in order of their start.
    """
    search = _Search(unit, one)
    return _needed(unit, policy, search, search.each_shift_alone())


def short_duties(unit: Unit, policy: AidPolicy, one: OneRun, needed: Sequence[PeopleNeeded]) -> list[ShortDuty]:
    """Name each duty of which one more saves more people for handling than the people it takes."""
    now = tuple(n.people for n in needed)
    found = []
    for duty, extra, takes in (("airway lead", Extra((), airway=1), len(now)), ("lift", Extra((), lifts=1), 0)):
        search = _Search(unit, one, extra)
        if not any(search.reaches_with_one_fewer(at, people) for at, people in enumerate(now)):
            continue
        with_it = tuple(n.people for n in _needed(unit, policy, search, search.each_shift_alone(), ranges=False))
        solved = any(a is None and b is not None for a, b in zip(now, with_it, strict=True))
        saved = sum(a - b for a, b in zip(now, with_it, strict=True) if a is not None and b is not None)
        if solved or saved > takes:
            found.append(ShortDuty(policy.name, duty, with_it, now))  # type: ignore[arg-type]
    return found


class _Search:
    """Looks for people needed among staffings that differ in the people for handling only."""

    def __init__(self, unit: Unit, one: OneRun, added: Extra | None = None) -> None:
        self.unit, self.one = unit, one
        self.added = Extra(()) if added is None else added
        base, self.order = pattern_of(unit, more_people(unit, 0))
        self.now = base.handlers

    def covered(self, handlers: Sequence[int], at: int, run: int) -> float:
        """Return the share covered of one shift in one run, with so many more people by shift."""
        tally = self.one(replace(self.added, handlers=tuple(handlers)), run)
        return _share(tally.covered[at], tally.events[at])

    def of_runs(self, handlers: Sequence[int], at: int) -> Estimate:
        """Return the share covered of one shift over all runs."""
        return estimate([self.covered(handlers, at, n) for n in range(self.unit.replications)], high=1.0)

    def reaches(self, handlers: Sequence[int], at: int) -> bool:
        """Say whether the target is reached on one shift."""
        return self.of_runs(handlers, at).mean >= self.unit.target

    def same_on_every_shift(self, more: int) -> tuple[int, ...]:
        """Return the same number more on every shift."""
        return (more,) * len(self.now)

    def _reaches_with_the_same(self, at: int, more: int) -> bool:
        return self.reaches(self.same_on_every_shift(more), at)

    def each_shift_alone(self) -> list[int | None]:
        """Return how many more on every shift bring each shift to the target, by itself."""
        return [
            _fewest(partial(self._reaches_with_the_same, at), 0, -self.now[at], MOST_PEOPLE - self.now[at])
            for at in range(len(self.now))
        ]

    def reaches_with_one_fewer(self, at: int, people: int | None) -> bool:
        """Say whether one shift reaches the target with one person fewer than now needed, or at all if none did."""
        fewer = MOST_PEOPLE - self.now[at] if people is None else people - 1 - self.now[at]
        return (people is None or people > 0) and self.reaches(self.same_on_every_shift(fewer), at)


def _needed(
    unit: Unit, policy: AidPolicy, search: _Search, apart: list[int | None], ranges: bool = True
) -> list[PeopleNeeded]:
    """Bring the shifts together, and say what single runs need."""
    lost = [at for at, more in enumerate(apart) if more is None]
    together = [MOST_PEOPLE - search.now[at] if more is None else more for at, more in enumerate(apart)]
    kept = [at for at in range(len(together)) if at not in lost]

    def reached() -> bool:
        return all(search.reaches(together, at) for at in kept)

    for at in kept * 2:  # people of another shift may have left less to do before
        while not search.reaches(together, at) and together[at] < MOST_PEOPLE - search.now[at]:
            together[at] += 1
    for at in kept:
        while together[at] > -search.now[at]:
            together[at] -= 1
            if not reached():
                together[at] += 1
                break
    found = []
    for at, i in enumerate(search.order):
        shift, low, high = unit.shifts[i], -search.now[at], MOST_PEOPLE - search.now[at]
        covered, leads = search.of_runs(together, at), shift.count("airway lead") + search.added.airway
        if at in lost:
            why = f"{100 * covered.mean:.0f} % with {MOST_PEOPLE} people: airway leads, lifts or limits decide"
            found.append(PeopleNeeded(policy.name, shift.name, None, covered, why, leads))
            continue
        needs: list[int | None] = [together[at]]
        for run in range(unit.replications) if ranges else ():

            def enough(more: int, at: int = at, run: int = run) -> bool:
                return search.covered([*together[:at], more, *together[at + 1 :]], at, run) >= unit.target

            needs.append(_fewest(enough, together[at], low, high))
        own = [n + search.now[at] for n in needs if n is not None]
        found.append(
            PeopleNeeded(
                policy.name, shift.name, own[0], covered, "", leads, min(own),
                None if None in needs else max(own),
            )
        )  # fmt: skip
    return found


def _fewest(enough: Callable[[int], bool], start: int, low: int, high: int) -> int | None:
    """Return the fewest from low to high that are enough, looked for outward from a start; None if high is not."""
    step, start = 1, min(start, high)
    if enough(start):
        good, bad = start, low - 1
        while good > low:
            tried = max(low, good - step)
            if not enough(tried):
                bad = tried
                break
            good, step = tried, 2 * step
    else:
        bad, good = start, high + 1
        while bad < high:
            tried = min(high, bad + step)
            if enough(tried):
                good = tried
                break
            bad, step = tried, 2 * step
        if good > high:
            return None
    while good - bad > 1:
        middle = (good + bad) // 2
        good, bad = (middle, bad) if enough(middle) else (good, middle)
    return good
