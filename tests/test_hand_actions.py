"""What hands can do in a turn: beside the statics of one side alone, and in balance with gravity at every angle."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ergo.handlers.team_effort import team_effort
from ergo.mechanics.cross_section import Outline
from ergo.mechanics.hand_actions import slide_actions, turn_actions
from ergo.mechanics.rolling import brake, counter_hold, roll_travel, turn_by_sheet
from ergo.mechanics.sliding import slide_force
from ergo.units import G
from tests.tools.random_scenarios import some

ANGLES = np.radians(np.arange(1.0, 180.0, 3.0))
bodies = st.tuples(st.floats(0.14, 0.28), st.floats(0.5, 0.9), st.floats(2.0, 3.6), st.floats(40.0, 180.0))


def turned(body, friction=0.4, **rest):
    a, ratio, n, mass = body
    outline = Outline.single(a, a * ratio, n)
    given_here = {"offset_m": -0.25, "bed_width_m": 0.9, "hand_height_m": 0.1} | rest
    return outline, mass, turn_actions(outline, mass, friction, ANGLES, **given_here)


def named(instants, name):
    return next(action for action in instants.actions if action.name == name)


@some
@given(bodies)
def test_one_side_that_pulls_alone_needs_the_force_of_the_sheets_statics(body):
    outline, mass, at = turned(body)
    pull = named(at, "pulls the sheet")
    alone = turn_by_sheet(outline, mass, ANGLES, 0.45 + 0.25, 0.1)
    found = team_effort(np.where(at.driving, 0.0, at.resistance), pull.gain[..., None, None], 1000.0)
    assert found.force_n[..., 0, 0] == pytest.approx(alone.force_n, rel=1e-9, abs=1e-9)


@some
@given(bodies)
def test_hands_straight_up_under_the_leading_edge_need_the_force_of_the_brake(body):
    outline, mass, at = turned(body)
    bear = named(at, "receives and lowers")
    alone = brake(outline, mass, ANGLES)
    force = np.where(at.driving, at.resistance / np.where(at.driving, bear.gain, 1.0), 0.0)
    assert force == pytest.approx(alone.force_n, rel=1e-9, abs=1e-9)


@some
@given(bodies, st.floats(0.05, 0.5))
def test_the_far_side_holds_what_the_sheet_would_slip(body, friction):
    outline, mass, at = turned(body, friction)
    alone = turn_by_sheet(outline, mass, ANGLES, 0.45 + 0.25, 0.1)
    slip = np.sum(alone.force_n * named(at, "pulls the sheet").slip) - np.sum(at.slip_margin_n[alone.force_n > 0])
    held = counter_hold(alone.force_n, alone.elevation, np.full(alone.force_n.shape, mass * G), np.full(1, friction))
    over = alone.force_n * named(at, "pulls the sheet").slip - at.slip_margin_n
    assert np.maximum(over, 0.0) == pytest.approx(held, abs=1e-6)
    assert np.isfinite(slip)


@some
@given(bodies)
def test_every_gain_is_the_moment_that_a_unit_force_has_about_the_contact_line(body):
    outline, _, at = turned(body, far_layer_m=0.9)
    shaped = outline.over_angles()
    p = shaped.moment_arm(ANGLES)
    for name in ("pushes", "lifts its edge", "holds back"):
        action = named(at, name)
        on = (action.gain > 0) & (action.reach_m > 0)  # hands beyond the edge of the bed stand at it
        x = action.reach_m - 0.45  # from the middle of the bed, seen from the other side
        dx, dy = -action.pull, action.lift

        contact = -0.25 + roll_travel(outline, ANGLES) + p
        moment = action.hand_height_m * dx - (x - contact) * dy
        assert np.abs(moment)[on] == pytest.approx(action.gain[on], rel=1e-9)


def test_a_lifted_edge_is_worth_most_of_all_that_the_far_side_can_do():
    _, _, at = turned((0.2, 0.65, 2.8, 82.0))
    assert np.all(named(at, "lifts its edge").gain >= named(at, "pushes").gain - 1e-12)


@some
@given(st.floats(40, 180), st.floats(0.05, 0.6), st.floats(0.0, 0.6))
def test_a_slide_drawn_by_one_side_needs_the_force_of_the_slides_statics(mass, friction, angle):
    alone = slide_force(mass, friction, pull_angle_rad=angle, breakaway=1.3, distance_m=0.3, time_s=20.0)
    at = slide_actions(
        1.3 * friction * mass * G, friction, pull_angle_rad=angle, pull_reach_m=0.2, push_reach_m=0.4,
        hand_height_m=0.1, push_height_m=0.15,
    )  # fmt: skip
    found = team_effort(at.resistance[0], named(at, "pulls the sheet").gain[0], [[500.0]])
    assert float(found.force_n[0, 0]) == pytest.approx(float(alone.start_n), rel=1e-9)


def test_what_is_paid_out_holds_the_patient_back_past_the_balance_point_only():
    _, _, at = turned((0.2, 0.65, 2.8, 82.0), far_layer_m=0.9)
    out = named(at, "pays out")
    assert not out.gain[~at.driving].any()
    assert out.gain[at.driving].max() > 0.1
