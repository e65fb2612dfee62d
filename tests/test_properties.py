"""What must hold for every input: balances, symmetries, monotony, limits of zero, and arrays equal to scalars."""

from __future__ import annotations

import json
import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from random_scenarios import FAULTS, number, planted, scenarios, wide_scenarios
from scipy.integrate import quad
from scipy.optimize import linprog

from ergo.assessment import assess, demand_of, judge
from ergo.errors import InputError
from ergo.limits.pull_tables import acceptable_pull, fitted_pull
from ergo.mechanics.body import LEVELS, breadths, build_body
from ergo.mechanics.case import build_case
from ergo.mechanics.demand import demand
from ergo.mechanics.landing import landing
from ergo.mechanics.outline import Outline, perimeter, squareness_from_perimeter_ratio, support, support_slope
from ergo.mechanics.procedure import plan_moves
from ergo.mechanics.slide import slide_force, steady_pull
from ergo.mechanics.turn import brake, counter_hold, roll_travel, turn_by_hands, turn_by_sheet
from ergo.people.sharing import best_shares, share, stations
from ergo.plan.inputs import uncertain_inputs
from ergo.plan.team import smallest_team
from ergo.scenario import dump_scenario, parse_scenario, read_scenario
from ergo.show.machine import assessment_json, team_json, to_json
from ergo.units import G

fewest = settings(max_examples=6, derandomize=True, deadline=None, suppress_health_check=list(HealthCheck))
few = settings(fewest, max_examples=25)
some = settings(few, max_examples=60)
many = settings(few, max_examples=150)

half_breadths, half_depths, squareness = number(0.09, 0.35), number(0.07, 0.30), number(1.5, 8.0)
sharings = st.sampled_from(["best", "realistic", "guidance"])


def polygon(a: float, b: float, n: float, points: int = 20_000) -> np.ndarray:
    """Points on a superellipse from its parametric form, shape (points, 2): across, up."""
    t = np.arange(points) * 2 * np.pi / points
    x, y = np.cos(t), np.sin(t)
    return np.stack([a * np.sign(x) * np.abs(x) ** (2 / n), b * np.sign(y) * np.abs(y) ** (2 / n)], axis=-1)


def rolled(points: np.ndarray, angle: float) -> np.ndarray:
    c, s = np.cos(angle), np.sin(angle)
    return points @ np.array([[c, -s], [s, c]])


# --- outline -----------------------------------------------------------------------------------------------------


@some
@given(half_breadths, half_depths, squareness, number(-4.0, 4.0))
def test_the_support_function_is_the_farthest_point_of_a_polygon_of_the_outline(a, b, n, angle):
    lowest = -np.min(rolled(polygon(a, b, n), angle)[:, 1])
    assert float(support(a, b, n, angle)) == pytest.approx(lowest, rel=1e-4)


@some
@given(half_breadths, half_depths, squareness, number(0.02, 1.5))
def test_gravitys_lever_is_the_slope_of_the_height(a, b, n, angle):
    step = 1e-6
    slope = (support(a, b, n, angle + step) - support(a, b, n, angle - step)) / (2 * step)
    assert float(support_slope(a, b, n, angle)) == pytest.approx(float(slope), abs=1e-5)


@some
@given(half_breadths, half_depths, squareness)
def test_the_perimeter_is_the_arc_length_of_the_parametric_outline(a, b, n):
    def speed(t: float) -> float:  # the arc from the end of one axis, in the half where its slope stays finite
        c, s = math.cos(t), math.sin(t)
        dx = a * (2 / n) * c ** (2 / n - 1) * s
        dy = b * (2 / n) * s ** (2 / n - 1) * c
        return math.hypot(dx, dy)

    quarter = sum(quad(speed, low, high, limit=200)[0] for low, high in ((0, 0.1), (0.1, 1.47), (1.47, math.pi / 2)))
    assert float(perimeter(a, b, n)) == pytest.approx(4 * quarter, rel=1e-5)


@some
@given(half_breadths, half_depths, number(2.0, 8.0))
def test_the_squareness_is_found_again_from_the_perimeter(a, b, n):
    ratio = float(perimeter(a, b, n) / perimeter(a, b, 2.0))
    assume(ratio >= 1.0)
    again = float(squareness_from_perimeter_ratio(a, b, ratio))
    assert float(perimeter(a, b, again)) == pytest.approx(float(perimeter(a, b, n)), rel=1e-9)


# --- slide -------------------------------------------------------------------------------------------------------

level = {"slope_rad": 0.0, "breakaway": 1.3, "distance_m": 0.3, "time_s": 2.0}


@many
@given(st.lists(number(0.5, 60.0), min_size=1, max_size=6), number(0.02, 1.2), number(-0.1, 1.0), number(-0.3, 0.3))
def test_the_forces_on_a_sliding_body_balance_along_and_across_the_surface(masses, mu, pull, slope):
    force = np.asarray(steady_pull(masses, mu, pull, slope))
    normal = np.asarray(masses) * G * np.cos(slope) - force * np.sin(pull)
    assume(np.all(normal > 0))
    along = force * np.cos(pull) - np.asarray(masses) * G * np.sin(slope) - mu * normal
    assert np.allclose(along, 0.0, atol=1e-9 * np.sum(masses) * G)


@some
@given(number(0.1, 200.0), number(0.05, 1.0), number(0.0, 0.5), number(-0.1, 0.2), number(0.5, 3.0))
def test_a_slides_forces_are_linear_in_mass(mass, mu, pull, slope, factor):
    given_ = level | {"pull_rad": pull, "slope_rad": slope}
    one, other = (slide_force([m, m / 2], mu, [0.5, 0.9], **given_) for m in (mass, factor * mass))
    for name in ("steady_n", "start_n", "breakaway_n", "inertia_n", "hold_back_n"):
        assert float(getattr(other, name)) == pytest.approx(factor * float(getattr(one, name)), rel=1e-12, abs=1e-9)
    assert float(other.centre_m) == pytest.approx(float(one.centre_m))


@some
@given(number(0.0, 0.9), number(0.0, 0.3), number(0.0, 0.9), number(-0.2, 0.3))
def test_lower_friction_never_raises_a_slides_force(mu, less, pull, slope):
    mass, along = [40.0, 30.0], [0.5, 0.9]
    given_ = level | {"pull_rad": pull, "slope_rad": slope}
    high, low = (slide_force(mass, m, along, **given_) for m in (mu, max(0.0, mu - less)))
    assert float(low.steady_n) <= float(high.steady_n) * (1 + 1e-12)
    assert float(low.start_n) <= float(high.start_n) * (1 + 1e-12)


def test_without_friction_only_the_acceleration_is_left_and_without_mass_nothing():
    force = slide_force([50.0, 30.0], 0.0, [0.5, 0.9], pull_rad=0.0, **level)
    assert float(force.steady_n) == 0.0
    # 80 kg over 0.3 m in 2 s, start to stop: the largest push is 80 * 5.7735 * 0.3 / 4 (flash_hogan_1985, identity)
    assert float(force.start_n) == pytest.approx(34.641, abs=5e-4)
    nothing = slide_force([1e-12], 0.4, [0.5], pull_rad=0.2, **level)
    assert float(nothing.start_n) < 1e-10
    assert float(nothing.centre_m) == pytest.approx(0.5)


# --- turn --------------------------------------------------------------------------------------------------------


@few
@given(half_breadths, half_depths, number(2.0, 5.0), number(0.02, 1.55), number(0.12, 0.4), number(0.0, 0.4))
def test_the_moments_about_the_contact_line_balance_on_a_free_body(a, b, n, angle, beyond, hand_y):
    outline = Outline.single(a, b, n)
    start = float(roll_travel(outline, [angle])[0])
    hand_x = start + a + b + beyond  # always clear of the body
    turn = turn_by_sheet(outline, 80.0, [angle], hand_x, hand_y)
    body = rolled(polygon(a, b, n), angle)
    floor = body[np.argmin(body[:, 1])]
    hand = np.array([hand_x - start, hand_y + floor[1]])  # seen from the centre, the mattress lies at the contact
    elevation = np.arctan2(hand[1] - body[:, 1], hand[0] - body[:, 0])
    top = body[np.argmin(elevation)]  # from here the sheet runs to the hands with the whole body below it
    pull = float(turn.force_n[0]) * np.array([np.cos(np.min(elevation)), np.sin(np.min(elevation))])
    arm = top - floor
    forward = arm[1] * pull[0] - arm[0] * pull[1]
    gravity = 80.0 * G * floor[0]  # the contact lies ahead of the centre while gravity resists
    assert forward == pytest.approx(max(gravity, 0.0), abs=80.0 * G * 1e-3 * a)


@few
@given(half_breadths, half_depths, number(2.0, 5.0), number(0.0, np.pi))
def test_the_brake_balances_the_moment_of_gravity_on_a_free_body(a, b, n, angle):
    lowering = brake(Outline.single(a, b, n), 80.0, [angle])
    body = rolled(polygon(a, b, n), angle)
    floor, leading = body[np.argmin(body[:, 1])], np.max(body[:, 0])
    gravity = -80.0 * G * floor[0]
    held = float(lowering.force_n[0]) * (leading - floor[0])
    assert held == pytest.approx(max(gravity, 0.0), abs=80.0 * G * 1e-3 * a)


@few
@given(half_breadths, half_depths, number(2.0, 5.0), number(0.02, 0.9))
def test_with_the_counter_hold_the_layers_grip_and_without_need_nobody_holds(a, b, n, mu):
    angles = np.radians(np.linspace(0, 90, 31))
    turn = turn_by_sheet(Outline.single(a, b, n), 80.0, angles, 0.9, 0.1)
    hold = counter_hold(turn, 80.0, mu)
    across, up = turn.force_n * np.cos(turn.elevation), turn.force_n * np.sin(turn.elevation)
    grip = mu * (80.0 * G - up)
    assert np.all(hold >= 0.0)
    assert np.all(across - hold <= grip + 1e-9)
    assert np.all((hold == 0.0) | np.isclose(across - hold, grip))
    more = counter_hold(turn, 80.0, mu * 1.2)
    assert np.all(more <= hold + 1e-12)


@pytest.mark.parametrize("level_", LEVELS)
def test_a_patient_stated_much_flatter_than_anybody_is_still_answered(level_):
    flat = {"sex": "F", "mass_kg": 60.0, "stature_m": 1.6, f"{level_}_breadth_m": 0.9, f"{level_}_depth_m": 0.1}
    result = assess(parse_scenario({"name": "x", "procedure": "prone turn", "patient": flat}))
    assert all(math.isfinite(m.worst_person_force_n) for m in result.moves)


def test_half_a_turn_travels_half_the_perimeter():
    outline = build_body("F", 90.0, 1.62).outline
    assert float(roll_travel(outline, [np.pi])[0]) == pytest.approx(float(outline.half_perimeter), rel=1e-9)


def test_a_round_body_without_mass_or_with_equal_axes_needs_no_pull():
    angles = np.radians(np.linspace(0, 90, 10))
    assert np.max(turn_by_sheet(Outline.single(0.15, 0.15, 2.0), 80.0, angles, 0.6, 0.1).force_n) < 1e-9
    assert np.max(turn_by_sheet(Outline.single(0.20, 0.12, 3.0), 1e-9, angles, 0.6, 0.1).force_n) < 1e-8


# --- sharing -----------------------------------------------------------------------------------------------------


@many
@given(st.lists(st.integers(0, 200).map(lambda cm: cm / 100), min_size=1, max_size=6), number(0.0, 1.0))
def test_the_best_split_equals_the_linear_programme_and_closes_force_and_yaw(places, part):
    low, high = min(places), max(places)
    centre = low + part * (high - low)
    ours = best_shares(places, centre)
    n = len(places)
    found = linprog(
        [*[0.0] * n, 1.0],
        A_ub=np.hstack([np.eye(n), -np.ones((n, 1))]),
        b_ub=np.zeros(n),
        A_eq=[[*[1.0] * n, 0.0], [*places, 0.0]],
        b_eq=[1.0, centre],
        bounds=(0, None),
    )
    assert found.success
    assert float(np.max(ours)) == pytest.approx(found.fun, abs=1e-7)
    assert float(np.sum(ours)) == pytest.approx(1.0, abs=1e-12)
    assert float(np.sum(ours * np.asarray(places))) == pytest.approx(centre, abs=1e-9)
    assert np.all(ours >= 0.0)


@some
@given(number(1.3, 2.1), number(0.2, 0.75), sharings)
def test_one_more_person_never_raises_the_largest_share(stature, centre, sharing):
    largest = [float(np.max(share(stations(n, stature), centre * stature, sharing).fraction)) for n in range(1, 7)]
    assert all(more <= fewer + 1e-12 for fewer, more in pairwise(largest)), largest
    assert largest[0] == 1.0


@some
@given(st.integers(1, 6), number(1.3, 2.1), number(0.2, 0.75), sharings)
def test_shares_cover_the_force_and_nobody_but_the_most_loaded_gains_by_unevenness(n, stature, centre, sharing):
    parts = share(stations(n, stature), centre * stature, sharing)
    total = float(np.sum(parts.fraction))
    assert total == pytest.approx(1.0) if sharing != "guidance" else total >= 1.0 - 1e-12
    assert np.all(parts.fraction >= 0.0)
    assert float(np.max(parts.fraction)) >= float(np.max(parts.best)) - 1e-12


@some
@given(st.integers(1, 6), number(0.2, 0.75), sharings)
def test_turning_the_patient_end_for_end_turns_the_shares(n, centre, sharing):
    places = stations(n, 1.7)
    ends = places[0] + places[-1]
    there = share(places, centre * 1.7, sharing).fraction
    back = share((ends - places)[::-1], ends - centre * 1.7, sharing).fraction[::-1]
    assert sorted(there) == pytest.approx(sorted(back))
    assert float(np.max(there)) == pytest.approx(float(np.max(back)))


# --- scalar and array --------------------------------------------------------------------------------------------


def test_outline_functions_give_an_array_the_same_as_each_scalar():
    rng = np.random.default_rng(1)
    a, b, n = rng.uniform(0.1, 0.3, 7), rng.uniform(0.08, 0.25, 7), rng.uniform(2.0, 5.0, 7)
    angle = rng.uniform(0, np.pi, 7)
    for function, args in ((support, (a, b, n, angle)), (support_slope, (a, b, n, angle)), (perimeter, (a, b, n))):
        whole = function(*args)
        assert whole == pytest.approx([float(function(*(v[i] for v in args))) for i in range(7)], rel=1e-13)
    ratio = np.full(7, 1.04)
    whole = squareness_from_perimeter_ratio(a, b, ratio)
    assert whole == pytest.approx([float(squareness_from_perimeter_ratio(a[i], b[i], 1.04)) for i in range(7)])


def test_slides_give_an_array_the_same_as_each_scalar():
    rng = np.random.default_rng(2)
    mass, mu, along = rng.uniform(1, 40, (5, 3)), rng.uniform(0.1, 0.9, (5, 3)), rng.uniform(0.1, 1.6, (5, 3))
    names = ("pull_rad", "slope_rad", "breakaway", "distance_m", "time_s")
    bounds = ((0, 0.5), (-0.2, 0.2), (1.1, 1.5), (0.1, 0.6), (1, 3))
    rest = {k: rng.uniform(*v, 5) for k, v in zip(names, bounds, strict=True)}
    whole = slide_force(mass, mu, along, **rest)
    for i in range(5):
        one = slide_force(mass[i], mu[i], along[i], **{k: v[i] for k, v in rest.items()})
        for name in ("steady_n", "start_n", "breakaway_n", "inertia_n", "hold_back_n", "centre_m"):
            assert float(getattr(whole, name)[i]) == pytest.approx(float(getattr(one, name)), rel=1e-13)


@pytest.mark.parametrize("turning", [turn_by_sheet, turn_by_hands])
def test_turns_brakes_and_landings_give_an_array_the_same_as_each_scalar(turning):
    rng = np.random.default_rng(3)
    a, b = rng.uniform(0.13, 0.22, 4), rng.uniform(0.09, 0.15, 4)
    mass, x, y = rng.uniform(50, 120, 4), rng.uniform(0.5, 0.8, 4), rng.uniform(0.05, 0.5, 4)
    angle = np.radians([0.0, 10.0, 45.0, 89.0])
    whole = turning(Outline.single(a, b, 2.8), mass, angle, x, y)
    lowering = brake(Outline.single(a, b, 2.8), mass, angle + 1.5)
    hold = counter_hold(whole, mass, rng.uniform(0.05, 0.2, 4))
    room = landing(Outline.single(a, b, 2.8), a, 0.9, 0.05)
    assert hold.shape == (4, 4)
    for i in range(4):
        outline = Outline.single(a[i], b[i], 2.8)
        one, low, land = (
            turning(outline, mass[i], angle, x[i], y[i]),
            brake(outline, mass[i], angle + 1.5),
            landing(outline, a[i], 0.9, 0.05),
        )
        for name in ("gravity_lever_m", "height_m", "travel_m", "elevation", "pull_lever_m", "force_n"):
            assert getattr(whole, name)[i] == pytest.approx(getattr(one, name), rel=1e-9, abs=1e-12)
            assert getattr(lowering, name)[i] == pytest.approx(getattr(low, name), rel=1e-9, abs=1e-12)
        for name in ("roll_m", "needed_m", "room_m", "slide_m", "counter_slide_m", "final_m", "fits"):
            assert getattr(room, name)[i] == pytest.approx(getattr(land, name), rel=1e-12)


def test_bodies_and_pull_tables_give_an_array_the_same_as_each_scalar():
    mass = np.array([45.0, 70.0, 104.0, 118.0, 190.0])
    whole = build_body("F", mass, 1.62)
    sizes = breadths("F", mass, 1.62)
    for i, m in enumerate(mass):
        one = build_body("F", float(m), 1.62)
        assert whole.mass_kg[i] == pytest.approx(one.mass_kg, rel=1e-13)
        assert float(whole.half_breadth[i]) == pytest.approx(float(one.half_breadth), rel=1e-12)
        assert float(whole.outline.half_perimeter[i]) == pytest.approx(float(one.outline.half_perimeter), rel=1e-9)
        for level_ in LEVELS:
            assert float(sizes[level_][0][i]) == pytest.approx(float(breadths("F", float(m), 1.62)[level_][0]))
    heights, minutes = np.array([0.3, 0.57, 0.7, 0.89, 1.2, 1.35, 1.5]), np.array([2.0, 0.1, 3.3, 5.0, 100, 480, 2.0])
    for function in (acceptable_pull, fitted_pull):
        arrays = function("F", "initial", 75, heights, minutes)
        singles = [float(function("F", "initial", 75, h, t)) for h, t in zip(heights, minutes, strict=True)]
        assert arrays == pytest.approx(singles, nan_ok=True)


def test_an_array_of_draws_gives_every_effort_of_every_procedure_the_same_as_each_draw():
    draws = {
        "mu_0": np.array([0.2, 0.3, 0.5]),
        "linen_mu": np.array([0.4, 0.5, 0.8]),
        "breakaway": np.array([1.2, 1.3, 1.4]),
        "pull_rad": np.array([0.0, 0.2, 0.4]),
        "hand_height_m": np.array([0.05, 0.1, 0.2]),
        "grip_gap_m": np.array([0.05, 0.1, 0.2]),
        "slide_time_s": np.array([1.5, 2.0, 3.0]),
        "turned_fraction": np.array([0.9, 0.95, 1.0]),
        "breadth_scale": np.array([0.95, 1.0, 1.05]),
        "depth_scale": np.array([1.05, 1.0, 0.95]),
    }
    patient = {"sex": "F", "mass_kg": 80.0, "stature_m": 1.65, "intubated": True}
    for procedure in ("prone turn", "lateral transfer", "boost", "slide to the side", "limb hold"):
        for grip in ("sheet", "hands"):
            case = {"name": "x", "procedure": procedure, "patient": patient, "handling": {"turn_grip": grip}}
            scenario = parse_scenario(case)
            typical = build_case(scenario)
            for move in plan_moves(scenario, typical):
                whole = demand(move, build_case(scenario, draws), scenario)
                for i in range(3):
                    single = demand(move, build_case(scenario, {k: v[i] for k, v in draws.items()}), scenario)
                    assert [e.role for e in whole] == [e.role for e in single]
                    for many_, one in zip(whole, single, strict=True):
                        for name in ("start_n", "steady_n", "elevation", "reach_m", "hand_height_m", "held_kg"):
                            wide = np.broadcast_to(getattr(many_, name), (3,))[i]
                            assert float(wide) == pytest.approx(float(getattr(one, name)), rel=1e-7, abs=1e-9), (
                                move.name,
                                many_.role,
                                name,
                            )


# --- whole scenarios ---------------------------------------------------------------------------------------------


@some
@given(scenarios())
def test_a_valid_scenario_is_the_same_after_writing_and_reading(data):
    scenario = parse_scenario(data)
    assert read_scenario(dump_scenario(scenario).encode()) == scenario


@some
@given(scenarios(), st.sets(st.integers(0, len(FAULTS) - 1), min_size=1))
def test_a_scenario_with_random_faults_raises_one_error_that_names_each_of_them(data, which):
    with pytest.raises(InputError) as caught:
        parse_scenario(planted(data, sorted(which)))
    named = {fault.field for fault in caught.value.faults}
    missing = {FAULTS[i][2] for i in which} - named
    assert not missing


@many
@given(scenarios())
def test_any_valid_scenario_is_answered_with_finite_figures_or_refused_in_words(data):
    scenario = parse_scenario(data)
    refused: InputError | None = None
    try:
        result = assess(scenario)
    except InputError as error:
        refused = error
    if refused is not None:
        assert [fault.field for fault in refused.faults] == ["aid"]
        return
    text = json.loads(to_json(assessment_json(result)))  # a NaN or an infinity would raise
    assert text["verdict"] in ("within", "close", "over", "not applicable")
    assert text["why"]
    assert "nan" not in text["why"]
    for move in result.moves:
        for effort in move.efforts:
            assert float(effort.effort.start_n) >= 0.0
            assert float(effort.effort.steady_n) >= 0.0


@fewest
@given(scenarios())
def test_the_smallest_team_is_within_and_sure_enough_and_no_smaller_one_is(data):
    try:
        scenario = parse_scenario(data)
        answer = smallest_team(scenario, with_aids=False)
    except InputError:
        assume(False)
    to_json(team_json(answer))
    asked = demand_of(scenario)
    pulling = (answer.left or 0) + (answer.right or 0)
    for drawn in answer.sure.every:
        if drawn.left + drawn.right < (pulling or 13) and drawn.chance >= answer.confidence:
            assert judge(asked, drawn.left, drawn.right).verdict not in ("within", "close")
    if answer.people is not None:
        assert answer.assessment.verdict in ("within", "close")
        assert answer.chance >= answer.confidence
        assert answer.people == answer.left + answer.right + sum(r.people for r in answer.roles)
    assert answer.use_lift == (answer.people is None and answer.assessment.verdict != "not applicable")


def mirrored(data):
    """The same case in a mirror: fixed equipment, people and stated directions change sides."""
    swap = {"left": "right", "right": "left", "none": "none"}
    bed, team = dict(data["bed"]), dict(data["team"])
    bed["equipment_side"] = swap[bed["equipment_side"]]
    team["left"], team["right"] = team["right"], team["left"]
    mirror = data | {"bed": bed, "team": team}
    if "moves" in data:
        mirror["moves"] = [m | ({"towards": swap[m["towards"]]} if "towards" in m else {}) for m in data["moves"]]
    return mirror


@fewest
@given(scenarios(), st.sampled_from(["left", "right"]))
def test_with_everything_on_the_other_side_the_answer_is_the_mirror_image(data, side):
    data = data | {"bed": data["bed"] | {"equipment_side": side}}
    try:
        here, there = (smallest_team(parse_scenario(d), with_aids=False) for d in (data, mirrored(data)))
    except InputError:
        assume(False)
    assert (here.people, here.left, here.right) == (there.people, there.right, there.left)
    assert here.assessment.verdict == there.assessment.verdict
    assert here.assessment.worst_ratio == pytest.approx(there.assessment.worst_ratio)
    assert [p.worst_ratio for p in here.curve] == pytest.approx([p.worst_ratio for p in there.curve])
    if here.one_more is not None:
        assert (here.one_more.left, here.one_more.right) == (there.one_more.right, there.one_more.left)
    this, that = (assess(parse_scenario(d)) for d in (data, mirrored(data)))
    for ours, theirs in zip(this.moves, that.moves, strict=True):
        assert {ours.move.towards, theirs.move.towards} == {"left", "right"}
        assert ours.team_force_n == pytest.approx(theirs.team_force_n)
        assert ours.verdict == theirs.verdict


@fewest
@given(scenarios())
def test_one_more_person_a_side_never_raises_the_largest_force_in_a_pair_of_hands(data):
    # Of the hands only: one more person may be shorter or taller, and a back carries its own trunk whatever it pulls.
    try:
        asked = demand_of(parse_scenario(data))
    except InputError:
        assume(False)
    teams = [judge(asked, n, n) for n in range(1, 7)]
    for moves in zip(*(team.moves for team in teams), strict=True):
        forces = [move.worst_person_force_n for move in moves if not move.unmet or move.worst_person_force_n]
        assert all(more <= fewer * (1 + 1e-9) for fewer, more in pairwise(forces)), forces


@few
@given(scenarios(), number(0.02, 0.5))
def test_a_more_slippery_own_aid_never_asks_for_more_in_a_slide(data, mu):
    data = {k: v for k, v in data.items() if k != "moves"} | {"procedure": "boost", "aid": "our own sheet"}
    forces = []
    for friction in (mu, mu * 1.3):
        layer = {"upper": "a", "lower": "b", "mu_low": friction, "mu": friction, "mu_high": friction}
        case = data | {"own_aids": [{"name": "our own sheet", "interfaces": [layer]}]}
        forces.append(assess(parse_scenario(case)).moves[0].team_force_n)
    assert forces[0] <= forces[1] * (1 + 1e-12)


# --- what random scenarios found -----------------------------------------------------------------------------------


@some
@given(wide_scenarios())
def test_every_spread_that_is_drawn_has_its_typical_value_between_its_ends_and_draws_between_them(data):
    u = np.linspace(0.0, 1.0, 101)
    for spread in uncertain_inputs(parse_scenario(data)):
        assert spread.low <= spread.typical <= spread.high, spread
        drawn = spread.at(u)
        assert np.all(np.isfinite(drawn)), spread
        if spread.kind == "triangular":
            assert np.all((drawn >= spread.low - 1e-12) & (drawn <= spread.high + 1e-12)), spread


STRONG = {"upper": "x", "lower": "y", "mu_low": 2.0, "mu": 2.5, "mu_high": 3.0}


def test_a_force_beyond_any_posture_is_over_and_never_an_error_about_a_field_nobody_stated():
    heavy = {"sex": "M", "mass_kg": 350.0, "stature_m": 1.8}
    own = [{"name": "our own sheet", "interfaces": [STRONG]}]
    case = {"name": "x", "procedure": "boost", "patient": heavy, "aid": "our own sheet", "own_aids": own}
    result = assess(parse_scenario(case | {"team": {"left": 1, "right": 1}, "bed": {"places_left": 1}}))
    assert result.moves[0].worst_person_force_n > 3000.0
    assert result.verdict == "over"
    answer = smallest_team(parse_scenario(case), with_aids=False)
    assert answer.use_lift
    assert answer.chance == 0.0


def test_a_pull_stated_downwards_is_drawn_around_what_was_stated():
    patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    case = {"name": "x", "procedure": "boost", "patient": patient, "handling": {"pull_angle_deg": -10.0}}
    spread = next(s for s in uncertain_inputs(parse_scenario(case)) if s.name == "pull_deg")
    assert (spread.low, spread.typical, spread.high) == (-25.0, -10.0, 5.0)


def test_a_spine_that_is_drawn_apart_is_not_compressed_and_no_ratio_is_negative():
    patient = {"sex": "M", "mass_kg": 44.5, "stature_m": 2.0}
    case = {"name": "x", "procedure": "return to supine", "patient": patient, "team": {"left": 1}}
    case |= {
        "bed": {"height_m": 0.3, "equipment_side": "left"},
        "handling": {"grip_gap_m": 0.0, "hand_height_m": 0.025},
    }
    own = [{"name": "our own sheet", "interfaces": [STRONG | {"mu_low": 0.01, "mu": 0.738, "mu_high": 1.6}]}]
    result = assess(parse_scenario(case | {"aid": "our own sheet", "own_aids": own}))
    loads = [load for m in result.moves for e in m.efforts for load in e.loads]
    assert min(load.body.compression_n for load in loads) < 0.0
    assert min(c.ratio for m in result.moves for c in m.limits if c.ratio is not None) >= 0.0
