"""Published checks: each names its source; the tolerance is half of the last printed digit unless said otherwise.

A disagreement is asserted as a disagreement, with the reason. Where the same data gave the friction and the force, the
check is not independent and is marked so.
"""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from scipy import constants

from ergo.assessment import assess
from ergo.evidence import row, table
from ergo.inputs.scenario import parse_scenario
from ergo.limits.registry import LIMITS
from ergo.mechanics.body import breadths, limb_mass, segment_fractions
from ergo.mechanics.cross_section import Outline
from ergo.mechanics.sliding import steady_pull
from ergo.units import G
from ergo.validation.cases import NOT_PREDICTED, validation_cases
from ergo.validation.prediction_bands import slide_force

CASES = {case.id: case for case in validation_cases()}
POUND = constants.lb


# --- worked examples and identities (check_values) ----------------------------------------------------------------

# Every row of check_values from C05 to C14 is either checked by the test named here or left out for the reason.
COVERED = {
    "C05": "left out: the lognormal population force of EN 1005-3 annex A is not computed; F_B is read as printed",
    "C06": "left out: the lifting equation (six multipliers) is not part of this model",
    "C07": "left out: the lifting equation is not part of this model",
    "C08": "left out: the lifting equation is not part of this model",
    "C09": "test_c09_three_caregivers_share_half_of_a_180_lb_patient",
    "C10": "test_c10_the_leg_of_a_250_lb_patient_is_over_35_lb",
    "C11": "test_c11_both_legs_of_a_141_lb_patient_are_22_lb_each",
    "C12": "test_c12_the_pull_at_an_angle_and_where_it_is_least",
    "C13": "test_c13_the_peak_torque_of_a_rolling_ellipse",
    "C14": "test_c14_the_segment_fractions_sum_as_printed",
}


def test_every_check_value_from_c05_to_c14_is_checked_or_left_out_with_a_reason():
    wanted = [r["id"] for r in table("check_values") if 5 <= int(r["id"][1:]) <= 14]
    assert list(COVERED) == wanted
    for said in COVERED.values():
        assert said.startswith("left out: ") or callable(globals()[said])


def limit(key: str) -> float:
    return float(row("limits", key=key)["value"])


def test_c09_three_caregivers_share_half_of_a_180_lb_patient():
    # waters_2007, read: half of 180 lb between three is within 35 lb each, between two it is 45 lb each.
    half = 180 * POUND / 2
    each = {n: half / n for n in (2, 3)}
    assert each[2] / POUND == pytest.approx(45, abs=0.5)
    within = {n: kg <= limit("niosh_35lb") for n, kg in each.items()}
    assert within == {2: False, 3: True}


def test_c10_the_leg_of_a_250_lb_patient_is_over_35_lb():
    # waters_2007, read: about 39 lb with a leg of 16 %. Winter's leg is 16.1 %: 40 lb, "about" to 2 lb.
    leg = float(limb_mass("leg", 250 * POUND, 1.75)) / POUND
    assert leg == pytest.approx(39, abs=2)
    assert leg > 35
    patient = {"sex": "M", "mass_kg": 250 * POUND, "stature_m": 1.75}
    alone = {"left": 1, "right": 0}
    held = assess(parse_scenario({"name": "x", "procedure": "limb hold", "patient": patient, "team": alone}))
    check = next(c for c in held.moves[0].limits if c.key == "niosh_35lb")
    assert check.verdict == "over"


def test_c11_both_legs_of_a_141_lb_patient_are_22_lb_each():
    # aorn_2011, reprint: 22 lb a leg at 15.7 % gives 141 lb. Winter's 16.1 % gives 138 lb: the printed share is not
    # the one used here, so the check is on the limit: 22.2 lb (10.1 kg) over the share.
    assert abs(22.2 / 0.157 - 141) < 0.5
    assert limit("aorn_two_hands") / POUND == pytest.approx(22.2, abs=0.1)
    ours = limit("aorn_two_hands") / float(limb_mass("leg", 1.0, 1.7)) / POUND
    assert ours == pytest.approx(138, abs=0.5)
    assert ours < 141  # the heavier leg is the cautious side


def test_c12_the_pull_at_an_angle_and_where_it_is_least():
    # Identity of statics: 0.98423 mu m g at 30 deg and mu 0.3; least at tan t = mu, there mu m g / sqrt(1 + mu^2).
    mu, weight = 0.3, 80.0 * G
    assert float(steady_pull(80.0, mu, math.radians(30))) / (mu * weight) == pytest.approx(0.98423, abs=5e-6)
    angles = np.radians(np.linspace(0, 60, 60001))
    pulls = steady_pull(80.0, mu, angles)
    assert math.tan(angles[int(np.argmin(pulls))]) == pytest.approx(mu, abs=1e-4)
    assert float(np.min(pulls)) == pytest.approx(mu * weight / math.sqrt(1 + mu**2), rel=1e-9)


def test_c13_the_peak_torque_of_a_rolling_ellipse():
    # Identity, and a rigid-body engine within 0.1 %: 62.784 N m at 37.76 deg with g 9.81 for a 0.20, b 0.12, 80 kg.
    angles = np.radians(np.linspace(0, 90, 90_001))
    moment_arm = Outline.single(0.20, 0.12, 2.0).over_angles().moment_arm(angles)
    assert 80.0 * 9.81 * float(np.max(moment_arm)) == pytest.approx(62.784, abs=5e-4)
    assert math.degrees(angles[int(np.argmax(moment_arm))]) == pytest.approx(37.76, abs=5e-3)


@pytest.mark.parametrize(("sex", "printed"), [("F", 0.9999), ("M", 1.0000)])
def test_c14_the_segment_fractions_sum_as_printed(sex, printed):
    # deleva_1996, Table 4: with limbs in pairs.
    paired = ("upper_arm", "forearm", "hand", "thigh", "shank", "foot")
    rows = [r for r in table("segments_deleva_1996") if r[f"mass_{sex}"] and r["segment"] != "trunk"]
    total = sum(float(r[f"mass_{sex}"]) * (2 if r["segment"] in paired else 1) for r in rows)
    assert total == pytest.approx(printed, abs=5e-5)
    assert float(np.sum(segment_fractions(sex))) == pytest.approx(1.0, abs=1e-12)


# --- published forces (measured_forces), predicted ----------------------------------------------------------------


def test_every_published_force_is_predicted_or_left_out_with_a_reason():
    ids = {r["id"] for r in table("measured_forces")}
    predicted = {case.id.split()[0] for case in validation_cases() if case.id.startswith("M")}
    assert predicted | set(NOT_PREDICTED) == ids
    assert not predicted & set(NOT_PREDICTED)
    assert all(NOT_PREDICTED.values())


def test_a_published_case_takes_the_published_figure_and_source_from_the_table():
    for case in validation_cases():
        if not case.id.startswith("M"):
            continue
        entry = next(r for r in table("measured_forces") if r["id"] == case.id.split()[0])
        assert case.source == entry["source"]
        assert case.known == entry["known"]
        if case.published is not None and entry["value"]:
            assert case.published_to is not None or case.published == float(entry["value"])
        if case.published and case.published_to is None and case.predicted is not None:
            assert case.error == pytest.approx(case.predicted / case.published - 1)
        assert case.predicted_low <= case.predicted <= case.predicted_high
        assert case.reason.endswith(".")


# Regression: predicted figure, error and agreement as recorded on 24 November 2026.
RECORDED = {
    "M01": (347.97, 0.734, False),
    "M02": (137.25, 0.139, False),
    "M03": (137.25, 0.297, False),
    "M04": (137.25, 0.63, False),
    "M05": (238.27, 0.302, True),
    "M07": (-49.83, 0.308, True),
    "M11": (1.00, 0.22, True),
    "M12 linear": (1.0, -0.0, True),
    "M12 order": (0.61, None, True),
    "M12 rise": (1.18, None, True),
    "M13": (0.00, None, True),
}


def test_the_documented_predictions_and_errors_have_not_changed():
    found = {
        case.id: (round(case.predicted, 2), None if case.error is None else round(case.error, 3), case.inside)
        for case in validation_cases()
        if case.id in RECORDED
    }
    assert found == RECORDED


def test_m01_seated_on_vinyl_is_predicted_too_high_by_three_quarters_from_independent_friction():
    # grevelding_bohannon_2001: 200.7 N (SD 40.8). Friction from lamsal_bush_2024 (F03), clothed people on vinyl.
    # It DISAGREES: a seated person's feet carry weight, and force over weight there is 0.28 against 0.54.
    case = CASES["M01"]
    assert not case.inside
    assert case.predicted_low > 200.7 + 40.8
    assert 0.70 < case.error < 0.77
    assert "feet" in case.reason


def test_m02_seated_on_a_board_is_predicted_within_the_spread_of_the_people_and_not_inside_the_band():
    # grevelding_bohannon_2001: 120.5 N (SD 27.7). Friction from mcgill_kavcic_2005 (F02), lying on low-friction aids.
    # The mean lies below the band of the draws, a DISAGREEMENT: the mean mass of the people was not printed.
    case = CASES["M02"]
    assert not case.inside
    assert case.published < case.low
    assert abs(case.predicted - 120.5) < 27.7
    assert 0.10 < case.error < 0.18


def test_m03_and_m04_seated_on_slide_sheets_are_predicted_too_high():
    # grevelding_bohannon_2001: 105.8 N (SD 26.1) on a slide sheet, 84.2 N (SD 13.4) on a sheet and board.
    # They DISAGREE: the same reason as M01; and two slippery layers on each other were measured nowhere else.
    for key, upper in (("M03", 105.8 + 26.1), ("M04", 84.2 + 13.4)):
        assert not CASES[key].inside
        assert CASES[key].predicted > upper
        assert CASES[key].error > 0.25
    assert CASES["M03"].predicted_low < 105.8 + 26.1  # the ranges still touch
    assert CASES["M04"].predicted_low > 84.2 + 13.4  # these do not


def test_friction_f05_to_f08_is_not_independent_of_m01_to_m04_and_no_published_case_uses_none_of_it():
    # The four coefficients are these four forces over the weight of 72.95 kg (printed to two digits): reproducing one
    # from the other shows only that the division was done.
    for force, friction in (("M01", "F05"), ("M02", "F06"), ("M03", "F07"), ("M04", "F08")):
        entry = row("measured_forces", id=force)
        mu = float(entry["value"]) / (float(entry["patient_kg_mean"]) * G)
        assert mu == pytest.approx(float(row("friction", id=friction)["mu"]), abs=5e-3)
        used = re.search(r"\((F\d\d)\)", CASES[force].reason)[1]
        assert used in ("F01", "F02", "F03", "F04")
        assert row("friction", id=used)["source"] != entry["source"]


def transfer(mass_kg: float, aid: str, rise_m: float = 0.0) -> float:
    patient = {"sex": "M", "mass_kg": mass_kg, "stature_m": 1.75}
    case = {"name": "x", "procedure": "lateral transfer", "aid": aid, "patient": patient, "bed": {"rise_m": rise_m}}
    return float(slide_force(parse_scenario(case)))


@pytest.mark.parametrize("aid", ["no aid", "cotton draw sheet", "transfer board", "slide sheet on a board"])
def test_m11_m12_the_force_of_a_transfer_is_linear_in_the_patients_weight(aid):
    # bohannon_1999: correlation above 0.82; zelenka_1996: linear from 45.8 to 108.9 kg. What the mattress adds is not
    # quite proportional to the weight.
    forces = [transfer(m, aid) for m in (45.8, 77.35, 108.9)]
    assert forces[1] == pytest.approx(0.5 * (forces[0] + forces[2]), rel=5e-3)
    assert forces[2] / forces[0] == pytest.approx(108.9 / 45.8, rel=5e-2)


def test_m11_m12_the_aids_come_in_the_published_order():
    # bohannon_1999: low-friction board lowest, then board, draw sheet, none; zelenka_1996: board below draw sheet.
    order = ["slide sheet on a board", "transfer board", "cotton draw sheet", "no aid"]
    forces = [transfer(77.0, aid) for aid in order]
    assert forces == sorted(forces)
    assert len(set(forces)) == 4


@pytest.mark.parametrize("aid", ["cotton draw sheet", "transfer board"])
def test_m12_towards_the_higher_surface_is_harder_and_towards_the_lower_easier(aid):
    # zelenka_1996
    assert transfer(77.0, aid, -0.03) < transfer(77.0, aid) < transfer(77.0, aid, 0.03)


def test_m13_the_two_hands_of_one_handler_pull_the_same():
    # fray_holgate_2018: no difference between left and right hand, 21 people.
    assert CASES["M13"].inside
    assert CASES["M13"].predicted == pytest.approx(0.0, abs=1e-12)


# --- tables that repeat each other --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("aid", "klass"),
    [
        ("cotton_draw_sheet", "cotton draw sheet"),
        ("slide_sheet", "slide sheet or transfer board"),
        ("transfer_board", "slide sheet or transfer board"),
        ("slide_sheet_on_board", "two low-friction layers"),
        ("air_assisted_mattress", "air-assisted mattress"),
        ("two_layer_turning_pad", "two-layer turning pad"),
    ],
)
def test_the_friction_of_each_aid_is_that_of_its_class(aid, klass):
    contact = row("aid_interfaces", aid=aid, order="1")
    printed = row("default_friction", **{"class": klass})
    for column in ("mu_low", "mu_typical", "mu_high"):
        assert float(contact[column]) == float(printed[column])


def test_the_supine_depth_fits_the_survey_up_to_a_bmi_of_50_and_is_too_large_beyond():
    # nhanes_2015_16: mean depth of each band of BMI; above 45 the model uses the survey's straight line alone.
    # It DISAGREES in the last band (53 people in all): depth levels off there and the line does not, 3 cm too much.
    over = {}
    for entry in table("supine_depth_nhanes"):
        bmi, stature = float(entry["bmi"]), 1.65
        if bmi >= 45:
            depth = float(breadths(entry["sex"], bmi * stature**2, stature)["waist"][1]) * 100
            missed = depth - float(entry["supine_abdominal_depth_cm"])
            over[entry["sex"], entry["bmi_low"]] = missed / float(entry["sd_cm"])
    assert set(over) == {("M", "45"), ("M", "50"), ("F", "45"), ("F", "50")}
    for (_, band), missed in over.items():
        assert abs(missed) < 0.5 if band == "45" else 1.0 < missed < 1.5


def test_the_registry_holds_the_hand_force_figures_of_the_limits_table():
    registered = {limit_.key for limit_ in LIMITS}
    assert {"hse_start", "hse_keep", "ccohs_whole_body", "ccohs_arms_extended", "niosh_35lb"} <= registered
