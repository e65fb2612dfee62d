"""A purchase: what each option costs, what its minutes are worth, when it pays back, and how sure that is."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ergo.evidence import row
from ergo.inputs.purchase import Option, Purchase, Ranged, purchase_defaults
from ergo.inputs.schema import Default
from ergo.purchases.finance import break_even_events, npv, payback_years
from ergo.uncertainty.distributions import triangle_value
from ergo.unit.work import Progress, tell

__all__ = [
    "Band",
    "MoveShare",
    "OneWay",
    "OptionCase",
    "PurchaseCase",
    "compare_purchase",
]

DRAWS_LOG2 = 12  # 4096 points of a Sobol sequence
Array = NDArray[np.float64]
Inputs = Mapping[str, Array]
MoveShare = Callable[[str, str], tuple[Ranged, Ranged] | None]
"""people_and_minutes(procedure, option name) out of an assessment; None keeps what the file states."""


@dataclass(frozen=True, slots=True)
class Band:
    """A figure with all inputs typical, and the 5th, 50th and 95th percentile over their ranges."""

    typical: float
    p5: float
    p50: float
    p95: float


@dataclass(frozen=True, slots=True)
class OneWay:
    """The net present value with one input at its low and at its high end, all others typical."""

    what: str
    low: float
    high: float
    npv_low: float
    npv_high: float


@dataclass(frozen=True, slots=True)
class OptionCase:
    """One option against present practice; money in the purchase's currency."""

    name: str
    kind: str
    first_cost: Band
    yearly_cost: Band
    """Items, laundering, service and rent a year, without people."""
    cost_per_event: Band
    people_hours: Band
    """Hours of people a year in the moves."""
    hours_saved: Band
    yearly_saving: Band
    total_with: Band
    """Cost over the horizon, not discounted, people and injuries included."""
    total_without: Band
    npv: Band
    payback: Band
    """Years; infinite if the yearly saving is never positive."""
    break_even_events: Band
    """Events a year from which the net present value is positive; infinite if none."""
    probability_npv_positive: float
    one_way: tuple[OneWay, ...]
    capacity: str
    """Empty, or why the option must not be used for the heaviest patient."""
    unmeasured: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PurchaseCase:
    """The answer for a purchase, with what it rests on."""

    purchase: Purchase
    options: tuple[OptionCase, ...]
    injury_evidence: str
    injury_assumption: str
    defaults: tuple[Default, ...]
    sources: tuple[str, ...]
    draws: int
    seed: int


def _ranges(purchase: Purchase, moves: dict[tuple[str, str], tuple[Ranged, Ranged]]) -> dict[str, Ranged]:
    """Name every input that has a range."""
    found = {
        "wage": purchase.wage_per_h,
        "share of saved time that is realised": purchase.realised_share,
        "patients a year": purchase.patients_a_year,
    }
    for volume in purchase.volumes:
        found[f"{volume.procedure}s a year"] = volume.events_a_year
    for option in purchase.options:
        for field in (
            "price", "uses_per_item", "laundering_per_use", "pump_price", "training_hours", "start_cost",
            "yearly_cost", "rent_per_day", "rented_days_a_year",
        ):  # fmt: skip
            value = getattr(option, field)
            if value is not None:
                found[f"{option.name}: {field.replace('_', ' ')}"] = value
        for volume in purchase.volumes:
            people, minutes = moves[option.name, volume.procedure]
            found[f"{option.name}: people, {volume.procedure}"] = people
            found[f"{option.name}: minutes, {volume.procedure}"] = minutes
    if purchase.injury:
        found["injury claims a year"] = purchase.injury.claims_a_year
        found["share of claims avoided"] = purchase.injury.reduction
    return found


def _draw(ranges: Mapping[str, Ranged], seed: int) -> dict[str, Array]:
    """Draw every input from a triangle over its range, on a scrambled Sobol sequence."""
    from scipy.stats import qmc  # loaded here because it takes longer than everything else together

    points = qmc.Sobol(len(ranges), seed=seed).random_base2(DRAWS_LOG2)
    columns = zip(ranges.items(), points.T, strict=True)
    return {name: triangle_value(u, *ranged.ends) for (name, ranged), u in columns}


@dataclass(frozen=True, slots=True, eq=False)
class _Costs:
    """What one option costs: once, a year whatever the volume, and a year in proportion to it."""

    first: Array
    fixed: Array
    items: Array
    people_hours: Array
    people_cost: Array
    injury_cost: Array


def _costs(purchase: Purchase, option: Option, x: Inputs) -> _Costs:
    def of(field: str) -> Array | float:
        return x.get(f"{option.name}: {field}", np.zeros(1))

    paid_hour = x["wage"] / (1.0 - purchase.benefits_share)
    events = {v.procedure: x[f"{v.procedure}s a year"] for v in purchase.volumes}
    total = sum(events.values(), np.zeros(1))
    hours = sum(
        (
            count * x[f"{option.name}: people, {name}"] * x[f"{option.name}: minutes, {name}"] / 60.0
            for name, count in events.items()
        ),
        np.zeros(1),
    )
    if option.use == "single-patient":
        items = of("price") * x["patients a year"]
    elif option.uses_per_item is not None:
        items = of("price") * total / of("uses per item")
    else:
        items = np.zeros(1)
    first = (
        of("price") * option.items
        + of("pump price") * option.pumps
        + of("training hours") * paid_hour
        + of("start cost")
    )
    injury = purchase.injury
    claims = np.zeros(1)
    if injury:
        kept = 1.0 - x["share of claims avoided"] if injury.option == option.name else 1.0
        claims = x["injury claims a year"] * injury.claim_cost * kept
    return _Costs(
        np.asarray(first),
        np.asarray(of("yearly cost") + of("rent per day") * of("rented days a year")),
        np.asarray(items + of("laundering per use") * total),
        hours,
        hours * paid_hour,
        np.asarray(claims),
    )


def _figures(purchase: Purchase, option: Option, x: Inputs) -> dict[str, Array]:
    """Compute all figures of one option for arrays of inputs."""
    years, rate = int(purchase.horizon_years), purchase.discount_rate
    before, after = _costs(purchase, purchase.options[0], x), _costs(purchase, option, x)
    total = sum((x[f"{v.procedure}s a year"] for v in purchase.volumes), np.zeros(1))
    saved_hours = before.people_hours - after.people_hours
    saved_people = (before.people_cost - after.people_cost) * x["share of saved time that is realised"]
    in_proportion = saved_people + before.items - after.items
    fixed = after.fixed - before.fixed - (before.injury_cost - after.injury_cost)
    saving = in_proportion - fixed
    first = after.first - before.first
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        per_event = np.where(total > 0, in_proportion / total, 0.0)
        cost_per_event = np.where(total > 0, (after.items + after.fixed + after.first / years) / total, np.inf)
    without = before.first + years * (before.items + before.fixed + before.people_cost + before.injury_cost)
    return {
        "first_cost": after.first,
        "yearly_cost": after.items + after.fixed,
        "cost_per_event": cost_per_event,
        "people_hours": after.people_hours,
        "hours_saved": saved_hours,
        "yearly_saving": saving,
        "total_with": without + first - years * saving,
        "total_without": without,
        "npv": npv(first, saving, rate, years),
        "payback": payback_years(first, saving),
        "break_even_events": break_even_events(first, fixed, per_event, rate, years),
    }


def compare_purchase(
    purchase: Purchase, people_and_minutes: MoveShare | None = None, progress: Progress | None = None
) -> PurchaseCase:
    """Compare every option of a purchase with present practice.

    Parameters
    ----------
    purchase : Purchase
    people_and_minutes : callable, optional
        people_and_minutes(procedure, option name) -> people and minutes with their ranges, out of an
        assessment; None from it keeps what the file states.
    progress : callable, optional
        progress(part) -> bool: told the part done, 0 to 1; where it returns False the work stops within a second.

    Returns
    -------
    PurchaseCase
        The first option is present practice against itself: nothing saved.

    Raises
    ------
    StoppedError
        If `progress` said stop.

    Notes
    -----
    Money: people-minutes x wage / (1 - benefits share), of which the realised share counts as saved.
    Laundering and items of a reusable aid go with the events, those of a single-patient aid with the patients,
    and both in proportion to the volume in the break-even. Ranges: triangles over low, typical and high,
    independent of each other, on 4096 points of a Sobol sequence.

    Examples
    --------
    Two people fewer for 3 minutes, 6000 times a year, are 600 h; at 40 / (1 - 0.2) an hour and half of it
    realised, 15,000.

    >>> from ergo.inputs.purchase import parse_purchase
    >>> def option(name, kind, price, people, items):
    ...     boost = {"procedure": "boost", "people": {"typical": people}, "minutes": {"typical": 3.0}}
    ...     return {"name": name, "kind": kind, "price": {"typical": price}, "items": items, "moves": [boost]}
    >>> aid = compare_purchase(parse_purchase({
    ...     "name": "x", "currency": "€", "wage_per_h": {"typical": 40.0}, "wage_basis": "x", "benefits_share": 0.2,
    ...     "realised_share": {"typical": 0.5}, "patients_a_year": {"typical": 100.0}, "heaviest_patient_kg": 150.0,
    ...     "volumes": [{"procedure": "boost", "events_a_year": {"typical": 6000.0}}],
    ...     "options": [option("now", "present practice", 0.0, 4.0, 0), option("aid", "aid", 500.0, 2.0, 12)],
    ... })).options[1]
    >>> [round(band.typical, 2) for band in (aid.hours_saved, aid.yearly_saving, aid.first_cost, aid.payback)]
    [600.0, 15000.0, 6000.0, 0.4]
    """
    moves: dict[tuple[str, str], tuple[Ranged, Ranged]] = {}
    for option in purchase.options:
        for move in option.moves:
            computed = people_and_minutes(move.procedure, option.name) if people_and_minutes else None
            moves[option.name, move.procedure] = computed or (move.people, move.minutes)
    ranges = _ranges(purchase, moves)
    drawn = _draw(ranges, purchase.seed)
    typical = {name: np.array([ranged.typical]) for name, ranged in ranges.items()}
    injury = purchase.injury
    cases: list[OptionCase] = []
    for option in purchase.options:
        tell(progress, len(cases) / len(purchase.options))
        cases.append(_case(purchase, option, ranges, typical, drawn))
    return PurchaseCase(
        purchase,
        tuple(cases),
        _injury_evidence(),
        f"{injury.option}: {injury.reduction.typical:.0%} fewer claims, {injury.reason}"
        if injury
        else "none: no injury is counted in any option",
        purchase_defaults(purchase),
        tuple(dict.fromkeys(d.source for d in purchase_defaults(purchase) if d.source)),
        2**DRAWS_LOG2,
        purchase.seed,
    )


def _injury_evidence() -> str:
    found = row("staffing_and_cost", item="injury change after programmes")
    return f"{found['value']} ({found['source']}); {found['note']}"


def _case(
    purchase: Purchase, option: Option, ranges: Mapping[str, Ranged], typical: Inputs, drawn: Inputs
) -> OptionCase:
    one = _figures(purchase, option, typical)
    many = _figures(purchase, option, drawn)

    def band(name: str) -> Band:
        # "lower" picks a drawn value: an interpolation with infinity would not be a number
        p5, p50, p95 = np.quantile(many[name], [0.05, 0.5, 0.95], method="lower")
        return Band(float(one[name][0]), float(p5), float(p50), float(p95))

    swings = []
    for name, ranged in ranges.items():
        low, _, high = ranged.ends
        if low == high:
            continue
        ends = _figures(purchase, option, {**typical, name: np.array([low, high])})["npv"]
        if ends[0] != ends[-1]:
            swings.append(OneWay(name, low, high, float(ends[0]), float(ends[-1])))
    swings.sort(key=lambda s: -abs(s.npv_high - s.npv_low))
    limit = option.rated_capacity_kg
    over = limit is not None and purchase.heaviest_patient_kg > limit
    return OptionCase(
        option.name,
        option.kind,
        **{name: band(name) for name in one},
        probability_npv_positive=float(np.mean(many["npv"] > 0)),
        one_way=tuple(swings),
        capacity=f"rated for {limit:g} kg: not for a patient of {purchase.heaviest_patient_kg:g} kg" if over else "",
        unmeasured=_unmeasured(option),
    )


def _unmeasured(option: Option) -> tuple[str, ...]:
    """List what nobody measured of an option."""
    known = option.friction_known in ("measured", "does not apply")
    found = [] if known else [f"friction ({option.friction_known})"]
    if option.rated_capacity_kg is None:
        found.append("rated capacity not stated")
    found += [f"{m.procedure}: basis of people and minutes not stated" for m in option.moves if not m.basis]
    found += [f"{m.procedure}: people and minutes: {m.basis}" for m in option.moves if "invented" in m.basis]
    return tuple(found)
