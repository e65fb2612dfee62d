"""Figures of a unit and of a purchase: they show the library's numbers and say their finding."""

from __future__ import annotations

import random
from itertools import combinations, pairwise
from pathlib import Path

import pytest

from ergo.inputs.census import read_census
from ergo.inputs.purchase import load_purchase
from ergo.purchases.cost_model import compare_purchase
from ergo.report.figures.drawing import Label, Line, Mark, Polygon
from ergo.report.figures.hours_missed import hours_missed
from ergo.report.figures.purchase_costs import purchase_costs
from ergo.report.figures.render_plotly import plotly_spec
from ergo.report.figures.render_svg import svg
from ergo.report.figures.tornado import tornado
from ergo.report.figures.unit_coverage import policy_coverage, unit_coverage, unit_waits
from ergo.unit.plan import plan_unit
from ergo.unit.team_lookup import TeamNeed
from tests.tools.label_boxes import boxes, meet
from tests.tools.small_unit import CENSUS, small_unit

PURCHASE = Path(__file__).resolve().parents[1] / "scenarios" / "purchases" / "turning_pad.toml"


@pytest.fixture(scope="module")
def plan():
    patients = read_census(CENSUS.encode(), "c.csv")
    return plan_unit(small_unit(), lambda *_: TeamNeed(1, 1, pull_n_s=50.0, loadings=2.0), patients=patients)


@pytest.fixture(scope="module")
def case():
    return compare_purchase(load_purchase(PURCHASE))


def of(drawing, kind):
    return [item for item in drawing.items if isinstance(item, kind)]


def test_coverage_is_marked_at_its_mean_and_drawn_over_its_interval(plan):
    drawing = unit_coverage(plan, "cotton")
    by_shift = [s for i in range(2) for v in plan.levels[:2] for s in [v.shifts[i]]]
    assert [m.at[0] for m in of(drawing, Mark)] == pytest.approx([100 * s.covered.mean for s in by_shift])
    spans = [line for line in of(drawing, Line) if not line.dash]
    assert [s.points[0][0] for s in spans] == pytest.approx([100 * s.covered.low for s in by_shift])
    target = next(line for line in of(drawing, Line) if line.dash)
    assert target.points[0][0] == pytest.approx(100 * plan.unit.target)


def test_each_hour_has_a_bar_and_those_over_the_target_are_named():
    missed = [0.0] * 23 + [0.5]
    drawing = hours_missed(missed, 0.95)
    bars = of(drawing, Polygon)
    assert len(bars) == 24
    assert [b.fill for b in bars].count("over") == 1
    assert "23:00 (50 %)" in drawing.alt


@pytest.mark.parametrize("wide", [270.0, 720.0])
@pytest.mark.parametrize(
    "missed",
    [
        [1.0] * 24,
        [0.10, 0.09, 0.12, 0.16, 0.10, 0.15, 0.12, 0.02, 0.65, 0.66, 0.54, 0.42] * 2,
        [0.3 + 0.002 * hour for hour in range(24)],
    ],
)
def test_the_figures_over_the_hours_touch_no_other_on_a_telephone_and_the_worst_has_one(missed, wide):
    drawing = hours_missed(missed, 0.95)
    words, _ = boxes(drawing, wide)
    for (said, one), (also, other) in combinations(words, 2):
        assert not meet(one, other), (said, also)
    figures = [said for said, _ in words if said.isdigit()]
    assert f"{100 * max(missed):.0f}" in figures
    assert len(figures) >= 6


def test_a_swing_runs_from_the_low_end_to_the_high_end(case):
    option = case.options[1]
    drawing = tornado(option, "US$")
    assert drawing.x.title == "thousand US$"
    rings = [m for m in of(drawing, Mark) if m.shape == "ring"]
    dots = [m for m in of(drawing, Mark) if m.shape == "circle"]
    for shown, ring, dot in zip(option.one_way, rings, dots, strict=False):
        assert ring.at[0] * 1e3 == pytest.approx(shown.npv_low)
        assert dot.at[0] * 1e3 == pytest.approx(shown.npv_high)
    assert option.one_way[0].what in drawing.alt


def test_the_cost_of_each_option_is_the_librarys(case):
    marks = of(purchase_costs(case), Mark)
    assert [m.at[0] * 1e6 for m in marks] == pytest.approx([o.total_with.typical for o in case.options])


def test_every_figure_is_drawn_by_both_renderers_and_says_its_finding(plan, case):
    for drawing in (
        unit_coverage(plan, "cotton"),
        unit_waits(plan, "sheets"),
        policy_coverage(plan),
        hours_missed(plan.levels[0].missed_by_hour, 0.95),
        tornado(case.options[2], "€"),
        purchase_costs(case),
    ):
        assert len(drawing.alt) > 30
        assert svg(drawing).startswith("<svg")
        assert plotly_spec(drawing, dark=True)["layout"]["height"] == drawing.height


def test_figures_over_the_hours_and_ticks_do_not_crowd_on_a_telephone():
    dice = random.Random(1)
    drawing = hours_missed([0.6 * dice.random() for _ in range(24)], 0.9)
    hours = sorted(i.at[0] for i in drawing.items if isinstance(i, Label) and i.text.isdigit())
    assert len(hours) > 5
    assert min(b - a for a, b in pairwise(hours)) >= 2
    assert [text for _, text in drawing.x.ticks] == ["0", "6", "12", "18", "24"]
