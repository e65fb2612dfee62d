"""Every page with every scenario: no exception, no error, and the numbers of the library."""

from __future__ import annotations

import base64
import json
import random
import re
import tomllib
import zlib
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from ergo import InputError, load_scenario, smallest_team
from ergo.assessment import CAUTIONS, assess, cautions_of, used_besides
from ergo.assessment.team import has_airway_lead
from ergo.evidence import assumption
from ergo.inputs import examples
from ergo.inputs.scenario import Scenario, dump_scenario, parse_scenario, read_scenario, without_names
from ergo.report.documents.case import case_report, class_sheet
from ergo.report.documents.team import answer_words
from ergo.report.figures.aid_bars import aid_bars
from ergo.report.figures.drawing import Label, Mark
from ergo.report.html_page import html_page
from ergo.report.markdown import markdown_page
from ergo.report.tables.case import reason_rows
from ergo.teams.sentences import gain_words
from ergo.teams.smallest_team import PROBABILITY_ASKED
from ergo.teams.who_works import ways_of_working
from ergo.web import _mass_aid_map as _map
from ergo.web import _shared, _state, compare
from ergo.web._state import LINK
from ergo.web.link import pack_case, unpack_case
from tests.tools.pages import ROOT, calm, opened, words

SCENARIOS = sorted((ROOT / "scenarios").glob("*.toml"))
PAGES = ("answer", "teach", "compare", "evidence")


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """One column of the map is enough here, and a boost as the first case: the whole map is tested in the browser."""
    monkeypatch.setattr(_map, "_BMI", (25,))
    monkeypatch.setattr(_state, "FIRST", "boost_flat")


@pytest.mark.parametrize("path", SCENARIOS[::3], ids=lambda p: p.stem)
def test_the_pages_show_every_third_scenario_without_an_error_and_with_the_numbers_of_the_library(path: Path) -> None:
    scenario = load_scenario(path)
    answer = smallest_team(scenario)
    app = opened(scenario, "answer", "more", "working")
    calm(app)
    said = words(app)
    sentence = answer.why.partition(". ")[0] if answer.people is not None else "Use a mechanical lift"
    assert sentence in said
    for move in answer.assessment.moves:
        assert move.move.name.replace("'", "&#x27;") in said
        if move.worst_load is not None:
            assert f"{move.worst_person_force_n:.0f} N" in said
    for page in PAGES[1:]:
        app.switch_page(f"ergo/web/{page}.py").run()
        calm(app)
        assert app.title[0].value


def test_a_changed_unit_changes_what_is_shown_and_nothing_else() -> None:
    app = opened()
    before = app.session_state["ergo.inputs.scenario"]
    for key, unit in (("ergo.mass", "lb"), ("ergo.force", "lbf"), ("ergo.length", "ft-in")):
        app.selectbox(key=key).set_value(unit)
    app.run()
    calm(app)
    assert app.session_state["ergo.inputs.scenario"] == before
    assert app.number_input(key="in.patient.mass_kg.lb").value == pytest.approx(before.patient.mass_kg / 0.45359237)
    deciding = smallest_team(before, with_aids=False).assessment.deciding
    assert deciding is not None
    assert f"{deciding.amount / 4.4482216152605:.0f} lbf" in words(app)


def test_a_changed_mass_and_aid_change_the_case_and_the_answer() -> None:
    app = opened()
    app.number_input(key="in.patient.mass_kg.kg").set_value(120.0).run()
    app.selectbox(key="in.aid").set_value("slide sheet").run()
    calm(app)
    case = app.session_state["ergo.inputs.scenario"]
    assert (case.patient.mass_kg, case.aid) == (120.0, "slide sheet")
    assert smallest_team(case, with_aids=False).why.partition(". ")[0] in words(app)


@pytest.mark.parametrize("procedure", ["boost", "lateral transfer", "limb hold", "own sequence", "side-lying turn"])
def test_the_move_can_be_changed_to_any_other(procedure: str) -> None:
    app = opened()
    app.selectbox(key="in.procedure").set_value(procedure).run()
    assert not app.exception
    assert app.session_state["ergo.inputs.scenario"].procedure == procedure


def test_five_inputs_whether_a_tube_is_held_and_who_works_lead_to_a_first_own_answer() -> None:
    app = opened()
    demand = {"in.procedure", "in.patient.sex", "in.patient.mass_kg.kg", "in.patient.stature_m.cm", "in.aid"}
    folded = {w.key for e in app.expander for w in [*e.selectbox, *e.number_input]}
    shown = {w.key for w in [*app.main.selectbox, *app.main.number_input] if w.key.startswith("in.")} - folded
    assert shown == {*demand, "in.team.who_works"}
    assert [t.key for t in app.main.toggle] == ["in.patient.intubated"]


def test_every_reason_for_a_number_of_people_stands_beside_it_and_the_one_that_counts_says_so() -> None:
    answer = smallest_team(examples.prone_turn(), with_aids=False)
    said = words(opened(examples.prone_turn()))
    for reason, people, counts in reason_rows(answer).rows:
        assert f"{people} {reason}{', counts' if counts else ''}</li>" in said


def test_who_works_changes_the_case_and_the_other_choices_stand_beside_the_answer() -> None:
    case = examples.prone_turn()
    app = opened(case)
    people = {way.who_works: way.people for way in ways_of_working(case, PROBABILITY_ASKED)}
    assert (
        f"both sides {people['both sides']} people; the receiving side only {people['receiving side']} people"
        in words(app)
    )
    app.selectbox(key="in.team.who_works").set_value("receiving side").run()
    calm(app)
    assert app.session_state["ergo.inputs.scenario"].team.who_works == "receiving side"
    assert f"the receiving side only {people['receiving side']} people (chosen)" in words(app)


def test_the_answer_shows_each_persons_action_and_start_force_in_the_move_chosen() -> None:
    case = examples.prone_turn()
    app = opened(case)
    result = smallest_team(case, with_aids=False).assessment
    (choose,) = [w for w in app.selectbox if w.key.startswith("who.move")]
    choose.set_value(len(result.moves) - 1).run()
    calm(app)
    said = words(app)
    for load in result.moves[-1].loads:
        assert f"{load.does}</td>" in said
        assert f"{load.start_n:.0f} N</td>" in said


def test_an_own_aid_with_friction_is_used_at_once() -> None:
    app = opened(None, "answer", "more")
    app.text_input(key="own.name").set_value("sheet from the trial")
    app.number_input(key="own.mu").set_value(0.21)
    next(b for b in app.button if b.label == "Use this aid").click().run()
    calm(app)
    case = app.session_state["ergo.inputs.scenario"]
    assert case.aid == "sheet from the trial"
    assert case.own_aids[0].interfaces[0].mu == 0.21


def test_a_fault_is_told_with_its_allowed_values_and_the_case_stays() -> None:
    app = opened(None, "answer", "more")
    before = app.session_state["ergo.inputs.scenario"]
    app.number_input(key="own.low").set_value(0.9)
    app.text_input(key="own.name").set_value("wrong way round")
    next(b for b in app.button if b.label == "Use this aid").click().run()
    assert not app.exception
    assert "mu\\_low \\<= mu \\<= mu\\_high" in app.error[0].value
    assert app.session_state["ergo.inputs.scenario"] == before


def test_an_aid_that_cannot_serve_the_move_is_said_not_raised() -> None:
    app = opened()
    app.selectbox(key="in.aid").set_value("transfer board").run()
    assert not app.exception
    assert "does not serve" in app.error[0].value


def test_where_no_limit_covers_a_case_every_page_says_what_the_answer_says() -> None:
    patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    low = {"name": "low bed", "procedure": "boost", "patient": patient, "bed": {"height_m": 0.30}}
    case = parse_scenario(low)  # the hands are below what the accepted pulls were measured at
    answer = smallest_team(case)
    assert answer_words(answer)[0] == "No team can be named"
    app = opened(case)
    for page in ("answer", "compare", "teach", "body", "sure"):
        app.switch_page(f"ergo/web/{page}.py").run()
        if page == "teach":
            app.segmented_control(key="teach.lesson").set_value("Predict, then reveal").run()
            next(b for b in app.button if b.label == "Lock in my guess").click().run()
        calm(app)
        said = words(app)
        for general in (*CAUTIONS, assumption("team_most").note):  # they say when a lift is the answer
            said = said.replace(general, "")
        assert "no team can be named" in said.lower(), page
        assert "mechanical lift" not in said, page
    assert {o.needs for o in answer.aids} == {"no limit"}
    drawing = aid_bars(answer.aids, case.aid)
    assert [i.text for i in drawing.items if isinstance(i, Label)] == ["no limit"] * len(answer.aids)
    assert not [i for i in drawing.items if isinstance(i, Mark)]
    assert drawing.alt.count("no team can be named") == len(answer.aids)
    assert "lift" not in drawing.alt


def test_an_aid_that_no_limit_covers_stands_beside_those_that_need_a_lift_or_people() -> None:
    answer = smallest_team(load_scenario(ROOT / "scenarios" / "boost_flat.toml"))
    counted = answer.aids[0]
    lift = replace(counted, aid="hoisted", people=None, verdict="over")
    unsaid = replace(counted, aid="unsaid", people=None, verdict="not applicable")
    drawing = aid_bars((counted, lift, unsaid), counted.aid)
    assert [i.text for i in drawing.items if isinstance(i, Label)][1:] == ["mechanical lift", "no limit"]
    told = gain_words(None, None, (counted, unsaid), "unsaid")
    assert told == [f"With the {counted.aid}: {counted.people} people; with the unsaid no team can be named."]
    verdict, what, why = compare._without_a_team(replace(answer, aids=(lift, unsaid)))
    assert (verdict, what) == ("not applicable", "No team can be named")
    assert "with unsaid; with any other it takes a mechanical lift" in why
    assert compare._without_a_team(replace(answer, aids=(lift,)))[1] == "Use a mechanical lift"


@pytest.mark.parametrize("value", ["garbage", "", "eJyrVkpUslJKSk0sSlWqBQAfBwQh"])
def test_a_bad_link_is_said_and_not_silently_replaced(value: str) -> None:
    app = AppTest.from_file(str(ROOT / "app.py"), default_timeout=30)
    app.query_params[LINK] = value
    app.run()
    assert not app.exception
    assert "is shown instead" in app.error[0].value


def test_a_value_out_of_range_in_a_link_is_named_with_its_range() -> None:
    case = load_scenario(SCENARIOS[0])
    heavy = case.model_copy(update={"patient": case.patient.model_copy(update={"mass_kg": 900.0})})
    app = opened(heavy)
    assert "patient.mass\\_kg = 900.0: 25 to 350" in app.error[0].value


def packed(case: dict[str, object]) -> str:
    """A link made by hand, of whatever is in it."""
    return base64.urlsafe_b64encode(zlib.compress(json.dumps(case).encode())).decode().rstrip("=")


def test_half_a_pair_of_surrogates_in_a_link_is_a_bad_link_and_the_session_lives() -> None:
    case = {"name": "x\ud800", "procedure": "boost", "patient": {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}}
    with pytest.raises(InputError, match="copy the whole link"):
        unpack_case(packed(case))
    with pytest.raises(InputError, match="copy the whole link"):
        unpack_case("\ud800")
    app = AppTest.from_file(str(ROOT / "app.py"), default_timeout=30)
    app.query_params[LINK] = packed(case)
    app.run()
    assert not app.exception
    assert "is shown instead" in app.error[0].value
    app.number_input(key="in.patient.mass_kg.kg").set_value(95.0).run()
    calm(app)
    assert app.session_state["ergo.inputs.scenario"].patient.mass_kg == 95.0


def largest() -> Scenario:
    """A case as large as its fields allow, in words that do not repeat."""
    dice = random.Random(1)
    letters = "abcdefghijklmnopqrstuvwxyz0123456789äöüß漢字仮名交じり文"

    def words(count: int) -> str:
        return "".join(dice.choices(letters, k=count))

    friction = {"mu_low": 0.1, "mu": 0.2, "mu_high": 0.3}
    aids = [
        {"name": words(60), "interfaces": [{"upper": words(20), "lower": "linen", **friction}], "measured": words(200)}
        for _ in range(20)
    ]
    moves = [{"kind": "slide to the side", "name": words(80)} for _ in range(40)]
    return examples.own_sequence(aid=aids[0]["name"], own_aids=aids, moves=moves, question=words(300))


def test_a_case_too_large_for_a_link_says_so_and_offers_the_file() -> None:
    assert pack_case(largest()) is None
    app = AppTest.from_file(str(ROOT / "app.py"), default_timeout=60)
    app.session_state["ergo.page"] = ""
    app.switch_page("ergo/web/evidence.py").run()
    app.session_state["ergo.inputs.scenario"] = largest()
    app.run()
    calm(app)
    assert LINK not in app.query_params
    assert "too large for a link" in words(app)


def test_every_link_that_is_made_reads_back(monkeypatch: pytest.MonkeyPatch) -> None:
    case = largest()
    for count in range(len(case.moves) + 1):
        part = case.model_copy(update={"moves": case.moves[:count], "own_aids": case.own_aids[: 1 + count // 3]})
        link = pack_case(part)
        assert link is None or len(link) <= 8000
        if link is not None and count:
            assert unpack_case(link) == part


def test_an_address_is_written_only_for_a_changed_case_and_going_back_opens_the_case_before() -> None:
    app = opened()
    assert LINK not in app.query_params
    links = []
    for mass in (120.0, 130.0):
        app.number_input(key="in.patient.mass_kg.kg").set_value(mass).run()
        links.append(app.query_params[LINK])
        assert unpack_case(links[-1]).patient.mass_kg == mass
    app.session_state["ergo.linked"] = replace(app.session_state["ergo.linked"], written=0.0)  # long ago
    for link, mass in ((links[0], 120.0), (links[1], 130.0), (links[0], 120.0)):  # back, forth, back
        app.query_params[LINK] = link
        app.run()
        calm(app)
        assert app.number_input(key="in.patient.mass_kg.kg").value == mass
    app.query_params.clear()  # back to where there was no case yet
    app.run()
    assert LINK not in app.query_params  # written again it would hold the reader there
    app.switch_page("ergo/web/evidence.py").run()
    assert app.query_params[LINK] == links[0]  # another page has it again
    assert app.session_state["ergo.inputs.scenario"].patient.mass_kg == 120.0


def test_a_changed_example_is_titled_by_what_it_is_until_its_reader_gives_a_title() -> None:
    app = opened()
    app.number_input(key="in.patient.mass_kg.kg").set_value(82.0).run()
    app.selectbox(key="in.aid").set_value("slide sheet").run()
    case = app.session_state["ergo.inputs.scenario"]
    assert (case.name, case.question) == ("Boost, 82 kg, slide sheet", "")
    assert "Boost, 82 kg, slide sheet" in html_page(case_report(smallest_team(case, with_aids=False)))
    assert tomllib.loads(dump_scenario(case))["name"] == "Boost, 82 kg, slide sheet"
    app.text_input(key="in.name").set_value("Bay 3").run()
    app.text_input(key="in.question").set_value("Is a sheet enough?").run()
    app.number_input(key="in.patient.mass_kg.kg").set_value(90.0).run()
    case = app.session_state["ergo.inputs.scenario"]
    assert (case.name, case.question, case.patient.mass_kg) == ("Bay 3", "Is a sheet enough?", 90.0)
    app.text_input(key="in.name").set_value("   ").run()
    calm(app)
    assert app.session_state["ergo.inputs.scenario"].name == "Boost, 90 kg, slide sheet"
    assert app.text_input(key="in.name").value == "Boost, 90 kg, slide sheet"


def test_a_changed_example_keeps_neither_its_title_nor_its_question_but_what_the_reader_typed() -> None:
    app = opened()
    app.text_input(key="in.question").set_value("Is the pad worth it?").run()  # the title is still the example's
    app.number_input(key="in.patient.mass_kg.kg").set_value(91.0).run()
    case = app.session_state["ergo.inputs.scenario"]
    assert (case.name, case.question) == ("Boost, 91 kg, cotton draw sheet", "Is the pad worth it?")
    app.number_input(key="in.patient.mass_kg.kg").set_value(92.0).run()
    assert app.session_state["ergo.inputs.scenario"].question == "Is the pad worth it?"
    app = opened()
    app.text_input(key="in.name").set_value("Bay 3").run()  # the question is still the example's
    app.number_input(key="in.patient.mass_kg.kg").set_value(91.0).run()
    case = app.session_state["ergo.inputs.scenario"]
    assert (case.name, case.question) == ("Bay 3", "")


def test_unit_author_date_and_version_stand_in_file_link_and_report_and_change_no_title_and_no_answer() -> None:
    app = opened(None, "answer", "names")
    before = app.session_state["ergo.inputs.scenario"]
    said = {"unit": "Example Hospital, ICU", "author": "safe handling team", "version": "2"}
    for field, value in said.items():
        app.text_input(key=f"in.{field}").set_value(value).run()
    app.date_input(key="in.date").set_value(date(2026, 3, 31)).run()
    calm(app)
    case = app.session_state["ergo.inputs.scenario"]
    assert case == before.model_copy(update={**said, "date": date(2026, 3, 31)})
    assert without_names(case) == without_names(before)
    assert parse_scenario(tomllib.loads(dump_scenario(case))) == case == unpack_case(pack_case(case))
    line = "Example Hospital, ICU · safe handling team · 2026-03-31 · version 2"
    answer = smallest_team(case, with_aids=False)
    for made in (case_report(answer), class_sheet(answer)):
        assert line in html_page(made)
        assert line in markdown_page(made)
    app.date_input(key="in.date").set_value(None).run()
    assert app.session_state["ergo.inputs.scenario"].date is None


def test_what_is_saved_is_called_after_the_case(monkeypatch: pytest.MonkeyPatch) -> None:
    saved = []
    monkeypatch.setattr(_shared, "save", lambda label, content, name, *__, **___: saved.append(name))
    case = examples.boost(name="Bay 3: Größe / 漢字 <b>")
    calm(opened(case))
    calm(opened(case, "teach"))
    stem = "bay-3-größe-漢字-b"
    assert {f"{stem}.toml", f"{stem}.html", f"{stem}.md", f"{stem}-class-sheet.html"} <= set(saved)


def test_the_patient_is_intubated_as_the_move_suggests_until_the_reader_says_otherwise() -> None:
    app = opened()

    def intubated_in(procedure: str) -> bool:
        app.selectbox(key="in.procedure").set_value(procedure).run()
        return bool(app.toggle(key="in.patient.intubated").value)

    assert not app.toggle(key="in.patient.intubated").value  # a boost
    app.selectbox(key="in.aid").set_value("slide sheet").run()
    assert not intubated_in("lateral transfer")
    assert not _state_team(app)
    assert intubated_in("return to supine")
    assert _state_team(app)
    app.toggle(key="in.patient.intubated").set_value(False).run()  # awake, and turned all the same
    assert not intubated_in("prone turn")
    assert not intubated_in("boost")


def _state_team(app: AppTest) -> bool:
    return has_airway_lead(app.session_state["ergo.inputs.scenario"])


@pytest.mark.parametrize("page", ["answer", "teach", "purchase"])
def test_what_is_made_when_a_button_is_pressed_needs_no_session(page: str, monkeypatch: pytest.MonkeyPatch) -> None:
    made: dict[str, Callable[[], str]] = {}
    own = _shared.save

    def save(label: str, content: str | Callable[[], str], *more: object, **options: bool) -> None:
        if callable(content):
            made[label] = content
        own(label, content, *more, **options)  # type: ignore[arg-type]

    monkeypatch.setattr(_shared, "save", save)
    calm(opened(page=page))
    assert made
    for make in made.values():
        assert len(make()) > 1000


def test_names_out_of_a_file_cannot_become_markup() -> None:
    case = load_scenario(SCENARIOS[0])
    nasty = "<img src=x onerror=alert(1)> [x](http://y)"
    for page in PAGES:
        app = opened(case.model_copy(update={"name": nasty, "question": nasty}), page)
        calm(app)
        assert not re.search(r"(?<!\\)<img|(?<!\\)\[x", words(app))


def test_teaching_steps_through_every_move_and_the_angle_of_a_turn() -> None:
    app = opened(page="teach")
    names = smallest_team(app.session_state["ergo.inputs.scenario"], with_aids=False).assessment.moves
    for i in range(len(names)):
        calm(app)
        assert names[i].move.name in words(app)
        if names[i].move.rolls:
            slider = app.slider(key=f"teach.angle.{i}")
            slider.set_value(slider.max).run()
            calm(app)
        if i + 1 < len(names):
            app.button(key="teach.next").click().run()
    assert app.button(key="teach.next").disabled


def test_one_more_person_changes_the_team_that_is_taught() -> None:
    app = opened(page="teach")
    before = app.session_state["ergo.inputs.scenario"].team.left
    first = words(app)
    app.number_input(key="in.team.left@teach").set_value(before + 1).run()
    calm(app)
    assert app.session_state["ergo.inputs.scenario"].team.left == before + 1
    assert words(app) != first


def test_the_taught_team_is_shown_with_each_choice_of_who_works() -> None:
    app = opened(examples.prone_turn(), "teach")
    case = app.session_state["ergo.inputs.scenario"]
    for way in ("both sides", "receiving side"):
        app.selectbox(key="in.team.who_works@teach").set_value(way).run()
        calm(app)
        own = case.model_copy(update={"team": case.team.model_copy(update={"who_works": way})})
        assert f"{100 * assess(own).moves[0].effort:.0f} %</td>" in words(app)
    assert "pushes" not in words(app)


def test_the_answer_is_not_shown_before_a_guess_is_committed_and_stays_after() -> None:
    app = opened(page="teach")
    app.segmented_control[0].set_value("Predict, then reveal").run()
    case = app.session_state["ergo.inputs.scenario"]
    sentence = smallest_team(case, with_aids=False).why.partition(". ")[0]
    assert sentence not in words(app)
    app.number_input(key="guess.people").set_value(3)
    next(b for b in app.button if b.label == "Lock in my guess").click().run()
    calm(app)
    assert sentence in words(app)
    assert "Your guess: 3 people" in words(app)
    app.switch_page("ergo/web/evidence.py").run()
    app.switch_page("ergo/web/teach.py").run()
    app.segmented_control[0].set_value("Predict, then reveal").run()
    assert "Your guess: 3 people" in words(app)


def test_the_evidence_can_be_searched_and_filtered() -> None:
    app = opened(page="evidence")
    app.segmented_control[0].set_value("Sources").run()
    app.text_input(key="evidence.search").set_value("waters").run()
    calm(app)
    said = words(app)
    assert "Waters" in said
    assert "McGill" not in said


def test_the_case_that_is_saved_reads_back_equal() -> None:
    for path in SCENARIOS:
        case = load_scenario(path)
        packed = pack_case(case)
        assert len(packed) < 2000
        data = dump_scenario(case)
        assert parse_scenario(tomllib.loads(data)) == case


def test_both_ways_to_start_the_page_have_the_same_settings() -> None:
    installed = ROOT / "ergo" / "web"
    assert (ROOT / ".streamlit" / "config.toml").read_text() == (installed / ".streamlit" / "config.toml").read_text()
    assert (ROOT / "app.py").read_text() == (installed / "start.py").read_text()


def test_bad_input_never_reaches_a_user_as_a_traceback() -> None:
    with pytest.raises(InputError):
        parse_scenario({"name": "x"})


def test_the_teach_page_saves_the_class_sheet_of_its_case(monkeypatch):
    saved = {}
    monkeypatch.setattr(_shared, "save", lambda _, content, name, *__, **___: saved.update({name: content}))
    calm(opened(examples.boost(), "teach"))
    assert saved["boost-class-sheet.html"]() == html_page(class_sheet(smallest_team(examples.boost(), with_aids=False)))


def test_the_answer_page_saves_a_report_of_two_pages_its_annex_and_a_card_and_opens_the_report_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    saved: dict[str, Any] = {}

    def save(label: str, content: Any, file_name: str, key: str, **_: Any) -> None:
        saved[key] = content

    monkeypatch.setattr(_shared, "save", save)
    case = load_scenario(ROOT / "scenarios" / "boost_flat.toml")
    app = opened(case, "answer")
    calm(app)
    report, card = saved["report.html"](), saved["card.html"]()
    assert report.count('class="sheet page"') == 2
    assert "Aids side by side" not in report
    assert "The lead says" in card
    assert read_scenario(report.encode()) == case
    app.checkbox(key="report.annex").check().run()
    calm(app)
    assert "Aids side by side" in saved["report.html"]()


def test_what_is_used_besides_is_asked_for_off_at_first_and_brings_its_words_and_caution() -> None:
    app = opened(examples.side_lying_turn(), "answer", "more")
    switches = {t.key.partition("@")[0]: t for t in app.toggle}
    (assist,) = [w for w in app.number_input if w.key.startswith("in.bed.turn_assist_deg")]
    crossed = switches["in.handling.ankle_crossed_arm_tucked"]
    assert (assist.value, crossed.value, switches["in.handling.weight_shift"].value) == (0.0, False, False)
    assert "Used besides" not in words(app)
    assist.set_value(25.0)
    crossed.set_value(True).run()
    calm(app)
    case = app.session_state["ergo.inputs.scenario"]
    assert (case.bed.turn_assist_deg, case.handling.ankle_crossed_arm_tucked) == (25.0, True)
    said = unescape(words(app))
    assert all(used in said for used in used_besides(case))
    warned = " ".join(w.value for w in app.warning)
    assert all(caution in warned for caution in cautions_of(case))
    assert len(cautions_of(case)) == len(CAUTIONS) + 2
