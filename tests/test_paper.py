"""Papers that carry a name: two pages to sign, a card of one page, and a page that opens as its case again."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from ergo import __version__, load_scenario, smallest_team
from ergo.assessment import CAUTIONS
from ergo.cli.main import main
from ergo.errors import InputError
from ergo.evidence import evidence_edition
from ergo.inputs.case_in_html import case_as_html, case_of_html
from ergo.inputs.examples import boost, shipped
from ergo.inputs.scenario import Move, Scenario, dump_scenario, parse_scenario, read_scenario
from ergo.report.blocks import Bullets, Document
from ergo.report.documents.card import bedside_card
from ergo.report.documents.case import case_report, class_sheet
from ergo.report.html_page import html_page
from ergo.report.tables.evidence import score_words
from ergo.teams.knife_edge import KnifeEdge
from ergo.teams.smallest_team import TeamAnswer
from ergo.teams.this_team import BesideTeam, beside_team, this_team
from ergo.units import DEFAULT_UNITS, Units
from ergo.validation.cases import validation_cases
from ergo.validation.score import score_of
from tests.tools.served import needs_chromium

SCENARIOS = Path(__file__).resolve().parents[1] / "scenarios"
UNITS = {"SI": DEFAULT_UNITS, "lb and ft": Units("lb", "lbf", "ft-in")}
SIZES = ("A4", "Letter")
PAGE = re.compile(rb"/Type\s*/Page\b")


def forty_moves() -> Scenario:
    kinds = ("slide to the side", "micro-turn", "side-lying turn", "slide to the side")
    sides = ("left", "right")
    case = shipped()["prone_two_layer_pad"]
    moves = tuple(Move(kind=kinds[i % 4], towards=sides[i % 2]) for i in range(40))  # type: ignore[arg-type]
    return case.model_copy(
        update={
            "name": "Forty moves " * 9,
            "question": "How many people for a day of moves in a row? " * 6,
            "procedure": "own sequence",
            "moves": moves,
        }
    )


@pytest.fixture(scope="module")
def found() -> dict[str, tuple[TeamAnswer, BesideTeam]]:
    """Answers are found once, for every unit and size of paper."""
    return {}


def answered(found: dict[str, tuple[TeamAnswer, BesideTeam]], name: str) -> tuple[TeamAnswer, BesideTeam]:
    if name not in found:
        answer = smallest_team(forty_moves() if name == "forty moves" else shipped()[name], with_aids=False)
        found[name] = answer, beside_team(answer)
    return found[name]


def pages_of(chromium: Any, document: Document, **how: Any) -> int:
    context = chromium.new_context()
    page = context.new_page()
    page.set_content(html_page(document))
    printed = page.pdf(print_background=True, **how)
    context.close()
    return len(PAGE.findall(printed))


@needs_chromium
@pytest.mark.browser
@pytest.mark.parametrize("name", [*shipped(), "forty moves"])
def test_a_report_prints_on_two_pages_and_a_card_on_one(
    chromium: Any, found: dict[str, tuple[TeamAnswer, BesideTeam]], name: str
) -> None:
    answer, beside = answered(found, name)
    for units in UNITS.values():
        for size in SIZES:
            assert pages_of(chromium, case_report(answer, units, beside=beside), format=size) == 2, (units, size)
        if name != "forty moves":
            assert pages_of(chromium, bedside_card(answer, units), prefer_css_page_size=True) == 1, units


@needs_chromium
@pytest.mark.browser
@pytest.mark.parametrize("name", ["prone_two_layer_pad", "patient_of_size_prone", "forty moves"])  # the fullest
def test_a_report_prints_on_two_pages_on_a_knife_s_edge_and_with_people_on_shift(
    chromium: Any, found: dict[str, tuple[TeamAnswer, BesideTeam]], name: str
) -> None:
    answer, beside = answered(found, name)
    people = {"members": ({"size": "small"}, *[{"size": "tall", "most_lift_kg": 5.0}] * 4)}
    crew = parse_scenario(
        answer.scenario.model_dump(mode="python", exclude={"team"}, exclude_none=True) | {"team": people}
    )
    shift, number = this_team(crew, with_band=False), answer.people or 5
    changes = ("another set of draws", "mass less", "mass more", "bed lower", "bed higher")
    full = replace(answer, knife_edge=KnifeEdge(number, number - 1, number + 1, changes, lift=True))
    for units in UNITS.values():
        for size in SIZES:
            document = case_report(full, units, beside=beside, shift=shift)
            assert pages_of(chromium, document, format=size) == 2, (units, size)


@needs_chromium
@pytest.mark.browser
def test_nothing_on_the_two_pages_is_smaller_than_nine_points(
    chromium: Any, found: dict[str, tuple[TeamAnswer, BesideTeam]]
) -> None:
    answer, beside = answered(found, "patient_of_size_prone")
    context = chromium.new_context(viewport={"width": 703, "height": 950})
    page = context.new_page()
    page.emulate_media(media="print")
    page.set_content(html_page(case_report(answer, beside=beside)))
    sizes = page.evaluate(
        """() => [...document.querySelectorAll(".page *")].filter(e => [...e.childNodes].some(
            n => n.nodeType === 3 && n.textContent.trim()) && e.tagName !== "title").map(e => {
              const scale = e.ownerSVGElement ? e.ownerSVGElement.getScreenCTM().a : 1;
              return parseFloat(getComputedStyle(e).fontSize) * scale; })"""
    )
    context.close()
    assert len(sizes) > 50
    assert min(sizes) >= 12.0 - 0.05  # 9 points


@pytest.mark.parametrize("name", list(shipped()))
def test_a_report_opens_as_the_case_that_it_is_about(name: str) -> None:
    case = shipped()[name]
    page = html_page(Document(case.name, (), case=dump_scenario(case)))
    assert read_scenario(page.encode()) == case


NASTY = ("</script><script>alert(1)</script>", "<!-- <script> ", "]]> & &lt; \\u003C", '\'\'\'" """ \\', "# [x] = 1")


@pytest.mark.parametrize("said", NASTY)
def test_no_text_of_a_case_breaks_out_of_the_block_that_holds_it(said: str) -> None:
    case = boost().model_copy(update={"name": said, "question": said, "author": said})
    page = html_page(Document("x", (), case=dump_scenario(case)))
    block = page.partition('<script type="application/toml" id="case">')[2].partition("</script>")[0]
    assert page.lower().count("<script") == page.lower().count("</script") == 1
    assert not set("<>&") & set(block)
    assert read_scenario(page.encode()) == parse_scenario(case.model_dump(mode="python", exclude_none=True))


def test_a_page_without_a_case_or_with_two_is_refused_in_words() -> None:
    two = f"<!doctype html>{case_as_html('a = 1')}{case_as_html('a = 2')}"
    assert case_of_html(two.encode()) is None
    for raw in (b"<!doctype html><p>nothing", two.encode()):
        with pytest.raises(InputError, match="a report with its case inside"):
            read_scenario(raw)


def test_the_command_writes_two_pages_with_the_case_and_an_annex_on_request(tmp_path: Path) -> None:
    out, file = tmp_path / "out.html", str(SCENARIOS / "boost_flat.toml")
    assert main(["report", file, "-o", str(out)]) == 0
    short = out.read_text(encoding="utf-8")
    assert short.count('class="sheet page"') == 2
    assert "Aids side by side" not in short
    assert load_scenario(out) == load_scenario(file)
    assert main(["report", str(out), "-o", str(tmp_path / "again.html"), "--annex"]) == 0  # the report is the case
    long = (tmp_path / "again.html").read_text(encoding="utf-8")
    assert "Aids side by side" in long
    assert "Sources" in long
    assert long.count('class="sheet page"') == 2


def test_the_two_pages_say_all_that_is_signed_for(found: dict[str, tuple[TeamAnswer, BesideTeam]]) -> None:
    answer, beside = answered(found, "prone_two_layer_pad")
    first, second = html_page(case_report(answer, beside=beside)).split("</section>")[:2]
    for said in ("by force alone", "to hold on if one lets go", "by guidance", "One fewer", "One more", "not measured"):
        assert said in first
    assert re.search(r"<b>\d+ people</b>", first)
    assert "Exceeded, though it does not decide" in first
    assert second.count("<tr>") == 1 + 6 + 1 + 4 + 1 + 2  # six moves, four limits, two who sign
    assert f"{len(answer.assessment.moves) - 6} more moves" in second
    assert score_words(score_of(validation_cases())) in second
    for caution in CAUTIONS:
        assert caution.replace("'", "&#x27;") in second
    for word in ("name", "role", "date", "review on"):
        assert f'<th scope="col">{word}</th>' in second
    for page in (first, second):
        assert f"ergo {__version__}, evidence {evidence_edition()}, seed " in page


def test_every_paper_of_a_case_says_version_evidence_and_seed(
    found: dict[str, tuple[TeamAnswer, BesideTeam]],
) -> None:
    answer, _ = answered(found, "boost_flat")
    for document in (class_sheet(answer), bedside_card(answer)):
        assert f"ergo {__version__}, evidence {evidence_edition()}, seed " in html_page(document)


@pytest.mark.parametrize(("bed_kg", "said"), [(150.0, "150 kg"), (250.0, "200 kg")])
def test_a_card_says_stop_above_the_lower_rated_capacity_of_bed_and_aid(bed_kg: float, said: str) -> None:
    case = shipped()["own_measured_aid"]  # its aid is rated for 200 kg
    bed = case.bed.model_copy(update={"rated_capacity_kg": bed_kg})
    answer = smallest_team(case.model_copy(update={"bed": bed}), with_aids=False)
    stop = [item for block in bedside_card(answer).blocks if isinstance(block, Bullets) for item in block.items]
    assert f"above {said}, the rated capacity" in stop


def test_one_fewer_is_a_team_that_is_possible(found: dict[str, tuple[TeamAnswer, BesideTeam]]) -> None:
    _, beside = answered(found, "lateral_cotton")
    assert beside.one_fewer is not None
    assert (beside.one_fewer.left, beside.one_fewer.right) == (2, 1)  # somebody still guards the edge


@pytest.mark.parametrize("ending", ["html", "md"])
def test_the_card_command_writes_a_card_and_a_policy(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], ending: str
) -> None:
    out = tmp_path / f"card.{ending}"
    assert main(["card", str(SCENARIOS / "boost_flat.toml"), "-o", str(out)]) == 0
    card = out.read_text(encoding="utf-8")
    for said in ("The lead says", "Ready when", "Stop, and fetch the lift", "brakes on"):
        assert said in card
    assert card.startswith("<!doctype html>" if ending == "html" else "# ")
    assert ("size: A5" in card) == (ending == "html")
    assert main(["card", str(SCENARIOS / "boost_flat.toml"), "-o", str(tmp_path / "card.pdf")]) == 2
    assert "ends in .html or .md" in capsys.readouterr().err
    assert main(["card", str(tmp_path / "none.toml"), "-o", str(out)]) == 2
    assert "No such file" in capsys.readouterr().err
