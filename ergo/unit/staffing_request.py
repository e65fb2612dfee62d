"""The staffing request: people, posts and cost of a unit beside what it has."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from ergo.assessment import Assessment, demand_of, judge, largest_team
from ergo.evidence import source, sources, table
from ergo.inputs.census import Census
from ergo.teams.published_headcounts import headcount_words
from ergo.teams.team_search import one_more, smallest_typical
from ergo.unit.plan import UnitPlan
from ergo.unit.results import Estimate, Level, cost_of, fte_of
from ergo.unit.team_lookup import AssessedNeed

__all__ = [
    "AssessedForce",
    "ForceRow",
    "Headcount",
    "Option",
    "StaffingRequest",
    "Variation",
    "WorkRow",
    "answer_sentence",
    "staffing_request",
    "typical_patient",
]


CRITERION = "A move's team is the smallest that is within every deciding limit at typical values of all inputs."
"""As `AssessedNeed` looks for it: not at a probability, which would ask for more people."""


@dataclass(frozen=True, slots=True)
class ForceRow:
    """What is asked of the most loaded person of one move with n people, against the limit that decides.

    `force_n` and `limit_n` are in `unit`: newton, or kg where a held mass decides.
    """

    task: str
    people: int
    force_n: float
    limit: str
    limit_n: float
    verdict: str
    source: str
    unit: str = "N"


@dataclass(frozen=True, slots=True)
class WorkRow:
    """events a day x people x minutes = hours a day = FTE = cost a year."""

    task: str
    aid: str
    events: float
    people: float
    minutes: float
    hours: float
    fte: float
    cost: float


@dataclass(frozen=True, slots=True)
class Headcount:
    """A published number of people for a task."""

    task: str
    condition: str
    people: str
    source: str
    known: str


@dataclass(frozen=True, slots=True)
class Option:
    """One way to go, "do nothing" first."""

    name: str
    covered: Estimate
    wait_p95_min: float
    pull_p95_n_s: float
    people_to_pay_a_year: float
    """Cost a year of the people added on all shifts, wages with benefits."""


@dataclass(frozen=True, slots=True)
class Variation:
    """What one input at its low and at its high end makes of the hours a day."""

    what: str
    low: float
    high: float
    hours_low: float
    hours_high: float


@dataclass(frozen=True, slots=True)
class StaffingRequest:
    """The content of the page."""

    unit: str
    ask: str
    setting: str
    work: tuple[WorkRow, ...]
    total: WorkRow
    force: tuple[ForceRow, ...]
    published: tuple[Headcount, ...]
    options: tuple[Option, ...]
    needed: tuple[str, ...]
    sensitivity: tuple[Variation, ...]
    roles_and_backfill: str
    measures: tuple[str, ...]
    review_date: str
    assumptions: tuple[str, ...]
    sources: tuple[str, ...]
    cautions: tuple[str, ...]
    currency: str
    answer: str = ""
    policy: str = ""


def staffing_request(
    plan: UnitPlan, policy: str = "", force: Callable[[str, str], Sequence[ForceRow]] | None = None
) -> StaffingRequest:
    """Put the page together from a plan.

    Parameters
    ----------
    plan : UnitPlan
    policy : str
        The aid policy asked for; left out or unknown, the unit's first.
    force : callable, optional
        force(procedure, aid) -> rows at n, n+1 and n+2 people against named limits.

    Returns
    -------
    StaffingRequest

    Examples
    --------
    >>> from ergo.inputs.unit import parse_unit
    >>> from ergo.unit.plan import plan_unit
    >>> from ergo.unit.team_lookup import TeamNeed
    >>> day = {"name": "day", "start_h": 0.0, "hours": 24.0, "people": [{"role": "nurse", "count": 5}]}
    >>> ward = {"name": "x", "beds": 2, "lifts": 0, "days": 1, "replications": 1, "shifts": [day]}
    >>> ward |= {"jitter_min": 0.0, "minutes_spread": 0.0, "policies": [{"name": "a", "aid": "slide sheet"}]}
    >>> unit = parse_unit({**ward, "rounds": [{"procedure": "boost", "every_h": 4.0, "minutes": 5.0}]})
    >>> page = staffing_request(plan_unit(unit, lambda *case: TeamNeed(1, 1)))
    >>> page.total.events, page.total.people, page.total.minutes, page.total.hours  # 12 x 2 x 5 min = 2 h a day
    (12.0, 2.0, 5.0, 2.0)
    >>> page.needed
    ('a, day: 2 people for handling cover 95% of the moves',)
    """
    unit = plan.unit
    chosen = next((p for p in unit.policies if p.name == policy), unit.policies[0])
    levels = sorted(
        (v for v in plan.levels if v.policy == chosen.name),
        key=lambda v: (v.extra_people != 0, v.extra_people),
    )
    base = plan.base(chosen.name)
    wage = base.cost_a_year.mean / max(cost_of(base.hours.mean, 1.0, unit.cost), 1e-12)
    work = tuple(
        WorkRow(
            t.task, t.aid, t.events.mean, t.people.mean, t.minutes.mean, t.people_minutes.mean / 60.0,
            fte_of(t.people_minutes.mean / 60.0, unit.cost), cost_of(t.people_minutes.mean / 60.0, wage,
            unit.cost),
        )
        for t in base.tasks
    )  # fmt: skip
    events = sum(w.events for w in work)
    time = sum(w.events * w.minutes for w in work)
    total = WorkRow(
        "all moves", "", events, 60.0 * base.hours.mean / time if time else 0.0, time / events if events else 0.0,
        base.hours.mean, base.fte.mean, base.cost_a_year.mean,
    )  # fmt: skip
    procedures = dict.fromkeys(t.procedure for t in base.tasks)
    rows = tuple(row for p in procedures for row in force(p, chosen.aid_for(p))) if force else ()
    words = {"side-lying turn": "boost or side to side", "boost": "boost or side to side"}
    tasks = {words.get(p, p) for p in procedures}
    published = tuple(
        Headcount(
            r["task"],
            ", ".join(c for c in (r["patient_condition"], r["aid"]) if c),
            headcount_words(r),
            r["source"],
            r["known"],
        )
        for r in (*table("guidance_headcounts"), *table("usual_headcounts"))
        if r["task"] in tasks
    )
    needed = tuple(
        f"{n.policy}, {n.shift}: "
        + (f"{n.people} people for handling cover {unit.target:.0%} of the moves" if n.people is not None else n.why)
        for n in plan.needed
    )
    staff = ", ".join(f"{s.name} {s.count('handling')} + {s.count('airway lead')} airway lead" for s in unit.shifts)
    cited = dict.fromkeys([*plan.sources, *(r.source for r in rows), *(p.source for p in published)])
    return StaffingRequest(
        unit.name,
        unit.request.ask,
        f"{unit.occupied} of {unit.beds} beds occupied; people who can come to a move: {staff}; aids: "
        f"{chosen.name}; patients: {plan.patients}; {plan.replications} runs of {plan.days} days, seed "
        f"{plan.seed}. {CRITERION}",
        work,
        total,
        rows,
        published,
        tuple(_option(plan, level) for level in levels),
        needed,
        _sensitivity(plan, base),
        unit.request.roles_and_backfill,
        unit.request.measures,
        unit.request.review_date.isoformat() if unit.request.review_date else "a date to be set",
        tuple(str(d) for d in plan.defaults),
        tuple(f"{key}: {source(key).citation}" if key in sources() else key for key in cited),
        plan.cautions,
        unit.cost.currency,
        answer_sentence(plan, chosen.name),
        chosen.name,
    )


def answer_sentence(plan: UnitPlan, policy: str) -> str:
    """Return the answer of a plan with one aid policy in one sentence.

    Parameters
    ----------
    plan : UnitPlan
    policy : str
        The name of one of the unit's policies.

    Returns
    -------
    str
        People needed by shift for the unit's target, the share covered now, and FTE.

    Raises
    ------
    ValueError
        If the plan holds no such policy.

    Examples
    --------
    >>> from ergo.inputs.unit import parse_unit
    >>> from ergo.unit.plan import plan_unit
    >>> from ergo.unit.team_lookup import TeamNeed
    >>> day = {"name": "day", "start_h": 0.0, "hours": 24.0, "people": [{"role": "nurse", "count": 5}]}
    >>> ward = {"name": "x", "beds": 2, "lifts": 0, "days": 1, "replications": 1, "shifts": [day]}
    >>> ward |= {"rounds": [{"procedure": "boost"}], "policies": [{"name": "a", "aid": "slide sheet"}]}
    >>> answer_sentence(plan_unit(parse_unit(ward), lambda *case: TeamNeed(1, 1)), "a").split(";")[0]
    'People for 95% of moves on time: day 2'
    """
    unit = plan.unit
    base = plan.base(policy)
    needed = [n for n in plan.needed if n.policy == policy]
    said = ", ".join(f"{n.shift} {'no number' if n.people is None else n.people}" for n in needed)
    now = " and ".join(f"{s.handlers}" for s in base.shifts)
    return (
        f"People for {unit.target:.0%} of moves on time: {said}; the {now} of now cover {base.covered.mean:.0%}. "
        f"The moves are the work of {base.fte.mean:.1f} full-time equivalents."
    )


def _option(plan: UnitPlan, level: Level) -> Option:
    cost = plan.unit.cost
    more = level.extra_people
    hours = sum(s.hours for s in plan.unit.shifts) * more
    name = "do nothing" if more == 0 else f"{abs(more)} {'more' if more > 0 else 'fewer'} on every shift"
    return Option(
        name,
        level.covered,
        max(s.wait_p95_min.mean for s in level.shifts),
        max(s.pull_p95_n_s.mean for s in level.shifts),
        cost_of(hours, cost.wage_per_h, cost),
    )


def _sensitivity(plan: UnitPlan, base: Level) -> tuple[Variation, ...]:
    """Vary the minutes of every default between its ends: hours are in proportion to minutes."""
    found = []
    for default in plan.defaults:
        if not default.field.endswith("minutes"):
            continue
        kinds = _kinds_of(plan, default.field)
        hours = sum(t.people_minutes.mean for t in base.tasks if t.task in kinds) / 60.0
        low, high = default.low, default.high
        other = base.hours.mean - hours
        found.append(
            Variation(
                f"{default.field}, {kinds[0]}", low, high, other + hours * low / default.value,
                other + hours * high / default.value,
            )
        )  # fmt: skip
    return tuple(found)


def _kinds_of(plan: UnitPlan, field: str) -> tuple[str, ...]:
    """Return the kinds of move whose minutes a field holds."""
    if field.startswith("prone."):
        turn = "prone_turn" in field
        return ("prone turn",) if turn else ("return to supine", "return to supine now")
    kind, at, _ = field.split(".")
    return (f"{getattr(plan.unit, kind)[int(at)].procedure}, {kind}",)


_MORE = 2  # n, n + 1 and n + 2 people


def typical_patient(patients: Census) -> tuple[float, str, float]:
    """Return median mass [kg], the more frequent sex, and that sex's median stature [m].

    Parameters
    ----------
    patients : Census
        At least one; where women and men are as many, a woman.

    Returns
    -------
    (float [kg], "F" or "M", float [m])
        The mass is the median of all, not of that sex.

    Examples
    --------
    >>> from ergo.unit.population import draw_population
    >>> mass, sex, stature = typical_patient(draw_population(400, 0.9, 1))
    >>> sex, 60 < mass < 95, 1.5 < stature < 1.7
    ('F', True, True)
    """
    woman = bool(patients.women.mean() >= 0.5)
    alike = patients.women == woman
    return float(np.median(patients.mass_kg)), "F" if woman else "M", float(np.median(patients.stature_m[alike]))


@dataclass(frozen=True, slots=True)
class AssessedForce:
    """force(procedure, aid) -> rows at n, n + 1 and n + 2 people, against the limit that decides with n.

    n is the smallest team of the unit's typical patient, roles included. Where no team is enough the largest one
    is shown, with what it is over.

    Parameters
    ----------
    patient : (float, str, float)
        Mass [kg], sex and stature [m]; see `typical_patient`.
    need : AssessedNeed
        Whose template says bed, places, sharing and policy.

    Examples
    --------
    >>> from ergo.unit.population import draw_population
    >>> rows = AssessedForce(typical_patient(draw_population(50, 0.5, 1)))("boost", "slide sheet")
    >>> [row.people - rows[0].people for row in rows], rows[0].verdict in ("within", "close")
    ([0, 1, 2], True)
    """

    patient: tuple[float, str, float]
    need: AssessedNeed = field(default_factory=AssessedNeed)

    def __call__(self, procedure: str, aid: str) -> Sequence[ForceRow]:
        """Return the rows of one move with one aid; InputError if the aid cannot serve it."""
        demand = demand_of(self.need.scenario(procedure, aid, *self.patient))
        found = smallest_typical(demand)
        if found is None:
            teams = [judge(demand, *largest_team(demand))]
        else:
            teams = [found]
            while len(teams) <= _MORE and (following := one_more(demand, teams[-1])):
                teams.append(following)
        first = teams[0].deciding
        return [_row(procedure, team, first.key if first else "") for team in teams]


def _row(procedure: str, team: Assessment, key: str) -> ForceRow:
    """Hold a team against one limit; its verdict is that of all limits."""
    checks = [c for move in team.moves for c in move.limits if c.key == key and c.ratio is not None]
    top = max(checks, key=lambda c: c.ratio or 0.0, default=None)
    if top is None or top.limit is None:
        return ForceRow(procedure, team.people, 0.0, "no limit covers this move", 0.0, team.verdict, "", "N")
    return ForceRow(procedure, team.people, top.amount, top.label, top.limit, team.verdict, top.source, top.unit)
