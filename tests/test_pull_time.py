"""What a jerk costs: a shorter pull needs more force to start, and a slow one no more than to break loose."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ergo.evidence import assumption
from ergo.inputs import examples
from ergo.mechanics.case import build_case
from ergo.mechanics.demand import ways_of
from ergo.mechanics.procedure import plan_moves
from ergo.mechanics.pull_time import PULL_TIMES, start_force_by_time
from ergo.mechanics.sliding import PEAK_ACCELERATION, slide_force, usual_slide_time
from ergo.report.blocks import Heading
from ergo.report.documents.case import case_report
from ergo.report.figures.pull_time_curve import pull_time_curve, pull_time_words
from ergo.report.tables.case import pull_time_rows
from ergo.teams.smallest_team import smallest_team
from ergo.uncertainty.distributions import uncertain_inputs
from ergo.units import G, Units


def own_slide(distance_m: float, **handling: float):
    moves = [{"kind": "slide to the side", "distance_m": distance_m}]
    return examples.own_sequence(moves=moves, handling=handling, aid="doubled slide sheet")


def pull(scenario):
    case = build_case(scenario)
    (move,) = plan_moves(scenario, case)
    return ways_of(move, case, scenario)[0][0]


@given(st.floats(0.01, 3.0), st.floats(0.3, 5.0))
def test_a_longer_pull_takes_the_root_of_its_length_more_and_is_no_more_of_a_jerk(distance, time):
    usual = assumption("slide_distance").typical
    found = float(usual_slide_time(distance, time))
    assert found == pytest.approx(time * max(1.0, np.sqrt(distance / usual)))
    assert distance / found**2 <= usual / time**2 * (1 + 1e-12)


def test_the_time_follows_from_the_length_unless_it_is_stated_and_then_it_is_that_of_every_slide():
    assert [float(pull(own_slide(d)).slide_s) for d in (0.2, 0.3, 1.2)] == pytest.approx([1.5, 1.5, 3.0])
    assert [float(pull(own_slide(d, slide_time_s=2.0)).slide_s) for d in (0.2, 1.2)] == [2.0, 2.0]
    drawn = next(i for i in uncertain_inputs(own_slide(0.3)) if i.name == "slide_time_s")
    assert (drawn.low, drawn.typical, drawn.high) == (0.8, 1.5, 3.0)
    brisk = next(i for i in uncertain_inputs(own_slide(0.3, slide_time_s=0.5)) if i.name == "slide_time_s")
    assert 0.0 < brisk.low < brisk.typical == 0.5 < brisk.high


def test_the_bare_slide_takes_as_long_as_a_pull_of_its_length_usually_takes():
    short, long = slide_force(80.0, 0.1, distance_m=0.3), slide_force(80.0, 0.1, distance_m=1.2)
    assert float(short.inertia_n) == pytest.approx(80.0 * PEAK_ACCELERATION * 0.3 / 1.5**2)
    assert float(long.inertia_n) == pytest.approx(float(short.inertia_n))  # no more of a jerk
    assert float(slide_force(80.0, 0.1, time_s=0.3).start_n) == pytest.approx(
        float(short.steady_n) + 80.0 * PEAK_ACCELERATION * 0.3 / 0.3**2
    )


@pytest.mark.parametrize("kind", ["boost", "lateral_transfer", "slide_to_the_side", "prone_turn"])
def test_the_force_by_time_is_that_of_the_case_pulled_in_that_time(kind):
    make = getattr(examples, kind)
    for slide in start_force_by_time(make(aid="doubled slide sheet"), [0.5, 1.0, 4.0]):
        for time, force in zip(slide.time_s, slide.start_n, strict=True):
            (again,) = [
                s
                for s in start_force_by_time(make(aid="doubled slide sheet", handling={"slide_time_s": float(time)}))
                if s.move == slide.move
            ]
            assert again.usual_n == pytest.approx(float(force), rel=1e-12)


def test_a_jerk_costs_more_the_shorter_it_is_and_from_the_unhurried_time_on_nothing():
    (slide,) = start_force_by_time(examples.boost(aid="doubled slide sheet"), np.linspace(0.3, 5.0, 200))
    assert np.all(np.diff(slide.start_n) <= 1e-9)
    slow = slide.time_s >= slide.unhurried_s
    assert np.allclose(slide.start_n[slow], slide.breakaway_n)
    assert np.all(slide.start_n[~slow] > slide.breakaway_n)
    mass = float(np.sum(build_case(examples.boost()).body.mass_kg))
    fastest = slide.steady_n + mass * PEAK_ACCELERATION * 0.3 / 0.3**2
    assert float(slide.start_n[0]) == pytest.approx(fastest)
    assert slide.hurried_n == pytest.approx(slide.steady_n + mass * PEAK_ACCELERATION * 0.3 / 0.75**2)
    assert slide.steady_n < 0.4 * mass * G


def test_where_nothing_slides_or_the_slope_does_it_all_there_is_nothing_to_show():
    assert start_force_by_time(examples.limb_hold()) == ()
    steep = {"name": "steep", "interfaces": [{"upper": "a", "lower": "b", "mu_low": 0.01, "mu": 0.01, "mu_high": 0.01}],
             "covers": ["head", "trunk", "arms", "thighs", "shanks", "feet"]}  # fmt: skip
    assert start_force_by_time(examples.boost(aid="steep", own_aids=[steep], bed={"tilt_deg": -15.0})) == ()
    assert pull_time_rows(smallest_team(examples.limb_hold(), with_aids=False)).rows == ()


def test_the_report_has_it_as_a_small_table_and_the_figure_says_its_finding():
    answer = smallest_team(examples.boost(aid="doubled slide sheet"), with_aids=False)
    rows = pull_time_rows(answer).rows
    assert [row[0] for row in rows] == [
        "0.3 s",
        "0.5 s",
        "0.8 s",
        "1.0 s",
        "1.5 s, usual here",
        "2.0 s",
        "3.0 s",
        "5.0 s",
    ]
    assert "100 %" in rows[PULL_TIMES.index(1.5)]
    (slide,) = start_force_by_time(answer.scenario)
    words = pull_time_words(slide, Units(force="lbf"))
    assert "lbf in half that time" in words
    assert words in pull_time_curve(slide, Units(force="lbf")).alt
    sheets = case_report(answer, annex=True).blocks
    headings = [b.text for group in sheets for b in group.blocks if isinstance(b, Heading)]
    assert any(text.startswith("Start force against the time of the pull") for text in headings)
