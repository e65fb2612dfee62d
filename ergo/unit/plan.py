"""The plan of a unit: people-minutes, FTE, coverage, waiting and load, by aid policy and staffing level."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ergo.inputs.census import Census, load_census
from ergo.inputs.schema import Default
from ergo.inputs.unit import MINUTES_KEY, AidPolicy, Unit, unit_defaults
from ergo.unit.arrivals import DAY_MIN, TaskKind, arrivals, task_kinds
from ergo.unit.computing_time import Progress, check_work, tell
from ergo.unit.population import draw_population
from ergo.unit.results import (
    Extra,
    Level,
    PeopleNeeded,
    ShortDuty,
    level_of,
    more_people,
    pattern_of,
    people_needed,
    short_duties,
)
from ergo.unit.run_statistics import Job, Tally
from ergo.unit.simulation import serve
from ergo.unit.team_lookup import AssessedNeed, Need, TeamTable, build_team_table

__all__ = ["UnitPlan", "joined_plans", "patients_of", "plan_unit", "simulate", "table_of", "typical_patient"]

DRAWN = 1000  # patients drawn from the population; each run meets them in an order of its own
NO_CLAIM = (
    "A screening aid for planning, not a clinical order and not a guarantee of a safe load.",
    "People of one duty count as alike; the numbers on shift are people who can leave their work and come.",
    "Moves are served in the order in which they come up; nobody overtakes, emergencies interrupt.",
)


@dataclass(frozen=True, slots=True)
class UnitPlan:
    """The answer for a unit, with what it rests on."""

    unit: Unit
    levels: tuple[Level, ...]
    needed: tuple[PeopleNeeded, ...]
    patients: str
    refused_columns: tuple[tuple[str, str], ...]
    days: int
    replications: int
    seed: int
    defaults: tuple[Default, ...]
    sources: tuple[str, ...]
    cautions: tuple[str, ...] = NO_CLAIM
    short: tuple[ShortDuty, ...] = ()
    """Duties of which one more saves more people for handling than it takes."""
    typical_patient: tuple[float, str, float] = (0.0, "F", 0.0)
    """Mass [kg], sex and stature [m]."""

    def level(self, policy: str, extra_people: int) -> Level:
        """Return one policy with one staffing level."""
        return next(v for v in self.levels if v.policy == policy and v.extra_people == extra_people)

    def base(self, policy: str) -> Level:
        """Return one policy with the people on shift as stated, or the level nearest to it."""
        return min((v for v in self.levels if v.policy == policy), key=lambda v: abs(v.extra_people))


def _seeds(unit: Unit) -> np.random.SeedSequence:
    """Return the unit's own stream: by its seed and its name, so that no order of work matters."""
    digest = hashlib.sha256(unit.name.encode()).digest()
    return np.random.SeedSequence([unit.seed, int.from_bytes(digest[:8], "big")])


def patients_of(unit: Unit, folder: str | Path = ".", progress: Callable[[int, int], None] | None = None) -> Census:
    """Return the patients of a unit: its census file out of the folder, or as many drawn as the plan needs."""
    stated = unit.patients
    if stated.census:
        units = {k: v for k, v in (("mass", stated.mass_unit), ("stature", stated.stature_unit)) if v}
        return load_census(Path(folder) / stated.census, units, progress, tuple(MINUTES_KEY))
    return draw_population(max(DRAWN, unit.occupied), stated.women_share, _seeds(unit).spawn(1)[0])


def typical_patient(patients: Census) -> tuple[float, str, float]:
    """Return median mass [kg], the more frequent sex (else a woman), and that sex's median stature [m]."""
    woman = bool(patients.women.mean() >= 0.5)
    alike = patients.women == woman
    return float(np.median(patients.mass_kg)), "F" if woman else "M", float(np.median(patients.stature_m[alike]))


def table_of(
    unit: Unit,
    need: Need,
    patients: Census,
    workers: int = 1,
    progress: Progress | None = None,
) -> TeamTable:
    """Tabulate the teams for every procedure and aid of a unit and the patients it has; the slow step of a plan."""
    procedures = dict.fromkeys(kind.procedure for kind in task_kinds(unit))
    cases = [(procedure, policy.aid_for(procedure)) for policy in unit.policies for procedure in procedures]
    who = [("F" if w else "M", float(h)) for w, h in zip(patients.women, patients.stature_m, strict=True)]
    masses = (float(patients.mass_kg.min()), float(patients.mass_kg.max()))

    def show_part_done(done: int, of: int) -> None:
        tell(progress, done / of)

    return build_team_table(need, cases, who, masses, workers, patients.mass_kg.tolist(), show_part_done)


@dataclass(frozen=True, slots=True)
class _Needs:
    """Each patient's need for each kind of move, as nested lists [kind][patient]: a list reads fastest."""

    handlers: list[list[int]]
    airway: list[list[int]]
    lift: list[list[int]]
    pullers: list[list[int]]
    minutes: list[list[float]]
    loadings: list[list[float]]
    pull: list[list[float]]


def _needs(kinds: Sequence[TaskKind], policy: AidPolicy, table: TeamTable, patients: Census) -> _Needs:
    columns: tuple[list[list[float]], ...] = ([], [], [], [], [], [], [])
    for kind in kinds:
        found = table.lookup(
            kind.procedure,
            policy.aid_for(kind.procedure),
            patients.mass_kg,
            patients.women,
            patients.stature_m,
        )
        minutes: NDArray[np.float64] = np.where(np.isnan(found.minutes), kind.minutes, found.minutes)
        for column, values in zip(
            columns,
            (found.handlers, found.airway_lead, found.use_lift, found.left + found.right, minutes,
             found.loadings, found.pull_n_s),
            strict=True,
        ):  # fmt: skip
            column.append(values.tolist())
    return _Needs(*columns)  # type: ignore[arg-type]


def simulate(
    unit: Unit,
    policy: AidPolicy,
    table: TeamTable,
    patients: Census,
    extra: int | Extra = 0,
    run: int = 0,
    days: int | None = None,
    needs: _Needs | None = None,
    a_day_done: Callable[[], object] | None = None,
) -> Tally:
    """Serve the moves of one run with one policy and one staffing.

    The same number of a run meets the same moves with any staffing and policy. `a_day_done` is called after each day.
    """
    days = unit.days if days is None else days
    own = np.random.SeedSequence(_seeds(unit).entropy, spawn_key=(1, run))
    kinds = task_kinds(unit)
    needs = _needs(kinds, policy, table, patients) if needs is None else needs
    order = np.arange(len(patients))
    if patients.sources:  # drawn patients have no order; a census keeps its own: who comes first lies there today
        order = np.random.default_rng(own.spawn(1)[0]).permutation(len(patients))
        patients = Census(
            patients.mass_kg[order], patients.women[order], patients.stature_m[order], patients.dependency,
            patients.procedures, patients.origin, patients.refused, patients.sources,
        )  # fmt: skip
    pattern, _ = pattern_of(unit, more_people(unit, extra) if isinstance(extra, int) else extra)
    tally = Tally(len(pattern), len(kinds), unit.on_time_min, unit.emergency_on_time_min)
    emergency = [kind.emergency for kind in kinds]

    def jobs() -> Iterator[list[Job]]:
        for day in arrivals(unit, patients, own.spawn(1)[0], days):
            yield [
                Job(
                    time, kind, needs.minutes[kind][who] * stretch, needs.handlers[kind][who],
                    needs.airway[kind][who], needs.lift[kind][who], emergency[kind], needs.pullers[kind][who],
                    needs.loadings[kind][who], needs.pull[kind][who],
                )
                for time, kind, who, stretch in zip(
                    day.time.tolist(), day.kind.tolist(), order[day.patient].tolist(), day.stretch.tolist(),
                    strict=True
                )
            ]  # fmt: skip
            if a_day_done:
                a_day_done()

    serve(jobs(), pattern, tally, days * DAY_MIN)
    return tally


def joined_plans(unit: Unit, plans: Sequence[UnitPlan]) -> UnitPlan:
    """Return one plan out of plans of the same unit, each with some of its policies; as if planned together."""
    levels = tuple(level for plan in plans for level in plan.levels)
    needed = tuple(need for plan in plans for need in plan.needed)
    short = tuple(one for plan in plans for one in plan.short)
    return replace(plans[0], unit=unit, levels=levels, needed=needed, short=short)


def plan_unit(
    unit: Unit,
    need: Need | None = None,
    folder: str | Path = ".",
    table: TeamTable | None = None,
    progress: Progress | None = None,
    patients: Census | None = None,
    most_seconds: float | None = None,
) -> UnitPlan:
    """Plan a unit: every aid policy with every staffing level, and the people that reach the target.

    Parameters
    ----------
    unit : Unit
    need : callable, optional
        need(procedure, aid, mass_kg, sex, stature_m) -> TeamNeed: the team of one move within limits. Left out:
        the smallest team of the assessment at typical values.
    folder : str or Path
        Where the census file lies.
    table : TeamTable, optional
        A table made before with `table_of`; then `need` is not asked.
    progress : callable, optional
        progress(part) -> bool: told the part done, 0 to 1; where it returns False the work stops within a second.
    patients : Census, optional
        Patients read before; then no file is opened.
    most_seconds : float, optional
        The bound on the work [s of one core]; left out: ten minutes, as the assumptions have it.

    Returns
    -------
    UnitPlan

    Raises
    ------
    InputError
        If the census file is wrong, if an aid cannot serve a procedure, or if the work is above its bound.
    StoppedError
        If `progress` said stop.

    Examples
    --------
    >>> from ergo.inputs.unit import parse_unit
    >>> day = {"name": "day", "start_h": 0.0, "hours": 24.0, "people": [{"role": "nurse", "count": 5}]}
    >>> ward = {"name": "x", "beds": 2, "lifts": 0, "days": 1, "replications": 1, "shifts": [day]}
    >>> ward |= {"rounds": [{"procedure": "boost"}], "policies": [{"name": "a", "aid": "slide sheet"}]}
    >>> plan = plan_unit(parse_unit(ward))
    >>> plan.base("a").covered.mean, [(need.shift, need.people) for need in plan.needed]
    (1.0, [('day', 2)])
    """
    who = patients_of(unit, folder) if patients is None else patients
    work = check_work(unit, who, most_seconds)
    start = 0.0
    if table is None:
        start = work.team_seconds / work.seconds
        asked = AssessedNeed() if need is None else need
        table = table_of(unit, asked, who, progress=lambda part: progress(start * part) if progress else None)
    tell(progress, start)
    levels: list[Level] = []
    needed: list[PeopleNeeded] = []
    short: list[ShortDuty] = []
    days = 0

    def a_day_done() -> None:
        nonlocal days
        days += 1
        tell(progress, start + (1.0 - start) * min(days / work.simulated_days, 0.99))

    for policy in unit.policies:
        needs = _needs(task_kinds(unit), policy, table, who)
        seen: dict[tuple[Extra, int], Tally] = {}

        def one(
            extra: Extra,
            run: int,
            policy: AidPolicy = policy,
            needs: _Needs = needs,
            seen: dict[tuple[Extra, int], Tally] = seen,
            table: TeamTable = table,
        ) -> Tally:
            if (extra, run) not in seen:
                seen[extra, run] = simulate(unit, policy, table, who, extra, run, None, needs, a_day_done)
            return seen[extra, run]

        for more in unit.extra_people:
            extra = more_people(unit, more)
            levels.append(level_of(unit, policy, more, [one(extra, run) for run in range(unit.replications)]))
        own = people_needed(unit, policy, one)
        needed += own
        short += short_duties(unit, policy, one, own)
    tell(progress, 1.0)
    defaults = unit_defaults(unit)
    sources = tuple(dict.fromkeys([*who.sources, *(d.source for d in defaults if d.source)]))
    return UnitPlan(
        unit, tuple(levels), tuple(needed), who.origin, tuple((r.column, r.reason) for r in
        who.refused), unit.days, unit.replications, unit.seed, defaults, sources, short=tuple(short),
        typical_patient=typical_patient(who),
    )  # fmt: skip
