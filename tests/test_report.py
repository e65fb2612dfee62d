"""The report: complete, self-contained, escaped, and the same numbers as the library."""

from __future__ import annotations

import json
import re
from html import escape
from pathlib import Path

import pytest

from ergo import load_scenario, smallest_team
from ergo.assessment import CAUTIONS, assess
from ergo.cli.main import main
from ergo.inputs.examples import lateral_transfer, slide_to_the_side
from ergo.report.documents.card import bedside_card
from ergo.report.documents.case import case_report, class_sheet
from ergo.report.documents.team import answer_words
from ergo.report.html_page import html_page
from ergo.report.json_export import to_json
from ergo.report.markdown import markdown_page
from ergo.report.tables.case import load_rows, side_words
from ergo.report.tables.paper import side_in_short
from ergo.teams.sentences import reasons_words
from ergo.teams.smallest_team import TeamAnswer
from ergo.units import DEFAULT_UNITS, Units

SCENARIOS = Path(__file__).resolve().parents[1] / "scenarios"
PRONE = SCENARIOS / "prone_cotton_draw_sheet.toml"


@pytest.fixture(scope="module")
def answer() -> TeamAnswer:
    return smallest_team(load_scenario(PRONE))


def test_the_two_pages_have_the_answer_its_figure_and_the_cautions(answer: TeamAnswer) -> None:
    first, second = html_page(case_report(answer)).split("</section>")[:2]
    assert answer_words(answer)[0] in re.sub("<[^>]+>", "", first)
    assert "<svg" in first
    for caution in CAUTIONS:
        assert caution.replace("'", "&#x27;") in second


def test_working_limits_and_sources_follow(answer: TeamAnswer) -> None:
    said = html_page(case_report(answer, annex=True))
    for move in answer.assessment.moves:
        assert f": {move.move.name}</h2>" in said
        for check in move.limits:
            assert escape(check.label) in said
            assert check.source in said


def test_it_asks_for_nothing_from_outside(answer: TeamAnswer) -> None:
    said = html_page(case_report(answer, annex=True))
    assert not re.search(r"<(link|img|iframe)|url\(|@import| src=", said)
    assert re.findall(r"<script[^>]*>", said) == ['<script type="application/toml" id="case">']  # data, never run
    assert "default-src 'none'" in said


def test_markdown_has_the_same_tables(answer: TeamAnswer) -> None:
    said = markdown_page(case_report(answer, annex=True))
    for title in (
        "The case",
        "Move by move",
        "Team sizes, by force alone",
        "Aids side by side",
        "Published headcounts",
        "Sources",
    ):
        assert f"## {title}" in said
    assert all(line.count("|") >= 3 for line in said.splitlines() if line.startswith("|"))


def test_names_out_of_a_file_stay_text(answer: TeamAnswer) -> None:
    nasty = "<script>alert(1)</script> [x](http://y)"
    case = answer.scenario.model_copy(update={"name": nasty, "question": nasty})
    renamed = smallest_team(case)
    assert "<script>" not in html_page(case_report(renamed))
    assert "<script>" not in html_page(class_sheet(renamed))
    assert not re.search(r"(?<!\\)<script|(?<!\\)\[x", markdown_page(case_report(renamed)))


def test_the_reader_s_units_are_used(answer: TeamAnswer) -> None:
    said = html_page(case_report(answer, Units("lb", "lbf", "ft-in"), annex=True)).split("<h2>Aids side by side")[0]
    assert " lbf" in said
    said = said.replace(answer.scenario.question, "")
    assert not re.search(r"\d (N|kg|cm)(?! m)\b", said)


def test_the_class_sheet_asks_before_it_answers(answer: TeamAnswer) -> None:
    task, answers = html_page(class_sheet(answer)).split("</section>")[:2]
    assert answer_words(answer)[0] not in task
    assert answer_words(answer)[0] in answers


def test_the_command_writes_html_and_markdown_and_says_what_is_wrong(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name, start in (("out.html", "<!doctype html>"), ("out.md", "# ")):
        (tmp_path / name).write_text("an older report", encoding="utf-8")  # is overwritten, as the README says
        assert main(["report", str(PRONE), "-o", str(tmp_path / name)]) == 0
        assert (tmp_path / name).read_text(encoding="utf-8").startswith(start)
    assert main(["report", str(PRONE), "-o", str(tmp_path / "out.docx")]) == 2
    assert "ends in .html or .md" in capsys.readouterr().err
    assert main(["report", str(PRONE), "-o", str(tmp_path / "no" / "out.html")]) == 2


def test_the_card_says_who_does_what_with_the_forces_of_the_plan_and_for_which_reason_there_are_as_many(
    answer: TeamAnswer,
) -> None:
    said = html_page(bedside_card(answer))
    assert reasons_words(answer.reasons)[0] in said
    for move in answer.assessment.moves:
        for load in move.hardest_of_each:
            assert f"{load.role}, {DEFAULT_UNITS.show_force(load.start_n)}" in said


def test_no_card_is_printed_for_a_team_that_the_bed_has_no_room_for(answer: TeamAnswer) -> None:
    case = answer.scenario
    narrow = case.model_copy(update={"bed": case.bed.model_copy(update={"places_left": 1})})
    short = smallest_team(narrow, with_aids=False)
    said = html_page(bedside_card(short))
    assert short.reasons.no_room
    assert "Make room at this bed" in said
    assert "Ready when" not in said


def test_every_page_of_an_answer_shows_one_figure_for_the_start_of_each_person(answer: TeamAnswer) -> None:
    data = json.loads(to_json(answer))
    said = html_page(case_report(answer, annex=True))
    for move in data["assessment"]["moves"]:
        for person in move["persons"]:
            assert person["action"] in said or person["start_n"] == 0.0
            if person["start_n"] > 0.0:
                assert f"<td>{DEFAULT_UNITS.show_force(person['start_n'])}</td>" in said


def test_who_gives_no_force_guards_the_edge_where_the_patient_crosses_and_is_idle_where_not() -> None:
    one_side = {"who_works": "receiving side", "left": 2, "right": 2}
    crossing = assess(lateral_transfer(team=one_side)).moves[0]
    assert side_words(crossing, "right") == side_in_short(crossing, "right", DEFAULT_UNITS) == "2 guard the edge"
    assert [row[1] for row in load_rows(crossing).rows if row[0].startswith("right")] == ["guards the edge"] * 2
    sliding = assess(slide_to_the_side(team=one_side | {"right": 1})).moves[0]
    assert side_words(sliding, "right") == "stands by"
