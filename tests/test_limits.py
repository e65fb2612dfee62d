"""Limits: the printed tables are reproduced, nothing is extrapolated, and what does not apply is never a pass."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy import constants

from ergo.evidence import assumption, row, table
from ergo.limits.policy import POLICIES
from ergo.limits.psychophysical import equation_force, equation_heights, table_pull
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
        ours = float(table_pull(cell["sex"], cell["phase"], percent, height, minutes))
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
    ours = float(table_pull(sex, phase, percent, height, np.sqrt(10.0))) / constants.kgf
    assert ours == pytest.approx(0.5 * (low + high), rel=1e-12)
    assert min(corners) <= ours <= max(corners)


@pytest.mark.parametrize(("height", "minutes"), [(0.40, 2.0), (1.60, 2.0), (0.89, 0.05), (0.89, 500.0)])
def test_outside_the_printed_heights_and_times_there_is_no_figure_and_the_registry_says_outside_its_range(
    height, minutes
):
    # snook_ciriello_1991: 57-135 cm, every 6 s to 8 h; potvin_2021: 58-133 cm
    for phase in ("initial", "sustained"):
        assert np.isnan(table_pull("F", phase, 75, height, minutes))
        said = BY_KEY[f"pull_{phase}"].value(condition(hand_height_m=height, minutes_between=minutes))
        assert isinstance(said, NotApplicable)
        assert said.outside
        assert "57 to 135 cm" in said.said()


def test_with_the_hands_at_40_cm_the_verdict_is_not_applicable_and_never_within():
    # A light patient: every other limit is passed, and still it is no pass.
    low = assessed(bed={"height_m": 0.30}, team={"left": 6, "right": 6})
    assert low.verdict == "not applicable"
    for move in low.moves:
        assert move.verdict == "not applicable"
        assert move.loads == ()
        (said,) = move.unmet
        assert said.endswith("a limit that decides does not cover where the hands are")
    assert "does not cover" in low.why
    assert assessed(bed={"height_m": 0.80}, team={"left": 6, "right": 6}).verdict == "within"


def test_outside_a_limits_range_a_heavy_patient_is_no_more_a_pass_than_a_light_one():
    alone = assessed(bed={"height_m": 0.30}, team={"left": 1, "right": 1}, patient=PATIENT | {"mass_kg": 160.0})
    assert alone.verdict == "not applicable"


def test_women_at_ninety_percent_are_protected_by_lower_figures_than_at_75_and_men_by_higher():
    # potvin_2021 (reprint)
    def pull(**who: object) -> float:
        value = BY_KEY["pull_initial"].value(condition(**who))
        assert isinstance(value, Value)
        return value.value

    assert pull(percent=90) < pull(percent=75) < pull(percent=75, sex="M")


def test_the_policy_decides_which_limits_decide_and_all_are_shown_all_the_same():
    forces = {}
    for protect in POLICIES:
        result = assessed(policy={"protect": protect, "site_limit_n": 100.0})
        checks = {c.key: c for c in result.moves[0].limits}
        forces[protect] = checks["pull_initial"].limit
        assert {k for k, c in checks.items() if c.decides} == set(checks) & set(POLICIES[protect].deciding)
        assert {"pull_initial", "pull_sustained", "ccohs_whole_body", "site_limit", "hse_start"} <= set(checks)
        assert result.moves[0].deciding.key in POLICIES[protect].deciding
    # potvin_2021 (reprint)
    assert forces["90 % of women"] < forces["75 % of women"] < forces["90 % of men"] < forces["75 % of men"]
    site = assessed(policy={"protect": "site limit", "site_limit_n": 100.0})
    assert site.deciding.key == "site_limit"
    assert site.deciding.limit == 100.0


def test_in_a_mixed_team_each_person_is_held_to_the_figure_of_their_own_sex():
    members = [{"side": "left", "sex": "M"}, {"side": "right", "sex": "F"}]
    team = {"left": 1, "right": 1, "members": members}
    mixed = assessed(policy={"protect": "mixed team"}, team=team)
    check = next(c for c in mixed.moves[0].limits if c.key == "pull_initial")
    assert check.person.side == "right"  # the same pull: the woman is the one nearer her limit
    men = assessed(policy={"protect": "mixed team"}, team=team | {"members": [m | {"sex": "M"} for m in members]})
    assert next(c for c in men.moves[0].limits if c.key == "pull_initial").limit > check.limit


def test_the_equations_and_the_older_tables_disagree_within_a_stated_range():
    # potvin_2021 (reprint) against snook_ciriello_1991 (from memory), every cell at 90, 75 and 50 % at which the
    # equations hold: the equations were fitted to these and later studies. It is a DISAGREEMENT of up to 1.7.
    found = {}
    for cell in PRINTED:
        if cell["percent_accepting"] not in ("90", "75", "50"):
            continue
        for column, minutes in MINUTES.items():
            height = float(np.clip(float(cell["handle_height_cm"]) / 100, *equation_heights(cell["sex"])))
            percent = int(cell["percent_accepting"])
            fitted = float(equation_force("pull", cell["sex"], cell["phase"], percent, height, minutes))
            found.setdefault((cell["sex"], cell["phase"]), []).append(fitted / constants.kgf / float(cell[column]))
    ranges = {k: (round(min(v), 2), round(max(v), 2)) for k, v in found.items()}
    print("\nequations over older table:", ranges)
    assert ranges == RECORDED


# Lowest and highest ratio over all cells at 90, 75 and 50 %, recorded.
RECORDED = {
    ("M", "initial"): (0.85, 1.43),
    ("M", "sustained"): (0.69, 1.70),
    ("F", "initial"): (0.64, 1.12),
    ("F", "sustained"): (0.58, 1.15),
}


def test_for_women_the_equations_agree_with_the_older_table_at_the_middle_height_and_are_lower_at_low_hands():
    # potvin_2021 (reprint) against snook_ciriello_1991 (from memory): within a tenth at 89 cm, a quarter lower at 58 cm
    for column in ("every_1min", "every_2min", "every_5min"):
        middle, low = (
            float(equation_force("pull", "F", "initial", 75, height, MINUTES[column]))
            / float(table_pull("F", "initial", 75, height, MINUTES[column]))
            for height in (0.89, 0.58)
        )
        assert middle == pytest.approx(1.0, abs=0.10)
        assert low < 0.80


def test_the_older_table_decides_nowhere_but_beyond_the_equations_and_says_that_it_is_from_memory():
    limit = BY_KEY["pull_initial"]
    for height in (0.58, 0.9, 1.33):
        assert limit.value(condition(hand_height_m=height)).standing is None  # potvin_2021, as the registry says
    for height in (0.575, 1.34):
        found = limit.value(condition(hand_height_m=height))
        assert (found.standing.source, found.standing.known) == ("snook_ciriello_1991", "memory high")
        assert "from memory" in found.note
    assert all("1991" not in key for policy in POLICIES.values() for key in policy.deciding)


def test_the_kept_up_pull_is_shown_and_never_decides():
    # no pull of a patient is 2.1 m long, the shortest in potvin_2021
    assert all("pull_sustained" not in policy.deciding for policy in POLICIES.values())
    assert {c.key: c.decides for c in assessed().moves[0].limits}["pull_sustained"] is False


def test_the_guideline_by_hand_height_decides_under_every_policy():
    # weston_2018 (reprint), 80 %: 182 N at 81 cm and below
    for policy in POLICIES.values():
        assert "pull_guideline" in policy.deciding
    low = BY_KEY["pull_guideline"].value(condition(hand_height_m=0.6))
    assert low.value == 182.0
    assert "outside" in low.note
    assert "outside" not in BY_KEY["pull_guideline"].value(condition(hand_height_m=1.0)).note


def test_low_beds_earn_nothing_for_women():
    # potvin_2021 and weston_2018 (reprints): both figures fall with the hands
    for percent in (75, 90):
        forces = [
            min(BY_KEY[key].value(condition(hand_height_m=h, percent=percent)).value for key in PULLS)
            for h in np.linspace(0.60, 0.95, 8)
        ]
        assert all(a <= b + 1e-9 for a, b in itertools.pairwise(forces))


PULLS = ("pull_initial", "pull_guideline", "ccohs_whole_body")


def test_the_arms_extended_figure_comes_in_without_a_cliff():
    # ccohs_push_pull (reprint): 225 N with the whole body, 110 N with the arms stretched out
    limit = BY_KEY["ccohs_arms_extended"]
    assert limit.value(condition(extended_arm=1.0, shoulder_over_bed_m=0.10)).value == pytest.approx(110.0)
    assert limit.value(condition(extended_arm=1.0, shoulder_over_bed_m=0.30)).value == pytest.approx(110.0)
    assert limit.value(condition(extended_arm=0.95, shoulder_over_bed_m=0.05)).value == pytest.approx(225 - 0.25 * 115)
    for begun in (
        {"extended_arm": 0.9001, "shoulder_over_bed_m": 0.3},
        {"extended_arm": 1.0, "shoulder_over_bed_m": 1e-4},
    ):
        assert limit.value(condition(**begun)).value == pytest.approx(225.0, abs=0.2)
    assert isinstance(limit.value(condition(extended_arm=0.90, shoulder_over_bed_m=0.3)), NotApplicable)
    assert isinstance(limit.value(condition(extended_arm=1.0, shoulder_over_bed_m=-0.01)), NotApplicable)


def test_reaching_across_a_stretcher_the_arms_are_extended_and_with_the_sheet_gathered_they_are_not():
    far, near = (assessed(procedure="lateral transfer", handling={"grip_gap_m": gap}).moves[0] for gap in (0.05, 0.5))
    checks = [{c.key: c for c in m.limits}["ccohs_arms_extended"] for m in (far, near)]
    assert 110.0 <= checks[0].limit < 225.0
    assert checks[0].amount / checks[0].limit == pytest.approx(checks[0].ratio)
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
    [(5.0, 2.0, 58.0), (2.0, 2.0, 46.4), (5.0, 10.0, 34.8), (1.0, 10.0, 23.2)],
)
def test_the_isometric_pull_is_multiplied_down_as_the_standard_says(minutes, seconds, newtons):
    value = BY_KEY["en1005_whole_body_pull"].value(condition(minutes_between=minutes, seconds=seconds))
    assert value.value == pytest.approx(newtons, abs=1e-9)
    assert isinstance(BY_KEY["en1005_whole_body_pull"].value(condition(minutes_between=0.3)), NotApplicable)


def test_the_isometric_pull_says_what_it_is_and_a_hold_has_no_evident_movement():
    # en_1005_3: basic forces in a reprint (145 N, 15th percentile of adults), multipliers from memory: 46 N recommended
    # for a short pull every two minutes, 65 N the end of the zone before "avoid"; a hold 145 x 0.4 x 0.5 = 29 N, not 23
    limit = BY_KEY["en1005_whole_body_pull"]
    pull = limit.value(condition(minutes_between=2.0, seconds=2.0))
    assert "machines" in pull.said()
    assert "85 % of adult" in pull.said()
    assert "recommended up to 46 N" in pull.said()
    assert "above 65 N" in pull.said()
    assert limit.value(condition(minutes_between=2.0, seconds=20.0, moving=False)).value == pytest.approx(29.0)
    shown = {c.key: c for c in assessed().moves[0].limits}["en1005_whole_body_pull"]
    assert not shown.decides
    assert "machines" in shown.note


@pytest.mark.parametrize(
    ("steepness", "newtons"),
    # waters_2007: 35 lb, 155.93 N, up to 40 degrees; niosh_94_110 from 50 degrees: 23 kg x 0.94 x 0.92 x 0.90 at 95 cm
    [(0.0, 155.93), (40.0, 155.93), (45.0, 165.74), (50.0, 175.55), (90.0, 175.55)],
)
def test_a_steep_pull_is_a_lift_and_between_40_and_50_degrees_it_blends(steepness, newtons):
    found = BY_KEY["lift"].value(condition(steepness_deg=steepness, reach_m=0.14, hand_height_m=0.95))
    assert found.value == pytest.approx(newtons, abs=0.01)


def test_a_lift_out_of_reach_is_outside_the_lifting_equation_and_35_pounds_are_shown_beside():
    # niosh_94_110: hands up to 63 cm ahead of the ankles
    far = BY_KEY["lift"].value(condition(steepness_deg=90.0, reach_m=0.54))
    assert isinstance(far, NotApplicable)
    assert far.outside
    assert isinstance(BY_KEY["lift"].value(condition(steepness_deg=90.0, hands=1)), NotApplicable)
    assert all("niosh_35lb" not in policy.deciding for policy in POLICIES.values())


def test_a_small_turn_held_for_half_an_hour_is_over_and_not_close():
    # frey_law_avin_2010 (reprint) at the strength of stobbe_1982 (from memory)
    long, middle, short = (
        assessed(procedure="own sequence", moves=[{"kind": "micro-turn", "hold_s": s}], team={"left": 2, "right": 2})
        for s in (1800.0, 120.0, 5.0)
    )
    assert long.verdict == "over"
    assert long.moves[0].effort == np.inf  # nobody can, whatever the force
    assert (middle.verdict, middle.deciding.key) == ("over", "hold_endurance")
    assert short.verdict == "within"
    assert short.deciding.key != "hold_endurance"


def test_what_decides_is_said_in_one_paragraph():
    for policy in POLICIES.values():
        assert policy.reason.endswith(".")
        assert "\n" not in policy.reason


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
