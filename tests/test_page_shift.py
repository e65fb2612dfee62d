"""Who is on shift on the page: cells that nobody touched, people beside a changed number, and the words that come."""

from __future__ import annotations

import pytest

from ergo.errors import InputError
from ergo.inputs import examples
from ergo.inputs.scenario import Member, Scenario
from ergo.teams.this_team import this_team, this_team_words
from ergo.units import Units
from ergo.web import _mass_aid_map as _map
from ergo.web import _state
from ergo.web._roster import members_of, rows_of
from tests.tools.pages import calm, opened, words

SHIFT = [{"size": "small"}, {"size": "tall", "most_lift_kg": 5.0}, {"size": "medium"}, {"size": "medium"}]


@pytest.fixture(autouse=True)
def _quick_map(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_map, "_BMI", (25,))


def shown(app) -> Scenario:
    return app.session_state["ergo.inputs.scenario"]


def test_a_cell_that_nobody_touched_keeps_its_value_to_the_last_digit_in_any_unit():
    before = [Member(stature_m=1.6789, mass_kg=61.234, most_force_n=40.0), Member(size="small")]
    units = Units(mass="lb", length="ft-in")
    rows = rows_of(before, ["A", "B"], units)
    rows[1]["size"] = "tall"
    rows.append({"place": float("nan"), "size": "medium", "may do": ["hands"], "mass": float("nan")})
    assert members_of(rows, before, units) == [
        {"stature_m": 1.6789, "mass_kg": 61.234, "most_force_n": 40.0},
        {"size": "tall"},
        {"size": "medium", "may_do": ("hands",)},
    ]


def test_who_is_moved_to_another_side_loses_the_place_on_the_old_one():
    before = [Member(side="left", position_m=0.4, role="hands")]
    rows = [row | {"stands": "right"} for row in rows_of(before, ["A"], Units())]
    assert members_of(rows, before, Units()) == [{"side": "right"}]


def test_a_number_in_another_notation_is_asked_back_and_never_another_number():
    before, units = [Member(size="small", most_lift_kg=5.5)], Units()
    rows = rows_of(before, ["A"], units)
    assert rows[0]["lifts"] == "5.5"
    for written in ("5,5", "5.5 kg", "1e3", "5 5"):
        with pytest.raises(InputError, match=r"row 1, lifts = '.*': one number, as 5.5 \[kg\]"):
            members_of([rows[0] | {"lifts": written}], before, units)
    comma = rows_of(before, ["A"], units, decimal_comma=True)
    assert comma[0]["lifts"] == "5,5"
    assert members_of([comma[0] | {"lifts": "7,5"}], before, units, decimal_comma=True)[0]["most_lift_kg"] == 7.5
    assert members_of([comma[0] | {"size": "tall"}], before, units, decimal_comma=True)[0]["most_lift_kg"] == 5.5


def test_stature_and_mass_stand_in_place_of_a_size_that_nobody_chose():
    units = Units()
    new = {"place": None, "size": "medium", "stature": "165", "mass": "70"}
    assert members_of([new], [], units) == [{"stature_m": pytest.approx(1.65), "mass_kg": 70.0}]


def test_the_page_says_whether_these_can_do_it_and_asks_for_no_numbers_beside_those_on_shift():
    case = examples.boost(100.0, team={"members": SHIFT})
    app = opened(case, "answer", "shift", "more")
    calm(app)
    found = this_team_words(this_team(case))
    said = words(app).replace("&gt;", ">").replace("\\", "")
    assert "Can these do it?" in [part.value for part in app.subheader]
    assert found[0].partition(": ")[2] in said
    assert all(one in said for one in found[1:])
    assert not [one for one in app.number_input if "People on the" in one.label]
    app.number_input(key="in.team.limbs").set_value(1).run()
    calm(app)
    assert shown(app).team.limbs == 1
    assert len(shown(app).team.members) == len(SHIFT)


def test_the_page_names_a_height_of_the_bed_that_helps_in_the_units_of_the_reader() -> None:
    case = examples.boost(66.0, bed={"height_m": 1.2}, team={"members": [{"size": "medium"}] * 2})
    app = opened(case, "answer", "shift")
    calm(app)
    assert "the bed at 105 cm" in words(app)
    app.session_state[_state.LENGTH] = "ft-in"
    app.run()
    calm(app)
    assert "the bed at 3 ft 4 in" in words(app)


def test_the_page_says_at_once_that_a_team_is_enough_by_force_alone() -> None:
    app = opened(examples.prone_turn(team={"left": 1, "right": 2}), "answer", "shift")
    calm(app)
    said = words(app)
    assert "By force yes" in said
    assert "but guidance asks for 5" in said


def test_people_begin_with_the_stated_numbers_and_can_be_left_out_again():
    app = opened(examples.boost(team={"left": 2, "right": 1}), "answer", "shift")
    calm(app)
    assert "Was this team enough?" in [part.value for part in app.subheader]
    app.button(key="roster.begin").click().run()
    calm(app)
    assert [m.size for m in shown(app).team.members] == ["medium"] * 3
    app.button(key="roster.none").click().run()
    calm(app)
    assert shown(app).team.members == ()


def test_a_role_that_nobody_may_do_is_told_beside_the_table():
    case = examples.prone_turn(team={"members": [{"size": "small", "may_do": ["hands"]}] * 3})
    app = opened(case, "answer", "shift")
    assert not app.exception
    assert any("the head and the airway" in e.value for e in app.error)
