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
from ergo.unit.population import draw_population
from ergo.unit.results import Level, PeopleNeeded, level_of, pattern_of, people_needed
from ergo.unit.run_statistics import Job, Tally
from ergo.unit.simulation import serve
from ergo.unit.team_lookup import Need, TeamTable, build_team_table

__all__ = ["UnitPlan", "joined", "patients_of", "plan_unit", "simulate", "table_of"]

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
    """Return the patients of a unit: its census file out of the folder, or drawn from the population.

    Parameters
    ----------
    unit : Unit
    folder : str or Path
        Where the census file lies.
    progress : callable, optional
        Called with the rows read and the rows in all.

    Returns
    -------
    Census
        Drawn: 1000 patients, or as many as are in the beds if that is more; the same for one name and seed.

    Raises
    ------
    InputError
        If the census file is wrong.

    Examples
    --------
    >>> from ergo.inputs.unit import parse_unit
    >>> day = {"name": "day", "start_h": 0.0, "hours": 24.0, "people": [{"role": "nurse", "count": 2}]}
    >>> ward = {"name": "x", "beds": 2, "lifts": 0, "rounds": [{"procedure": "boost"}], "shifts": [day]}
    >>> unit = parse_unit({**ward, "policies": [{"name": "a", "aid": "slide sheet"}]})
    >>> len(patients_of(unit)), patients_of(unit).origin
    (1000, 'drawn from population percentiles')
    """
    stated = unit.patients
    if stated.census:
        units = {k: v for k, v in (("mass", stated.mass_unit), ("stature", stated.stature_unit)) if v}
        return load_census(Path(folder) / stated.census, units, progress, tuple(MINUTES_KEY))
    return draw_population(max(DRAWN, unit.occupied), stated.women_share, _seeds(unit).spawn(1)[0])


def table_of(
    unit: Unit,
    need: Need,
    patients: Census,
    workers: int = 1,
    progress: Callable[[int, int], None] | None = None,
) -> TeamTable:
    """Tabulate the teams for every procedure and aid of a unit and the patients it has; the slow step of a plan.

    Parameters
    ----------
    unit : Unit
    need : callable
        As in `plan_unit`.
    patients : Census
        At least one.
    workers : int
        Processes that ask, 1 or more; with more than one, `need` must be a function or an object of a module.
    progress : callable, optional
        Told how many cases were asked and about how many there will be.

    Returns
    -------
    TeamTable
        Made for these patients' masses [kg] and classes of stature, and not meant for others.

    Raises
    ------
    InputError
        From `need`, if an aid cannot serve a procedure.

    Examples
    --------
    >>> from ergo.inputs.unit import parse_unit
    >>> from ergo.unit.team_lookup import TeamNeed
    >>> day = {"name": "day", "start_h": 0.0, "hours": 24.0, "people": [{"role": "nurse", "count": 2}]}
    >>> ward = {"name": "x", "beds": 2, "lifts": 0, "rounds": [{"procedure": "boost"}], "shifts": [day]}
    >>> unit = parse_unit({**ward, "policies": [{"name": "a", "aid": "slide sheet"}]})
    >>> two = draw_population(2, 1.0, 1)
    >>> table = table_of(unit, lambda *case: TeamNeed(1, 1), two)
    >>> table.lookup("boost", "slide sheet", two.mass_kg, two.women, two.stature_m).handlers.tolist()
    [2, 2]
    """
    procedures = dict.fromkeys(kind.procedure for kind in task_kinds(unit))
    cases = [(procedure, policy.aid_for(procedure)) for policy in unit.policies for procedure in procedures]
    who = [("F" if w else "M", float(h)) for w, h in zip(patients.women, patients.stature_m, strict=True)]
    masses = (float(patients.mass_kg.min()), float(patients.mass_kg.max()))
    return build_team_table(need, cases, who, masses, workers, patients.mass_kg.tolist(), progress)


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
    extra_people: int = 0,
    run: int = 0,
    days: int | None = None,
) -> Tally:
    """Serve the moves of one run with one policy and one staffing level.

    Parameters
    ----------
    unit : Unit
    policy : AidPolicy
    table : TeamTable
    patients : Census
    extra_people : int
        People for handling on every shift, more or fewer than stated.
    run : int, 0 or more
        Which replication; the same number meets the same moves at any level and policy.
    days : int, optional
        Left out: the unit's.

    Returns
    -------
    Tally
        Its shifts are in order of their start.

    Raises
    ------
    KeyError
        If the table lacks a procedure, an aid or a patient's class of stature.
    ValueError
        If a patient's mass lies outside the table.

    Examples
    --------
    >>> from ergo.inputs.unit import parse_unit
    >>> from ergo.unit.team_lookup import TeamNeed
    >>> day = {"name": "day", "start_h": 0.0, "hours": 24.0, "people": [{"role": "nurse", "count": 2}]}
    >>> ward = {"name": "x", "beds": 2, "lifts": 0, "shifts": [day], "jitter_min": 0.0, "minutes_spread": 0.0}
    >>> ward |= {"rounds": [{"procedure": "boost", "every_h": 4.0, "minutes": 3.0}]}
    >>> unit = parse_unit({**ward, "policies": [{"name": "a", "aid": "slide sheet"}]})
    >>> patients = draw_population(2, 1.0, 1)
    >>> table = table_of(unit, lambda *case: TeamNeed(1, 1), patients)
    >>> tally = simulate(unit, unit.policies[0], table, patients, days=1)
    >>> tally.events, tally.needed  # 2 beds x 6 a day x 2 people x 3 min
    ([12], 72.0)
    """
    days = unit.days if days is None else days
    own = np.random.SeedSequence(_seeds(unit).entropy, spawn_key=(1, run))
    if patients.sources:  # drawn patients have no order; a census keeps its own: who comes first lies there today
        order = np.random.default_rng(own.spawn(1)[0]).permutation(len(patients))
        patients = Census(
            patients.mass_kg[order], patients.women[order], patients.stature_m[order], patients.dependency,
            patients.procedures, patients.origin, patients.refused, patients.sources,
        )  # fmt: skip
    kinds = task_kinds(unit)
    needs = _needs(kinds, policy, table, patients)
    pattern, _ = pattern_of(unit, extra_people)
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
                    day.time.tolist(), day.kind.tolist(), day.patient.tolist(), day.stretch.tolist(),
                    strict=True
                )
            ]  # fmt: skip

    serve(jobs(), pattern, tally, days * DAY_MIN)
    return tally


def joined(unit: Unit, plans: Sequence[UnitPlan]) -> UnitPlan:
    """Return one plan out of plans of the same unit, each with some of its policies; as if planned together.

    Parameters
    ----------
    unit : Unit
        With all policies.
    plans : sequence of UnitPlan
        At least one, in order of the unit's policies.

    Returns
    -------
    UnitPlan

    Examples
    --------
    >>> from ergo.inputs.unit import parse_unit
    >>> from ergo.unit.team_lookup import TeamNeed
    >>> day = {"name": "day", "start_h": 0.0, "hours": 24.0, "people": [{"role": "nurse", "count": 2}]}
    >>> ward = {"name": "x", "beds": 2, "lifts": 0, "days": 1, "replications": 1, "shifts": [day]}
    >>> aids = [{"name": "a", "aid": "slide sheet"}, {"name": "b", "aid": "cotton draw sheet"}]
    >>> unit = parse_unit({**ward, "rounds": [{"procedure": "boost"}], "policies": aids})
    >>> parts = [unit.model_copy(update={"policies": (policy,)}) for policy in unit.policies]
    >>> def need(*case):
    ...     return TeamNeed(1, 1)
    >>> joined(unit, [plan_unit(part, need) for part in parts]) == plan_unit(unit, need)
    True
    """
    levels = tuple(level for plan in plans for level in plan.levels)
    needed = tuple(need for plan in plans for need in plan.needed)
    return replace(plans[0], unit=unit, levels=levels, needed=needed)


def plan_unit(
    unit: Unit,
    need: Need,
    folder: str | Path = ".",
    table: TeamTable | None = None,
    progress: Callable[[int, int], None] | None = None,
    patients: Census | None = None,
) -> UnitPlan:
    """Plan a unit: every aid policy with every staffing level, and the people that reach the target.

    Parameters
    ----------
    unit : Unit
    need : callable
        need(procedure, aid, mass_kg, sex, stature_m) -> TeamNeed: the team of one move within limits.
    folder : str or Path
        Where the census file lies.
    table : TeamTable, optional
        A table made before with `table_of`; then `need` is not asked.
    progress : callable, optional
        Called with the steps done and the steps in all.
    patients : Census, optional
        Patients read before; then no file is opened.

    Returns
    -------
    UnitPlan

    Raises
    ------
    InputError
        If the census file is wrong, or from `need`, if an aid cannot serve a procedure.

    Examples
    --------
    >>> from ergo.inputs.unit import parse_unit
    >>> from ergo.unit.team_lookup import TeamNeed
    >>> day = {"name": "day", "start_h": 0.0, "hours": 24.0, "people": [{"role": "nurse", "count": 5}]}
    >>> ward = {"name": "x", "beds": 2, "lifts": 0, "days": 1, "replications": 1, "shifts": [day]}
    >>> ward |= {"rounds": [{"procedure": "boost"}], "policies": [{"name": "a", "aid": "slide sheet"}]}
    >>> plan = plan_unit(parse_unit(ward), lambda *case: TeamNeed(1, 1))
    >>> plan.base("a").covered.mean, [(need.shift, need.people) for need in plan.needed]
    (1.0, [('day', 2)])
    """
    patients = patients_of(unit, folder) if patients is None else patients
    table = table_of(unit, need, patients) if table is None else table
    levels: list[Level] = []
    needed: list[PeopleNeeded] = []
    steps = len(unit.policies) * (len(unit.extra_people) + 1)
    for policy in unit.policies:
        seen: dict[int, list[Tally]] = {}

        def runs(
            extra: int,
            policy: AidPolicy = policy,
            seen: dict[int, list[Tally]] = seen,
            table: TeamTable = table,
        ) -> list[Tally]:
            if extra not in seen:
                numbers = range(unit.replications)
                seen[extra] = [simulate(unit, policy, table, patients, extra, n) for n in numbers]
            return seen[extra]

        for extra in unit.extra_people:
            levels.append(level_of(unit, policy, extra, runs(extra)))
            if progress:
                progress(len(levels) + len(needed) // len(unit.shifts), steps)
        needed += people_needed(unit, policy, runs)
        if progress:
            progress(len(levels) + len(needed) // len(unit.shifts), steps)
    defaults = unit_defaults(unit)
    sources = tuple(dict.fromkeys([*patients.sources, *(d.source for d in defaults if d.source)]))
    return UnitPlan(
        unit, tuple(levels), tuple(needed), patients.origin, tuple((r.column, r.reason) for r in
        patients.refused), unit.days, unit.replications, unit.seed, defaults, sources,
    )  # fmt: skip
