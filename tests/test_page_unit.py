"""The pages of a unit and of a purchase: no exception, the library's numbers, units change display only."""

from __future__ import annotations

from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from ergo.errors import InputError
from ergo.inputs.census import read_census
from ergo.inputs.examples import boost
from ergo.inputs.purchase import load_purchase
from ergo.inputs.unit import load_unit
from ergo.purchases.cost_model import compare_purchase
from ergo.purchases.unit_volumes import volumes_of, with_volumes
from ergo.report.csv_export import unit_csv
from ergo.report.sentences_purchase import purchase_answer
from ergo.report.tables.unit import policy_rows, shift_rows
from ergo.teams.policy_table import policy_bands
from ergo.unit.plan import plan_unit
from ergo.unit.staffing_request import answer_sentence
from ergo.unit.team_lookup import AssessedNeed
from ergo.web import _plan_state, _shared, jobs
from tests.tools.small_unit import CENSUS, small_unit

ROOT = Path(__file__).resolve().parents[1]
UNITS = ROOT / "scenarios" / "units"
PURCHASE = ROOT / "scenarios" / "purchases" / "turning_pad.toml"
PATIENTS = read_census(CENSUS.encode(), "c.csv")


def opened(page: str, **state: object) -> AppTest:
    app = AppTest.from_file(str(ROOT / "app.py"), default_timeout=60)
    for key, value in state.items():
        app.session_state[key.replace("__", ".")] = value
    app.switch_page(f"ergo/web/{page}.py").run()  # at once: no other page is computed first
    return app


def small(page: str = "unit", **more: object) -> AppTest:
    return opened(page, plan__unit=small_unit(**more), plan__census=PATIENTS)


def words(app: AppTest) -> str:
    return " ".join([e.proto.body for e in app.get("html")] + [m.value for m in app.markdown])


def calm(app: AppTest) -> None:
    assert not app.exception, app.exception
    assert not app.error, [e.value for e in app.error]


@pytest.fixture(scope="module")
def plan():
    return plan_unit(small_unit(), AssessedNeed(), patients=PATIENTS)


def test_the_unit_page_ends_with_the_librarys_plan(plan):
    app = small()
    calm(app)
    said = words(app)
    assert answer_sentence(plan, "cotton").partition("; ")[0] in said
    assert "First look" not in said
    for rows in (shift_rows(plan, "cotton"), policy_rows(plan)):
        for row in rows.rows:
            assert all(cell in said for cell in row)


def test_other_aids_are_chosen_at_once(plan):
    app = small()
    app.selectbox(key="plan.unit.policy").set_value("sheets").run()
    calm(app)
    assert answer_sentence(plan, "sheets").partition("; ")[0] in words(app)


def test_one_person_more_on_a_shift_changes_the_unit_and_nothing_else(plan):
    app = small()
    app.number_input(key="plan.unit.shifts.0.people.0.count").set_value(4).run()
    calm(app)
    changed = app.session_state["plan.unit"]
    assert changed.shifts[0].people[0].count == 4
    assert changed.shifts[1:] == small_unit().shifts[1:]
    assert " % with 4, night " in words(app)


def test_units_change_what_is_shown_and_nothing_else():
    app = small()
    before = app.session_state["plan.unit"]
    app.selectbox(key="ergo.force").set_value("lbf").run()
    calm(app)
    assert app.session_state["plan.unit"] == before
    assert " lbf" in words(app)
    assert "mean, lbf s" in words(app)


def test_a_first_look_stays_when_the_work_is_stopped(monkeypatch):
    monkeypatch.setattr(_plan_state, "_QUICK_DAYS", 1)
    monkeypatch.setattr(_plan_state, "_QUICK_RUNS", 1)
    app = opened("unit", plan__unit=small_unit(seed=77), plan__census=PATIENTS, unit__whole=True)
    calm(app)
    assert "First look: 1 runs of 1 days" in words(app)
    app.button(key="unit.whole.go").click().run()
    calm(app)
    assert "First look" not in words(app)


def test_a_first_look_that_was_stopped_is_begun_again_on_request():
    app = opened("unit", plan__unit=small_unit(seed=78), plan__census=PATIENTS, unit__look=True)
    calm(app)
    assert "First look" not in words(app)
    app.button(key="unit.look.go").click().run()
    calm(app)
    assert "runs of 2 days" in words(app)


def test_a_plan_made_policy_by_policy_equals_the_plan_made_at_once(plan):
    app = small()
    calm(app)
    whole = [one for one in (job.result() for job in jobs._JOBS._kept["unit_plan"].values()) if one.days == 2]
    levels = [level for one in whole for level in one.levels if one.unit.seed == 1]
    assert all(level in levels for level in plan.levels)


def test_a_census_that_was_not_uploaded_is_asked_for():
    app = opened("unit", plan__unit=small_unit(), plan__census=None)
    assert not app.exception
    assert "upload this file" in app.error[0].value


def test_every_fault_of_a_census_is_listed_and_nothing_is_loaded():
    bad = "name,mass [kg],sex,stature [cm]\nx,900,F,161\nx,80,?,161\n"
    app = small()
    upload = next(u for u in app.main.file_uploader if u.key == "plan.census.file")
    upload.upload("p.csv", bad.encode()).run()
    assert not app.exception
    said = " ".join(e.value for e in app.error)
    assert "row 2, mass" in said
    assert "row 3, sex" in said
    assert app.session_state["plan.census"] is PATIENTS


def test_the_example_unit_is_read_and_has_its_census():
    unit = load_unit(UNITS / "example_hospital_icu.toml")
    assert (UNITS / unit.patients.census).is_file()


def test_the_purchase_page_gives_the_librarys_numbers():
    app = opened("purchase")
    calm(app)
    case = compare_purchase(load_purchase(PURCHASE))
    what, why = purchase_answer(case, case.options[1])
    assert what in words(app)
    assert why in words(app)
    for option in case.options[1:]:
        app.selectbox(key="plan.purchase.chosen").set_value(option.name).run()
        calm(app)
        assert purchase_answer(case, option)[1] in words(app)


def test_the_moves_a_year_come_from_the_unit_plan_once_it_is_open(plan):
    app = small("unit")
    app.switch_page("ergo/web/purchase.py").run()
    calm(app)
    turns = sum(t.events.mean for t in plan.levels[0].tasks if t.procedure == "side-lying turn") * 365.25
    assert volumes_of(plan)["side-lying turn"].typical == pytest.approx(turns)
    stated = load_purchase(PURCHASE)
    case = compare_purchase(with_volumes(stated, plan))
    assert purchase_answer(case, case.options[1])[1] in words(app)
    app.toggle(key="plan.purchase.from_unit").set_value(False).run()
    case = compare_purchase(stated)
    assert purchase_answer(case, case.options[1])[1] in words(app)


def test_an_injury_effect_counts_only_once_the_user_assumes_it():
    app = opened("purchase")
    assert "no injury is counted" in words(app)
    app.number_input(key="injury.typical").set_value(20.0)
    app.number_input(key="injury.high").set_value(40.0)
    app.text_input(key="injury.reason").set_value("our own two years")
    next(b for b in app.button if b.label == "Count this assumption").click().run()
    calm(app)
    assert "20 % fewer claims, our own two years" in words(app)
    app.button(key="injury.none").click().run()
    calm(app)
    assert "no injury is counted" in words(app)


def test_a_fault_in_a_purchase_is_told_and_changes_nothing():
    app = opened("purchase")
    before = app.session_state["plan.purchase"]
    app.text_input(key="plan.purchase.currency").set_value("").run()
    assert not app.exception
    assert "currency" in app.error[0].value
    assert app.session_state["plan.purchase"] == before


def test_a_users_own_words_cannot_become_markup():
    nasty = "<img src=x onerror=alert(1)>"
    app = small(name=nasty)
    calm(app)
    assert "<img" not in words(app).replace("\\<img", "")


def test_a_unit_without_its_file_is_refused_by_the_library():
    with pytest.raises(InputError):
        plan_unit(small_unit(), AssessedNeed(), ROOT)


def test_work_above_the_bound_is_refused_on_the_page_and_the_first_look_stays():
    app = small(beds=200, days=3660, replications=1000, patients={})
    said = " ".join(str(e.value) for e in app.error) + words(app)
    assert "at most 10 min: fewer days x runs" in said
    assert "First look" in said


def test_an_example_that_is_changed_loses_the_name_and_the_words_of_the_example():
    unit = load_unit(UNITS / "example_hospital_icu.toml").model_copy(update={"days": 14})
    app = opened("unit", plan__unit=unit, plan__census=PATIENTS)  # few patients are planned soon
    app.number_input(key="plan.unit.occupied_beds").set_value(3).run()
    changed = app.session_state["plan.unit"]
    assert (changed.name, changed.question, changed.request.ask) == (_plan_state.OWN_UNIT, "", "")
    assert "Example Hospital" not in words(app)


def test_a_stopped_comparison_waits_until_it_is_asked_for_again():
    other = load_purchase(PURCHASE).model_copy(update={"name": "Stopped"})
    app = opened("purchase", plan__purchase=other, plan__purchase__stopped=True)
    calm(app)
    assert "probability" not in words(app)
    app.button(key="purchase.go").click().run()
    calm(app)
    case = compare_purchase(other)
    assert purchase_answer(case, case.options[1])[1] in words(app)


def test_the_unit_page_saves_the_request_to_print_and_to_paste_and_every_figure(plan, monkeypatch):
    saved = {}

    def save(label, content, file_name, *_, **__):
        saved[file_name] = content() if callable(content) else content

    monkeypatch.setattr(_shared, "save", save)
    calm(small())
    markdown, html, csv = (saved[_shared.file_name(plan.unit.name, ending)] for ending in ("md", "html", "csv"))
    for request in (markdown, html):
        assert plan.unit.name in request
        assert "Before you rely on this" in request
    assert html.startswith("<!")
    assert csv == unit_csv(plan)


def test_a_wage_outside_the_stated_range_widens_the_range_and_is_not_refused():
    app = opened("purchase")
    before = app.session_state["plan.purchase"].wage_per_h
    app.number_input(key="plan.purchase.wage_per_h.typical").set_value(before.high + 6.0).run()
    calm(app)
    after = app.session_state["plan.purchase"].wage_per_h
    assert after.ends == (before.low, before.high + 6.0, before.high + 6.0)


def test_the_unit_page_works_out_its_policy_by_mass_when_asked_and_saves_it(monkeypatch):
    saved = {}

    def save(label, content, file_name, key, **_):
        saved[key] = content

    monkeypatch.setattr(_shared, "save", save)
    real, asked = jobs.ask, []

    def ask(urgency, function, *arguments):
        if function is not jobs.policy:
            return real(urgency, function, *arguments)
        asked.append(arguments)
        done = jobs.Job(("policy", arguments), urgency, 0)
        done.set_result(policy_bands([boost(aid="slide sheet")]))
        return done

    monkeypatch.setattr(jobs, "ask", ask)
    calm(small())
    assert not asked  # it takes long, and nobody has asked
    calm(opened("unit", plan__unit=small_unit(), plan__census=PATIENTS, fold__policy=True))
    assert len(asked) == 1
    assert "People by move, aid and the patient's mass" in saved["unit.policy.md"]()
    assert saved["unit.policy.html"]().startswith("<!")
