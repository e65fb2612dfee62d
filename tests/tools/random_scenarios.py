"""Random scenarios for the property tests: valid ones, faults to plant in them, and how many to try."""

from __future__ import annotations

from typing import Any, get_args
from unicodedata import category

import numpy as np
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from ergo.assessment import Demand, demand_of
from ergo.errors import InputError
from ergo.inputs.scenario import MoveKind, Procedure, Protect, Scenario, Sharing, Technique, WhoWorks, parse_scenario
from ergo.mechanics.friction import registry

AIDS = tuple(registry())

# How many random cases a property is tried on, by how long one takes.
fewest = settings(max_examples=6, derandomize=True, deadline=None, suppress_health_check=list(HealthCheck))
few = settings(fewest, max_examples=25)
some = settings(few, max_examples=60)
many = settings(few, max_examples=150)


def number(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False)


def maybe(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.one_of(st.none(), strategy)


def table(**fields: st.SearchStrategy[Any]) -> st.SearchStrategy[dict[str, Any]]:
    """A TOML table whose fields are left out where the strategy says None."""
    return st.fixed_dictionaries(fields).map(lambda d: {k: v for k, v in d.items() if v is not None})


BLANK = "\u115f\u1160\u2800\u3164\uffa0"  # letters and signs that cannot be seen


def _can_be_seen(said: str) -> bool:
    return any(category(c)[0] in "LNPS" and c not in BLANK for c in said)


text = st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), min_size=1, max_size=20).filter(
    _can_be_seen
)

patients = table(
    sex=st.sampled_from(["F", "M"]),
    mass_kg=number(25, 350),
    stature_m=number(1.2, 2.3),
    intubated=maybe(st.booleans()),
    can_help=maybe(st.booleans()),
    spinal_precautions=maybe(st.sampled_from(["none", "cervical", "thoracolumbar"])),
    chest_breadth_m=maybe(number(0.15, 0.9)),
    chest_depth_m=maybe(number(0.1, 0.7)),
    waist_breadth_m=maybe(number(0.15, 0.9)),
    waist_depth_m=maybe(number(0.1, 0.7)),
    hip_breadth_m=maybe(number(0.15, 0.9)),
    hip_depth_m=maybe(number(0.1, 0.7)),
)
beds = table(
    width_m=maybe(number(0.5, 1.6)),
    height_m=maybe(number(0.3, 1.3)),
    tilt_deg=maybe(number(-20, 20)),
    turn_assist_deg=maybe(number(0, 40)),
    equipment_side=maybe(st.sampled_from(["left", "right", "none"])),
    rated_capacity_kg=maybe(number(50, 600)),
    other_width_m=maybe(number(0.4, 1.6)),
    rise_m=maybe(number(-0.15, 0.15)),
    ledge_m=maybe(number(0, 0.1)),
    mattress=maybe(st.sampled_from(["foam", "alternating air", "firm"])),
    immersion_m=maybe(number(0, 0.15)),
)
handlings = table(
    pull_angle_deg=maybe(number(-10, 60)),
    hand_height_m=maybe(number(0, 0.6)),
    grip_gap_m=maybe(number(0, 0.5)),
    slide_time_s=maybe(number(0.5, 20)),
    turn_grip=maybe(st.sampled_from(["sheet", "hands"])),
    turned_fraction=maybe(number(0.3, 1.0)),
    landing_margin_m=maybe(number(0.0, 0.3)),
    head_carried=maybe(st.booleans()),
    ankle_crossed_arm_tucked=maybe(st.booleans()),
    weight_shift=maybe(st.booleans()),
)
policies = table(
    protect=maybe(st.sampled_from(get_args(Protect))),
    site_limit_n=number(20, 600),
    minutes_between_efforts=maybe(number(0.1, 480)),
    count_guidance=maybe(st.booleans()),
    count_breaking_off=maybe(st.booleans()),
    transfer_guidance=maybe(st.sampled_from(["four", "by mass"])),
    least_people=maybe(st.integers(0, 18)),
)
teams = table(
    left=st.integers(0, 6),
    right=st.integers(0, 6),
    airway_lead=maybe(st.booleans()),
    lines_and_drains=maybe(st.integers(0, 3)),
    separate_caller=maybe(st.booleans()),
    separate_tube_holder=maybe(st.booleans()),
    sharing=maybe(st.sampled_from(get_args(Sharing))),
)
moves = table(
    kind=st.sampled_from([k for k in get_args(MoveKind) if k != "counter-slide"]),
    name=maybe(text),
    towards=maybe(st.sampled_from(["left", "right"])),
    angle_deg=maybe(number(5, 90)),
    hold_s=maybe(number(0, 1800)),
    distance_m=maybe(number(0.02, 2.0)),
    limb=maybe(st.sampled_from(["arm", "leg"])),
    hands=maybe(st.sampled_from([1, 2])),
)


@st.composite
def own_aids(draw: st.DrawFn) -> dict[str, Any]:
    interfaces = []
    for _ in range(draw(st.integers(1, 3))):
        low, mid, high = sorted(draw(number(0.01, 3.0)) for _ in range(3))
        interfaces.append({"upper": draw(text), "lower": draw(text), "mu_low": low, "mu": mid, "mu_high": high})
    return {"name": "our own sheet", "interfaces": interfaces, "measured": draw(st.sampled_from(["", "five pulls"]))}


@st.composite
def scenarios(draw: st.DrawFn) -> dict[str, Any]:
    """A valid scenario as TOML reads it."""
    procedure = draw(st.sampled_from(get_args(Procedure)))
    own = draw(st.booleans())
    data: dict[str, Any] = {
        "name": draw(text),
        "procedure": procedure,
        "patient": draw(patients),
        "bed": draw(beds),
        "handling": draw(handlings),
        "policy": draw(policies),
        "team": draw(teams),
        "aid": "our own sheet" if own else draw(st.sampled_from(AIDS)),
    }
    if own:
        data["own_aids"] = [draw(own_aids())]
    if procedure == "own sequence":
        data["moves"] = draw(st.lists(moves, min_size=1, max_size=3))
        if any(m.get("angle_deg", 90) <= data["bed"].get("turn_assist_deg", 0) for m in data["moves"]):
            del data["bed"]["turn_assist_deg"]  # or the bed alone would make a whole turn
    if data["handling"].get("head_carried"):
        data["team"]["airway_lead"] = True  # or nobody would carry it
    return data


# Faults to plant: path of the field, the bad value, and the field that the error must name.
FAULTS: tuple[tuple[tuple[str, ...], Any, str], ...] = (
    (("patient", "mass_kg"), -3.0, "patient.mass_kg"),
    (("patient", "stature_m"), float("nan"), "patient.stature_m"),
    (("patient", "sex"), "x", "patient.sex"),
    (("patient", "weight"), 70, "patient.weight"),
    (("patient", "hip_depth_m"), "wide", "patient.hip_depth_m"),
    (("patient", "intubated"), 1, "patient.intubated"),
    (("bed", "width_m"), float("inf"), "bed.width_m"),
    (("bed", "hight_m"), 0.8, "bed.hight_m"),
    (("bed", "equipment_side"), "top", "bed.equipment_side"),
    (("bed", "turn_assist_deg"), 90, "bed.turn_assist_deg"),
    (("handling", "weight_shift"), "yes", "handling.weight_shift"),
    (("handling", "ankle_crossed_arm_tucked"), 1, "handling.ankle_crossed_arm_tucked"),
    (("handling", "turned_fraction"), 1.2, "handling.turned_fraction"),
    (("handling", "pull_angle_deg"), True, "handling.pull_angle_deg"),
    (("policy", "protect"), "everybody", "policy.protect"),
    (("policy", "minutes_between_efforts"), 0, "policy.minutes_between_efforts"),
    (("team", "left"), 7, "team.left"),
    (("team", "lines_and_drains"), 1.5, "team.lines_and_drains"),
    (("team", "sharing"), [], "team.sharing"),
    (("aid",), "flying carpet", "aid"),
    (("name",), "", "name"),
    (("colour",), "red", "colour"),
)


def planted(data: dict[str, Any], faults: list[int]) -> dict[str, Any]:
    """Return a copy of the scenario with these faults in it."""
    bad = {k: dict(v) if isinstance(v, dict) else v for k, v in data.items()}
    for i in faults:
        path, value, _ = FAULTS[i]
        owner = bad
        for part in path[:-1]:
            owner = owner.setdefault(part, {})
        owner[path[-1]] = value
    return bad


members = table(
    position_m=maybe(number(0.0, 2.3)),
    sex=maybe(st.sampled_from(["F", "M"])),
    mass_kg=maybe(number(35, 200)),
    stature_m=maybe(number(1.3, 2.2)),
)


@st.composite
def wide_scenarios(draw: st.DrawFn) -> dict[str, Any]:
    """A valid scenario that also states what few users state: places, members, technique, brace, shoes, loadings."""
    data = draw(scenarios())
    data["bed"] |= draw(table(places_left=maybe(st.integers(0, 6)), places_right=maybe(st.integers(0, 6))))
    for side in ("left", "right"):
        data["team"][side] = min(data["team"][side], data["bed"].get(f"places_{side}", 6))
    data["handling"] |= draw(
        table(
            technique=maybe(st.sampled_from(get_args(Technique))),
            brace=maybe(st.sampled_from(["none", "thigh", "knee"])),
            facing_deg=maybe(number(0, 90)),
            shoe_friction=maybe(number(0.05, 1.5)),
            back_arm_m=maybe(number(0.04, 0.08)),
        )
    )
    data["policy"] |= draw(table(loadings_per_day=maybe(number(1, 1000))))
    if draw(st.booleans()):
        team = data["team"]
        data["team"]["members"] = [
            {"side": side, **draw(members)} for side in ("left", "right") for _ in range(team[side])
        ]
    for own in data.get("own_aids", []):
        own |= draw(
            table(
                rated_capacity_kg=maybe(number(50, 600)),
                use=maybe(st.sampled_from(["reusable", "single-patient"])),
                covers=maybe(
                    st.lists(st.sampled_from(["head", "trunk", "arms", "thighs", "shanks", "feet"]), min_size=1)
                ),
            )
        )
    return data


MOVED = ("boost", "slide to the side", "lateral transfer", "side-lying turn", "prone turn", "return to supine")


def random_cases(number: int, seed: int, **fixed: Any) -> list[tuple[Scenario, Demand]]:
    """Scenarios of most procedures and aids that adults meet, each of which its aid can serve, and what each asks.

    A field of `fixed` stands for all of them; of a table only the fields that are named.
    """
    dice = np.random.default_rng(seed)
    found: list[tuple[Scenario, Demand]] = []
    while len(found) < number:
        case: dict[str, Any] = {
            "name": "x",
            "procedure": str(dice.choice(MOVED)),
            "aid": str(dice.choice(AIDS)),
            "patient": {
                "sex": str(dice.choice(["F", "M"])),
                "mass_kg": float(dice.uniform(40, 160)),
                "stature_m": float(dice.uniform(1.45, 1.95)),
                "intubated": bool(dice.random() < 0.5),
            },
            "bed": {
                "height_m": float(dice.uniform(0.65, 0.95)),
                "width_m": float(dice.uniform(0.85, 1.1)),
                "rise_m": float(dice.uniform(-0.03, 0.03)),
                "equipment_side": str(dice.choice(["left", "right", "none"])),
            },
            "team": {"who_works": str(dice.choice(get_args(WhoWorks)))},
            "handling": {
                "technique": str(dice.choice(["best", "typical"])),
                "turn_grip": str(dice.choice(["sheet", "sheet", "hands"])),
            },
        }
        for name, value in fixed.items():
            case[name] = case[name] | value if isinstance(value, dict) and name in case else value
        try:
            scenario = parse_scenario(case)
            found.append((scenario, demand_of(scenario)))
        except InputError:
            continue
    return found
