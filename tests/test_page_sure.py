"""The How sure page, friction measured on site, the published cases, `ergo sure` and `ergo evidence`."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from html import escape

import pytest
from streamlit.testing.v1 import AppTest

from ergo.assessment import assess, demand_of
from ergo.cli.main import main
from ergo.evidence import sources
from ergo.inputs.scenario import load_scenario, parse_scenario
from ergo.limits.registry import LIMITS
from ergo.mechanics.case import aid_of
from ergo.mechanics.friction import find_aid
from ergo.report.documents.reliability import reliability_answer
from ergo.report.figures.band_curve import band_curve
from ergo.report.figures.convergence import convergence
from ergo.report.figures.drawing import Label, Line, Mark
from ergo.report.figures.driver_bars import driver_bars
from ergo.report.figures.friction_density import friction_density
from ergo.report.figures.limit_curve import limit_curve
from ergo.report.figures.probability_curve import probability_curve
from ergo.report.figures.render_plotly import plotly_spec
from ergo.report.figures.render_svg import svg
from ergo.report.figures.validation import validation_figure
from ergo.report.markdown import plain
from ergo.report.tables.evidence import condition_of
from ergo.report.tables.uncertainty import driver_rows
from ergo.report.terminal import terminal_text
from ergo.teams.smallest_team import smallest_team
from ergo.teams.team_probabilities import at_probability, reliability
from ergo.uncertainty.distributions import uncertain_inputs
from ergo.uncertainty.sensitivity import drivers
from ergo.uncertainty.site_friction import PulledPatient, mass_off, measured_aid, update_friction
from ergo.units import G, Units, percent
from ergo.validation.cases import validation_cases
from tests.tools.pages import ROOT, calm, opened_alone, words

SCENARIOS = sorted((ROOT / "scenarios").glob("*.toml"))
FILE = "scenarios/boost_flat.toml"
BOOST = load_scenario(FILE)
SURE = reliability(BOOST)
WHY = drivers(BOOST, SURE.chosen.left, SURE.chosen.right)


@pytest.fixture
def page(monkeypatch: pytest.MonkeyPatch) -> AppTest:
    return opened_alone(BOOST, "sure", monkeypatch)


@pytest.fixture
def evidence(monkeypatch: pytest.MonkeyPatch) -> AppTest:
    return opened_alone(BOOST, "evidence", monkeypatch)


def test_the_page_shows_the_probabilities_and_drivers_of_the_library(page):
    said = words(page)
    answer = smallest_team(BOOST, with_aids=False)
    assert f"{answer.people} people: nobody is over in {escape(percent(answer.probability))} of cases" in said
    for c in answer.sure.curve:
        assert f"{c.ratio[0]:.2f} to {c.ratio[2]:.2f}" in said
    assert plain(WHY.why) in said
    for spread in uncertain_inputs(BOOST):
        assert spread.label in said


def test_a_higher_probability_asks_for_more_people_and_stays_while_pages_change(page):
    app = page
    first = SURE.curve[0]
    assert 0.9 <= first.probability < 0.99  # two people are enough at the usual probability and not at this one
    app.slider(key="sure.probability_asked").set_value(99).run()
    calm(app)
    answer = smallest_team(BOOST, 0.99, with_aids=False)
    assert f"{answer.people} people: nobody is over" in words(app)
    app.switch_page("ergo/web/evidence.py").run()
    app.switch_page("ergo/web/sure.py").run()
    assert app.slider(key="sure.probability_asked").value == 99


def test_more_draws_are_kept_and_shown(page):
    app = page
    app.selectbox(key="sure.draws").set_value(16384).run()
    calm(app)
    assert "after 16384 cases tried" in words(app)
    app.switch_page("ergo/web/evidence.py").run()
    app.switch_page("ergo/web/sure.py").run()
    assert "after 16384 cases tried" in words(app)


def test_a_unit_changes_what_is_shown_and_nothing_else(page):
    app = page
    before = app.session_state["ergo.inputs.scenario"]
    app.selectbox(key="ergo.force").set_value("lbf").run()
    calm(app)
    assert app.session_state["ergo.inputs.scenario"] == before
    assert Units(force="lbf").show_force(SURE.chosen.force_n[2]) in words(app)


# --- measured on site ---


def pulls(app):
    (found,) = [w for w in app.text_input if w.key.startswith("site.pulls")]
    return found


def test_pulls_in_the_readers_unit_update_friction_and_become_an_aid_of_the_case(page):
    app = page
    app.selectbox(key="ergo.force").set_value("kgf").run()
    (mass,) = [w for w in app.number_input if w.key.startswith("site.mass")]
    mass.set_value(74.0)
    pulls(app).set_value("25, 26.2, 24.7").run()
    calm(app)
    prior = aid_of(BOOST).contacts[0]
    off = mass_off(
        BOOST.patient.sex, 74.0, ["head", "shanks", "feet"]
    )  # what the sheet does not cover is dragged along
    found = update_friction(prior, [PulledPatient((25 * G, 26.2 * G, 24.7 * G), 74.0, 0.0, off)])
    said = words(app)
    for mu in (*found.before_5_50_95, *found.after_5_50_95):
        assert f"{mu:.3f}" in said
    app.button(key="site.use").click().run()
    calm(app)
    case = app.session_state["ergo.inputs.scenario"]
    assert case.aid == f"{BOOST.aid}, measured here"
    assert case.own_aids[-1] == measured_aid(aid_of(BOOST), 0, found)
    assert case.own_aids[-1].interfaces[0].mu == pytest.approx(found.after.mu)
    assert "3 pulls, 74 kg, on site" in case.own_aids[-1].measured
    assert "measured on site" in words(app)  # the spread's own word
    # the pulls and what they were held against are still there, and are not counted twice
    assert f"{found.before_5_50_95[1]:.3f}" in words(app)
    assert f"{found.after.mu:.3f}" in words(app)


def test_another_patient_has_a_line_and_what_lies_beside_can_be_taken_out(page):
    app = page
    app.button(key="site.more").click().run()
    first, second = (w for w in app.text_input if w.key.startswith("site.pulls"))
    assert (first.label, second.label) == ("Steady pulls, patient 1 (N)", "Steady pulls, patient 2 (N)")
    first.set_value("250; 262")
    second.set_value("240; 480").run()
    calm(app)
    assert "Pull 2, patient 2, 480 N: " in " ".join(w.value for w in app.warning)
    for beside in [w for w in app.multiselect if w.key.startswith("site.beside")]:
        assert beside.value == ["head", "shanks", "feet"]
        beside.set_value([])
    app.run()
    pulled = [PulledPatient((250.0, 262.0), 75.0), PulledPatient((240.0, 480.0), 75.0)]
    found = update_friction(aid_of(BOOST).contacts[0], pulled)
    assert "4 pulls of 2 patients, 75 kg, on site" in words(app)
    assert f"{found.after_5_50_95[1]:.3f}" in words(app)
    app.button(key="site.fewer").click().run()
    assert "2 pulls, 75 kg, on site" in words(app)


@pytest.mark.parametrize("stated", ["2.5", "9000", "250, -20"])
def test_an_absurd_pull_is_refused_with_the_reason_and_the_case_stays(page, stated):
    app = page
    before = app.session_state["ergo.inputs.scenario"]
    pulls(app).set_value(stated).run()
    assert not app.exception
    assert "wrong unit, wrong mass" in app.error[0].value
    assert not [b for b in app.button if b.key == "site.use"]
    assert app.session_state["ergo.inputs.scenario"] == before


@pytest.mark.parametrize("stated", ["much", "31, 33, 32,5"])
def test_words_in_place_of_pulls_and_mixed_ways_of_writing_are_asked_back(page, stated):
    app = page
    pulls(app).set_value(stated).run()
    assert not app.exception
    assert "written in one way" in app.error[0].value
    assert not [b for b in app.button if b.key == "site.use"]


def test_a_measured_aid_keeps_every_other_layer_and_reads_back_as_measured():
    pad = find_aid("two-layer turning pad")
    found = update_friction(pad.contacts[1], [PulledPatient((130.0, 140.0), 75.0)])
    own = measured_aid(pad, 1, found)
    assert own.interfaces[0].mu == pad.contacts[0].mu
    assert own.interfaces[1].mu == found.after.mu
    assert "the other layers as before" in own.measured
    patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6, "intubated": True}
    case = {"name": "x", "procedure": "prone turn", "patient": patient, "aid": own.name, "own_aids": [own.model_dump()]}
    case["own_aids"][0].pop("rated_capacity_kg")
    assert not aid_of(parse_scenario(case)).unmeasured


# --- probability_asked and figures ---


def test_reading_the_draws_at_another_probability_equals_drawing_again():
    for wanted in (0.5, 0.95):
        assert at_probability(SURE, demand_of(BOOST), wanted) == reliability(BOOST, probability_asked=wanted)


def test_the_probability_curve_shows_the_team_of_each_size_and_what_is_asked_for():
    drawing = probability_curve(at_probability(SURE, demand_of(BOOST), 0.99))
    marks = [i for i in drawing.items if isinstance(i, Mark)]
    assert {m.at[0]: m.at[1] for m in marks} == pytest.approx({c.people: 100 * c.probability for c in SURE.curve})
    assert {m.shape for m in marks if m.at[1] < 99} == {"ring"}
    assert {m.shape for m in marks if m.at[1] >= 99} == {"circle"}


@pytest.mark.parametrize("of_force", [False, True])
def test_the_bands_run_from_the_fifth_to_the_ninety_fifth_percentile(of_force):
    drawing = band_curve(SURE, of_force, Units(force="lbf"))
    bars = [i for i in drawing.items if isinstance(i, Line) and i.width == 9.0]
    scale = 1 / 4.4482216152605 if of_force else 100
    spans = [c.force_n if of_force else c.ratio for c in SURE.curve]
    assert [b.points[0][1] for b in bars] == pytest.approx([s[0] * scale for s in spans])
    assert [b.points[1][1] for b in bars] == pytest.approx([s[2] * scale for s in spans])


def test_every_driver_is_a_bar_from_its_low_to_its_high_end_and_assumptions_say_so():
    drawing = driver_bars(WHY)
    bars = [i for i in drawing.items if isinstance(i, Line) and i.width == 11.0]
    assert [b.points[0][0] for b in bars] == pytest.approx([100 * d.low_ratio for d in WHY.ranked[: len(bars)]])
    assert [b.points[1][0] for b in bars] == pytest.approx([100 * d.high_ratio for d in WHY.ranked[: len(bars)]])
    for (_, name), d in zip(drawing.y.ticks, WHY.ranked, strict=False):
        assert name.endswith("assumed") == (d.basis == "assumption")


def test_an_estimated_share_below_nothing_or_above_all_is_shown_as_nothing_or_all():
    noisy = [replace(WHY.ranked[0], first=first, total=1.004) for first in (-0.006, -0.0001, 0.006)]
    found = replace(WHY, ranked=tuple(noisy))
    rows = driver_rows(found)
    alone, together = (rows.head.index(name) for name in ("share of variance, alone", "share with interactions"))
    assert [row[alone] for row in rows.rows] == ["0.0 %", "0.0 %", "0.6 %"]
    assert {row[together] for row in rows.rows} == {"100.0 %"}
    assert "-0." not in "".join(text for row in rows.rows for text in row)
    lines = (
        terminal_text(reliability_answer(BOOST, SURE, found))
        .split("What drives the answer:")[1]
        .split("Distributions:")[0]
    )
    assert "-0." not in lines


def test_convergence_ends_at_the_probability_shown():
    drawing = convergence(SURE)
    last = [i for i in drawing.items if isinstance(i, Mark)][-1]
    assert last.at == pytest.approx((12.0, 100 * SURE.chosen.probability))


def test_the_two_densities_have_their_peaks_near_the_two_medians():
    found = update_friction(aid_of(BOOST).contacts[0], [PulledPatient((250.0, 262.0), 75.0)])
    drawing = friction_density(found)
    lines = [i for i in drawing.items if isinstance(i, Line)]
    assert [line.dash for line in lines] == [True, False]
    for line, contact in zip(lines, (found.before_5_50_95, found.after_5_50_95), strict=True):
        assert max(line.points, key=lambda p: p[1])[0] == pytest.approx(contact[1], rel=0.05)
    assert sum(isinstance(i, Mark) for i in drawing.items) == 2


def test_every_figure_renders_in_both_ways_and_says_its_finding():
    found = update_friction(aid_of(BOOST).contacts[0], [PulledPatient((250.0,), 75.0)])
    drawings = [
        probability_curve(SURE),
        band_curve(SURE),
        convergence(SURE),
        driver_bars(WHY),
        friction_density(found),
        validation_figure(validation_cases()),
    ]
    for drawing in drawings:
        assert plotly_spec(drawing, dark=True)["data"]
        assert svg(drawing).startswith("<svg")
        assert drawing.alt.endswith(".")
        assert any(isinstance(i, Label | Mark) for i in drawing.items)


# --- evidence ---


def test_the_evidence_page_shows_every_published_case_and_filters_them(evidence):
    app = evidence
    app.segmented_control[0].set_value("Published cases").run()
    calm(app)
    said = words(app)
    for case in validation_cases():
        assert f">{case.id}</td>" in said
    app.selectbox(key="published_cases.which").set_value("Missed").run()
    said = words(app)
    assert ">M01</td>" in said
    assert ">M05</td>" not in said
    app.text_input(key="published_cases.search").set_value("vieira").run()
    said = words(app)
    assert ">M15</td>" in said
    assert ">M01</td>" not in said


def test_a_limit_is_found_by_its_figure_and_drawn_with_the_present_case(evidence):
    app = evidence
    app.text_input(key="evidence.search").set_value("110 N").run()
    calm(app)
    said = words(app)
    assert "horizontal force, arms extended" in said  # ccohs_push_pull (reprint): 110 N
    assert "weight lifted by one person" not in said
    by_key = {limit.key: limit for limit in LIMITS}
    for along in ("height of the hands", "time between efforts"):
        drawing = limit_curve(by_key["pull_initial"], condition_of(BOOST), along)
        (here,) = [i for i in drawing.items if isinstance(i, Mark)]
        assert here.at[1] == by_key["pull_initial"].value(condition_of(BOOST)).value


def test_the_evidence_page_shows_the_statement_of_credibility(evidence):
    app = evidence
    app.segmented_control[0].set_value("Credibility").run()
    calm(app)
    assert "What must not be concluded" in words(app)


def test_ergo_evidence_writes_json_and_csv_with_every_source_limit_and_case(capsys, tmp_path):
    assert main(["evidence", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert {s["key"] for s in data["sources"]} == set(sources())
    assert {x["key"] for x in data["limits"]} == {x.key for x in LIMITS}
    assert [c["id"] for c in data["validation"]["cases"]] == [c.id for c in validation_cases()]
    assert main(["evidence", "--csv", str(tmp_path / "out")]) == 0
    with (tmp_path / "out" / "published_cases.csv").open(encoding="utf-8", newline="") as file:
        assert len(list(csv.DictReader(file))) == len(validation_cases())
    (tmp_path / "file").write_text("x")
    assert main(["evidence", "--csv", str(tmp_path / "file")]) == 2


def test_ergo_sure_prints_the_library_in_text_and_json(capsys):
    assert main(["sure", FILE, "--draws", "1024", "--seed", "7", "--probability", "0.8", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    found = reliability(BOOST, draws=1024, seed=7, probability_asked=0.8)
    assert (data["people"], data["probability_asked"], data["seed"]) == (found.people, 0.8, 7)
    assert [t["probability"] for t in data["teams"]] == [c.probability for c in found.curve]
    assert main(["sure", FILE, "--draws", "256", "--force", "kgf"]) == 0
    out = capsys.readouterr().out
    assert "Probability by team" in out
    assert "kgf" in out
    assert "What drives the answer" in out


def test_ergo_sure_names_no_team_where_a_limit_does_not_cover_the_case(capsys, tmp_path):
    file = tmp_path / "low.toml"
    file.write_text(
        'name = "low bed"\nprocedure = "boost"\n[patient]\nsex = "F"\nmass_kg = 70.0\nstature_m = 1.6\n'
        "[bed]\nheight_m = 0.3\n"
    )
    assert main(["sure", str(file), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    answer = smallest_team(load_scenario(file), with_aids=False)
    assert (said["people"], said["left"], said["right"]) == (None, None, None)
    assert said["why"] == answer.why
    assert main(["sure", str(file)]) == 0
    assert answer.why in capsys.readouterr().out


@pytest.mark.parametrize("bad", [["--probability", "1.5"], ["--draws", "0"], ["--seed", "-1"]])
def test_ergo_sure_refuses_bad_input_in_words(bad, capsys):
    assert main(["sure", FILE, *bad]) == 2
    assert "sure has 1 fault" in capsys.readouterr().err


@pytest.mark.parametrize("path", SCENARIOS[::2], ids=lambda p: p.stem)
def test_both_pages_show_every_second_scenario_without_an_error(path, monkeypatch):
    scenario = load_scenario(path)
    app = opened_alone(scenario, "body", monkeypatch)
    load = max((x for m in assess(scenario).moves for x in m.loads), key=lambda x: x.body.compression_n)
    assert f"{load.body.compression_n:.0f} N" in words(app)
    app.switch_page("ergo/web/sure.py").run()
    calm(app)
    answer = smallest_team(scenario, with_aids=False)
    said = "Use a mechanical lift" if answer.people is None else f"{answer.people} people: nobody is over"
    assert said in words(app)
