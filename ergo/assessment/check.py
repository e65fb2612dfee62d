"""A person's load held against every limit that speaks of it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from ergo.assessment.demand import Demand
from ergo.assessment.load import PersonLoad
from ergo.handlers.person import Person
from ergo.limits.policy import Verdict, severity, verdict_of
from ergo.limits.registry import LIMITS, Condition, Limit, NotApplicable, Quantity, Value
from ergo.mechanics.demand import Effort
from ergo.units import Units

__all__ = ["NEGLIGIBLE_N", "LimitCheck", "LimitComparison", "checks", "compare_with_limits", "worst_checks"]

NEGLIGIBLE_N = 1e-6
"""A force that nobody gives [N]: rounding."""


@dataclass(frozen=True, slots=True)
class LimitCheck:
    """One limit held against one person. `limit` and `ratio` are None where the limit does not apply."""

    key: str
    label: str
    quantity: Quantity
    person: Person
    amount: float
    limit: float | None
    unit: str
    ratio: float | None
    verdict: Verdict
    source: str
    known: str
    decides: bool
    outside: bool
    note: str
    range: str = ""
    edition: str = ""
    protects: str = ""
    task: str = ""
    found: Value | NotApplicable | None = None
    """What the note says, in any unit."""

    def note_in(self, units: Units) -> str:
        """Return the note in the reader's units."""
        return self.found.said(units) if self.found else self.note


class LimitComparison(NamedTuple):
    """A limit held against an amount: its value or why there is none, and the ratio of the two where there is one."""

    limit: Limit
    amount: float
    value: Value | NotApplicable
    ratio: float | None


def compare_with_limits(
    demand: Demand, effort: Effort, load: PersonLoad, limits: Iterable[Limit] = LIMITS
) -> Iterator[LimitComparison]:
    """Hold one person's load against every limit on a quantity that the effort has: amount over limit."""
    amounts = _amounts(effort, load)
    condition = _condition(demand, effort, load)
    for limit in limits:
        if limit.quantity in amounts:
            amount, value = amounts[limit.quantity], limit.value(condition)
            yield LimitComparison(
                limit, amount, value, None if isinstance(value, NotApplicable) else amount / value.value
            )


def checks(demand: Demand, effort: Effort, load: PersonLoad, limits: Iterable[Limit] = LIMITS) -> Iterable[LimitCheck]:
    """Do as `compare_with_limits`, with all that a reader wants to know; a limit that does not apply says why."""
    return (_check(found, load.person, demand) for found in compare_with_limits(demand, effort, load, limits))


def worst_checks(
    demand: Demand, done: Iterable[tuple[Effort, PersonLoad]], limits: Sequence[Limit] = LIMITS
) -> tuple[LimitCheck, ...]:
    """Return each limit once, held against the person nearest to it or furthest over; one for nobody says why.

    Only those are written out: a team is held against a dozen limits in a dozen efforts.

    >>> from ergo.assessment import assess, demand_of
    >>> from ergo.inputs import examples
    >>> boost = examples.boost()
    >>> done = [(one.effort, load) for one in assess(boost).moves[0].efforts for load in one.loads]
    >>> found = {check.key: check for check in worst_checks(demand_of(boost), done)}
    >>> found["spine_lower_limit"].amount == max(load.body.compression_n for _, load in done)
    True
    """
    worst: dict[str, tuple[LimitComparison, Person]] = {}
    for effort, load in done:
        for found in compare_with_limits(demand, effort, load, limits):
            known = worst.get(found.limit.key)
            # the first of equals, and one that applies before one that does not
            if known is None or severity(found.ratio) > severity(known[0].ratio):
                worst[found.limit.key] = found, load.person
    return tuple(_check(found, person, demand) for found, person in worst.values())


def _amounts(effort: Effort, load: PersonLoad) -> dict[Quantity, float]:
    """Say which quantities an effort has at all; a limit on another quantity is silent about it.

    What is not a number counts as there: it is over every limit, not silent.
    """
    body = load.body
    found: dict[Quantity, float] = {
        "L5/S1 compression": max(body.compression_n, 0.0),  # a spine that is drawn apart is not compressed
        "L5/S1 shear": abs(body.shear_n),
        "shoulder moment": abs(body.shoulder_moment_nm),
        "elbow moment": abs(body.elbow_moment_nm),
        "floor friction": body.floor_friction,
    }
    if not effort.seconds <= 0 and not effort.hold_n <= 0:
        found["hold time"] = effort.seconds
    if not load.lift_n <= NEGLIGIBLE_N:
        found["upward force"] = load.lift_n
    if not load.held_kg <= 0:
        found["held mass"] = load.held_kg
    elif not abs(load.pull_n) <= NEGLIGIBLE_N:
        level = abs(load.pull_n)
        found |= {"start force": level, "hand force": level}
        if not load.steady_n <= 0:  # while a slide lasts
            found["steady force"] = load.steady_n * level / load.start_n
    return found


def _condition(demand: Demand, effort: Effort, load: PersonLoad) -> Condition:
    policy, stated = demand.policy, demand.scenario.policy
    return Condition(
        sex=policy.sex or load.sex,
        percent=policy.percent,
        minutes_between=stated.minutes_between_efforts,
        loadings_per_day=stated.loadings_per_day,
        hand_height_m=load.hand_height_m,
        extended_arm=load.body.extended_arm,
        shoulder_over_bed_m=load.body.shoulder_over_bed_m,
        shoulder_moment_nm=load.body.shoulder_moment_nm,
        hands=effort.hands,
        seconds=effort.seconds,
        site_limit_n=stated.site_limit_n,
        elbow_moment_nm=load.body.elbow_moment_nm,
        reach_m=load.reach_m,
        stature_m=load.person.stature_m,
        steepness_deg=math.degrees(math.atan2(load.lift_n, abs(load.pull_n))),
        moving=bool(effort.hold_n <= 0),
        held_share=load.held_share,
        held_mass=load.held_kg > 0,
        held_head=effort.role == "holds the head",
        own_sex=load.sex,
        kind="push" if load.pull_n < -NEGLIGIBLE_N else "pull",
    )


def _check(found: LimitComparison, person: Person, demand: Demand) -> LimitCheck:
    limit, amount, value, ratio = found
    standing = (value.standing if isinstance(value, Value) else None) or limit.standing
    return LimitCheck(
        key=limit.key,
        label=limit.label,
        quantity=limit.quantity,
        person=person,
        amount=amount,
        limit=value.value if isinstance(value, Value) else None,
        unit=limit.unit,
        ratio=ratio,
        verdict=verdict_of(ratio) if ratio is not None else "not applicable",
        source=standing.source,
        known=standing.known,
        decides=limit.key in demand.policy.deciding,
        outside=isinstance(value, NotApplicable) and value.outside,
        note=value.said(),
        range=limit.range,
        edition=limit.edition,
        found=value,
        protects=limit.who,
        task=limit.task,
    )
