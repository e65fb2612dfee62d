"""Random units and purchases for the property tests: valid ones, and faults to plant in them."""

from __future__ import annotations

from typing import Any, get_args

from hypothesis import strategies as st

from ergo.inputs.unit import Routine, Task
from tests.tools.random_scenarios import AIDS, maybe, number, table, text

EVERY = tuple(get_args(Task))
ROUTINE = tuple(get_args(Routine))

rounds = table(
    procedure=st.sampled_from(ROUTINE),
    every_h=number(0.25, 168),
    share=maybe(number(0, 1)),
    minutes=maybe(number(0.5, 240)),
    due=maybe(st.sampled_from(["staggered", "together"])),
)
unplanned = table(procedure=st.sampled_from(ROUTINE), a_day=number(0, 30), minutes=maybe(number(0.5, 240)))
prone = table(
    share=number(0, 1),
    start_h=number(0, 24),
    session_h=maybe(number(16, 22)),
    prone_turn_minutes=maybe(number(1, 240)),
    return_minutes=maybe(number(1, 240)),
    emergency_returns=maybe(number(0, 1)),
)
people = table(
    role=text,
    count=st.integers(0, 12),
    duty=maybe(st.sampled_from(["handling", "airway lead"])),
    wage_per_h=maybe(number(0, 10_000)),
)


@st.composite
def planned(draw: st.DrawFn) -> dict[str, Any]:
    begin, end = sorted(draw(st.lists(number(0, 24), min_size=2, max_size=2, unique=True)))
    return {"procedure": draw(st.sampled_from(ROUTINE)), "a_day": draw(number(0, 30)), "from_h": begin, "to_h": end}


@st.composite
def shifts(draw: st.DrawFn) -> list[dict[str, Any]]:
    """One to four shifts that fill the day."""
    starts = sorted(draw(st.sets(st.integers(0, 23), min_size=1, max_size=4)))
    return [
        {
            "name": draw(text),
            "start_h": float(start),
            "hours": float((following - start) % 24 or 24),
            "people": draw(st.lists(people, min_size=1, max_size=2)),
        }
        for start, following in zip(starts, [*starts[1:], starts[0]], strict=True)
    ]


@st.composite
def units(draw: st.DrawFn) -> dict[str, Any]:
    """A valid unit as TOML reads it, small enough to be planned at once."""
    beds = draw(st.integers(1, 12))
    names = draw(st.lists(text, min_size=1, max_size=2, unique=True))
    policies = [
        {
            "name": name,
            "aid": draw(st.sampled_from(AIDS)),
            "other": draw(st.lists(table(procedure=st.sampled_from(EVERY), aid=st.sampled_from(AIDS)), max_size=2)),
        }
        for name in names
    ]
    day = draw(shifts())
    data: dict[str, Any] = {
        "name": draw(text),
        "question": draw(st.one_of(st.just(""), text)),
        "beds": beds,
        "lifts": draw(st.integers(0, 3)),
        "patients": draw(
            table(women_share=maybe(number(0, 1)), turnover=maybe(st.booleans()), stay_days=maybe(number(1, 365)))
        ),
        "rounds": draw(st.lists(rounds, max_size=3)),
        "planned": draw(st.lists(planned(), max_size=2)),
        "unplanned": draw(st.lists(unplanned, min_size=1, max_size=2)),
        "shifts": day,
        "policies": policies,
        "extra_people": draw(st.lists(st.integers(-3, 8), min_size=1, max_size=3, unique=True)),
        "cost": draw(
            table(
                wage_per_h=maybe(number(0, 10_000)),
                benefits_share=maybe(number(0, 0.8)),
                paid_hours_year=maybe(number(500, 3000)),
                productive_share=maybe(number(0.3, 1)),
            )
        ),
        "days": draw(st.integers(1, 3)),
        "replications": draw(st.integers(1, 3)),
        "seed": draw(st.integers(0, 2**31)),
    }
    return data | draw(
        table(
            occupied_beds=maybe(st.integers(1, beds)),
            prone=maybe(prone),
            jitter_min=maybe(number(0, 240)),
            minutes_spread=maybe(number(0, 2)),
            on_time_min=maybe(number(0, 240)),
            emergency_on_time_min=maybe(number(0, 60)),
            target=maybe(number(0.5, 1)),
        )
    )


@st.composite
def ranged(draw: st.DrawFn, low: float = 0.0, high: float = 1e9) -> dict[str, float]:
    """A number with none, one or both of its ends."""
    ends = sorted(draw(st.lists(number(low, high), min_size=3, max_size=3)))
    found = {"typical": ends[1]}
    if draw(st.booleans()):
        found["low"] = ends[0]
    if draw(st.booleans()):
        found["high"] = ends[2]
    return found


amounts = st.one_of(ranged(), ranged(0, 1000.0), ranged(0, 0))


@st.composite
def options(draw: st.DrawFn, name: str, kind: str, wanted: list[str]) -> dict[str, Any]:
    single = draw(st.booleans())
    found: dict[str, Any] = {
        "name": name,
        "kind": kind,
        "use": "single-patient" if single else "reusable",
        "price": draw(amounts),
        "moves": [
            {
                "procedure": p,
                "people": draw(amounts),
                "minutes": draw(amounts),
                "basis": draw(st.sampled_from(["", "x"])),
            }
            for p in wanted
        ],
    }
    if not single:
        found |= draw(table(items=maybe(st.integers(0, 100_000)), uses_per_item=maybe(ranged(1, 1e9))))
    if draw(st.booleans()):
        found |= {"pumps": draw(st.integers(1, 10_000)), "pump_price": draw(amounts)}
    if draw(st.booleans()):
        found |= {"rent_per_day": draw(amounts), "rented_days_a_year": draw(ranged(0, 1e6))}
    return found | draw(
        table(
            laundering_per_use=maybe(amounts),
            training_hours=maybe(amounts),
            start_cost=maybe(amounts),
            yearly_cost=maybe(amounts),
            rated_capacity_kg=maybe(number(50, 600)),
            friction=maybe(number(0.01, 3)),
            friction_known=maybe(st.sampled_from(["measured", "class", "unmeasured", "does not apply"])),
        )
    )


@st.composite
def purchases(draw: st.DrawFn) -> dict[str, Any]:
    """A valid purchase as TOML reads it."""
    wanted = draw(st.lists(st.sampled_from(EVERY), min_size=1, max_size=3, unique=True))
    names = draw(st.lists(text, min_size=2, max_size=4, unique=True))
    kinds = ["present practice", *(draw(st.sampled_from(["aid", "turning bed", "ceiling lift"])) for _ in names[1:])]
    data: dict[str, Any] = {
        "name": draw(text),
        "currency": draw(st.sampled_from(["US$", "€", "kr"])),
        "wage_per_h": draw(amounts),
        "wage_basis": draw(text),
        "realised_share": draw(ranged(0, 1)),
        "patients_a_year": draw(amounts),
        "heaviest_patient_kg": draw(number(25, 350)),
        "volumes": [{"procedure": p, "events_a_year": draw(amounts)} for p in wanted],
        "options": [draw(options(name, kind, wanted)) for name, kind in zip(names, kinds, strict=True)],
        "seed": draw(st.integers(0, 2**31)),
    }
    if draw(st.booleans()):
        data["injury"] = {
            "claims_a_year": draw(amounts),
            "reduction": draw(ranged(0, 1)),
            "claim_cost": draw(number(0, 1e8)),
            "option": draw(st.sampled_from(names[1:])),
            "reason": draw(text),
        }
    return data | draw(
        table(
            benefits_share=maybe(number(0, 0.8)),
            horizon_years=maybe(st.integers(1, 20).map(float)),
            discount_rate=maybe(number(0, 0.2)),
        )
    )


# Faults to plant: path of the field, the bad value, and the field that the error must name.
UNIT_FAULTS: tuple[tuple[tuple[str | int, ...], Any, str], ...] = (
    (("beds",), 0, "beds"),
    (("bads",), 4, "bads"),
    (("lifts",), -1, "lifts"),
    (("days",), 1.5, "days"),
    (("target",), float("nan"), "target"),
    (("jitter_min",), float("inf"), "jitter_min"),
    (("extra_people",), [], "extra_people"),
    (("policies", 0, "aid"), "flying carpet", "policies.0.aid"),
    (("shifts", 0, "start_h"), 10**400, "shifts.0.start_h"),
    (("shifts", 0, "people", 0, "count"), True, "shifts.0.people.0.count"),
    (("unplanned", 0, "a_day"), "many", "unplanned.0.a_day"),
    (("patients", "stay_days"), 0.0, "patients.stay_days"),
    (("patients", "census"), "../x.csv", "patients.census"),
    (("cost", "benefits_share"), 1.0, "cost.benefits_share"),
    (("request",), {"review_date": "soon"}, "request.review_date"),
)
PURCHASE_FAULTS: tuple[tuple[tuple[str | int, ...], Any, str], ...] = (
    (("name",), "", "name"),
    (("currency",), "", "currency"),
    (("wage_per_h", "typical"), float("nan"), "wage_per_h.typical"),
    (("realised_share",), {"typical": 1.5}, "realised_share"),
    (("heaviest_patient_kg",), 10**400, "heaviest_patient_kg"),
    (("patients_a_year",), {"typical": 5.0, "low": 6.0}, "patients_a_year"),
    (("volumes", 0, "events_a_year"), 7, "volumes.0.events_a_year"),
    (("options", 0, "kind"), "aid", "options.0.kind"),
    (("options", 1, "moves"), [], "options.1.moves"),
    (("options", 1, "price", "typical"), -1.0, "options.1.price.typical"),
    (("discount_rate",), float("inf"), "discount_rate"),
    (("horizon_years",), 2.5, "horizon_years"),
    (("colour",), "red", "colour"),
)


def planted(data: dict[str, Any], faults: list[tuple[tuple[str | int, ...], Any, str]]) -> dict[str, Any]:
    """Put faults into a file that was drawn for this alone."""
    for path, value, _ in faults:
        owner: Any = data
        for part in path[:-1]:
            owner = owner[part] if isinstance(part, int) else owner.setdefault(part, {})
        owner[path[-1]] = value
    return data
