"""Limits: the printed tables are reproduced, nothing is extrapolated, and what does not apply is never a pass."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import constants

from ergo.evidence import assumption, row, table
from ergo.limits.policy import POLICIES
from ergo.limits.psychophysical import acceptable_pull, fitted_pull, height_range
from ergo.limits.registry import LIMITS, NotApplicable, Value
from tests.tools.limit_cases import BY_KEY, PATIENT, assessed, condition

PRINTED = table("pull_limits_snook_1991")
MINUTES = {
    "every_6s": 6 / 60,
    "every_12s": 12 / 60,
    "every_1min": 1.0,
    "every_2min": 2.0,
    "every_5min": 5.0,
    "every_30min": 30.0,
    "every_8h": 480.0,
}
KEYS = ("sex", "phase", "handle_height_cm", "percent_accepting")


@pytest.mark.parametrize("cell", PRINTED, ids=lambda r: "-".join(r[k] for k in KEYS))
def test_every_printed_cell_is_reproduced_exactly(cell):
    # snook_ciriello_1991, from memory: kgf as the table holds them; tolerance nothing but the conversion's rounding.
    for column, minutes in MINUTES.items():
        height, percent = float(cell["handle_height_cm"]) / 100, int(cell["percent_accepting"])
        ours = float(acceptable_pull(cell["sex"], cell["phase"], percent, height, minutes))
        assert ours / constants.kgf == pytest.approx(float(cell[column]), rel=1e-12)


@pytest.mark.parametrize("sex", ["F", "M"])
@pytest.mark.parametrize("phase", ["initial", "sustained"])
@pytest.mark.parametrize("percent", [90, 75, 50])
def test_between_cells_the_figure_lies_between_them_halfway_in_height_and_in_the_logarithm_of_time(sex, phase, percent):
    rows = sorted(
        (r for r in PRINTED if (r["sex"], r["phase"], r["percent_accepting"]) == (sex, phase, str(percent))),
        key=lambda r: float(r["handle_height_cm"]),
    )
    lower, upper = rows[0], rows[1]
    corners = [float(r[c]) for r in (lower, upper) for c in ("every_1min", "every_5min")]
    height = (float(lower["handle_height_cm"]) + float(upper["handle_height_cm"])) / 200
    # snook_ciriello_1991, from memory: every 1, 2 and 5 min are printed, so the middle between 2 and 5 in the
    # logarithm is sqrt(10)
    low, high = (0.5 * (float(lower[c]) + float(upper[c])) for c in ("every_2min", "every_5min"))
    ours = float(acceptable_pull(sex, phase, percent, height, np.sqrt(10.0))) / constants.kgf
    assert ours == pytest.approx(0.5 * (low + high), rel=1e-12)
    assert min(corners) <= ours <= max(corners)


@pytest.mark.parametrize(("height", "minutes"), [(0.40, 2.0), (1.60, 2.0), (0.89, 0.05), (0.89, 500.0)])
def test_outside_the_table_there_is_no_figure_and_the_registry_says_outside_its_range(height, minutes):
    for phase in ("initial", "sustained"):
        assert np.isnan(acceptable_pull("F", phase, 75, height, minutes))
        said = BY_KEY[f"pull_{phase}"].value(condition(hand_height_m=height, minutes_between=minutes))
        assert isinstance(said, NotApplicable)
        assert said.outside
        assert "57 to 135 cm" in said.reason


def test_with_the_hands_at_40_cm_the_verdict_is_not_applicable_and_never_within():
    # A light patient: every other limit is passed, and still it is no pass.
    low = assessed(bed={"height_m": 0.30}, team={"left": 6, "right": 6})
    assert low.verdict == "not applicable"
    for move in low.moves:
        assert move.verdict == "not applicable"
        pulls = [c for c in move.limits if c.key in ("pull_initial", "pull_sustained")]
        assert len(pulls) == 2
        assert all(c.verdict == "not applicable" and "57 to 135 cm" in c.note for c in pulls)
        assert max(c.ratio for c in move.limits if c.ratio is not None and c.decides) < 1.0
    assert "does not cover this case" in low.why
    assert assessed(bed={"height_m": 0.80}, team={"left": 6, "right": 6}).verdict == "within"


def test_a_limit_that_is_passed_outside_anothers_range_still_says_over_when_it_is_over():
    alone = assessed(bed={"height_m": 0.30}, team={"left": 1, "right": 1}, patient=PATIENT | {"mass_kg": 160.0})
    assert alone.verdict == "over"


def test_women_at_ninety_percent_are_protected_by_lower_figures_than_at_75_and_men_by_higher():
    # snook_ciriello_1991, from memory
    def pull(**who: object) -> float:
        value = BY_KEY["pull_sustained"].value(condition(**who))
        assert isinstance(value, Value)
        return value.value

    assert pull(percent=90) < pull(percent=75) < pull(percent=75, sex="M")


def test_the_policy_decides_which_limits_decide_and_all_are_shown_all_the_same():
    forces = {}
    for protect in POLICIES:
        result = assessed(policy={"protect": protect, "site_limit_n": 100.0})
        checks = {c.key: c for c in result.moves[0].limits}
        forces[protect] = checks["pull_sustained"].limit
        assert {k for k, c in checks.items() if c.decides} == set(checks) & set(POLICIES[protect].deciding)
        assert {"pull_initial", "pull_sustained", "ccohs_whole_body", "site_limit", "hse_start"} <= set(checks)
        assert result.moves[0].deciding.key in POLICIES[protect].deciding
    assert forces["90 % of women"] < forces["75 % of women"]  # snook_ciriello_1991, from memory
    site = assessed(policy={"protect": "site limit", "site_limit_n": 100.0})
    assert site.deciding.key == "site_limit"
    assert site.deciding.limit == 100.0


def test_in_a_mixed_team_each_person_is_held_to_the_figure_of_their_own_sex():
    members = [{"side": "left", "sex": "M"}, {"side": "right", "sex": "F"}]
    team = {"left": 1, "right": 1, "members": members}
    mixed = assessed(policy={"protect": "mixed team"}, team=team)
    check = next(c for c in mixed.moves[0].limits if c.key == "pull_sustained")
    assert check.person.side == "right"  # the same pull: the woman is the one nearer her limit
    men = assessed(policy={"protect": "mixed team"}, team=team | {"members": [m | {"sex": "M"} for m in members]})
    assert next(c for c in men.moves[0].limits if c.key == "pull_sustained").limit > check.limit


def test_the_fitted_equations_and_the_printed_tables_disagree_within_a_stated_range():
    # potvin_2021 (coefficients from memory) against snook_ciriello_1991 (from memory), every cell at 75 and 90 %, from
    # one pull in 12 s to one in 8 h. They are two recollections of one data set: a second opinion, not a confirmation.
    found = {}
    for cell in PRINTED:
        if cell["percent_accepting"] not in ("90", "75", "50"):
            continue
        for column, minutes in MINUTES.items():
            height = float(cell["handle_height_cm"]) / 100
            fitted = fitted_pull(cell["sex"], cell["phase"], int(cell["percent_accepting"]), height, minutes)
            ratio = float(fitted) / constants.kgf / float(cell[column])
            found.setdefault((cell["sex"], cell["phase"]), []).append(ratio)
    ranges = {k: (round(min(v), 2), round(max(v), 2)) for k, v in found.items()}
    print("\nfitted over printed:", ranges)
    assert ranges == RECORDED


# Lowest and highest ratio of fitted to printed pull over all cells at 90, 75 and 50 %, recorded.
RECORDED = {
    ("M", "initial"): (0.85, 1.43),
    ("M", "sustained"): (0.69, 1.70),
    ("F", "initial"): (0.62, 1.12),
    ("F", "sustained"): (0.56, 1.15),
}


def test_the_fitted_equations_come_within_ten_percent_only_for_women_at_the_middle_handle_height():
    # Both from memory. Where a raised bed puts the hands they agree; at 57 cm the fit is a quarter low, so it never
    # decides.
    def ratio(height: float, minutes: float, printed: float) -> float:
        return float(fitted_pull("F", "initial", 75, height, minutes)) / constants.kgf / printed

    middle = row("pull_limits_snook_1991", sex="F", phase="initial", handle_height_cm="89", percent_accepting="75")
    low = row("pull_limits_snook_1991", sex="F", phase="initial", handle_height_cm="57", percent_accepting="75")
    for column in ("every_1min", "every_2min", "every_5min"):
        assert ratio(0.89, MINUTES[column], float(middle[column])) == pytest.approx(1.0, abs=0.10)
        assert ratio(0.57, MINUTES[column], float(low[column])) < 0.80
    assert all("fitted" not in key for policy in POLICIES.values() for key in policy.deciding)


@pytest.mark.parametrize("height", [0.40, 1.60])
def test_the_fitted_equations_are_not_used_outside_the_heights_they_were_fitted_to(height):
    assert not height_range("F")[0] <= height <= height_range("F")[1]
    assert isinstance(BY_KEY["pull_initial_fitted"].value(condition(hand_height_m=height)), NotApplicable)


def test_the_arms_extended_figure_applies_with_straight_arms_and_the_shoulder_over_the_bed_only():
    straight = assumption("arms_extended_span").typical
    limit = BY_KEY["ccohs_arms_extended"]
    over = {"shoulder_over_bed_m": 0.05}
    assert limit.value(condition(extended_arm=straight, **over)) == Value(110.0)  # ccohs_push_pull: 110 N
    assert isinstance(limit.value(condition(extended_arm=straight - 0.01, **over)), NotApplicable)
    assert isinstance(limit.value(condition(extended_arm=straight, shoulder_over_bed_m=-0.01)), NotApplicable)


def test_reaching_across_a_stretcher_the_arms_are_extended_and_with_the_sheet_gathered_they_are_not():
    far, near = (assessed(procedure="lateral transfer", handling={"grip_gap_m": gap}).moves[0] for gap in (0.05, 0.5))
    checks = [{c.key: c for c in m.limits}["ccohs_arms_extended"] for m in (far, near)]
    assert checks[0].limit == 110.0
    assert checks[0].amount / 110.0 == pytest.approx(checks[0].ratio)
    assert checks[1].verdict == "not applicable"


def test_the_35_pounds_are_held_against_the_upward_part_only():
    boost = assessed()
    check = next(c for c in boost.moves[0].limits if c.key == "niosh_35lb")
    worst = boost.moves[0].worst_load
    assert check.amount == pytest.approx(worst.start_n * np.sin(np.radians(assumption("pull_angle").typical)))
    # 35 lb, printed as 15.9 kg (waters_2007): 15.9 * 9.80665
    assert check.limit == pytest.approx(155.93, abs=0.005)


@pytest.mark.parametrize(("key", "hands", "kilograms"), [("aorn_one_hand", 1, 5.03), ("aorn_two_hands", 2, 10.1)])
def test_holding_limits_hold_for_their_hands_and_up_to_two_minutes(key, hands, kilograms):
    # aorn_2011, as reprinted: 11.1 lb one-handed, 22.2 lb two-handed, up to 2 min
    limit = BY_KEY[key]
    assert limit.value(condition(hands=hands, seconds=120.0)) == Value(kilograms)
    assert isinstance(limit.value(condition(hands=3 - hands)), NotApplicable)
    longer = limit.value(condition(hands=hands, seconds=121.0))
    assert isinstance(longer, NotApplicable)
    assert longer.outside
    held = {"kind": "limb hold", "hands": hands, "hold_s": 200.0}
    result = assessed(procedure="own sequence", moves=[held], team={"left": 2, "right": 0})
    assert result.verdict in ("not applicable", "over")


@pytest.mark.parametrize(
    ("minutes", "seconds", "newtons"),
    # en_1005_3, from memory: F_B 145 N x m_v 0.8 x m_f x m_d 1.0 x m_r 0.5; m_f 1.0 or 0.8 for a
    # short action, 0.6 or 0.4 for a long one
    [(5.0, 2.0, 58.0), (1.0, 2.0, 46.4), (5.0, 10.0, 34.8), (1.0, 10.0, 23.2)],
)
def test_the_isometric_pull_is_multiplied_down_as_the_standard_says(minutes, seconds, newtons):
    value = BY_KEY["en1005_whole_body_pull"].value(condition(minutes_between=minutes, seconds=seconds))
    assert value.value == pytest.approx(newtons, abs=1e-9)
    assert isinstance(BY_KEY["en1005_whole_body_pull"].value(condition(minutes_between=0.3)), NotApplicable)


def test_every_entry_of_the_registry_says_source_range_and_how_it_is_known_and_agrees_with_evidence():
    assert len(BY_KEY) == len(LIMITS)
    for limit in LIMITS:
        assert limit.range
        assert limit.known
        assert limit.edition
        entries = [r for r in table("limits") if r["key"] == limit.key]
        for entry in entries:
            assert entry["source"] == limit.source
            assert entry["known"] == limit.known
    assert row("limits", key="ccohs_whole_body")["value"] == "225"


def test_a_patient_over_a_rated_capacity_is_refused_however_many_people_there_are():
    result = assessed(
        patient=PATIENT | {"mass_kg": 130.0}, bed={"rated_capacity_kg": 120.0}, team={"left": 6, "right": 6}
    )
    assert result.verdict == "over"
    assert "rated capacity of the bed" in result.why
    assert "lift" in result.why
