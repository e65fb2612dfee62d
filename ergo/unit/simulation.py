"""The people of a shift and the moves that come up: a discrete-event simulation.

People of one duty are alike. A move needs several of them at once, and keeps them for its whole duration.
Moves are served in the order in which they come up, and nobody overtakes; emergencies come first and
interrupt the moves that started last, which go on afterwards. A team that is larger than the shift gets
everybody on duty and counts as not staffed; where a duty has nobody on the shift, the moves that need it
are done one after the other without, and count as not staffed, or as not served where nobody at all can
come. Who is in a move at the end of the shift stays until it is done, beside the people of the next shift.
A move that is not begun within eight hours after the end of the time looked at is not served either: it has
no wait, and all it needs is missing.

In this order of service the set of moves under way is always the longest front part of the order that the
people on duty can serve. With one person more that part is never shorter, so every move starts no later:
between shifts of one size more people never lower the coverage, not only on average but move by move; between
unequal ones a move may start so much earlier that it falls to the smaller shift. Overtaking would break that.

Why an event loop of our own: a general process simulator (simpy) has no resource that takes k people at
once with priorities, and spent five to thirteen times as long on the same moves with k single requests; the
plan of a unit runs millions of moves. The loop is used for this queue only and is held against simpy and
against queueing theory in the tests.
"""

from __future__ import annotations

import heapq
from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import cycle

from ergo.unit.run_statistics import LONG_WAIT_MIN, Job, Tally

__all__ = ["Job", "ShiftPattern", "serve"]

_NEVER = float("inf")


@dataclass(frozen=True, slots=True)
class ShiftPattern:
    """The shifts of a day in order of their start [min after midnight], people by duty, and the lifts."""

    start: tuple[float, ...]
    handlers: tuple[int, ...]
    airway: tuple[int, ...]
    lifts: int
    changes: bool = True
    """False keeps the same people on duty for ever, as queueing theory has it."""

    def __len__(self) -> int:
        return len(self.start)

    def at(self, minute: float) -> int:
        """Return the shift on duty at a minute of the day."""
        return max((i for i, s in enumerate(self.start) if s <= minute), default=len(self.start) - 1)


def serve(days: Iterable[Sequence[Job]], pattern: ShiftPattern, tally: Tally, until: float) -> None:
    """Serve all moves with the people of the shifts up to `until` [min], and count what happens.

    Moves come in order of arrival, over the days as well. What came up before the end is served for eight hours more;
    the load of people is counted over whole shifts only. Memory does not grow with the number of moves.
    """
    floor = _UnitState(pattern, tally, until)
    last = until
    for day in days:
        for job in day:
            floor.run_until(job.arrival)
            floor.arrive(job)
        last = max(last, day[-1].arrival) if day else last
    floor.run_until(until)
    floor.whole_shift = False
    floor.closing = True
    floor.run_until(last + LONG_WAIT_MIN)
    floor.leave()
    floor.run_until(_NEVER)


class _UnitState:
    """The state of the unit at one moment."""

    def __init__(self, pattern: ShiftPattern, tally: Tally, until: float) -> None:
        self.pattern = pattern
        self.tally = tally
        self.until = until
        self.ends: list[tuple[float, int, Job]] = []
        self.pushes = 0
        self.closing = False
        self.emergencies: deque[Job] = deque()
        self.waiting: list[tuple[int, Job]] = []
        self.running: dict[int, Job] = {}  # interruptible, in order of service; a dict keeps it and removes quickly
        self.orders = 0
        self.instance = 0  # counts shifts gone by: people of an earlier one do not come back to this one
        self.shift = pattern.at(0.0)
        self.whole_shift = pattern.start[self.shift] == 0.0
        following = [*range(self.shift + 1, len(pattern)), *range(self.shift + 1)]
        self.calendar = cycle(following)
        self.coming = next(self.calendar)
        self.change = (pattern.start[self.coming] or 1440.0) if pattern.changes else _NEVER
        self._take_over()

    def _take_over(self) -> None:
        """Let the people of the shift come on duty."""
        self.handlers_real = self.pattern.handlers[self.shift]
        self.airway_real = self.pattern.airway[self.shift]
        # with nobody of a duty one stand-in holds the place, or a first person would delay what nobody did
        # before
        self.handlers_on = self.handlers_free = max(1, self.handlers_real)
        self.airway_on = self.airway_free = max(1, self.airway_real)
        self.resting = deque(range(self.handlers_on))
        self.pulls = [0.0] * self.handlers_on
        self.loads = [0.0] * self.handlers_on
        if not self.instance:
            self.lifts_free = self.pattern.lifts
        # who stays on longer needs nobody of this shift, so an emergency can only claim the lift
        self.running = {order: job for order, job in self.running.items() if job.lift_given}

    def run_until(self, now: float) -> None:
        """Let every end and change of shift up to now happen, in order of time; an end before a change."""
        ends = self.ends
        while True:
            end = ends[0][0] if ends else _NEVER
            if self.change < end:
                if self.change > now or (now == _NEVER and end == _NEVER and not self.waiting and not self.emergencies):
                    return
                self._change_shift()
            elif end <= now and ends:
                end, _, job = heapq.heappop(ends)
                if job.end == end and job.shift >= 0:
                    self._release(job, end)
                    job.shift = -1
                    if self.waiting or self.emergencies:
                        self._serve(end)
            else:
                return

    def _change_shift(self) -> None:
        now = self.change
        if self.whole_shift:
            self.tally.end_shift(self.shift, self.pulls[: self.handlers_real], self.loads[: self.handlers_real])
        self.whole_shift = not self.closing
        self.instance += 1
        self.shift = self.coming
        self.coming = next(self.calendar)
        day = now - now % 1440.0
        start = self.pattern.start[self.coming]
        self.change = day + start if day + start > now else day + 1440.0 + start
        self._take_over()
        if self.waiting or self.emergencies:
            self._serve(now)

    def arrive(self, job: Job) -> None:
        """Put a move at the end of its queue, and start it if its turn is now."""
        job.order = self.orders
        job.on_duty = self.shift
        self.orders += 1
        if job.emergency:
            self.emergencies.append(job)
            self._serve(job.arrival)
        elif self.waiting or self.emergencies or not self._fits(job):
            heapq.heappush(self.waiting, (job.order, job))
        else:
            self._start(job, job.arrival)

    def _fits(self, job: Job) -> bool:
        """Say whether the free people suffice; more than everybody on duty is never asked for."""
        return (
            (job.handlers if job.handlers < self.handlers_on else self.handlers_on) <= self.handlers_free
            and (job.airway if job.airway < self.airway_on else self.airway_on) <= self.airway_free
            and (job.lift if job.lift < self.pattern.lifts else self.pattern.lifts) <= self.lifts_free
        )

    def _serve(self, now: float) -> None:
        while self.emergencies:
            first = self.emergencies[0]
            while self.running and not self._fits(first):
                last = next(reversed(self.running.values()))
                if last.shift != self.instance and min(first.lift, self.pattern.lifts) <= self.lifts_free:
                    break
                self._interrupt(last, now)
            if not self._fits(first):
                return
            self._start(self.emergencies.popleft(), now)
        waiting = self.waiting
        while waiting and self._fits(waiting[0][1]):
            self._start(heapq.heappop(waiting)[1], now)

    def _start(self, job: Job, now: float) -> None:
        handlers = job.handlers_given = min(job.handlers, self.handlers_on)
        airway = job.airway_given = min(job.airway, self.airway_on)
        lift = job.lift_given = min(job.lift, self.pattern.lifts)
        self.handlers_free -= handlers
        self.airway_free -= airway
        self.lifts_free -= lift
        rest = self.resting.popleft
        job.members = [rest() for _ in range(handlers)]
        job.shift = self.instance
        job.since = now
        job.people = (handlers if self.handlers_real else 0) + (airway if self.airway_real else 0)
        job.served_by = self.shift
        job.until = self.change
        job.end = now + job.minutes
        self.pushes += 1
        heapq.heappush(self.ends, (job.end, self.pushes, job))
        if not job.emergency:
            self.running[job.order] = job
        if job.started:
            return
        job.started = True
        if job.pullers and handlers:
            # fewer pullers than needed share the same work between them
            pulling = min(job.pullers, handlers)
            more = job.pullers / pulling
            for person in job.members[:pulling]:
                self.pulls[person] += job.pull * more
                self.loads[person] += job.loadings
        full = job.handlers <= self.handlers_real and job.airway <= self.airway_real and lift == job.lift
        if job.people or not job.handlers + job.airway:
            self.tally.start(job, now - job.arrival, full)
        else:
            self.tally.not_serve(job)

    def _release(self, job: Job, now: float) -> None:
        """Give the people back and count their minutes; those of an earlier shift go home."""
        self.tally.release(job, now, self.until)
        self.lifts_free += job.lift_given
        self.running.pop(job.order, None)
        if job.shift == self.instance:
            self.handlers_free += job.handlers_given
            self.airway_free += job.airway_given
            self.resting.extend(job.members)

    def leave(self) -> None:
        """Let go of all that still waits."""
        for job in (*self.emergencies, *(job for _, job in self.waiting)):
            self.tally.leave(job)
        self.emergencies.clear()
        self.waiting.clear()

    def _interrupt(self, job: Job, now: float) -> None:
        self._release(job, now)
        job.minutes = job.end - now
        job.shift = -1
        job.end = -1.0
        heapq.heappush(self.waiting, (job.order, job))
        self.tally.interruptions += 1
