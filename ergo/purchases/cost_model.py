"""A purchase: what each option costs, what its minutes are worth, when it pays back, and how sure that is."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ergo.evidence import row
from ergo.inputs.purchase import MoveWith, Option, Purchase, Ranged, purchase_defaults
from ergo.inputs.schema import Default
from ergo.purchases.finance import break_even_events, npv, payback_years
from ergo.purchases.modelled_moves import BASIS, modelled_move
from ergo.uncertainty.distributions import triangle_value
from ergo.unit.computing_time import Progress, tell

__all__ = [
    "Band",
    "MoveShare",
    "OneWay",
    "OptionCase",
    "PurchaseCase",
    "compare_purchase",
]

_BOTH = 2  # people and minutes
DRAWS_LOG2 = 12  # 4096 points of a Sobol sequence
Array = NDArray[np.float64]
Inputs = Mapping["Key", Array]
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


Key = tuple[str | int, ...]
"""("wage",), ("volume", number), ("price", option), ("people", option, number of the volume), ..."""

_FIELDS = (
    "price", "uses_per_item", "laundering_per_use", "pump_price", "training_hours", "start_cost",
    "yearly_cost", "rent_per_day", "rented_days_a_year",
)  # fmt: skip
_WORDS = {
    "wage": "wage",
    "realised": "share of saved time that is realised",
    "patients": "patients a year",
    "claims": "injury claims a year",
    "avoided": "share of claims avoided",
}


def _words(purchase: Purchase, key: Key) -> str:
    """Return the name of an input for the eye."""
    what, *places = key
    if what == "volume":
        return f"{purchase.volumes[int(places[0])].procedure}s a year"
    if not places:
        return _WORDS[str(what)]
    move = f", {purchase.volumes[int(places[1])].procedure}" if len(places) > 1 else ""
    return f"{purchase.options[int(places[0])].name}: {str(what).replace('_', ' ')}{move}"


def _ranges(purchase: Purchase, moves: dict[tuple[int, str], tuple[Ranged, Ranged]]) -> dict[Key, Ranged]:
    """List every input that has a range."""
    found: dict[Key, Ranged] = {
        ("wage",): purchase.wage_per_h,
        ("realised",): purchase.realised_share,
        ("patients",): purchase.patients_a_year,
    }
    for i, volume in enumerate(purchase.volumes):
        found["volume", i] = volume.events_a_year
    for at, option in enumerate(purchase.options):
        for field in _FIELDS:
            value = getattr(option, field)
            if value is not None:
                found[field, at] = value
        for i, volume in enumerate(purchase.volumes):
            found["people", at, i], found["minutes", at, i] = moves[at, volume.procedure]
    if purchase.injury:
        found["claims",] = purchase.injury.claims_a_year
        found["avoided",] = purchase.injury.reduction
    return found


def _draw(ranges: Mapping[Key, Ranged], seed: int) -> dict[Key, Array]:
    """Draw every input from a triangle over its range, on a scrambled Sobol sequence."""
    from scipy.stats import qmc  # loaded here because it takes longer than everything else together

    points = qmc.Sobol(len(ranges), seed=seed).random_base2(DRAWS_LOG2)
    columns = zip(ranges.items(), points.T, strict=True)
    return {name: triangle_value(u, *ranged.ends) for (name, ranged), u in columns}


@dataclass(frozen=True, slots=True, eq=False)
class _Costs:
    """What one option costs: once, a year whatever the moves, and a year in proportion to them."""

    first: Array
    fixed: Array
    patient_items: Array
    move_items: Array
    people_hours: Array
    people_cost: Array
    injury_cost: Array


def _costs(purchase: Purchase, at: int, x: Inputs) -> _Costs:
    option = purchase.options[at]

    def of(field: str) -> Array:
        return x.get((field, at), np.zeros(1))

    paid_hour = x["wage",] / (1.0 - purchase.benefits_share)
    events = [x["volume", i] for i in range(len(purchase.volumes))]
    total = sum(events, np.zeros(1))
    hours = sum(
        (count * x["people", at, i] * x["minutes", at, i] / 60.0 for i, count in enumerate(events)),
        np.zeros(1),
    )
    of_patients = of("price") * x["patients",] if option.use == "single-patient" else np.zeros(1)
    replaced = of("price") * total / of("uses_per_item") if option.uses_per_item is not None else np.zeros(1)
    first = (
        of("price") * option.items
        + of("pump_price") * option.pumps
        + of("training_hours") * paid_hour
        + of("start_cost")
    )
    injury = purchase.injury
    claims = np.zeros(1)
    if injury:
        kept = 1.0 - x["avoided",] if injury.option == option.name else 1.0
        claims = x["claims",] * injury.claim_cost * kept
    return _Costs(
        np.asarray(first),
        np.asarray(of("yearly_cost") + of("rent_per_day") * of("rented_days_a_year")),
        np.asarray(of_patients),
        np.asarray(replaced + of("laundering_per_use") * total),
        hours,
        hours * paid_hour,
        np.asarray(claims),
    )


def _figures(purchase: Purchase, at: int, x: Inputs) -> dict[str, Array]:
    """Compute all figures of one option for arrays of inputs."""
    years, rate = int(purchase.horizon_years), purchase.discount_rate
    before, after = _costs(purchase, 0, x), _costs(purchase, at, x)
    total = sum((x["volume", i] for i in range(len(purchase.volumes))), np.zeros(1))
    saved_hours = before.people_hours - after.people_hours
    saved_people = (before.people_cost - after.people_cost) * x["realised",]
    in_proportion = saved_people + before.move_items - after.move_items
    of_patients = after.patient_items - before.patient_items
    fixed = after.fixed - before.fixed + of_patients - (before.injury_cost - after.injury_cost)
    saving = in_proportion - fixed
    now, items = before.patient_items + before.move_items, after.patient_items + after.move_items
    first = after.first - before.first
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        per_event = np.where(total > 0, in_proportion / total, 0.0)
        cost_per_event = np.where(total > 0, (items + after.fixed + after.first / years) / total, np.inf)
    without = before.first + years * (now + before.fixed + before.people_cost + before.injury_cost)
    return {
        "first_cost": after.first,
        "yearly_cost": items + after.fixed,
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
    who stay as stated in the break-even: there only the moves a year vary. People and minutes that the file leaves out
    come from the model. Ranges: triangles over low, typical and high, independent of each other, on 4096 points of a
    Sobol sequence.

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
    moves: dict[tuple[int, str], tuple[Ranged, Ranged]] = {}
    for at, option in enumerate(purchase.options):
        for move in option.moves:
            tell(progress, 0.0)
            given = people_and_minutes(move.procedure, option.name) if people_and_minutes else None
            moves[at, move.procedure] = given or _people_and_minutes(option, move)
    ranges = _ranges(purchase, moves)
    drawn = _draw(ranges, purchase.seed)
    typical = {name: np.array([ranged.typical]) for name, ranged in ranges.items()}
    injury = purchase.injury
    cases: list[OptionCase] = []
    for at in range(len(purchase.options)):
        tell(progress, at / len(purchase.options))
        cases.append(_case(purchase, at, ranges, typical, drawn))
    tell(progress, 1.0)
    return PurchaseCase(
        purchase,
        tuple(cases),
        _injury_evidence(),
        f"{injury.option}: {100 * injury.reduction.typical:.0f} % fewer claims, {injury.reason}"
        if injury
        else "none: no injury is counted in any option",
        purchase_defaults(purchase),
        tuple(dict.fromkeys(d.source for d in purchase_defaults(purchase) if d.source)),
        2**DRAWS_LOG2,
        purchase.seed,
    )


def _people_and_minutes(option: Option, move: MoveWith) -> tuple[Ranged, Ranged]:
    """Return what the file states, and from the model what it leaves out."""
    if move.people is not None and move.minutes is not None:
        return move.people, move.minutes
    people, minutes = modelled_move(move.procedure, option.aid)
    return move.people or people, move.minutes or minutes


def _injury_evidence() -> str:
    found = row("staffing_and_cost", item="injury change after programmes")
    return f"{found['value']} ({found['source']}); {found['note']}"


def _case(purchase: Purchase, at: int, ranges: Mapping[Key, Ranged], typical: Inputs, drawn: Inputs) -> OptionCase:
    option = purchase.options[at]
    one = _figures(purchase, at, typical)
    many = _figures(purchase, at, drawn)

    def band(name: str) -> Band:
        # "lower" picks a drawn value: an interpolation with infinity would not be a number
        p5, p50, p95 = np.quantile(many[name], [0.05, 0.5, 0.95], method="lower")
        return Band(float(one[name][0]), float(p5), float(p50), float(p95))

    swings = []
    for key, ranged in ranges.items():
        low, _, high = ranged.ends
        if low == high:
            continue
        ends = _figures(purchase, at, {**typical, key: np.array([low, high])})["npv"]
        if ends[0] != ends[-1]:
            swings.append(OneWay(_words(purchase, key), low, high, float(ends[0]), float(ends[-1])))
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
    for m in option.moves:
        left_out = [what for what in ("people", "minutes") if getattr(m, what) is None]
        if left_out:
            found.append(f"{m.procedure}: {' and '.join(left_out)} {BASIS if option.aid else 'of a mechanical lift'}")
        if not m.basis and len(left_out) < _BOTH:
            found.append(f"{m.procedure}: basis of people and minutes not stated")
        if "invented" in m.basis:
            found.append(f"{m.procedure}: {m.basis}")
    return tuple(found)
