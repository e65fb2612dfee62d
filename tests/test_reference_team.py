"""Teams nobody named, and the bed height that spares the most loaded back."""

import numpy as np
import pytest

from ergo.errors import InputError
from ergo.evidence import assumption, table
from ergo.handlers.person import Person
from ergo.handlers.posture import hold_posture
from ergo.handlers.reference_team import best_bed_height, mixed_team
from ergo.handlers.staff import staff_types

STAFF = [
    (p.sex, p.mass_kg / p.stature_m**2, float(e["weight"]))
    for p, e in zip(staff_types(), table("staff_types"), strict=True)
]
TASK = {"pull_n": 100.0, "lift_n": 60.0, "reach_m": 0.3}


def test_a_team_is_of_median_women_with_a_man_in_the_third_place() -> None:
    # fryar_2025: median woman 161.2 cm, BMI 28.3
    team = mixed_team(4)
    assert (team[0].sex, team[0].stature_m, team[0].mass_kg) == (
        "F",
        pytest.approx(1.612),
        pytest.approx(28.3 * 1.612**2),
    )
    assert [h.sex for h in team] == ["F", "F", "M", "F"]
    assert team[1] == team[0]
    assert team[2].stature_m > team[0].stature_m


def in_health_care(quantity: str, who: str) -> list[float]:
    return [float(e["value"]) for e in table("crews") if (e["quantity"], e["who"]) == (quantity, who)]


def test_women_are_as_many_among_those_who_are_drawn_as_in_health_occupations_and_never_more_than_nurses() -> None:
    # bls_spotlight_2023: about 80 % of all health occupations; womens_bureau_2007: 91.3 and 92.1 % of registered nurses
    women = assumption("staff_women_share")
    assert [100 * women.typical] == in_health_care("women", "all health occupations")
    assert all(women.typical < nurses / 100 < women.high for nurses in in_health_care("women", "registered nurses"))


@pytest.mark.parametrize("sex", ["F", "M"])
def test_those_who_are_drawn_are_as_heavy_for_their_stature_as_nurses_and_care_workers(sex: str) -> None:
    # kyle_2017: a body mass index of 30 and more has 25.1 % of nurses, 31.9 % of care workers; miller_2008: mean 27.2
    index = [(bmi, weight) for own, bmi, weight in STAFF if own == sex]
    obese = 100 * sum(weight for bmi, weight in index if bmi >= 30)
    (nurses,), (carers,) = (in_health_care("body mass index of 30 and more", who) for who in ("nurses", "care workers"))
    assert nurses < obese < carers
    (mean,) = in_health_care("mean body mass index", "registered nurses")
    assert sum(bmi * weight for bmi, weight in index) == pytest.approx(mean, rel=0.1)


def test_a_smaller_team_is_the_beginning_of_a_larger_one_and_ten_repeat() -> None:
    assert mixed_team(3) == mixed_team(12)[:3]
    assert mixed_team(12)[10:] == mixed_team(2)


@pytest.mark.parametrize("number", [0, -1, 2.5, True, "four", None])
def test_half_a_person_is_an_input_error(number: object) -> None:
    with pytest.raises(InputError):
        mixed_team(number)  # type: ignore[arg-type]


def test_the_best_height_is_the_lowest_point_of_the_curve_and_saves_what_it_says() -> None:
    team = mixed_team(4)
    best = best_bed_height(team, **TASK, hand_above_bed_m=0.1, present_height_m=0.55)
    assert best.found
    assert best.ratio == pytest.approx(best.worst_ratio[best.can_be_held].min())
    assert best.saved_n == pytest.approx((best.present_ratio - best.ratio) * best.limit_n)
    assert best.saved_n > 0
    # person by person at the height found
    loads = {
        h: hold_posture(
            stature_m=h.stature_m,
            mass_kg=h.mass_kg,
            sex=h.sex,
            bed_height_m=best.height_m,
            hand_height_m=best.height_m + 0.1,
            **TASK,
        ).compression_n
        for h in team
    }
    assert max(loads.values()) / best.limit_n == pytest.approx(best.ratio, rel=0.02)
    assert max(loads, key=lambda h: loads[h]) == best.decided_by


def test_one_person_alone_gets_a_bed_no_worse_than_in_company() -> None:
    small, large = mixed_team(2)
    together = best_bed_height((small, large), **TASK, hand_above_bed_m=0.1, present_height_m=0.8)
    for person in (small, large):
        alone = best_bed_height((person,), **TASK, hand_above_bed_m=0.1, present_height_m=0.8)
        assert alone.ratio <= together.ratio + 1e-9


def test_a_tall_person_wants_a_higher_bed() -> None:
    short = Person("F", 1.50, 60.0)
    tall = Person("F", 1.85, 60.0)
    heights = [
        best_bed_height((h,), **TASK, hand_above_bed_m=0.1, present_height_m=0.8, technique="best").height_m
        for h in (short, tall)
    ]
    assert heights[0] < heights[1]


def test_a_force_nobody_can_hold_leaves_the_present_height_and_says_so() -> None:
    best = best_bed_height(mixed_team(2), pull_n=900.0, reach_m=0.3, hand_above_bed_m=0.1, present_height_m=0.7)
    assert not best.found
    assert best.height_m == 0.7
    assert best.saved_n == 0
    assert "nobody" in best.reason or "at no bed height" in best.reason
    assert np.isfinite(best.worst_ratio).all()


def test_no_handler_and_no_limit_are_input_errors() -> None:
    with pytest.raises(InputError):
        best_bed_height((), **TASK, hand_above_bed_m=0.1, present_height_m=0.7)
    with pytest.raises(InputError):
        best_bed_height(mixed_team(1), **TASK, hand_above_bed_m=0.1, present_height_m=0.7, limit_n=0.0)
