"""The low back against worked examples of physics books, and its properties."""

import numpy as np
import pytest

from ergo.errors import InputError
from ergo.evidence import assumption
from ergo.handlers.low_back import low_back


def test_c01_static_back_of_a_physics_textbook() -> None:
    # openstax_college_physics, 9.6 (check C01): F_B 4.20e3; F_Vy 2.87e3, F_Vx 3.67e3, F_V 4.66e3 N at 38.0°
    weight = 9.80 * (55.0 + 30.0)
    moment = 9.80 * (55.0 * 0.350 + 30.0 * 0.500)
    # the book's spine pushes along the horizontal and its muscle pulls 29° below it, so it adds to the shear
    back = low_back(
        moment_nm=moment,
        trunk_lean_rad=np.pi / 2,
        weight_above_n=weight,
        back_arm_m=0.0800,
        muscle_to_spine_rad=-np.radians(29.0),
    )
    assert back.muscle_n == pytest.approx(4200, abs=5)
    assert back.compression_n == pytest.approx(3670, abs=5)
    assert back.shear_n == pytest.approx(2870, abs=5)
    assert np.hypot(back.compression_n, back.shear_n) == pytest.approx(4660, abs=5)
    assert np.degrees(np.arctan2(back.shear_n, back.compression_n)) == pytest.approx(38.0, abs=0.05)


def test_c02_uniform_rod_spine() -> None:
    # statics teaching text (check C02): T 2.71 kN, R_x 2.65 kN
    sin12 = np.sin(np.radians(12))
    back = low_back(
        moment_nm=350 * 0.5 + 200 * 1.0,
        trunk_lean_rad=np.pi / 2,
        weight_above_n=550.0,
        back_arm_m=2 / 3 * sin12,
        muscle_to_spine_rad=np.radians(12),
    )
    assert back.muscle_n == pytest.approx(2710, abs=5)
    assert back.compression_n == pytest.approx(2650, abs=5)


def test_c03_bent_back() -> None:
    # davidovits_physics, section 1.8 (check C03): muscle 2000 N
    sin60, sin12 = np.sin(np.radians(60)), np.sin(np.radians(12))
    back = low_back(
        moment_nm=(320 * 0.5 + 160 * 1.0) * sin60,
        trunk_lean_rad=np.radians(60),
        weight_above_n=480.0,
        back_arm_m=2 / 3 * sin12,
        muscle_to_spine_rad=np.radians(12),
    )
    assert back.muscle_n == pytest.approx(2000, abs=5)


def test_c04_a_load_held_further_away() -> None:
    # statics teaching text (check C04): 20 kg moved 0.10 m further, arm 0.05 m: about +390 N
    near, far = (
        low_back(
            moment_nm=50 + 20 * 9.80665 * reach,
            trunk_lean_rad=0.0,
            weight_above_n=400.0,
            lift_n=20 * 9.80665,
            back_arm_m=assumption("extensor_arm").low,
        )
        for reach in (0.30, 0.40)
    )
    assert far.compression_n - near.compression_n == pytest.approx(390, abs=5)


def test_the_parts_add_up_and_the_force_on_the_disc_balances_weight_hands_and_muscle() -> None:
    lean, weight, pull, lift = 0.7, 350.0, 120.0, 60.0
    back = low_back(moment_nm=90.0, trunk_lean_rad=lean, weight_above_n=weight, pull_n=pull, lift_n=lift)
    assert back.compression_n == pytest.approx(
        back.compression_from_muscle_n + back.compression_from_weight_n + back.compression_from_hands_n
    )
    assert back.shear_n == pytest.approx(back.shear_from_muscle_n + back.shear_from_weight_n + back.shear_from_hands_n)
    # turned back into the room, without the muscle along the spine, it is what hands and weight exert
    c, s = back.compression_n - back.muscle_n, back.shear_n
    assert s * np.cos(lean) - c * np.sin(lean) == pytest.approx(pull)
    assert s * np.sin(lean) + c * np.cos(lean) == pytest.approx(weight + lift)


def test_upright_and_unloaded_the_disc_carries_the_weight_above() -> None:
    back = low_back(moment_nm=0.0, trunk_lean_rad=0.0, weight_above_n=321.0)
    assert (back.compression_n, back.shear_n, back.muscle_n) == (321.0, 0.0, 0.0)


def test_the_shorter_arm_is_the_cautious_one() -> None:
    loads = [
        low_back(moment_nm=100.0, trunk_lean_rad=0.3, weight_above_n=300.0, back_arm_m=arm)
        for arm in (assumption("extensor_arm").typical, assumption("extensor_arm").low)
    ]
    assert loads[1].compression_n > loads[0].compression_n


HANDS = {"moment_nm": 90.0, "trunk_lean_rad": 0.5, "weight_above_n": 350.0, "pull_n": 120.0, "lift_n": 60.0}


def test_flexion_alone_gives_the_back_in_one_plane_exactly() -> None:
    back = low_back(**HANDS, hands_aside_m=0.0)
    assert back.compression_n == (
        back.compression_from_muscle_n + back.compression_from_weight_n + back.compression_from_hands_n
    )
    assert (back.side_bend_nm, back.twist_nm) == (0.0, 0.0)


def test_twist_and_side_bend_never_lower_compression_and_grow_with_the_distance_aside() -> None:
    aside = np.linspace(0.0, 2.0, 400)
    for pull in (-5000.0, -120.0, 0.0, 120.0, 5000.0):
        back = low_back(**{**HANDS, "pull_n": pull}, hands_aside_m=aside)
        assert (np.diff(back.compression_n) >= 0.0).all()
        assert back.shear_n == low_back(**{**HANDS, "pull_n": pull}).shear_n


def test_hands_as_far_to_the_other_side_mirror_the_moments_and_load_the_spine_alike() -> None:
    left, right = (low_back(**HANDS, hands_aside_m=s) for s in (0.35, -0.35))
    assert (left.side_bend_nm, left.twist_nm) == (-right.side_bend_nm, -right.twist_nm)
    assert (left.compression_n, left.shear_n) == (right.compression_n, right.shear_n)


def test_side_bend_and_twist_are_the_moments_of_the_hands_about_the_axes_of_the_trunk() -> None:
    # in space: x forward, y to the left, z up; the hands' reaction s to the left of the plane of the body
    lean, s, pull, lift = 0.5, 0.35, 120.0, 60.0
    moment = np.cross([0.0, s, 0.0], [pull, 0.0, -lift])
    spine, square_to_it = [np.sin(lean), 0.0, np.cos(lean)], [np.cos(lean), 0.0, -np.sin(lean)]
    back = low_back(**HANDS, hands_aside_m=s)
    assert back.twist_nm == pytest.approx(-np.dot(moment, spine))
    assert back.side_bend_nm == pytest.approx(-np.dot(moment, square_to_it))
    assert moment[1] == 0.0  # and none about the axis of flexion


def test_what_twist_and_side_bend_add_is_the_printed_polynomial() -> None:
    # mcgill_norman_1996 from memory: 3.229 B + 0.119 B² - 0.0001 B³ + 0.862 T + 0.393 T² - 0.0001 T³
    back = low_back(moment_nm=0.0, trunk_lean_rad=0.0, weight_above_n=0.0, pull_n=80.0, lift_n=40.0, hands_aside_m=0.5)
    bend, twist = 20.0, 40.0
    expected = 3.229 * bend + 0.119 * bend**2 - 1e-4 * bend**3 + 0.862 * twist + 0.393 * twist**2 - 1e-4 * twist**3
    assert back.compression_n - 40.0 == pytest.approx(expected)


def test_every_fault_is_told_at_once() -> None:
    with pytest.raises(InputError) as caught:
        low_back(moment_nm=np.nan, trunk_lean_rad=0.0, weight_above_n=-1.0, back_arm_m=0.0)
    assert {f.field for f in caught.value.faults} == {"moment_nm", "weight_above_n", "back_arm_m"}


def test_scalars_are_the_elements_of_arrays() -> None:
    moments = np.array([10.0, -40.0, 90.0])
    many = low_back(moment_nm=moments, trunk_lean_rad=0.4, weight_above_n=300.0)
    for k, moment in enumerate(moments):
        one = low_back(moment_nm=moment, trunk_lean_rad=0.4, weight_above_n=300.0)
        assert many.compression_n[k] == one.compression_n
