"""Figures show what the library computed, keep their labels, and never turn a name into markup."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import plotly.graph_objects as go
import pytest

from ergo import load_scenario, smallest_team
from ergo.assessment import Demand, demand_of, judge
from ergo.inputs.scenario import Scenario
from ergo.mechanics.mattress import rolled_support
from ergo.report.figures.aid_bars import aid_bars
from ergo.report.figures.bed_plan import bed_plan
from ergo.report.figures.cross_section import at_angle, balance_points, cross_section, turn_view
from ergo.report.figures.drawing import DARK, LIGHT, VERDICT_MARK, Arrow, Drawing, Label, Line, Mark, Polygon
from ergo.report.figures.force_angle import force_angle
from ergo.report.figures.mass_aid_map import mass_aid_map
from ergo.report.figures.people_curve import people_curve
from ergo.report.figures.render_plotly import plotly_spec
from ergo.report.figures.render_svg import svg
from ergo.report.tables.case import load_rows
from ergo.teams.size_curve import typical_curve
from ergo.teams.smallest_team import TeamAnswer, compare_aids
from ergo.teams.turn_forces import turn_forces
from ergo.units import DEFAULT_UNITS, Units
from tests.tools.label_boxes import boxes, meet
from tests.tools.one_side import turn_statics

SCENARIOS = sorted((Path(__file__).resolve().parents[1] / "scenarios").glob("*.toml"))
PRONE = next(p for p in SCENARIOS if p.stem == "prone_cotton_draw_sheet")


def labels(drawing: Drawing) -> str:
    return " | ".join(i.text for i in drawing.items if isinstance(i, Label))


@pytest.fixture(scope="module")
def prone() -> Scenario:
    return load_scenario(PRONE)


@pytest.fixture(scope="module")
def answer(prone: Scenario) -> TeamAnswer:
    return smallest_team(prone, with_aids=False)


@pytest.fixture(scope="module")
def demand(prone: Scenario) -> Demand:
    return demand_of(prone)


def every_drawing(path: Path) -> list[Drawing]:
    case = load_scenario(path)
    demand = demand_of(case)
    result = judge(demand, max(case.team.left, 1), max(case.team.right, 1))
    drawings = [people_curve(typical_curve(demand))]
    for move in result.moves:
        drawings.append(bed_plan(demand, move, (result.left, result.right)))
        if move.move.rolls:
            view = turn_view(demand, move.move)
            drawings += [cross_section(view, view.to_deg), force_angle(view, view.to_deg)]
    return drawings


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda p: p.stem)
def test_every_figure_of_every_scenario_draws_in_both_ways_with_finite_numbers_and_a_finding(path: Path) -> None:
    for drawing in every_drawing(path):
        go.Figure(plotly_spec(drawing))  # with plotly's own checks of every property
        for item in drawing.items:
            if isinstance(item, Label):
                assert drawing.x.low <= item.at[0] <= drawing.x.high, item.text
                assert min(drawing.y.low, drawing.y.high) <= item.at[1] <= max(drawing.y.low, drawing.y.high), item.text
        picture = svg(drawing)
        assert "nan" not in picture
        assert "inf" not in picture.replace("infl", "")
        assert len(drawing.alt) > 40
        assert drawing.alt.endswith(".")


def test_the_curve_marks_each_size_with_its_share_of_the_limit_and_its_verdict(answer: TeamAnswer) -> None:
    drawing = people_curve(answer.curve, answer)
    marks = {(m.at[0], round(m.at[1], 6)): m for m in drawing.items if isinstance(m, Mark)}
    for point in answer.curve:
        mark = marks[(point.people, round(100 * point.worst_ratio, 6))]
        assert mark.shape == VERDICT_MARK[point.verdict]
    assert f"{answer.people} people" in labels(drawing)
    assert answer.assessment.deciding is not None
    assert answer.assessment.deciding.label in labels(drawing).replace("\n", " ")


def test_arrows_on_the_bed_are_to_one_scale_for_every_team(demand: Demand) -> None:
    scales = set()
    for team in ((1, 1), (2, 3), (4, 4)):
        move = judge(demand, *team).moves[0]
        drawing = bed_plan(demand, move, team)
        forces = sorted(load.start_n for load in move.hardest_of_each if abs(load.pull_n) > abs(load.lift_n))
        lengths = sorted(abs(a.head[1] - a.tail[1]) for a in drawing.items if isinstance(a, Arrow) and a.hover)
        lengths = lengths or sorted(
            abs(a.points[1][1] - a.points[0][1]) for a in drawing.items if isinstance(a, Line) and a.hover
        )
        scales |= {round(lengths[-1] / forces[-1], 9)}
    assert len(scales) == 1


def test_the_most_loaded_person_is_marked_by_shape_and_words(demand: Demand) -> None:
    move = judge(demand, 3, 3).moves[0]
    drawing = bed_plan(demand, move, (3, 3))
    marks = [m for m in drawing.items if isinstance(m, Mark)]
    on_the_bed, in_the_legend = (m for m in marks if m.shape == "ring")
    words = {i.text: i.at for i in drawing.items if isinstance(i, Label)}
    assert words["most loaded"] == on_the_bed.at
    assert words["ring: the most loaded person"] == in_the_legend.at
    worst = next(m for m in marks if m.at == on_the_bed.at and m.hover)
    assert move.worst_load is not None
    assert worst.hover.startswith(move.worst_load.person.words)
    # red and a diamond are verdicts; nobody's place is one
    assert {m.colour for m in marks} <= {"ink", "within", "push"}
    assert {m.shape for m in marks} <= {"ring", "circle", "triangle"}


def test_everybody_stands_on_the_plan_with_what_they_do_and_the_force_of_the_table(demand: Demand) -> None:
    for move in judge(demand, 2, 2).moves:
        drawing = bed_plan(demand, move, (2, 2))
        hovers = [m.hover for m in drawing.items if isinstance(m, Mark) and m.size >= 20 and m.hover]
        assert len(hovers) == 5
        for row in load_rows(move).rows:
            told = next(hover for hover in hovers if hover.startswith(f"{row[0]}: "))
            assert row[1] in told
            assert row[2] in told or row[1] in ("guards the edge", "handles the layer", "stands by", "no force")
        said = labels(drawing)
        for load in move.hardest_of_each:
            assert DEFAULT_UNITS.show_force(load.start_n) in said


@pytest.mark.parametrize("team", [(2, 2), (4, 3), (6, 6)])
def test_a_telephone_shows_the_plan_of_the_bed_with_words_that_cover_no_other_word(
    demand: Demand, team: tuple[int, int]
) -> None:
    wide = 330.0
    for move in judge(demand, *team, every_limit=False).moves:
        drawing = bed_plan(demand, move, team)
        high = 80 + wide * (drawing.y.high - drawing.y.low) / (drawing.x.high - drawing.x.low)
        words, _ = boxes(replace(drawing, height=high), wide)
        for (said, one), (also, other) in combinations(words, 2):
            assert not meet(one, other), (move.move.name, said, also)


def test_one_more_person_is_one_more_mark_on_the_bed(demand: Demand) -> None:
    def people(team: tuple[int, int]) -> int:
        drawing = bed_plan(demand, judge(demand, *team).moves[0], team)
        return sum(m.size >= 20 for m in drawing.items if isinstance(m, Mark))

    assert people((3, 2)) == people((2, 2)) + 1


def test_the_rolled_outline_lies_as_deep_in_the_mattress_as_the_forces_have_it_at_every_angle(demand: Demand) -> None:
    for move, _ in demand.moves:
        if not move.rolls:
            continue
        view = turn_view(demand, move)
        for angle in np.linspace(view.from_deg, view.to_deg, 7):
            body = [i for i in cross_section(view, float(angle)).items if isinstance(i, Polygon)][1]
            sunk = rolled_support(demand.case.body.outline, demand.case.mattress, np.radians([angle])).sink_m[0]
            assert min(y for _, y in body.points) == pytest.approx(-float(sunk), abs=1e-3)
            assert sunk > 0.01


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda p: p.stem)
def test_a_telephone_shows_the_cross_section_large_with_words_that_touch_nothing(path: Path) -> None:
    wide = 330.0
    demand = demand_of(load_scenario(path))
    for view in (turn_view(demand, move) for move, _ in demand.moves if move.rolls):
        for angle in np.linspace(view.from_deg, view.to_deg, 7):
            drawing = cross_section(view, float(angle))
            x, y = drawing.x, drawing.y
            bed, body = (i for i in drawing.items if isinstance(i, Polygon))
            assert bed.points[1][0] - bed.points[0][0] >= 0.6 * (x.high - x.low)
            assert all(x.low <= px <= x.high and y.low <= py <= y.high for px, py in body.points)
            shown = replace(drawing, height=80 + wide * (y.high - y.low) / (x.high - x.low))
            words, marks = boxes(shown, wide)
            for (said, one), (also, other) in combinations(words, 2):
                assert not meet(one, other), (view.name, angle, said, also)
            for said, box in words:
                assert -1 <= box[0] < box[1] <= wide + 1, (view.name, angle, said)
                assert not any(meet(box, mark) for mark in marks), (view.name, angle, said)


def test_the_contact_line_lies_under_the_lowest_point(demand: Demand) -> None:
    view = turn_view(demand, demand.moves[0][0])
    now = at_angle(view, view.to_deg)
    body = [i for i in cross_section(view, view.to_deg).items if isinstance(i, Polygon)][1]
    lowest = min(body.points, key=lambda p: p[1])
    assert lowest[0] == pytest.approx(now.centre_x_m + now.moment_arm_m, abs=0.02)


def test_forces_at_an_angle_are_those_of_the_library(demand: Demand) -> None:
    move = next(m for m, _ in demand.moves if m.rolls)
    view = turn_view(demand, move)
    team = judge(demand, demand.scenario.team.left, demand.scenario.team.right)
    done = next(m for m in team.moves if m.move == move)
    for result in done.efforts:
        if result.effort.side != "airway":
            shown = at_angle(view, float(np.degrees(result.effort.terms["roll angle"])))
            (hands,) = (h for h in shown.hands if (h.name, h.side) == (result.effort.role, result.effort.side))
            assert hands.force_n == pytest.approx(float(result.effort.start_n), rel=1e-6)
    for point in balance_points(view):
        assert at_angle(view, point).moment_arm_m == pytest.approx(0.0, abs=2e-3)


def test_what_one_side_alone_would_need_is_the_formula_of_one_side(demand: Demand) -> None:
    for move in (m for m, _ in demand.moves if m.rolls):
        forces = turn_forces(demand, move, 2, 2)
        pull, _ = turn_statics(move, demand.case, demand.scenario)
        (pulls,) = (a for a in forces.actions if a.name == "pulls the sheet")
        alone = np.interp(pull.angle, forces.angle, np.where(np.isfinite(pulls.alone_n), pulls.alone_n, 0.0))
        peak = int(pull.force_n.argmax())
        assert alone[peak] == pytest.approx(pull.force_n[peak], rel=1e-2)


def test_a_unit_changes_the_words_and_not_the_shapes(demand: Demand) -> None:
    move = judge(demand, 2, 2).moves[0]
    one, other = (bed_plan(demand, move, (2, 2), units) for units in (Units(), Units(force="lbf")))
    assert [i for i in one.items if isinstance(i, Polygon)] == [i for i in other.items if isinstance(i, Polygon)]
    assert "lbf" in labels(other)
    assert "lbf" not in labels(one)


def test_the_map_says_each_cell_in_words() -> None:
    cells = {("a", 60.0): 3, ("a", 90.0): 5, ("b", 60.0): "lift"}
    drawing = mass_aid_map(cells, ["a", "b"], [60.0, 90.0], ("a", 88.0))
    said = labels(drawing)
    assert "3" in said
    assert "lift" in said
    assert "…" in said  # not computed yet
    assert "a: 3 at 60 kg, 5 at 90 kg" in drawing.alt


def test_unmeasured_friction_is_a_ring_and_measured_a_filled_mark(prone: Scenario) -> None:
    options = compare_aids(prone)
    drawing = aid_bars(options, prone.aid)
    rows = {o.unmeasured for o in options if o.people}
    shapes = {m.shape for m in drawing.items if isinstance(m, Mark) and m.size == 17}
    assert ("ring" in shapes) == (True in rows)
    assert ("circle" in shapes) == (False in rows)


def test_where_every_aid_needs_a_lift_the_figure_says_so(prone: Scenario) -> None:
    lift = [replace(o, people=None, verdict="over") for o in compare_aids(prone)[:2]]
    drawing = aid_bars(lift, prone.aid)
    assert labels(drawing) == "mechanical lift | mechanical lift"
    assert plotly_spec(drawing)["data"]


def test_text_out_of_a_file_stays_text() -> None:
    nasty = "<script>alert(1)</script>"
    drawing = mass_aid_map({}, ["a"], [60.0], ("a", 60.0))
    drawing = replace(drawing, alt=nasty, items=[Label((0, 0), nasty), Mark((0, 0), hover=nasty)])
    assert "<script>" not in svg(drawing)
    assert "<script>" not in json.dumps(plotly_spec(drawing))


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_words_and_marks_have_enough_contrast_on_their_paper(palette: dict[str, str]) -> None:
    """WCAG 2.2: 4.5 for text (the verdict words are text), relative luminance as defined there."""
    paper = luminance(palette["paper"])
    for colour in ("ink", "quiet", "within", "close", "over", "not applicable"):
        one, other = sorted((luminance(palette[colour]), paper))
        assert (other + 0.05) / (one + 0.05) >= 4.5, colour


def luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
