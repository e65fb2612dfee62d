"""What must hold for every input of mechanics and sharing: balances, symmetries, monotony, limits of zero."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import linprog

from ergo.assessment import assess
from ergo.handlers.load_sharing import best_shares, share, stations
from ergo.inputs.scenario import parse_scenario
from ergo.mechanics.body import LEVELS, build_body
from ergo.mechanics.cross_section import Outline, exponent_from_perimeter_ratio, perimeter, support
from ergo.mechanics.rolling import brake, roll_travel, turn_by_sheet
from ergo.mechanics.sliding import body_slide_force, steady_pull
from ergo.units import G
from tests.tools.random_scenarios import few, many, number, some

half_breadths, half_depths, superellipse_exponent = number(0.09, 0.35), number(0.07, 0.30), number(1.5, 8.0)
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
@given(half_breadths, half_depths, superellipse_exponent, number(-4.0, 4.0))
def test_the_support_function_is_the_farthest_point_of_a_polygon_of_the_outline(a, b, n, angle):
    lowest = -np.min(rolled(polygon(a, b, n), angle)[:, 1])
    assert float(support(a, b, n, angle)) == pytest.approx(lowest, rel=1e-4)


@some
@given(half_breadths, half_depths, superellipse_exponent, number(0.02, 1.5))
def test_gravitys_moment_arm_is_the_slope_of_the_height(a, b, n, angle):
    step = 1e-6
    slope = (support(a, b, n, angle + step) - support(a, b, n, angle - step)) / (2 * step)
    assert float(Outline.single(a, b, n).moment_arm(angle)) == pytest.approx(float(slope), abs=1e-5)


@some
@given(half_breadths, half_depths, superellipse_exponent)
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
def test_the_exponent_is_found_again_from_the_perimeter(a, b, n):
    ratio = float(perimeter(a, b, n) / perimeter(a, b, 2.0))
    assume(ratio >= 1.0)
    again = float(exponent_from_perimeter_ratio(a, b, ratio))
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
    one, other = (body_slide_force([m, m / 2], mu, [0.5, 0.9], **given_) for m in (mass, factor * mass))
    for name in ("steady_n", "start_n", "breakaway_n", "inertia_n", "hold_back_n"):
        assert float(getattr(other, name)) == pytest.approx(factor * float(getattr(one, name)), rel=1e-12, abs=1e-9)
    assert float(other.centre_m) == pytest.approx(float(one.centre_m))


@some
@given(number(0.0, 0.9), number(0.0, 0.3), number(0.0, 0.9), number(-0.2, 0.3))
def test_lower_friction_never_raises_a_slides_force(mu, less, pull, slope):
    mass, along = [40.0, 30.0], [0.5, 0.9]
    given_ = level | {"pull_rad": pull, "slope_rad": slope}
    high, low = (body_slide_force(mass, m, along, **given_) for m in (mu, max(0.0, mu - less)))
    assert float(low.steady_n) <= float(high.steady_n) * (1 + 1e-12)
    assert float(low.start_n) <= float(high.start_n) * (1 + 1e-12)


def test_without_friction_only_the_acceleration_is_left_and_without_mass_nothing():
    force = body_slide_force([50.0, 30.0], 0.0, [0.5, 0.9], pull_rad=0.0, **level)
    assert float(force.steady_n) == 0.0
    # 80 kg over 0.3 m in 2 s, start to stop: the largest push is 80 * 5.7735 * 0.3 / 4 (flash_hogan_1985, identity)
    assert float(force.start_n) == pytest.approx(34.641, abs=5e-4)
    nothing = body_slide_force([1e-12], 0.4, [0.5], pull_rad=0.2, **level)
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
    hold = turn.counter_hold_n(mu)
    across, up = turn.force_n * np.cos(turn.elevation), turn.force_n * np.sin(turn.elevation)
    grip = mu * (80.0 * G - up)
    assert np.all(hold >= 0.0)
    assert np.all(across - hold <= grip + 1e-9)
    assert np.all((hold == 0.0) | np.isclose(across - hold, grip))
    more = turn.counter_hold_n(mu * 1.2)
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
    places = stations(n, stature)
    parts = share(places, centre * stature, sharing)
    total = float(np.sum(parts.fraction))
    assert total == pytest.approx(1.0) if sharing != "guidance" else total >= 1.0 - 1e-12
    assert np.all(parts.fraction >= 0.0)
    assert float(np.max(parts.fraction)) >= float(np.max(best_shares(places, centre * stature))) - 1e-12


@some
@given(st.integers(1, 6), number(0.2, 0.75), sharings)
def test_turning_the_patient_end_for_end_turns_the_shares(n, centre, sharing):
    places = stations(n, 1.7)
    ends = places[0] + places[-1]
    there = share(places, centre * 1.7, sharing).fraction
    back = share((ends - places)[::-1], ends - centre * 1.7, sharing).fraction[::-1]
    assert sorted(there) == pytest.approx(sorted(back))
    assert float(np.max(there)) == pytest.approx(float(np.max(back)))
