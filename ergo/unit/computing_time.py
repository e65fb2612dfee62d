"""How much work a plan is before it begins, the bound on it, and how it is stopped."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ergo.errors import Fault, InputError
from ergo.evidence import assumption
from ergo.inputs.census import Census
from ergo.inputs.unit import Unit
from ergo.unit.arrivals import task_kinds
from ergo.unit.team_lookup import stature_class

__all__ = ["Progress", "StoppedError", "Work", "check_work", "duration", "tell", "work_of"]

Progress = Callable[[float], bool | None]
"""progress(part done, 0 to 1): False stops the work, anything else lets it go on."""

_CASES_A_LINE = 6  # masses looked at for one sex, class of stature, procedure and aid
_SEARCH, _SEARCH_A_SHIFT = 6, 4  # staffings that the search for the people needed looks at, beside the levels
_PATIENTS_A_MOVE = 4  # reading so many patients for one kind of move takes as long as one move


class StoppedError(Exception):
    """The work was stopped before its end; nothing of it is kept."""


def tell(progress: Progress | None, part: float) -> None:
    """Say how much is done, and stop where the answer is False."""
    if progress is not None and progress(min(part, 1.0)) is False:
        raise StoppedError


@dataclass(frozen=True, slots=True)
class Work:
    """What a plan takes: moves a day, runs to be simulated, cases for the teams, and seconds of one core."""

    moves_a_day: float
    simulations: int
    days: int
    cases: int
    team_seconds: float
    seconds: float

    @property
    def simulated_days(self) -> int:
        """Days of all runs together."""
        return self.simulations * self.days

    def __str__(self) -> str:
        return (
            f"about {duration(self.seconds)} of one core: {self.simulations:,} simulations of {self.days:,} days with "
            f"{self.moves_a_day:,.0f} moves a day, {self.cases:,} cases for the teams"
        )


def duration(seconds: float) -> str:
    """Return a time in words of the size that matters.

    >>> duration(0.4), duration(42.0), duration(600.0), duration(30_000.0)
    ('1 s', '42 s', '10 min', '8.3 h')
    """
    if seconds < 120:
        return f"{max(1.0, seconds):.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 7200 else f"{seconds / 3600:,.1f} h"


def work_of(unit: Unit, patients: Census) -> Work:
    """Estimate the work of a plan: moves x runs x levels x policies, and the cases for the teams."""
    lying = min(unit.occupied, len(patients))
    moves = sum(lying * r.share * 24.0 / r.every_h for r in unit.rounds)
    moves += sum(task.a_day for task in unit.planned) + sum(task.a_day for task in unit.unplanned)
    moves += 2.0 * lying * unit.prone.share if unit.prone else 0.0
    staffings = len(unit.extra_people) + _SEARCH + _SEARCH_A_SHIFT * len(unit.shifts)
    simulations = len(unit.policies) * staffings * unit.replications
    kinds = task_kinds(unit)
    procedures = {kind.procedure for kind in kinds}
    pairs = {(procedure, policy.aid_for(procedure)) for policy in unit.policies for procedure in procedures}
    classes = {(bool(w), stature_class(float(h))) for w, h in zip(patients.women, patients.stature_m, strict=True)}
    cases = min(_CASES_A_LINE, len(patients)) * len(pairs) * len(classes)
    teams = cases * assumption("team_case_time").typical
    a_run = moves * unit.days + len(patients) * len(kinds) / _PATIENTS_A_MOVE
    return Work(
        moves, simulations, unit.days, cases, teams, teams + simulations * a_run * assumption("move_time").typical
    )  # fmt: skip


def check_work(unit: Unit, patients: Census, most_seconds: float | None = None) -> Work:
    """Return the work of a plan; InputError with what to make smaller where it is above the bound."""
    work = work_of(unit, patients)
    most = assumption("plan_time_most").typical if most_seconds is None else most_seconds
    if work.seconds > most:
        fit = (most - work.team_seconds) / (work.seconds - work.team_seconds)
        smaller = max(1, int(unit.days * unit.replications * fit))
        said = (
            f"at most {duration(most)}: fewer days x runs ({unit.days} x {unit.replications} now, "
            f"up to {smaller:,} fit), fewer levels of extra_people ({len(unit.extra_people)}) or fewer policies "
            f"({len(unit.policies)})"
        )
        raise InputError(unit.name, [Fault("days, replications, extra_people, policies", str(work), said)])
    return work
