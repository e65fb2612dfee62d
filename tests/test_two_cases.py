"""Two cases side by side: every input that differs, both answers, and the difference."""

from __future__ import annotations

import pytest
from streamlit.testing.v1 import AppTest

from ergo.inputs import examples
from ergo.inputs.scenario import dump_scenario
from ergo.report.tables.two_cases import two_case_rows
from ergo.teams.smallest_team import smallest_team
from ergo.units import Units
from ergo.web import _mass_aid_map as _map
from tests.tools.pages import calm, opened_alone, words

ONE = examples.boost(name="Bay 3", unit="Example Hospital, ICU")
OTHER = examples.boost(
    mass_kg=95.5,
    aid="slide sheet",
    name="Bay 4",
    bed={"tilt_deg": -10.0, "width_m": 1.0},
    policy={"protect": "75 % of men"},
)
ANSWERS = [smallest_team(case, with_aids=False) for case in (ONE, OTHER)]


def test_every_input_that_differs_stands_in_one_table_with_both_answers_and_the_difference():
    rows = {row[0]: row[1:] for row in two_case_rows(*ANSWERS).rows}
    assert rows["title"] == ("Bay 3", "Bay 4", "differs")
    assert rows["patient, mass"] == ("70 kg", "95.5 kg", "+25.5 kg")
    assert rows["bed, tilt"] == ("0 °", "-10 °", "−10 °")
    assert rows["aid"] == ("cotton draw sheet", "slide sheet", "differs")
    assert rows["policy, protect"] == ("75 % of women", "75 % of men", "differs")
    assert rows["unit"] == ("Example Hospital, ICU", "left out", "differs")
    for at, answer in enumerate(ANSWERS):
        assert rows["people needed"][at] == f"{answer.people} people"
        assert rows["deciding limit"][at] == answer.assessment.deciding.label
        assert rows["ratio to limit"][at] == f"{round(answer.assessment.worst_ratio, 2):.4g}"
    assert not {"patient, stature", "procedure", "name"} & set(rows)


def test_a_case_beside_itself_differs_in_nothing():
    table = two_case_rows(ANSWERS[0], ANSWERS[0])
    assert {row[-1] for row in table.rows} == {"same"}
    assert len(table.rows) == 11


def test_amounts_stand_in_the_readers_units_and_lists_are_told_by_what_is_in_them():
    first = examples.own_sequence(aid="slide sheet")
    second = examples.own_sequence(aid="slide sheet", mass_kg=90.0, moves=[{"kind": "centring", "towards": "left"}])
    answers = [smallest_team(case, with_aids=False) for case in (first, second)]
    rows = {row[0]: row[1:] for row in two_case_rows(*answers, Units("lb", "lbf", "ft-in")).rows}
    assert rows["patient, mass"] == ("154.3 lb", "198.4 lb", "+44.09 lb")
    assert rows["moves"][1] == "centring left"
    assert rows["largest force of one person"][0].endswith(" lbf")


def test_the_compare_page_opens_a_second_case_and_can_make_it_the_first(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_map, "_BMI", (25,))
    app: AppTest = opened_alone(ONE, "compare", monkeypatch)
    app.session_state["ergo.second"] = OTHER
    app.run()
    calm(app)
    assert "+25.5 kg" in words(app)
    app.button(key="two.swap").click().run()
    calm(app)
    assert app.session_state["ergo.inputs.scenario"] == OTHER
    assert app.session_state["ergo.second"] == ONE
    assert "−25.5 kg" in words(app)
    app.button(key="two.away").click().run()
    calm(app)
    assert "−25.5 kg" not in words(app)
    assert dump_scenario(app.session_state["ergo.inputs.scenario"]) == dump_scenario(OTHER)
