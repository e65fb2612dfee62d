"""When moves come up on a unit: rounds, planned and unplanned moves, prone sessions, emergencies.

One day at a time, so that memory stays flat over any number of days. The moves depend on the seed alone,
never on the people or the aids: every staffing level and policy meets the same moves (common random
numbers).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ergo.inputs.census import Census
from ergo.inputs.unit import Unit, minutes_of

__all__ = ["DAY_MIN", "Day", "TaskKind", "arrivals", "task_kinds"]

DAY_MIN = 1440.0
HOUR_MIN = 60.0
Array = NDArray[np.float64]
Whole = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class TaskKind:
    """One kind of move on the unit: what it is, its mean minutes, and whether it is an emergency."""

    name: str
    procedure: str
    minutes: float
    emergency: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Day:
    """The moves of one day in order of time: time [min from the start], kind, patient, minutes over mean."""

    time: Array
    kind: Whole
    patient: Whole
    stretch: Array

    def __len__(self) -> int:
        return len(self.time)


def task_kinds(unit: Unit) -> tuple[TaskKind, ...]:
    """List the kinds of move that a unit has, in the order in which `arrivals` numbers them."""
    kinds = [TaskKind(f"{t.procedure}, rounds", t.procedure, minutes_of(t.procedure, t.minutes)) for t in unit.rounds]
    kinds += [
        TaskKind(f"{t.procedure}, planned", t.procedure, minutes_of(t.procedure, t.minutes)) for t in unit.planned
    ]
    kinds += [
        TaskKind(f"{t.procedure}, unplanned", t.procedure, minutes_of(t.procedure, t.minutes)) for t in unit.unplanned
    ]
    if unit.prone:
        kinds += [
            TaskKind("prone turn", "prone turn", unit.prone.prone_turn_minutes),
            TaskKind("return to supine", "return to supine", unit.prone.return_minutes),
            TaskKind("return to supine now", "return to supine", unit.prone.return_minutes, True),
        ]
    return tuple(kinds)


def arrivals(unit: Unit, patients: Census, seed: np.random.SeedSequence, days: int) -> Iterator[Day]:
    """Yield the moves of one day after the other.

    Unplanned moves of a day: Poisson. Minutes over mean: exp(σ z - σ²/2), σ² = ln(1 + spread²), z standard normal,
    so that their mean is 1.
    """
    rng = np.random.default_rng(seed)
    sigma = np.sqrt(np.log1p(unit.minutes_spread**2))
    beds = _Beds(unit, patients, rng)
    waiting = _Moves()
    for day in range(days):
        if day:
            beds.turn_over(rng)
        waiting.add_day(unit, beds, day, rng)
        # a move of tomorrow may be jittered into today: only what no later day can precede leaves now
        last = day + 1 == days
        time, kind, patient = waiting.take_until(np.inf if last else (day + 1) * DAY_MIN - unit.jitter_min)
        stretch = np.exp(sigma * rng.standard_normal(len(time)) - sigma**2 / 2)
        yield Day(time, kind, patient, stretch)


class _Beds:
    """Which patient lies in which bed, and who gets which move."""

    def __init__(self, unit: Unit, patients: Census, rng: np.random.Generator) -> None:
        self.unit = unit
        self.count = min(unit.occupied, len(patients))
        self.pool = len(patients)
        self.patient = np.arange(self.count) % self.pool
        self.following = self.count
        able = np.array([d == "independent" for d in patients.dependency])
        listed = [None if p is None else set(p) for p in patients.procedures]
        self.gets = [_gets(t.procedure, t.share, listed, able, rng) for t in unit.rounds]
        self.prone = (
            _gets("prone turn", unit.prone.share, listed, able, rng) if unit.prone else np.zeros(self.pool, bool)
        )
        self.prone_until = np.full(self.count, -np.inf)

    def turn_over(self, rng: np.random.Generator) -> None:
        """Let each patient leave with the probability of one day in a mean stay; the next takes the bed."""
        if not self.unit.patients.turnover:
            return
        leaves = np.flatnonzero(rng.random(self.count) < 1.0 / self.unit.patients.stay_days)
        self.patient[leaves] = (self.following + np.arange(len(leaves))) % self.pool
        self.following += len(leaves)
        self.prone_until[leaves] = -np.inf


def _gets(
    procedure: str,
    share: float,
    listed: list[set[str] | None],
    able: NDArray[np.bool_],
    rng: np.random.Generator,
) -> NDArray[np.bool_]:
    """Say for each patient whether this move is done: by the census where it says so, else by the share."""
    drawn = rng.random(len(listed)) < share
    said = np.array([d if names is None else procedure in names for d, names in zip(drawn, listed, strict=True)])
    return said & ~able


class _Moves:
    """Moves that came up and did not leave yet."""

    def __init__(self) -> None:
        self.time: list[Array] = []
        self.kind: list[Whole] = []
        self.patient: list[Whole] = []

    def add(self, time: Array, kind: int, patient: Whole) -> None:
        self.time.append(np.maximum(time, 0.0))
        self.kind.append(np.full(len(time), kind))
        self.patient.append(patient)

    def take_until(self, end: float) -> tuple[Array, Whole, Whole]:
        time, kind, patient = (
            np.concatenate(self.time),
            np.concatenate(self.kind),
            np.concatenate(self.patient),
        )
        order = np.argsort(time, kind="stable")
        time, kind, patient = time[order], kind[order], patient[order]
        cut = int(np.searchsorted(time, end, side="left"))
        self.time, self.kind, self.patient = [time[cut:]], [kind[cut:]], [patient[cut:]]
        return time[:cut], kind[:cut], patient[:cut]

    def add_day(self, unit: Unit, beds: _Beds, day: int, rng: np.random.Generator) -> None:
        start = day * DAY_MIN
        number = 0
        yesterday_prone = beds.prone_until.copy()
        sessions = self._prone(unit, beds, start, rng)
        for task, gets in zip(unit.rounds, beds.gets, strict=True):
            due, bed = _due(start, task.every_h * HOUR_MIN, np.flatnonzero(gets[beds.patient]), beds.count, task.due)
            if task.procedure == "side-lying turn":  # who lies prone is not turned to the side
                lies_prone = (due < yesterday_prone[bed]) | ((due >= sessions[0][bed]) & (due < sessions[1][bed]))
                due, bed = due[~lies_prone], bed[~lies_prone]
            self.add(_jittered(due, unit, rng), number, beds.patient[bed])
            number += 1
        for planned in unit.planned:
            span = (planned.to_h - planned.from_h) * HOUR_MIN
            count = _whole(planned.a_day, rng)
            due = start + planned.from_h * HOUR_MIN + span * (np.arange(count) + 0.5) / max(count, 1)
            self.add(_jittered(due, unit, rng), number, beds.patient[rng.integers(0, beds.count, count)])
            number += 1
        for unplanned in unit.unplanned:
            count = int(rng.poisson(unplanned.a_day))
            self.add(start + rng.random(count) * DAY_MIN, number, beds.patient[rng.integers(0, beds.count, count)])
            number += 1

    def _prone(self, unit: Unit, beds: _Beds, start: float, rng: np.random.Generator) -> tuple[Array, Array]:
        """Add the day's prone sessions; return their begin and end by bed, +inf and -inf without one."""
        begin, end = np.full(beds.count, np.inf), np.full(beds.count, -np.inf)
        if unit.prone is None:
            return begin, end
        first = len(unit.rounds) + len(unit.planned) + len(unit.unplanned)
        bed = np.flatnonzero(beds.prone[beds.patient])
        begin[bed] = _jittered(np.full(len(bed), start + unit.prone.start_h * HOUR_MIN), unit, rng)
        length = unit.prone.session_h * HOUR_MIN
        sudden = rng.random(len(bed)) < unit.prone.emergency_returns
        early = unit.prone.prone_turn_minutes + rng.random(len(bed)) * (length - unit.prone.prone_turn_minutes)
        planned_end = _jittered(begin[bed] + length, unit, rng) + unit.jitter_min  # never shorter than the session
        end[bed] = np.where(sudden, begin[bed] + early, planned_end)
        beds.prone_until = end.copy()
        self.add(begin[bed], first, beds.patient[bed])
        self.add(end[bed[~sudden]], first + 1, beds.patient[bed[~sudden]])
        self.add(end[bed[sudden]], first + 2, beds.patient[bed[sudden]])
        return begin, end


def _due(start: float, every: float, bed: Whole, beds: int, how: str) -> tuple[Array, Whole]:
    """Return the due times in one day with their bed; the rhythm goes on over midnight."""
    offset = bed / beds * every if how == "staggered" else np.zeros(len(bed))
    first = np.ceil((start - offset) / every - 1e-9)
    last = np.ceil((start + DAY_MIN - offset) / every - 1e-9)
    counts = (last - first).astype(np.int64)
    which = np.repeat(np.arange(len(bed)), counts)
    step = np.arange(len(which)) - np.repeat(np.cumsum(counts) - counts, counts)
    return offset[which] + (first[which] + step) * every, bed[which]


def _jittered(due: Array, unit: Unit, rng: np.random.Generator) -> Array:
    return due + unit.jitter_min * (2.0 * rng.random(len(due)) - 1.0)


def _whole(mean: float, rng: np.random.Generator) -> int:
    """Return a whole number whose mean is right: 2.3 a day is 2 on most days and 3 on some."""
    return int(mean) + int(rng.random() < mean - int(mean))
