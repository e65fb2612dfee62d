"""The pages in Chromium: what a reader does, what is printed, and what an accessibility checker finds.

Skipped where there is no Chromium, unless ERGO_BROWSER=required. Screenshots go to ERGO_ARTEFACTS or to a
temporary folder.
"""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from ergo import load_scenario, smallest_team
from ergo.scenario import read_scenario
from ergo.show.link import unpack_case
from ergo.show.report import answer_words, report_html
from tests.served import CHROMIUM, ROOT, browser, served

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(
        CHROMIUM is None and os.environ.get("ERGO_BROWSER") != "required", reason="Chromium is not installed"
    ),
]
WAIT = 150_000  # a busy machine works out the map for the first time
PAGES = ("", "teach", "compare", "evidence")
ARTEFACTS = Path(os.environ.get("ERGO_ARTEFACTS") or tempfile.mkdtemp(prefix="ergo-pages-"))


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with served(ROOT / "app.py") as at:
        yield at


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    with browser() as opened:
        yield opened


@pytest.fixture
def page(chromium: Any, address: str) -> Iterator[Any]:
    opened = fresh(chromium)
    go(opened, address)
    yield opened
    opened.context.close()


def fresh(chromium: Any, width: int = 1280, theme: str = "light") -> Any:
    context = chromium.new_context(viewport={"width": width, "height": 900}, color_scheme=theme, accept_downloads=True)
    opened = context.new_page()
    opened.set_default_timeout(WAIT)
    return opened


def go(page: Any, address: str, path: str = "") -> None:
    page.goto(f"{address}/{path}")
    settled(page)


def settled(page: Any) -> None:
    """Wait until the page has its title and nothing is being worked out."""
    page.wait_for_selector("h1")
    page.wait_for_timeout(300)
    page.wait_for_function(
        """() => document.querySelector("[data-testid=stApp]").dataset.testScriptState === "notRunning"
           && !document.querySelector("[data-testid=stProgress], [data-testid=stSkeleton]")""",
        timeout=WAIT,
    )


def answer_of(page: Any) -> str:
    page.wait_for_selector(".ergo-answer .what")
    return str(page.inner_text(".ergo-answer .what")).strip()


def keep(page: Any, name: str) -> None:
    ARTEFACTS.mkdir(parents=True, exist_ok=True)
    page.screenshot(path=ARTEFACTS / f"{name}.png")


def case_in(page: Any) -> Any:
    packed = re.search(r"[?&]case=([^&#]+)", page.url)
    assert packed, page.url
    return unpack_case(packed[1])


def set_number(page: Any, label: str, value: str) -> None:
    box = page.get_by_label(label, exact=True).first
    box.fill(value)
    box.press("Enter")


def choose(page: Any, label: str, option: str) -> None:
    page.get_by_label(label, exact=True).first.click()
    page.get_by_role("option", name=option, exact=True).click()


def test_mass_aid_and_a_shared_link_give_the_library_s_answer_in_a_fresh_session(
    page: Any, chromium: Any, address: str
) -> None:
    before = answer_of(page)
    set_number(page, "Mass (kg)", "120")
    page.wait_for_function("t => document.querySelector('.ergo-answer .what')?.innerText.trim() !== t", arg=before)
    choose(page, "Aid", "slide sheet")
    page.wait_for_function("() => !document.querySelector('.ergo-wait')")
    settled(page)
    case = case_in(page)
    assert (case.patient.mass_kg, case.aid) == (120.0, "slide sheet")
    expected = answer_words(smallest_team(case, with_aids=False))[0]
    assert expected in answer_of(page)
    keep(page, "answer-changed")
    other = fresh(chromium)
    other.goto(page.url)
    settled(other)
    assert expected in answer_of(other)
    assert case_in(other) == case
    other.context.close()


def test_a_bad_link_is_said(chromium: Any, address: str) -> None:
    opened = fresh(chromium)
    go(opened, address, "?case=broken")
    assert "is shown instead" in opened.inner_text("[data-testid=stAlert]")
    opened.context.close()


def test_a_saved_case_opens_again_as_the_same_case(page: Any, chromium: Any, address: str, tmp_path: Path) -> None:
    set_number(page, "Mass (kg)", "96.5")
    settled(page)
    with page.expect_download() as waiting:
        page.get_by_text("Save this case (TOML)").click()
    saved = tmp_path / "case.toml"
    waiting.value.save_as(saved)
    case = read_scenario(saved.read_bytes())
    assert case.patient.mass_kg == 96.5
    other = fresh(chromium)
    go(other, address)
    other.set_input_files("[data-testid=stFileUploaderDropzoneInput]", saved)
    other.wait_for_function("() => document.querySelector('input[aria-label=\"Mass (kg)\"]')?.value === '96.5'")
    settled(other)
    assert case_in(other) == case
    other.context.close()


def test_a_class_steps_adds_a_person_turns_and_guesses_before_it_sees_the_answer(page: Any, address: str) -> None:
    go(page, address, "teach")
    assert "Micro-turn to the left" in answer_of(page)
    marks = page.locator("[data-testid=stPlotlyChart]").first
    before = marks.get_attribute("aria-label")
    page.get_by_label("People on the left", exact=True).press("ArrowUp")
    page.get_by_label("People on the left", exact=True).press("Enter")
    page.wait_for_function(
        "t => document.querySelector('[data-testid=stPlotlyChart]').getAttribute('aria-label') !== t", arg=before
    )
    page.get_by_role("button", name="Next").click()
    page.wait_for_function("() => document.querySelector('.ergo-answer .what').innerText.includes('to the right')")
    keep(page, "teach")
    page.get_by_text("Predict, then reveal").click()
    page.wait_for_selector("text=How many people does this procedure need")
    assert page.locator(".ergo-answer").count() == 0
    page.get_by_role("button", name="Commit my guess").click()
    page.wait_for_selector(".ergo-answer")
    assert "Your guess: 4 people" in page.inner_text(".ergo-answer")
    keep(page, "teach-revealed")


@pytest.mark.parametrize("size", ["A4", "Letter"])
@pytest.mark.parametrize("name", ["prone_two_layer_pad", "patient_of_size_prone", "limb_hold", "own_measured_aid"])
def test_the_report_s_answer_prints_on_one_page(chromium: Any, tmp_path: Path, name: str, size: str) -> None:
    file = tmp_path / "report.html"
    file.write_text(report_html(smallest_team(load_scenario(ROOT / "scenarios" / f"{name}.toml"))), encoding="utf-8")
    opened = fresh(chromium)
    opened.goto(file.as_uri())
    opened.evaluate("document.querySelectorAll('.sheet').forEach((sheet, i) => { if (i) sheet.remove() })")
    printed = opened.pdf(format=size, print_background=True)
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1
    opened.context.close()


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("path", PAGES, ids=lambda p: p or "answer")
def test_an_accessibility_checker_finds_nothing_serious(chromium: Any, address: str, path: str, theme: str) -> None:
    from axe_playwright_python.sync_playwright import Axe

    opened = fresh(chromium, theme=theme)
    go(opened, address, path)
    keep(opened, f"{path or 'answer'}-{theme}")
    found = Axe().run(opened).response["violations"]
    serious = [
        (v["id"], [n["html"][:160] for n in v["nodes"]][:3]) for v in found if v["impact"] in ("serious", "critical")
    ]
    assert not serious, serious
    opened.context.close()


@pytest.mark.parametrize("path", PAGES, ids=lambda p: p or "answer")
def test_a_narrow_screen_needs_no_sideways_scroll(chromium: Any, address: str, path: str) -> None:
    """390 px is a telephone; 640 px is a 1280 px screen at 200 % zoom."""
    for width in (390, 640):
        opened = fresh(chromium, width)
        go(opened, address, path)
        wide = opened.evaluate(
            """() => { const m = document.querySelector("[data-testid=stMain]");
               return Math.max(document.documentElement.scrollWidth - innerWidth, m.scrollWidth - m.clientWidth); }"""
        )
        assert wide <= 0, width
        keep(opened, f"{path or 'answer'}-{width}")
        opened.context.close()


def test_every_input_can_be_reached_and_changed_by_keyboard(page: Any) -> None:
    box = page.get_by_label("Mass (kg)", exact=True).first
    box.focus()
    box.press("ArrowUp")
    box.press("Enter")
    settled(page)
    assert case_in(page).patient.mass_kg == 83.0
    seen = set()
    for _ in range(60):
        page.keyboard.press("Tab")
        seen.add(page.evaluate("document.activeElement.getAttribute('aria-label') || document.activeElement.innerText"))
    said = " | ".join(str(s) for s in seen)
    for wanted in ("Stature (cm)", "Move by move"):
        assert wanted in said
