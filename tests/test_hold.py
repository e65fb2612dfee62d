"""Endurance and strength shares against their publications."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ergo import evidence
from ergo.errors import InputError
from ergo.handlers.strength import (
    endurance_time,
    joints,
    regions,
    strength,
)


def test_c16_shoulder_endurance() -> None:
    # frey_law_avin_2010 (check C16): 282.6, 134.6, 52.8 s at 20, 30, 50 % of strength
    assert endurance_time([0.2, 0.3, 0.5], "shoulder").time_s == pytest.approx([282.6, 134.6, 52.8], abs=0.05)


@pytest.mark.parametrize("region", regions())
def test_every_region_gives_its_printed_times(region: str) -> None:
    # frey_law_avin_2010: the printed coefficients carry 2 decimals of the exponent, hence 1 %
    fit = evidence.row("endurance", region=region)
    for percent in (20, 30, 50):
        ours = float(endurance_time(percent / 100, region).time_s)
        assert ours == pytest.approx(float(fit[f"check_{percent}pct_s"]), rel=0.01)


@given(st.floats(0, 5), st.floats(0, 5))
def test_a_harder_hold_never_lasts_longer(a: float, b: float) -> None:
    low, high = min(a, b), max(a, b)
    times = endurance_time([low, high], "trunk").time_s
    assert times[1] <= times[0]
    assert np.isfinite(times).all()


def test_outside_the_fit_it_says_so_and_above_full_strength_nothing_holds() -> None:
    held = endurance_time([0.05, 0.5, 1.2], "grip")
    assert held.within_range.tolist() == [False, True, False]
    assert held.time_s[2] == 0
    assert "0.1" in held.note
    assert held.time_s[0] == endurance_time(0.1, "grip").time_s


@pytest.mark.parametrize("joint", joints())
@pytest.mark.parametrize("sex", ["F", "M"])
def test_the_curve_runs_through_the_printed_percentiles(joint: str, sex: str) -> None:
    # stobbe_1982 (memory fair): the printed moments come back at 5, 50 and 95 %
    found = strength(joint, sex)
    printed = [float(evidence.row("joint_strength", joint=joint)[f"{sex}{p}"]) for p in (5, 50, 95)]
    assert found.percentile([5, 50, 95]) == pytest.approx(printed)
    assert found.share_strong_enough(printed) == pytest.approx([0.95, 0.5, 0.05])


@given(st.floats(-2000, 2000), st.sampled_from(("F", "M")), st.sampled_from(joints()))
def test_a_share_is_a_share_and_falls_with_the_moment(moment: float, sex: str, joint: str) -> None:
    here, more = strength(joint, sex).share_strong_enough([moment, abs(moment) + 1.0])
    assert 0 <= more <= here <= 1


def test_more_men_than_women_can_exert_a_moment() -> None:
    women, men = (float(strength("elbow flexion", sex).share_strong_enough(50.0)) for sex in ("F", "M"))
    assert women < men


def test_bad_input_is_named() -> None:
    for call in (
        lambda: endurance_time(-0.1, "shoulder"),
        lambda: endurance_time(float("nan"), "shoulder"),
        lambda: endurance_time(0.3, "tail"),
        lambda: strength("wing flexion", "X"),
    ):
        with pytest.raises(InputError):
            call()
    with pytest.raises(InputError) as caught:
        strength("wing flexion", "X")
    assert {f.field for f in caught.value.faults} == {"joint", "sex"}
