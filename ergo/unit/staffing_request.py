"""The staffing request: people, posts and cost of a unit beside what it has."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date

from ergo.assessment import Assessment, demand_of, judge, largest_team
from ergo.evidence import source, sources, table
from ergo.inputs.unit import Unit
from ergo.limits.policy import Verdict
from ergo.teams.published_headcounts import headcount_words
from ergo.teams.team_search import one_more, smallest_typical
from ergo.unit.plan import UnitPlan
from ergo.unit.results import Estimate, Level, PeopleNeeded, cost_of, fte_of, percent_against
from ergo.unit.team_lookup import AssessedNeed

__all__ = [
    "AssessedForce",
    "ForceRow",
    "Headcount",
    "Option",
    "StaffingRequest",
    "Variation",
    "WorkRow",
    "answer_parts",
    "answer_sentence",
    "staffing_request",
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
    verdict: Verdict
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
    """Cost a year of the people added on all shifts at their own wage, with benefits."""


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
    plan: UnitPlan,
    policy: str = "",
    force: Callable[[str, str], Sequence[ForceRow]] | None = None,
    today: date | None = None,
) -> StaffingRequest:
    """Put the page together from a plan, for one aid policy; left out or unknown, the unit's first.

    force(procedure, aid) returns rows at n, n+1 and n+2 people against named limits; left out, those of the assessment
    for the unit's typical patient.
    """
    force = AssessedForce(plan.typical_patient) if force is None else force
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
    rows = tuple(row for p in procedures for row in force(p, chosen.aid_for(p)))
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
        for r in table("guidance_headcounts")
        if r["task"] in tasks
    )
    needed = tuple(
        f"{n.policy}, {n.shift}: "
        + (
            f"{n.people} people for handling cover {100 * unit.target:.0f} % of the moves"
            if n.people is not None
            else n.why
        )
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
        _review(unit.request.review_date, today or date.today()),
        (_pay_basis(unit), *(str(d) for d in plan.defaults)),
        tuple(f"{key}: {source(key).citation}" if key in sources() else key for key in cited),
        plan.cautions,
        unit.cost.currency,
        answer_sentence(plan, chosen.name),
        chosen.name,
    )


def _review(stated: date | None, today: date) -> str:
    """Return the date of the review; one that has passed is none."""
    if stated is None:
        return "a date to be set"
    return stated.isoformat() if stated >= today else f"a date to be set: {stated.isoformat()} has passed"


def _pay(unit: Unit) -> float:
    """Return the wage an hour of the people asked for: of their role where it is stated and paid on its own."""
    asked = [p for s in unit.shifts for p in s.people if p.role == unit.request.role and p.wage_per_h is not None]
    paid = sum(p.count * p.wage_per_h for p in asked if p.wage_per_h is not None)
    count = sum(p.count for p in asked)
    if not asked:
        return unit.cost.wage_per_h
    return paid / count if count else asked[0].wage_per_h or 0.0


def _pay_basis(unit: Unit) -> str:
    role = unit.request.role or "no role of the people asked for is stated: the wage under cost"
    return f"added pay: {role}, {unit.cost.currency} {_pay(unit):,.2f} per h"


def answer_sentence(plan: UnitPlan, policy: str) -> str:
    """Return the answer of a plan with one aid policy in one sentence and its reasons."""
    return "; ".join(answer_parts(plan, policy))


def answer_parts(plan: UnitPlan, policy: str) -> tuple[str, str]:
    """Return the people needed by shift and duty, and what present staffing covers, what is short, what is not done."""
    unit = plan.unit
    base = plan.base(policy)
    needed = [n for n in plan.needed if n.policy == policy]
    of = "present staffing" if base.extra_people == 0 else f"{base.extra_people:+d} on every shift"
    shares = [f"{s.shift} {percent_against(s.covered.mean, unit.target)} with {s.handlers}" for s in base.shifts]
    said = [f"{of} covers: {', '.join(shares)}"]
    for short in (s for s in plan.short if s.policy == policy):
        turned = ", ".join(
            f"{n.shift} {_count(before)} into {_count(after)}"
            for n, before, after in zip(needed, short.people_now, short.people, strict=True)
            if before != after
        )
        each = " on every shift" if short.duty == "airway lead" else ""
        said.append(f"{short.duty}s are short: one more{each} turns {turned}")
    lost = [(s.shift, s.not_served.mean, s.events.mean * plan.days) for s in base.shifts if s.not_served.mean > 0]
    said += [
        f"{shift}: {share_of(left, all_)} not served in this plan ({left:,.0f} of {all_:,.0f})"
        for shift, left, all_ in lost
    ]
    what = f"People for {100 * unit.target:.0f} % of moves on time: {', '.join(_people_words(n) for n in needed)}"
    why = f"{'; '.join(said)}. The moves are the work of {base.fte.mean:.1f} full-time equivalents."
    return what, why


def share_of(part: float, whole: float) -> str:
    """Return how many moves of all, as a percentage that says under 1 where it is more than none."""
    percent = 100.0 * part / whole
    return "under 1 % of the moves" if percent < 1.0 else f"{percent:.0f} % of the moves"


def _count(people: int | None) -> str:
    return "no number" if people is None else f"{people}"


def _people_words(need: PeopleNeeded) -> str:
    """Return the people of one shift by duty, with the range over the runs where they differ."""
    if need.people is None:
        return f"{need.shift} no number is enough"
    spread = ""
    if need.fewest != need.most:
        most = "an unknown number" if need.most is None else f"{need.most}"
        spread = f" ({need.fewest} to {most} over the runs)"
    leads = need.airway_leads
    with_leads = f" and {leads} airway lead{'' if leads == 1 else 's'}" if leads else ""
    return f"{need.shift} {need.people}{spread}{with_leads}"


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
        cost_of(hours, _pay(plan.unit), cost),
    )


def _sensitivity(plan: UnitPlan, base: Level) -> tuple[Variation, ...]:
    """Vary the minutes of every default between its ends: hours are in proportion to minutes."""
    found = []
    for default in plan.defaults:
        places = _kinds_of(plan.unit, default.field)
        if not places:
            continue
        hours = sum(base.tasks[at].people_minutes.mean for at in places) / 60.0
        low, high = default.low, default.high
        other = base.hours.mean - hours
        found.append(
            Variation(
                f"{default.field}, {base.tasks[places[0]].task}", low, high, other + hours * low / default.value,
                other + hours * high / default.value,
            )
        )  # fmt: skip
    return tuple(found)


def _kinds_of(unit: Unit, field: str) -> tuple[int, ...]:
    """Return which kinds of move have their minutes out of this field; none of a field that is no minutes."""
    rounds, planned, unplanned = len(unit.rounds), len(unit.planned), len(unit.unplanned)
    prone = rounds + planned + unplanned
    fields = {f"rounds.{i}.minutes": (i,) for i in range(rounds)}
    fields |= {f"planned.{i}.minutes": (rounds + i,) for i in range(planned)}
    fields |= {f"unplanned.{i}.minutes": (rounds + planned + i,) for i in range(unplanned)}
    places: dict[str, tuple[int, ...]] = {
        **fields, "prone.prone_turn_minutes": (prone,), "prone.return_minutes": (prone + 1, prone + 2),
    }  # fmt: skip
    return places.get(field, ())


_MORE = 2  # n, n + 1 and n + 2 people


@dataclass(frozen=True, slots=True)
class AssessedForce:
    """force(procedure, aid) -> rows at n, n + 1 and n + 2 people, against the limit that decides with n.

    n is the smallest team of the unit's typical patient, roles included. Where no team is enough the largest one
    is shown, with what it is over.

    >>> rows = AssessedForce((75.0, "F", 1.62))("boost", "slide sheet")
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
