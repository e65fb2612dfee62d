"""Words in figures stand free of marks, lines and each other, on a telephone and on a wide screen."""

from __future__ import annotations

from itertools import combinations, pairwise
from pathlib import Path

import pytest

from ergo import assess, load_scenario
from ergo.report.figures.drawing import Axis, Drawing, Line
from ergo.report.figures.endurance_curve import endurance_curve
from ergo.report.figures.height_curve import height_curve
from ergo.report.figures.label_layout import Room
from ergo.report.figures.probability_curve import probability_curve
from ergo.teams.bed_height import team_height
from ergo.teams.hold_times import hold_times
from ergo.teams.team_probabilities import reliability
from tests.tools.label_boxes import boxes, meet

SCENARIOS = sorted((Path(__file__).resolve().parents[1] / "scenarios").glob("*.toml"))


@pytest.mark.parametrize("wide", [270.0, 430.0, 720.0])
@pytest.mark.parametrize("path", SCENARIOS, ids=lambda p: p.stem)
def test_no_word_covers_a_mark_or_another_word(path: Path, wide: float) -> None:
    case = load_scenario(path)
    result = assess(case)
    holds, height = hold_times(result), team_height(result)
    drawings = [endurance_curve(holds, region) for region in dict.fromkeys(h.region for h in holds)]
    drawings += [height_curve(height)] if height else []
    for drawing in drawings:
        words, marks = boxes(drawing, wide)
        for (said, one), (also, other) in combinations(words, 2):
            assert not meet(one, other), (said, also)
        for said, one in words:
            assert not any(meet(one, mark) for mark in marks), said


def test_the_probability_of_the_answer_hides_no_team() -> None:
    case = load_scenario(next(p for p in SCENARIOS if p.stem == "prone_two_layer_pad"))
    drawing = probability_curve(reliability(case, draws=256))
    for wide in (270.0, 500.0):
        words, marks = boxes(drawing, wide)
        assert any("people:" in said for said, _ in words)
        for said, one in words:
            assert not any(meet(one, mark) for mark in marks), said


def test_words_that_would_run_into_each_other_are_joined_from_left_to_right() -> None:
    room = Room((0.0, 100.0), (0.0, 10.0))
    apart = [((10.0, 5.0), "brake"), ((90.0, 5.0), "pull")]
    assert room.together(apart, 14) == apart
    assert room.together([((12.0, 5.0), "pull"), ((10.0, 5.0), "brake")], 14) == [((11.0, 5.0), "brake, pull")]
    assert len(room.together([((12.0, 5.0), "pull"), ((10.0, 8.0), "brake")], 14)) == 2


def test_a_label_stays_in_the_drawing_and_off_the_line() -> None:
    room = Room((0.0, 100.0), (0.0, 10.0))
    slope = [(0.0, 0.0), (100.0, 10.0)]
    room.keep_line(slope)
    at = (98.0, 9.8)
    room.keep_free([at], 16.0)
    label = room.label(at, "the last of them", 14)
    drawing = Drawing(Axis(0.0, 100.0), Axis(0.0, 10.0), items=[Line(slope), label], alt="", height=380)
    (_, box), *_ = boxes(drawing, 270.0)[0]
    assert box[0] >= 0.0
    assert box[1] <= 270.0
    points = [(270.0 * (i / 200), 300.0 * (i / 200)) for i in range(201)]
    assert not any(meet(box, [x, u, y, v]) for (x, y), (u, v) in pairwise(points))
