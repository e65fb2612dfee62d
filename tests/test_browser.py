"""The pages in Chromium: what a reader does, what is printed, and what an accessibility checker finds.

Skipped where there is no Chromium, unless ERGO_BROWSER=required. Screenshots go to ERGO_ARTEFACTS or to a
temporary folder.
"""

from __future__ import annotations

import base64
import json
import os
import re
import tempfile
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from plotly.graph_objects import Figure

from ergo import load_scenario, smallest_team
from ergo.inputs import examples
from ergo.inputs.scenario import read_scenario
from ergo.report.documents.card import bedside_card
from ergo.report.documents.case import case_report
from ergo.report.documents.team import answer_words
from ergo.report.figures.drawing import DARK, LIGHT, Axis, Drawing, Line, Mark
from ergo.report.figures.render_plotly import plotly_spec
from ergo.report.html_page import html_page
from ergo.web.link import pack_case, unpack_case
from tests.tools.served import ROOT, needs_chromium, served

pytestmark = [pytest.mark.browser, needs_chromium]
WAIT = 150_000  # a busy machine works out the map for the first time
PAGES = ("", "teach", "body", "compare", "sure", "unit", "purchase", "evidence")
FAULT = "[data-testid=stException], [data-testid=stAlertContentError]"
HAS_RULE = "rule => [...document.querySelectorAll('style')].some(s => s.textContent.includes(rule))"
SAID = """() => [...document.querySelectorAll(document.querySelector(".ergo-answer") ? ".ergo-answer" : ".ergo-scroll")]
    .map(e => e.innerText).join()"""
SOON = f"?case={pack_case(load_scenario(ROOT / 'scenarios' / 'boost_flat.toml'))}"
TURN = f"?case={pack_case(examples.side_lying_turn(82.0))}"  # has what a prone turn shows, in half the time
CHANGES = {  # keys that change an input of this kind
    "combobox": ("ArrowDown", "ArrowDown", "Enter"),
    "radio": ("ArrowRight", "Enter"),
    "range": ("ArrowRight", "ArrowRight"),
}
ARTEFACTS = Path(os.environ.get("ERGO_ARTEFACTS") or tempfile.mkdtemp(prefix="ergo-pages-"))


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with served(ROOT / "app.py") as at:
        yield at


@pytest.fixture
def page(chromium: Any) -> Iterator[Any]:
    opened = fresh(chromium)
    yield opened
    opened.context.close()


@pytest.fixture
def answered(page: Any, address: str) -> None:
    """Open the first page with a case that is answered soon."""
    go(page, address, SOON)


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


@pytest.mark.usefixtures("answered")
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


@pytest.mark.usefixtures("answered")
def test_an_input_shows_the_case_on_every_page_that_has_it_there_and_back(page: Any) -> None:
    set_number(page, "Mass (kg)", "61.5")
    settled(page)
    for name in ("Compare aids", "Answer", "Compare aids", "Answer"):
        page.get_by_role("link", name=name, exact=True).click()
        page.wait_for_function(
            "n => document.querySelector('[data-testid=stSidebarNavLink][aria-current=page]')?.innerText.includes(n)",
            arg=name,
        )
        settled(page)
        assert page.get_by_label("Mass (kg)", exact=True).first.input_value() == "61.5", name


def test_a_bad_link_is_said(chromium: Any, address: str) -> None:
    opened = fresh(chromium)
    opened.goto(f"{address}/?case=broken")
    opened.wait_for_selector(FAULT)
    assert "is shown instead" in opened.inner_text(FAULT)
    opened.context.close()


def test_no_text_of_a_link_becomes_a_link_in_what_is_said(chromium: Any, address: str) -> None:
    said = "https://a.example www.b.example x@y.example [c](https://c.example)"
    case = {"name": "x", "procedure": "boost", "patient": {"sex": "F", "mass_kg": 70, "stature_m": said}, "aid": said}
    packed = base64.urlsafe_b64encode(zlib.compress(json.dumps(case).encode())).decode().rstrip("=")
    page = chromium.new_page()
    page.goto(f"{address}/?case={packed}")
    page.get_by_text("www.b.example").first.wait_for(timeout=30_000)
    found = page.eval_on_selector_all("a", "all => all.map(a => a.href)")
    assert [href for href in found if "example" in href] == []
    page.close()


@pytest.mark.usefixtures("answered")
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
    assert "Small roll to the left" in answer_of(page)
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
    page.get_by_role("button", name="Lock in my guess").click()
    page.wait_for_selector(".ergo-answer")
    assert "Your guess: 4 people" in page.inner_text(".ergo-answer")
    keep(page, "teach-revealed")


def paint(page: Any, theme: str) -> None:
    """Show the page light or dark; figures take their colours when the script runs again."""
    page.emulate_media(color_scheme=theme)
    page.wait_for_function(
        "theme => getComputedStyle(document.querySelector('[data-testid=stApp]')).colorScheme === theme", arg=theme
    )
    rule = f".ergo-note{{color:{(DARK if theme == 'dark' else LIGHT)['quiet']}"
    if not page.evaluate(HAS_RULE, rule):
        page.evaluate("document.activeElement.blur()")
        page.keyboard.press("r")
    page.wait_for_function(HAS_RULE, arg=rule)
    settled(page)


def unfold(page: Any) -> None:
    """Open every expander."""
    closed = "[data-testid=stMain] details:not([open]) > summary"
    page.locator(closed).evaluate_all("found => found.forEach(one => one.click())")
    settled(page)
    assert page.locator(closed).count() == 0


def findings(page: Any, where: Any, theme: str) -> list[Any]:
    """What is serious or critical; the dark page differs from the light one in its colours only."""
    from axe_playwright_python.sync_playwright import Axe

    if not page.evaluate("Boolean(window.axe)"):
        page.evaluate(Axe().axe_script)  # once a page: it is half a megabyte
    options: dict[str, Any] = {"resultTypes": ["violations"]}
    if theme == "dark":
        options["runOnly"] = ["color-contrast"]
    run = "async ([where, options]) => (await axe.run(where || document, options)).violations"
    found = page.evaluate(run, [where, options])
    return [
        (theme, v["id"], [n["html"][:160] for n in v["nodes"]][:3])
        for v in found
        if v["impact"] in ("serious", "critical")
    ]


def looked_at(page: Any, theme: str, first: bool) -> list[Any]:
    """Look at a view with all its expanders open, then at each tab and each popover of the first view."""
    unfold(page)
    found = findings(page, None if first else "[data-testid=stMain]", theme)
    if not first:
        return found
    for tab in page.locator("[data-testid=stMain] [role=tab]").all():
        tab.click()
        page.wait_for_timeout(100)
        found += findings(page, "[role=tabpanel]", theme)
    for popover in page.locator("[data-testid=stPopover] button:visible").all():
        popover.click()
        page.wait_for_selector("[data-testid=stPopoverBody]")
        found += findings(page, "[data-testid=stPopoverBody]", theme)
        page.keyboard.press("Escape")
        page.wait_for_selector("[data-testid=stPopoverBody]", state="detached")
    return found


_LAID_OUT = 25  # looks, 5 s in all
SIDEWAYS = """() => { const m = document.querySelector("[data-testid=stMain]");
    return Math.max(document.documentElement.scrollWidth - innerWidth, m.scrollWidth - m.clientWidth); }"""


def sideways(page: Any) -> list[tuple[int, int]]:
    """The widths at which the page itself scrolls sideways: a telephone, and 1280 px at 200 % zoom."""
    found = []
    for width in (390, 640):
        page.set_viewport_size({"width": width, "height": 900})
        for _ in range(_LAID_OUT):  # a busy machine lays tables out later than the window is resized
            page.wait_for_timeout(200)
            over = page.evaluate(SIDEWAYS)
            if over <= 0:
                break
        found += [(width, over)] if over > 0 else []
    page.set_viewport_size({"width": 1280, "height": 900})
    return found


@pytest.mark.parametrize("path", PAGES, ids=lambda p: p or "answer")
def test_every_view_is_accessible_light_and_dark_and_needs_no_sideways_scroll(
    chromium: Any, address: str, path: str
) -> None:
    """Every choice of a row of buttons is a view; every expander, tab and popover is opened."""
    opened, name = fresh(chromium), path or "answer"
    broken: list[str] = []
    opened.on("pageerror", lambda error: broken.append(str(error)))
    go(opened, address, path + TURN)
    views = opened.locator("[data-testid=stMain] [role=radio]").all_inner_texts() or [""]
    chosen = opened.locator("[data-testid=stMain] [role=radio][aria-checked=true]").all_inner_texts()
    for theme in ("light", "dark"):
        paint(opened, theme)
        for i, view in enumerate(sorted(views, key=lambda v: v not in chosen)):
            if view:
                opened.get_by_role("radio", name=view, exact=True).first.click()
                settled(opened)
            assert not looked_at(opened, theme, first=i == 0), view
            assert opened.locator(FAULT).count() == 0, view
            if theme == "light":
                assert not sideways(opened), view
        opened.evaluate("document.querySelector('[data-testid=stMain]').scrollTo(0, 0)")
        keep(opened, f"{name}-{theme}")
    assert not broken
    opened.context.close()


CUT = """() => [...document.querySelectorAll("[data-testid=stMain] .js-plotly-plot")].flatMap(figure => {
  const room = figure.getBoundingClientRect();
  return [...figure.querySelectorAll("text")].filter(text => {
    const at = text.getBoundingClientRect();
    return at.width && (at.left < room.left - 1 || at.right > room.right + 1 || at.bottom > room.bottom + 1); })
    .map(text => text.textContent); })"""
"""Words of a figure that reach beyond it."""


@pytest.mark.parametrize("path", ["", "sure", "purchase"], ids=["answer", "sure", "purchase"])
def test_beside_the_open_side_bar_a_small_window_leaves_every_column_room(
    chromium: Any, address: str, path: str
) -> None:
    opened = fresh(chromium, width=1024)
    opened.goto(f"{address}/{path}{SOON}")
    opened.wait_for_selector("[data-testid=stMain] [data-testid=stColumn]")
    settled(opened)
    columns = "[data-testid=stMain] [data-testid=stColumn]"
    widths = opened.evaluate("of => [...document.querySelectorAll(of)].map(e => e.offsetWidth)", columns)
    assert min(width for width in widths if width) >= 240, widths  # none: folded away
    assert not opened.evaluate(CUT)
    opened.context.close()


@pytest.mark.parametrize("path", PAGES, ids=lambda p: p or "answer")
def test_the_first_input_is_reached_and_changed_by_keyboard_and_the_page_answers(
    chromium: Any, address: str, path: str
) -> None:
    opened = fresh(chromium)
    opened.goto(f"{address}/{path}{'' if path == 'body' else SOON}")  # a boost has but one move to choose there
    opened.wait_for_selector(".ergo-answer, .ergo-scroll")
    if path:  # the first page answers while it still fills its map
        settled(opened)
    before = opened.evaluate(SAID)
    for _ in range(40):
        opened.keyboard.press("Tab")
        kind = opened.evaluate(
            """() => { const at = document.activeElement;
               return at.closest("[data-testid=stMain]") && (at.role || at.getAttribute("role") || at.type) || ""; }"""
        )
        if kind in CHANGES:
            break
    for key in CHANGES[kind]:
        opened.keyboard.press(key)
    opened.wait_for_function(f"before => ({SAID})() !== before", arg=before)
    assert opened.locator(FAULT).count() == 0
    opened.context.close()


def test_a_name_that_looks_like_a_template_is_shown_as_it_is_written(chromium: Any) -> None:
    name = "pad %{y} <b>%{text}</b>"
    items = [Mark((0.5, 0.5), hover=name), Line([(0.2, 0.2), (0.8, 0.2)], hover=name)]
    figure = Figure(plotly_spec(Drawing(Axis(0.0, 1.0), Axis(0.0, 1.0), items, "")))
    opened = fresh(chromium)
    opened.set_content(figure.to_html(include_plotlyjs=True, div_id="figure"))
    opened.wait_for_selector(".main-svg")
    for trace in (1, 2):
        opened.evaluate("n => Plotly.Fx.hover('figure', [{curveNumber: n, pointNumber: 0}])", trace)
        opened.wait_for_selector(".hoverlayer text")
        assert opened.locator(".hoverlayer text").all_text_contents() == [name]
        opened.evaluate("Plotly.Fx.unhover('figure')")
    opened.context.close()


@pytest.mark.usefixtures("answered")
def test_every_input_can_be_reached_and_changed_by_keyboard(page: Any) -> None:
    box = page.get_by_label("Mass (kg)", exact=True).first
    box.focus()
    box.press("ArrowUp")
    box.press("Enter")
    settled(page)
    assert case_in(page).patient.mass_kg == 73.0
    seen = set()
    for _ in range(60):
        page.keyboard.press("Tab")
        seen.add(page.evaluate("document.activeElement.getAttribute('aria-label') || document.activeElement.innerText"))
    said = " | ".join(str(s) for s in seen)
    for wanted in ("Stature (cm)", "Move by move"):
        assert wanted in said


def test_going_back_returns_to_the_case_and_the_page_before_and_leaves_where_the_reader_came_from(
    page: Any, address: str
) -> None:
    def wait(words: str) -> None:
        page.wait_for_function("w => document.querySelector('.stApp').innerText.includes(w)", arg=words)
        page.wait_for_timeout(2000)

    page.goto(f"{address}/_stcore/health")  # where the reader comes from
    page.goto(f"{address}/teach")
    settled(page)
    set_number(page, "People on the left", "4")
    wait("4 people on the left")
    assert case_in(page).team.left == 4
    page.get_by_role("link", name="Evidence", exact=True).click()
    wait("Where the figures come from")
    assert case_in(page).team.left == 4  # also what another page's address holds
    page.go_back(wait_until="commit")
    page.wait_for_timeout(2000)
    if "/evidence" in page.url:  # where the page comes later than its case, a slow browser notes both
        page.go_back(wait_until="commit")
    wait("4 people on the left")
    assert page.url.startswith(f"{address}/teach?case=")
    for _ in range(2):
        page.go_back(wait_until="commit")
        page.wait_for_timeout(2000)
    assert page.url == f"{address}/_stcore/health"


@pytest.mark.parametrize("page_name", ["unit", "sure"])
def test_what_takes_long_is_stopped_within_a_second(page: Any, page_name: str) -> None:
    with served(ROOT / "app.py") as address:  # a page that has computed nothing yet
        go(page, address, "evidence")
        page.goto(f"{address}/{page_name}")
        if page_name == "sure":
            settled(page)
            page.get_by_text("Convergence: would more cases tried (draws) change it?").click()
            choose(page, "Cases tried (draws)", "262 144")
        stop = page.get_by_role("button", name="Stop", exact=True)
        stop.wait_for()
        page.wait_for_timeout(500)
        stop.click()
        page.wait_for_selector("[data-testid=stProgress]", state="detached", timeout=1000)
        settled(page)
        assert not page.locator(FAULT).filter(has_text="cannot be used").count()
        assert not page.locator("[data-testid=stException]").count()


def test_a_reader_who_writes_a_decimal_comma_enters_one_pull_as_one_number(chromium: Any, address: str) -> None:
    context = chromium.new_context(viewport={"width": 1280, "height": 900}, locale="de-DE")
    opened = context.new_page()
    opened.set_default_timeout(WAIT)
    go(opened, address, "sure")
    box = opened.get_by_label(re.compile("Steady pulls"))
    box.fill("262,5")
    box.press("Enter")
    opened.get_by_text("1 pull, 75 kg, on site").wait_for()
    assert opened.get_by_text("cannot be used").count() == 0
    box.fill("32,5 31.0")
    box.press("Enter")
    opened.get_by_text("numbers written in one way").wait_for()
    context.close()


def test_figures_tables_and_the_answer_turn_dark_with_the_system_without_any_input(page: Any, address: str) -> None:
    go(page, address, "teach")
    colours = """() => ["[data-testid=stPlotlyChart] text", ".ergo-answer", ".ergo-scroll"].map(
        where => { const s = getComputedStyle(document.querySelector(where)); return s.fill + s.color; })"""
    light = page.evaluate(colours)
    page.emulate_media(color_scheme="dark")
    page.wait_for_function(f"light => ({colours})().every((one, i) => one !== light[i])", arg=light, timeout=30_000)
    settled(page)
    page.emulate_media(color_scheme="light")
    page.wait_for_function(f"light => ({colours})().every((one, i) => one === light[i])", arg=light, timeout=30_000)


def test_the_printed_report_and_the_card_are_accessible(chromium: Any, tmp_path: Path) -> None:
    file = tmp_path / "paper.html"
    answer = smallest_team(load_scenario(ROOT / "scenarios" / "boost_flat.toml"))
    for document in (case_report(answer, annex=True), bedside_card(answer)):
        file.write_text(html_page(document), encoding="utf-8")
        for width in (1280, 390):
            opened = fresh(chromium, width)
            opened.goto(file.as_uri())
            assert not findings(opened, None, "light"), document.name
            opened.context.close()
