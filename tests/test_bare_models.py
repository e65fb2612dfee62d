"""The bare models: the same figures as an assessment, one answer for each element, every fault told at once."""

from __future__ import annotations

import numpy as np
import pytest

from ergo.errors import InputError
from ergo.handlers.load_sharing import share, share_force
from ergo.handlers.low_back import low_back
from ergo.mechanics.cross_section import Outline
from ergo.mechanics.rolling import brake, brake_force, turn_by_sheet, turn_force
from ergo.mechanics.sliding import body_slide_force, slide_force, steady_pull


def test_a_mass_on_one_layer_slides_as_a_body_of_one_segment():
    pull = {"breakaway": 1.3, "distance_m": 0.4, "time_s": 2.5}
    one = slide_force(80.0, 0.3, pull_angle_rad=0.3, slope_rad=0.1, **pull)
    body = body_slide_force([50.0, 30.0], [0.3, 0.3], [0.5, 1.0], pull_rad=0.3, slope_rad=0.1, **pull)
    assert float(one.start_n) == pytest.approx(float(body.start_n), rel=1e-12)
    assert float(one.steady_n) == pytest.approx(float(steady_pull(80.0, 0.3, 0.3, 0.1)), rel=1e-12)


def test_slide_forces_of_an_array_are_those_of_its_elements():
    mass, friction = np.array([[60.0], [120.0]]), np.array([0.1, 0.2, 0.4])
    whole = slide_force(mass, friction)
    assert whole.start_n.shape == (2, 3)
    for i in range(2):
        for j in range(3):
            assert float(slide_force(mass[i, 0], friction[j]).start_n) == whole.start_n[i, j]


def test_a_turn_of_one_section_is_that_of_its_outline_and_the_counter_hold_follows_from_it():
    angle = np.radians([0.0, 20.0, 60.0])
    turn = turn_force(80.0, 0.2, 0.12, hands_x_m=0.6, hands_y_m=0.1, angle_rad=angle, superellipse_exponent=3.0)
    outline = Outline.single(0.2, 0.12, 3.0)
    np.testing.assert_array_equal(turn.force_n, turn_by_sheet(outline, 80.0, angle, 0.6, 0.1).force_n)
    across, up = turn.force_n * np.cos(turn.elevation), turn.force_n * np.sin(turn.elevation)
    held = np.maximum(across - 0.1 * (turn.weight_n - up), 0.0)
    np.testing.assert_allclose(turn.counter_hold_n(0.1), held, rtol=1e-12)
    late = angle + np.pi / 2
    lowering = brake_force(80.0, 0.2, 0.12, angle_rad=late, superellipse_exponent=3.0)
    np.testing.assert_array_equal(lowering.force_n, brake(outline, 80.0, late).force_n)


def test_turn_forces_of_an_array_are_those_of_its_elements():
    mass, breadth = np.array([60.0, 90.0]), np.array([0.18, 0.22])
    whole = turn_force(mass, breadth, 0.12, hands_x_m=0.6, hands_y_m=0.1)
    assert whole.force_n.shape == (2, 91)
    one = turn_force(90.0, 0.22, 0.12, hands_x_m=0.6, hands_y_m=0.1)
    np.testing.assert_allclose(whole.force_n[1], one.force_n, rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize("sharing", ["best", "realistic", "guidance"])
def test_each_persons_force_is_their_part_of_the_side(sharing):
    places = [0.3, 0.7, 1.2]
    shared = share_force([100.0, 250.0], places, 0.6, sharing=sharing)
    np.testing.assert_allclose(shared.force_n[1], 250.0 * share(places, 0.6, sharing).fraction)


def faults_of(call) -> set[str]:
    with pytest.raises(InputError) as caught:
        call()
    return {fault.field for fault in caught.value.faults}


def test_every_fault_of_a_bare_model_is_told_at_once():
    assert faults_of(lambda: slide_force(-1.0, "low", time_s=0.0)) == {"mass_kg", "friction", "time_s"}
    assert faults_of(lambda: slide_force([1.0, 2.0], [0.1, 0.2, 0.3])) == {"array lengths"}
    assert faults_of(lambda: turn_force(80.0, 3.0, 0.12, hands_x_m=np.nan, hands_y_m=0.1)) == {
        "half_breadth_m",
        "hands_x_m",
    }
    assert faults_of(lambda: brake_force(80.0, 0.2, 0.12, superellipse_exponent=1.0)) == {"superellipse_exponent"}
    assert faults_of(lambda: low_back(moment_nm=np.inf, trunk_lean_rad=9.0, weight_above_n=1.0)) == {
        "moment_nm",
        "trunk_lean_rad",
    }
    assert faults_of(lambda: share_force(-5.0, [0.3], 0.3, spread=3.0)) == {"force_n", "spread"}
    assert faults_of(lambda: share_force(5.0, [], 0.3, sharing="even")) == {"position_m", "sharing"}
