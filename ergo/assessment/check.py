"""A person's load held against every limit that speaks of it."""

from __future__ import annotations

from collections.abc import Container, Iterable
from dataclasses import dataclass

from ergo.assessment.asked import Demand
from ergo.assessment.load import PersonLoad
from ergo.limits.policy import Verdict, verdict_of
from ergo.limits.registry import LIMITS, Condition, Limit, NotApplicable, Quantity
from ergo.mechanics.demand import Effort

__all__ = ["LimitCheck", "checks", "worse"]

_NEGLIGIBLE_N = 1e-6


@dataclass(frozen=True, slots=True)
class LimitCheck:
    """One limit held against one person. `limit` and `ratio` are None where the limit does not apply."""

    key: str
    label: str
    quantity: Quantity
    who: str
    demand: float
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


def checks(
    asked: Demand, effort: Effort, load: PersonLoad, *, only: Container[str] | None = None
) -> Iterable[LimitCheck]:
    """Hold one person's load against every limit, or only those named, on a quantity that the effort has.

    Parameters
    ----------
    asked : Demand
    effort : Effort
    load : PersonLoad
        Of one person in that effort.
    only : container of str, optional
        Keys of limits; all when left out.

    Returns
    -------
    iterable of LimitCheck
        A limit that does not apply is there, with the reason.

    Examples
    --------
    >>> from ergo.assessment.asked import demand_of
    >>> from ergo.assessment.crew import crew_of
    >>> from ergo.assessment.load import shared
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> boost = parse_scenario({"name": "x", "procedure": "boost", "patient": patient})
    >>> asked = demand_of(boost)
    >>> effort = asked.moves[0][1][0]
    >>> (loads,) = shared(asked, [(effort, crew_of(boost, "left", 2), 0.5)])
    >>> (found,) = checks(asked, effort, loads[0], only=["spine_action"])
    >>> found.limit, found.unit, found.decides, found.ratio == found.demand / 3400.0
    (3400.0, 'N', True, True)
    """
    amounts = _amounts(effort, load)
    condition = _condition(asked, effort, load)
    for limit in LIMITS:
        if limit.quantity in amounts and (only is None or limit.key in only):
            yield _check(limit, condition, amounts[limit.quantity], load.who, limit.key in asked.policy.deciding)


def worse(one: LimitCheck | None, other: LimitCheck) -> LimitCheck:
    """Return the check with the higher ratio; one that applies before one that does not.

    Parameters
    ----------
    one : LimitCheck or None
        None where nothing was checked yet.
    other : LimitCheck

    Returns
    -------
    LimitCheck
    """
    if one is None or (other.ratio if other.ratio is not None else -1.0) > (
        one.ratio if one.ratio is not None else -1.0
    ):
        return other
    return one


def _amounts(effort: Effort, load: PersonLoad) -> dict[Quantity, float]:
    """Say which quantities an effort has at all; a limit on another quantity is silent about it."""
    body = load.body
    found: dict[Quantity, float] = {
        "L5/S1 compression": max(body.compression_n, 0.0),  # a spine that is drawn apart is not compressed
        "L5/S1 shear": abs(body.shear_n),
        "shoulder moment": abs(body.shoulder_moment_nm),
        "elbow moment": abs(body.elbow_moment_nm),
        "floor friction": body.floor_friction,
    }
    if effort.seconds > 0:
        found["hold time"] = effort.seconds
    if load.lift_n > _NEGLIGIBLE_N:
        found["upward force"] = load.lift_n
    if load.held_kg > 0:
        found["held mass"] = load.held_kg
    elif load.pull_n > _NEGLIGIBLE_N:
        level = load.pull_n / load.start_n
        found |= {"start force": load.pull_n, "hand force": load.pull_n, "steady force": load.steady_n * level}
    return found


def _condition(asked: Demand, effort: Effort, load: PersonLoad) -> Condition:
    policy, stated = asked.policy, asked.scenario.policy
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
    )


def _check(limit: Limit, condition: Condition, amount: float, who: str, decides: bool) -> LimitCheck:
    value = limit.value(condition)
    figure: float | None = None
    ratio: float | None = None
    verdict: Verdict = "not applicable"
    outside = False
    if isinstance(value, NotApplicable):
        note, outside = value.reason, value.outside
    else:
        note, figure = value.note, value.value
        ratio = amount / figure
        verdict = verdict_of(ratio)
    return LimitCheck(
        key=limit.key,
        label=limit.label,
        quantity=limit.quantity,
        who=who,
        demand=amount,
        limit=figure,
        unit=limit.unit,
        ratio=ratio,
        verdict=verdict,
        source=limit.source,
        known=limit.known,
        decides=decides,
        outside=outside,
        note=note,
        range=limit.range,
        edition=limit.edition,
    )
