"""What is counted while moves are served: sums and histograms of fixed size, never a list of moves."""

from __future__ import annotations

import math
from collections.abc import Sequence

__all__ = ["Job", "Spread", "Tally"]

LONG_WAIT_MIN = 480  # up to it a wait is counted by the minute, beyond it by the hour
STEP = math.log(1.02)  # a percentile of pull is known to 2 %


class Job:
    """One move: what it needs, and while it is served, who was given."""

    __slots__ = (
        "airway", "airway_given", "arrival", "emergency", "end", "handlers", "handlers_given", "kind",
        "lift", "lift_given", "loadings", "members", "minutes", "on_duty", "order", "people", "pull", "pullers",
        "served_by", "shift", "since", "started", "until",
    )  # fmt: skip

    def __init__(
        self, arrival: float, kind: int, minutes: float, handlers: int, airway: int = 0, lift: int = 0,
        emergency: bool = False, pullers: int = 0, loadings: float = 0.0, pull: float = 0.0,
    ) -> None:  # fmt: skip
        self.arrival = arrival
        self.kind = kind
        self.minutes = minutes
        self.handlers = handlers
        self.airway = airway
        self.lift = lift
        self.emergency = emergency
        self.pullers = pullers
        self.loadings = loadings
        self.pull = pull
        self.started = False
        self.order = self.on_duty = self.served_by = 0
        self.shift = -1
        self.end = self.since = self.until = 0.0
        self.members: list[int] = []
        self.handlers_given = self.airway_given = self.lift_given = self.people = 0


class Spread:
    """A stream of values, 0 or more: count, mean, largest, and percentiles to 2 % from a histogram."""

    def __init__(self) -> None:
        self.count = 0
        self.total = 0.0
        self.most = 0.0
        self._bins: dict[int, int] = {}

    def add(self, value: float) -> None:
        """Count one value."""
        self.count += 1
        self.total += value
        self.most = max(self.most, value)
        bin_ = math.ceil(math.log(value) / STEP) if value > 0 else -(10**9)
        self._bins[bin_] = self._bins.get(bin_, 0) + 1

    @property
    def mean(self) -> float:
        """Return the mean, 0 of nothing."""
        return self.total / self.count if self.count else 0.0

    def percentile(self, percent: float) -> float:
        """Return a percentile, 0 of nothing."""
        left = percent / 100 * self.count
        for bin_ in sorted(self._bins):
            left -= self._bins[bin_]
            if left <= 1e-9:
                return min(math.exp(bin_ * STEP), self.most) if bin_ > -(10**9) else 0.0
        return self.most


class Tally:
    """Counts by shift, by kind of move and by hour of the day.

    Attributes
    ----------
    needed, given, missing : float
        People-minutes of all moves; given + missing = needed when every move is done.
    """

    def __init__(self, shifts: int, kinds: int, on_time_min: float, emergency_on_time_min: float) -> None:
        self.limits = (on_time_min, emergency_on_time_min)
        self.events = [0] * shifts
        self.on_time = [0] * shifts
        self.full = [0] * shifts
        self.covered = [0] * shifts
        self.wait_total = [0.0] * shifts
        self.wait_bins: list[dict[int, int]] = [{} for _ in range(shifts)]
        self.not_served = [0] * shifts
        self.people_minutes = [0.0] * shifts
        self.on_duty_minutes = [0.0] * shifts
        self.overtime_minutes = [0.0] * shifts
        self.hour_events = [0] * 24
        self.hour_missed = [0] * 24
        self.kind_events = [0] * kinds
        self.kind_minutes = [0.0] * kinds
        self.kind_people_minutes = [0.0] * kinds
        self.kind_covered = [0] * kinds
        self.emergencies = 0
        self.emergencies_covered = 0
        self.needed = 0.0
        self.given = 0.0
        self.missing = 0.0
        self.interruptions = 0
        self.pulls = [Spread() for _ in range(shifts)]
        self.loads = [Spread() for _ in range(shifts)]

    def start(self, job: Job, wait: float, full: bool) -> None:
        """Count a move at its first start."""
        shift = job.on_duty
        on_time = wait <= self.limits[job.emergency] + 1e-9
        self.on_time[shift] += on_time
        self.full[shift] += full
        self.wait_total[shift] += wait
        self._count(job, on_time and full)
        bins, minute = self.wait_bins[shift], math.ceil(wait)
        if minute > LONG_WAIT_MIN:
            minute = 60 * math.ceil(wait / 60.0)
        bins[minute] = bins.get(minute, 0) + 1

    def leave(self, job: Job) -> None:
        """Count a move that the plan ends without: all of it if it never began, what is left of it if it was begun."""
        if not job.started:
            self.not_serve(job)
        self.missing += job.minutes * (job.handlers + job.airway)

    def not_serve(self, job: Job) -> None:
        """Count a move that nobody makes."""
        self.not_served[job.on_duty] += 1
        self._count(job, False)

    def _count(self, job: Job, covered: bool) -> None:
        """Count what was needed, and whether it was there in time."""
        shift, kind = job.on_duty, job.kind
        hour = int(job.arrival % 1440.0 / 60.0)
        people_minutes = job.minutes * (job.handlers + job.airway)
        self.events[shift] += 1
        self.hour_events[hour] += 1
        if covered:
            self.covered[shift] += 1
            self.kind_covered[kind] += 1
        else:
            self.hour_missed[hour] += 1
        self.kind_events[kind] += 1
        self.kind_minutes[kind] += job.minutes
        self.kind_people_minutes[kind] += people_minutes
        self.needed += people_minutes
        if job.emergency:
            self.emergencies += 1
            self.emergencies_covered += covered

    def release(self, job: Job, now: float, plan_end: float = math.inf) -> None:
        """Count the people-minutes of a move that ends or is interrupted; on duty: in the shift and in the plan."""
        minutes = now - job.since
        people = job.people
        given = minutes * people
        self.people_minutes[job.served_by] += given
        self.given += given
        self.missing += minutes * (job.handlers + job.airway - people)
        self.on_duty_minutes[job.served_by] += max(0.0, min(now, job.until, plan_end) - job.since) * people
        if now > job.until:
            self.overtime_minutes[job.served_by] += (now - job.until) * people

    def end_shift(self, shift: int, pulls: Sequence[float], loads: Sequence[float]) -> None:
        """Count what each person of a shift pulled."""
        for pull, load in zip(pulls, loads, strict=True):
            self.pulls[shift].add(pull)
            self.loads[shift].add(load)

    def wait_percentile(self, shift: int, percent: float) -> float:
        """Return a percentile of the wait [min] of the moves served, to the next minute or hour above; 0 of nothing."""
        bins = self.wait_bins[shift]
        left = percent / 100 * sum(bins.values()) - 1e-9
        for minute in sorted(bins):
            left -= bins[minute]
            if left <= 0:
                return float(minute)
        return 0.0
