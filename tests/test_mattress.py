"""A mattress that gives: beside an integration and a bed of many springs of their own, in balance with its energy."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from ergo import evidence
from ergo.assessment import demand_of
from ergo.errors import InputError
from ergo.inputs import examples
from ergo.inputs.scenario import Bed, load_scenario
from ergo.mechanics.body import build_body
from ergo.mechanics.case import build_case
from ergo.mechanics.cross_section import Outline
from ergo.mechanics.demand import roll_force, task_of_turn
from ergo.mechanics.hand_actions import turn_actions
from ergo.mechanics.mattress import (
    Mattress,
    hollow_drag,
    mattress_range,
    mattress_support,
    mattress_under,
    outline_support,
    pressed_area,
    rolled_support,
)
from ergo.mechanics.rolling import brake, brake_force, roll_travel, turn_by_hands, turn_by_sheet, turn_force
from ergo.mechanics.sliding import slide_force
from ergo.uncertainty.distributions import uncertain_inputs
from ergo.uncertainty.monte_carlo import uniform_chunks, uniform_columns
from ergo.uncertainty.team_draws import build_tables, task_draws
from ergo.units import G
from tests.tools.random_scenarios import some

SAVED = Path(__file__).parent / "saved" / "format_1"
HALF_TURN = np.radians(np.arange(181.0))
sections = st.tuples(st.floats(0.12, 0.28), st.floats(0.5, 0.9), st.floats(2.0, 3.6))
angles = st.floats(0.0, np.pi)
immersions = st.floats(0.01, 0.10)


def section(shape):
    a, ratio, n = shape
    return a, a * ratio, n


def patient(mass=82.0, immersion=0.03, loss=0.0):
    body = build_body("M", mass, 1.75)
    return body.outline, mattress_under(mass, 1.75, immersion, loss)


def depth_below_the_centre(a, b, n, angle, x):
    """The lower boundary of a turned superellipse at x, from its implicit equation; None where it does not reach."""

    def value(y):
        across, down = x * np.cos(angle) + y * np.sin(angle), -x * np.sin(angle) + y * np.cos(angle)
        return abs(across / a) ** n + abs(down / b) ** n - 1.0

    # along the vertical through x the value falls and rises again: the lowest lies where the chord has its middle
    ys = np.linspace(-a - b, a + b, 81)
    inside = ys[int(np.argmin([value(y) for y in ys]))]
    return brentq(value, inside, a + b + 0.1) if value(inside) < 0 else None


def depth_of(outline, angle, points=20_000):
    """x and depth below the centre of a finely divided lower boundary, from the support function."""
    tilt = np.linspace(-1.45, 1.45, points)
    h, p = outline.over_angles().height_and_moment_arm(angle + tilt)
    return h * np.sin(tilt) + p * np.cos(tilt), h * np.cos(tilt) - p * np.sin(tilt)


@pytest.mark.parametrize("angle", [0.0, 0.4, 1.1, 2.5])
@pytest.mark.parametrize(("a", "b", "n"), [(0.18, 0.12, 2.7), (0.2, 0.13, 3.5), (0.15, 0.14, 2.0)])
def test_an_integration_of_the_turned_superellipse_gives_the_same_support(a, b, n, angle):
    outline, area = Outline.single(a, b, n), 0.009
    ours = outline_support(outline, area, [angle])
    xs = np.linspace(-a - b, a + b, 1601)
    below = [depth_below_the_centre(a, b, n, angle, x) for x in xs]
    xs, ys = np.array([(x, y) for x, y in zip(xs, below, strict=True) if y is not None]).T

    def integral(power_of_depth, power_of_x, z):
        def integrand(x):
            return max(np.interp(x, xs, ys) - z, 0.0) ** power_of_depth * x**power_of_x

        wet = xs[ys > z]
        return quad(integrand, wet[0] - 0.001, wet[-1] + 0.001, limit=400, epsabs=1e-7)[0]

    z = brentq(lambda z: integral(1, 0, z) - area, 0.02, ys.max() - 1e-4, xtol=1e-9)
    p = integral(1, 1, z) / area
    assert ours.centre_height_m[0] == pytest.approx(z, abs=3e-5)
    assert ours.moment_arm_m[0] == pytest.approx(p, abs=1e-4)
    assert ours.friction_depth_m[0] == pytest.approx(z + integral(2, 0, z) / area, abs=3e-5)
    wet = ys > z
    x, depth, usual = xs[wet], ys[wet] - z, integral(2, 0, z) / area
    speed = x - 0.5 * (x[0] + x[-1]) + (depth - usual) * np.gradient(depth, x)
    assert ours.loss_arm_m[0] == pytest.approx(0.5 * np.trapezoid(depth * np.abs(speed), x) / area, rel=0.02)


@some
@given(st.floats(45.0, 160.0), immersions, angles)
def test_a_bed_of_many_springs_in_balance_bears_the_patient_at_the_same_place(mass, immersion, angle):
    outline, mattress = patient(mass, immersion)
    x, y = depth_of(outline, angle)
    columns = np.linspace(x.min(), x.max(), 4001)  # springs side by side, a tenth of a millimetre apart
    bottom = np.interp(columns, x, y)
    stiffness = mass * G / float(mattress.pressed_m2) * (columns[1] - columns[0])

    def unbalanced(z):
        return stiffness * np.maximum(bottom - z, 0.0).sum() - mass * G

    z = brentq(unbalanced, 0.0, bottom.max())
    push = stiffness * np.maximum(bottom - z, 0.0)
    ours = outline_support(outline, mattress.pressed_m2, [angle])
    assert ours.centre_height_m[0] == pytest.approx(z, abs=1e-4)
    assert ours.moment_arm_m[0] == pytest.approx((push * columns).sum() / (mass * G), abs=1e-4)
    assert ours.friction_depth_m[0] == pytest.approx((push * bottom).sum() / (mass * G), abs=1e-4)


@pytest.mark.parametrize("immersion", [0.01, 0.03, 0.06, 0.09])
def test_gravitys_moment_is_the_derivative_of_the_energy_of_height_and_springs(immersion):
    outline, mattress = patient(82.0, immersion)
    step = np.radians(0.25)
    at = outline_support(outline, mattress.pressed_m2, np.arange(0.0, np.pi, step))
    springs = 0.5 * (at.friction_depth_m - at.centre_height_m)  # k L ∫ δ² dx / 2 over the weight
    energy = 82.0 * G * (at.centre_height_m + springs)
    moment = 82.0 * G * at.moment_arm_m
    assert np.gradient(energy, step)[4:-4] == pytest.approx(moment[4:-4], abs=0.1 if immersion < 0.02 else 0.03)


def test_a_closed_roll_loses_what_the_mattress_keeps_of_all_that_is_pressed():
    # Columns of the mattress on their own: pressed they push with their full force, released they give back 1 - loss.
    loss, mass = 0.35, 82.0
    outline, mattress = patient(mass, 0.03, loss)
    angle = np.linspace(0.0, 2.0 * np.pi, 2881)
    at = outline_support(outline, mattress.pressed_m2, angle)
    step = angle[1]
    moved = np.concatenate([[0.0], np.cumsum((at.friction_depth_m[1:] + at.friction_depth_m[:-1]) * step / 2.0)])
    columns = np.arange(-0.5, moved[-1] + 0.5, 0.001)
    before, pressed = None, 0.0
    for i, turn in enumerate(angle):
        x, y = depth_of(outline, turn, 1500)
        bottom = np.interp(columns, moved[i] + x, y, left=-1.0, right=-1.0)
        depth = np.maximum(bottom - at.centre_height_m[i], 0.0)
        if before is not None:
            pressed += np.maximum(depth**2 - before**2, 0.0).sum() * 0.001 / 2.0
        before = depth
    kept = loss * pressed * mass * G / float(mattress.pressed_m2)
    ours = mass * G * loss * np.sum(at.loss_arm_m[1:] + at.loss_arm_m[:-1]) * step / 2.0
    assert np.sum(at.moment_arm_m[:-1]) == pytest.approx(0.0, abs=1e-6)  # the springs themselves lose nothing
    assert ours == pytest.approx(kept, rel=2e-3)


@some
@given(sections)
def test_where_nothing_is_pressed_in_the_body_rolls_rigidly_to_the_last_digit(shape):
    outline = Outline.single(*section(shape))
    height, p = outline.over_angles().height_and_moment_arm(HALF_TURN)
    for mattress in (Mattress(np.zeros(()), np.asarray(0.4)), mattress_under(82.0, 1.75, 0.0, 0.4)):
        rigid = rolled_support(outline, mattress, HALF_TURN)
        assert (rigid.moment_arm_m == p).all()
        assert (rigid.centre_height_m == height).all()
        assert (rigid.friction_depth_m == height).all()
        assert not rigid.loss_arm_m.any()
        assert float(hollow_drag(outline, mattress)) == 0.0


@some
@given(sections, angles)
def test_a_mattress_that_hardly_gives_is_nearly_a_hard_surface(shape, angle):
    outline = Outline.single(*section(shape))
    hard, nearly = (outline_support(outline, pressed_area(outline, sink), [angle]) for sink in (0.0, 1e-4))
    assert nearly.centre_height_m == pytest.approx(hard.centre_height_m, abs=2e-3)
    assert nearly.moment_arm_m == pytest.approx(hard.moment_arm_m, abs=0.01)


@some
@given(sections, immersions)
def test_one_side_is_the_mirror_of_the_other(shape, sink):
    outline = Outline.single(*section(shape))
    at = outline_support(outline, pressed_area(outline, min(sink, 0.9 * shape[0] * shape[1])), HALF_TURN[::3])
    assert at.moment_arm_m == pytest.approx(-at.moment_arm_m[::-1], abs=1e-8)
    for even in (at.sink_m, at.friction_depth_m, at.loss_arm_m):
        assert even == pytest.approx(even[::-1], abs=1e-8)


@some
@given(st.floats(40.0, 200.0), st.floats(1.02, 1.5), immersions)
def test_a_heavier_or_shorter_patient_sinks_deeper_into_the_same_mattress(mass, more, sink):
    outline = build_body("F", mass, 1.65).outline
    usual, heavier, shorter = (
        outline_support(outline, mattress_under(m, h, sink, 0.3).pressed_m2, HALF_TURN).sink_m
        for m, h in ((mass, 1.65), (mass * more, 1.65), (mass, 1.65 / more))
    )
    assert (heavier >= usual - 1e-12).all()
    assert (shorter >= usual - 1e-12).all()
    assert heavier[0] > usual[0] or usual[0] >= outline.height(0.0) - 1e-9  # nobody sinks deeper than to the centre


def test_the_reference_patient_sinks_by_the_stated_immersion():
    for sink in (0.005, 0.03, 0.09):
        outline, mattress = patient(82.0, sink)
        assert float(rolled_support(outline, mattress, [0.0]).sink_m[0]) == pytest.approx(sink, abs=2e-5)


@some
@given(st.floats(30.0, 340.0), st.floats(0.0, 0.15), st.floats(1.2, 2.2), angles)
def test_any_patient_on_any_mattress_has_finite_support_within_the_body(mass, sink, stature, angle):
    body = build_body("M", mass, stature)
    mattress = mattress_under(mass, stature, sink, 0.5)
    at = rolled_support(body.outline, mattress, [angle])
    widest = float(body.outline.half_breadth) + float(body.outline.height(0.0))
    assert -1e-9 <= at.sink_m[0] <= at.sink_m[0] + at.centre_height_m[0] + 1e-9
    assert at.centre_height_m[0] - 1e-9 <= at.friction_depth_m[0] <= widest
    assert abs(at.moment_arm_m[0]) < widest
    assert 0.0 <= at.loss_arm_m[0] < widest
    assert 0.0 <= float(hollow_drag(body.outline, mattress)) < 0.6


def test_neither_a_tenth_of_a_degree_nor_ten_grams_make_a_jump():
    fine = np.radians(np.arange(0.0, 180.05, 0.1))
    outline, mattress = patient(82.0, 0.03)
    at = rolled_support(outline, mattress, fine)
    assert np.abs(np.diff(at.moment_arm_m)).max() < 3e-4
    assert np.abs(np.diff(at.loss_arm_m)).max() < 1e-4
    for mass in (60.0, 82.0, 140.0):
        one, other = (rolled_support(*patient(m, 0.03), HALF_TURN) for m in (mass, mass + 0.01))
        assert np.abs(one.moment_arm_m - other.moment_arm_m).max() < 2e-5


@some
@given(st.floats(45.0, 200.0), st.floats(0.005, 0.10))
def test_what_lies_between_the_angles_that_were_solved_is_as_if_it_were_solved(mass, sink):
    outline, mattress = patient(mass, sink)
    angle = np.radians(np.arange(0.7, 180.0, 3.0))
    between, solved = rolled_support(outline, mattress, angle), outline_support(outline, mattress.pressed_m2, angle)
    assert between.moment_arm_m == pytest.approx(solved.moment_arm_m, abs=4e-4)
    assert between.loss_arm_m == pytest.approx(solved.loss_arm_m, abs=4e-4)
    assert between.friction_depth_m == pytest.approx(solved.friction_depth_m, abs=2e-4)


def test_many_patients_at_once_are_each_as_alone():
    wide = np.array([0.9, 1.0, 1.1])
    outline = build_body("M", 82.0, 1.75, breadth_scale=wide).outline
    together = outline_support(outline, pressed_area(outline, [0.0, 0.03, 0.06]), HALF_TURN)
    for i, sink in enumerate((0.0, 0.03, 0.06)):
        one = build_body("M", 82.0, 1.75, breadth_scale=wide[i]).outline
        alone = outline_support(one, pressed_area(one, sink), HALF_TURN)
        assert together.moment_arm_m[i] == pytest.approx(alone.moment_arm_m, abs=1e-9)


# Of 82 kg, first computed apart from this code: turning moment and lowering force without loss and with a loss of 0.35,
# drag of the hollow.
FIRST_COMPUTED = [
    (0.0, (46.9, 46.9), (211, 211), 0),
    (0.03, (31, 37), (153, 127), 20),
    (0.06, (23, 30), (120, 85), 34),
    (0.09, (19, 27), (107, 64), 47),
]


@pytest.mark.parametrize(("sink", "turning", "lowering", "drag"), FIRST_COMPUTED)
def test_moments_and_forces_at_82_kg_are_those_first_computed(sink, turning, lowering, drag):
    outline, mattress = patient(82.0, sink, 0.35)
    weight, at = 82.0 * G, rolled_support(outline, mattress, HALF_TURN)
    lead = np.maximum(-at.moment_arm_m, 0.0) + outline.over_angles().height(HALF_TURN + np.pi / 2.0)
    found = {}
    for loss in (0.0, 0.35):
        p = at.moment_arm_m + loss * at.loss_arm_m
        found[loss] = weight * p.max(), weight * (np.maximum(-p, 0.0) / lead).max()
    assert found[0.0] == pytest.approx((turning[0], lowering[0]), rel=0.03)
    assert weight * float(hollow_drag(outline, mattress)) == pytest.approx(drag, rel=0.03, abs=0.5)
    # The first count took as pressed what lies ahead of the centre of pressure, as if the body turned about it. That
    # misses what the rim of the hollow moves: 7 % of the work at 3 cm, 17 % at 9 cm.
    assert found[0.35][0] == pytest.approx(turning[1], rel=0.03 if sink < 0.05 else 0.07)
    assert found[0.35][1] == pytest.approx(lowering[1], rel=0.03 if sink < 0.05 else 0.15)
    assert found[0.35][0] >= found[0.0][0]
    assert found[0.35][1] <= found[0.0][1]


def test_moving_the_hollow_costs_the_work_of_pressing_all_that_it_passes():
    # The deepest point passes every column across the bed: each is pressed to that depth once.
    outline, mattress = patient(82.0, 0.06, 0.35)
    stiffness = 82.0 * G / float(mattress.pressed_m2)
    x, y = depth_of(outline, 0.0)
    sunk = np.maximum(y - float(rolled_support(outline, mattress, [0.0]).centre_height_m[0]), 0.0)
    across, along = 0.35 * 0.5 * stiffness * sunk.max() ** 2, 0.35 * 0.5 * stiffness / 1.75 * np.trapezoid(sunk**2, x)
    assert 82.0 * G * float(hollow_drag(outline, mattress)) == pytest.approx(across, rel=2e-3)
    assert 82.0 * G * float(hollow_drag(outline, mattress, 1.75)) == pytest.approx(along, rel=2e-3)


FAR = 0.45 + 0.25  # from the middle of the patient to the receiving side's hands


def springs_under(outline, mattress, angle, weight):
    """Forces of many springs, where they press and how deep below the centre; they add up to the weight."""
    z = float(outline_support(outline, mattress.pressed_m2, [angle]).centre_height_m[0])
    x, y = depth_of(outline, angle)
    columns = np.linspace(x.min(), x.max(), 4001)
    bottom = np.interp(columns, x, y)
    push = np.maximum(bottom - z, 0.0)
    return push * weight / push.sum(), columns, bottom


@pytest.mark.parametrize("immersion", [0.02, 0.06])
@pytest.mark.parametrize("angle", [0.3, 0.8, 2.4, 2.9])
def test_pull_push_and_lowering_hold_the_patient_in_balance_on_a_bed_of_springs(immersion, angle):
    # Moments about the patient's centre, of the hands and of every spring, which rubs as much as it presses.
    mass = 82.0
    outline, mattress = patient(mass, immersion)
    offset = -0.25
    at = turn_actions(
        outline, mass, 0.4, [angle], offset_m=offset, bed_width_m=0.9, hand_height_m=0.1, far_layer_m=0.9,
        mattress=mattress,
    )  # fmt: skip
    centre = offset + float(roll_travel(outline, [angle])[0])
    height = float(rolled_support(outline, mattress, [angle]).centre_height_m[0])
    seen = 0
    for action in at.actions:
        gain, reach = float(action.gain[0]), float(action.reach_m[0])
        if gain <= 0.0 or (reach == 0.0 and action.name not in ("pulls the sheet", "pays out")):
            continue  # nothing that it could do here, or hands beyond the edge of the bed
        seen += 1
        force = float(at.resistance[0]) / gain
        towards = 1.0 if action.side == "receiving" else -1.0
        level, up = towards * float(action.pull[0]) * force, float(action.lift[0]) * force
        x, y = towards * (0.45 - reach) - centre, float(action.hand_height_m[0]) - height
        push, columns, bottom = springs_under(outline, mattress, angle, mass * G - up)
        rub = -level * push / push.sum()
        turning = (y * level - x * up) - (push * columns).sum() - (rub * bottom).sum()
        assert turning == pytest.approx(0.0, abs=0.02 * float(at.resistance[0]) + 0.2), action.name
    assert seen >= 2


@some
@given(st.floats(45.0, 160.0), immersions, st.floats(0.0, 0.5))
def test_one_side_alone_needs_the_same_force_by_its_own_statics_and_as_an_action(mass, sink, loss):
    outline, mattress = patient(mass, sink, loss)
    at = turn_actions(
        outline, mass, 0.4, HALF_TURN, offset_m=-0.25, bed_width_m=0.9, hand_height_m=0.1, mattress=mattress
    )
    for name, alone in (
        ("pulls the sheet", turn_by_sheet(outline, mass, HALF_TURN, FAR, 0.1, mattress)),
        ("receives and lowers", brake(outline, mass, HALF_TURN, mattress)),
    ):
        action = next(a for a in at.actions if a.name == name)
        working = action.gain > 0
        force = np.where(working, at.resistance / np.where(working, action.gain, 1.0), 0.0)
        assert force == pytest.approx(alone.force_n, rel=1e-9, abs=1e-9)


def test_held_still_the_patient_asks_for_what_gravity_asks_and_nothing_of_the_loss():
    outline, mattress = patient(82.0, 0.03, 0.35)
    for turn in (turn_by_sheet, turn_by_hands):
        moved, still = (turn(outline, 82.0, HALF_TURN, FAR, 0.3, m) for m in (mattress, mattress.at_rest()))
        assert (moved.hold_n == still.force_n).all()
        assert moved.force_n.max() > moved.hold_n.max()
    lowered, still = (brake(outline, 82.0, HALF_TURN, m) for m in (mattress, mattress.at_rest()))
    assert (lowered.hold_n == still.force_n).all()
    assert lowered.force_n.max() < lowered.hold_n.max()  # the mattress slows the patient, until it has settled


@pytest.mark.parametrize(("sink", "first_computed"), [(0.0, 282.0), (0.03, 196.0), (0.06, 144.0)])
def test_a_push_that_would_roll_the_patient_is_smaller_the_more_the_mattress_gives(sink, first_computed):
    outline, mattress = patient(82.0, sink, 0.35)
    at = turn_actions(
        outline, 82.0, 0.4, np.radians(np.arange(1.0, 90.0)), offset_m=0.0, bed_width_m=0.9, hand_height_m=0.1,
        mattress=mattress,
    )  # fmt: skip
    push = next(a for a in at.actions if a.name == "pushes").gain
    # a little more than first computed: the loss counts all that is pressed
    force = at.resistance / np.where(push > 0.0, push, np.inf)
    assert float(force.max()) == pytest.approx(first_computed, rel=0.05)


def test_the_bare_models_of_turn_and_lowering_take_a_mattress():
    section = {"half_breadth_m": 0.18, "half_depth_m": 0.12}
    hard = turn_force(80.0, **section, hands_x_m=0.6, hands_y_m=0.1)
    soft = turn_force(80.0, **section, hands_x_m=0.6, hands_y_m=0.1, immersion_m=[0.0, 0.03, 0.06])
    assert soft.force_n[0] == pytest.approx(hard.force_n, rel=1e-9)
    assert hard.force_n.max() > soft.force_n[1].max() > soft.force_n[2].max() > 0.0
    lowered = brake_force(80.0, **section, immersion_m=0.03, loss=[0.0, 0.35])
    assert brake_force(80.0, **section).force_n.max() > lowered.force_n[0].max() > lowered.force_n[1].max()
    with pytest.raises(InputError) as error:
        brake_force(80.0, **section, immersion_m=0.4, loss=1.5)
    assert {fault.field for fault in error.value.faults} == {"immersion_m", "loss"}


@some
@given(st.floats(40.0, 180.0), st.floats(0.05, 0.6), st.floats(0.0, 0.5), st.floats(0.0, 0.1))
def test_in_a_slide_the_hollow_adds_its_part_of_the_weight(mass, friction, angle, drag):
    level = {"pull_angle_rad": angle, "breakaway": 1.3, "distance_m": 0.3, "time_s": 20.0}
    without, found = (slide_force(mass, friction, drag=d, **level) for d in (0.0, drag))
    added = drag * mass * G / (np.cos(angle) + friction * np.sin(angle))
    assert float(found.hollow_n) == pytest.approx(added, rel=1e-9, abs=1e-9)
    assert float(found.steady_n - without.steady_n) == pytest.approx(added, rel=1e-9, abs=1e-9)
    # friction is larger before anything moves, the hollow is not
    assert float(found.start_n - without.start_n) == pytest.approx(added, rel=1e-9, abs=1e-9)
    assert float(without.hollow_n) == 0.0


def resistances(scenario):
    """What resists the hands in every task of a case, at its hardest."""
    demand = demand_of(scenario)
    return {
        (demand.moves[place[0]][0].kind, n): float(np.max(task.instants.resistance))
        for n, (task, place) in enumerate(zip(demand.tasks, demand.places, strict=True))
        if task.group == "sides"
    }


def test_a_case_on_foam_asks_less_in_turns_and_more_in_slides_than_on_a_hard_surface():
    hard, foam = (
        resistances(examples.prone_turn(82.0, intubated=False, bed={"immersion_m": sink})) for sink in (0.0, 0.03)
    )
    kinds = {kind for kind, _ in hard}
    assert max(v for (k, _), v in foam.items() if k == "prone turn") < max(
        v for (k, _), v in hard.items() if k == "prone turn"
    )
    for kind in kinds & {"slide to the side", "centring"}:
        slides = [max(v for (k, _), v in found.items() if k == kind) for found in (hard, foam)]
        assert 10.0 < slides[1] - slides[0] < 40.0


def test_a_boost_moves_the_hollow_lengthwise_which_costs_next_to_nothing():
    hard, foam = (resistances(examples.boost(82.0, bed={"immersion_m": sink})) for sink in (0.0, 0.06))
    (one,), (other,) = hard.values(), foam.values()
    assert 0.5 < other - one < 6.0


def test_a_measured_immersion_is_not_drawn_and_a_hard_surface_keeps_nothing():
    names = [
        {i.name for i in uncertain_inputs(examples.boost(bed=bed))} & {"immersion_m", "mattress_loss"}
        for bed in ({}, {"immersion_m": 0.03}, {"immersion_m": 0.0})
    ]
    assert names == [{"immersion_m", "mattress_loss"}, {"mattress_loss"}, set()]


@pytest.mark.parametrize("kind", ["foam", "alternating air", "firm"])
def test_what_is_drawn_of_a_turn_is_what_the_turn_itself_asks(kind):
    case = examples.prone_turn(90.0, intubated=False, bed={"mattress": kind})
    inputs, demand = uncertain_inputs(case), demand_of(case)
    (points,) = uniform_chunks(uniform_columns(inputs), 16, 3)
    values = {spread.name: spread.at(points[:, i]) for i, spread in enumerate(inputs)}
    for task, place in zip(task_draws(build_tables(demand, inputs), values), demand.places, strict=True):
        move = demand.moves[place[0]][0]
        if task.task.group != "sides" or not move.is_turn:
            continue
        for i in range(16):
            one = build_case(case, {name: np.asarray(drawn[i]) for name, drawn in values.items()})
            exact = task_of_turn(move, one, case, task.task.instants.angle, task.task.hold_s > 0).instants.resistance
            assert task.resistance[:, i] == pytest.approx(exact, rel=0.02, abs=0.02 * float(np.max(exact)) + 0.2)


def test_the_push_that_rolls_the_patient_is_the_same_for_many_mattresses_as_for_each():
    case = examples.lateral_transfer(82.0)
    drawn = {"immersion_m": np.linspace(0.015, 0.06, 7), "mattress_loss": np.linspace(0.5, 0.1, 7)}
    together = roll_force(build_case(case, drawn), case)
    for i in range(7):
        alone = roll_force(build_case(case, {name: np.asarray(v[i]) for name, v in drawn.items()}), case)
        assert float(together[i]) == pytest.approx(float(alone), rel=0.01)


def test_kinds_of_mattress_stand_in_the_order_of_what_was_measured():
    foam, air, firm = (mattress_range(kind, "immersion") for kind in ("foam", "alternating air", "firm"))
    assert firm.typical < foam.typical < air.typical
    measured = {r["mattress"]: float(r["value"]) for r in evidence.table("mattress") if r["quantity"] == "immersion"}
    half_depth = float(build_body("M", 81.1, 1.75).outline.height(0.0))
    assert foam.low <= measured["foam and air"] / 100.0 * half_depth <= foam.high
    assert air.low <= measured["one air surface"] / 100.0 * half_depth + 0.002
    assert measured["air"] / 100.0 * half_depth <= air.high + 0.007
    for kind in ("foam", "alternating air", "firm"):
        for quantity in ("immersion", "loss"):
            found = mattress_range(kind, quantity)
            assert 0.0 < found.low <= found.typical <= found.high < 1.0
            assert found.known == "judgement"
    assert set(Bed.model_fields["mattress"].annotation.__args__) == {
        r["mattress"] for r in evidence.table("mattress_types")
    }


@pytest.mark.parametrize("name", ["boost_flat", "prone_two_layer_pad", "named_members"])
def test_a_case_that_says_nothing_of_its_mattress_lies_on_foam(name):
    bed = load_scenario(SAVED / f"{name}.toml").bed
    assert (bed.mattress, bed.immersion_m) == ("foam", None)


def test_the_public_model_names_every_argument_that_is_out_of_range():
    with pytest.raises(InputError) as error:
        mattress_support(0.18, 0.01, immersion_m=-0.1)
    assert {fault.field for fault in error.value.faults} == {"half_depth_m", "immersion_m"}
    deepest = mattress_support(0.18, 0.12, immersion_m=0.2, angle_rad=0.0)  # no deeper than to the centre
    assert float(deepest.sink_m[0]) == pytest.approx(0.12)
