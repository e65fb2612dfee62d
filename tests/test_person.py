"""People of a team are told apart by side and place, whatever words a reader gets."""

from collections import Counter

import pytest

from ergo.assessment import demand_of, has_airway_lead, judge
from ergo.assessment.team import airway_lead, people_on_side
from ergo.inputs.scenario import parse_scenario
from ergo.report.figures.bed_plan import bed_plan
from ergo.report.figures.drawing import Arrow, Mark
from ergo.unit.team_lookup import AssessedNeed

PATIENT = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}


def case(**parts):
    return parse_scenario({"name": "x", "procedure": "boost", "patient": PATIENT} | parts)


@pytest.mark.parametrize("people", range(1, 7))
def test_no_two_people_of_a_team_have_the_same_words_or_the_same_place(people):
    team = [*people_on_side(case(), "left", people), *people_on_side(case(), "right", people), airway_lead()]
    assert len({person.words for person in team}) == len(team)
    assert len({(person.role, person.side, person.index) for person in team}) == len(team)


def test_two_at_one_station_are_numbered_from_the_head():
    six = [person.words for person in people_on_side(case(), "left", 6)]
    assert six[1:3] == ["left 2, at the waist", "left 3, at the waist"]
    two = [p.words for p in people_on_side(case(), "left", 2)]
    assert two == ["left side, at the shoulder", "left side, at the knee"]
    same = [{"side": "right", "position_m": 0.9}] * 2
    assert [p.words for p in people_on_side(case(team={"left": 0, "right": 2, "members": same}), "right", 2)] == [
        "A, right 1, at the thigh",
        "B, right 2, at the thigh",
    ]


def test_a_place_is_counted_from_the_head_in_whatever_order_a_file_names_people():
    named = [{"side": "left", "position_m": at, "sex": sex} for at, sex in ((1.2, "M"), (0.3, "F"), (0.8, "M"))]
    group = people_on_side(case(team={"left": 3, "right": 0, "members": named}), "left", 3)
    assert [(person.index, person.sex) for person in group] == [(2, "M"), (0, "F"), (1, "M")]


def test_of_six_on_a_side_nobody_carries_the_work_of_two():
    need = AssessedNeed()
    found = need("boost", "no aid", 300.0, "F", 1.6)
    assert found.left + found.right >= 8
    demand = demand_of(need.scenario("boost", "no aid", 300.0, "F", 1.6))
    efforts, impulse = Counter(), Counter()
    for done in judge(demand, found.left, found.right).moves[0].efforts:
        for load in done.loads:
            place = load.person.side, load.person.index
            efforts[place] += 1
            impulse[place] += load.steady_n * max(done.effort.seconds, float(demand.case.slide_time_s))
    assert len(efforts) == found.left + found.right
    assert found.loadings == max(efforts.values()) == 1
    assert found.pull_n_s == pytest.approx(max(impulse.values()))


def test_the_airway_lead_is_there_when_stated_and_else_with_an_intubated_patient():
    intubated = PATIENT | {"intubated": True}
    assert not has_airway_lead(case())
    assert has_airway_lead(case(patient=intubated))
    assert has_airway_lead(case(team={"airway_lead": True}))
    assert not has_airway_lead(case(patient=intubated, team={"airway_lead": False}))


def test_the_plan_draws_everybody_where_they_stand_even_those_who_do_not_pull():
    named = [{"side": "left", "position_m": at} for at in (1.2, 0.4, 0.7)]
    demand = demand_of(case(procedure="limb hold", team={"left": 3, "right": 0, "members": named}))
    move = judge(demand, 3, 0).moves[0]
    drawing = bed_plan(demand, move, (3, 0))
    people = [m for m in drawing.items if isinstance(m, Mark) and m.shape == "circle" and m.hover]
    assert [m.hover.endswith("stands by") for m in people] == [False, False, True]
    first = people[0].at[0]
    assert [m.at[0] - first for m in people] == pytest.approx([0.0, -0.8, -0.5])
    assert not [a for a in drawing.items if isinstance(a, Arrow)]


def test_two_hold_a_limb_half_each_and_whoever_does_not_hold_it_is_not_listed():
    demand = demand_of(case(procedure="limb hold"))
    alone, two, three = (judge(demand, n, 0).moves[0] for n in (1, 2, 3))
    weight = alone.loads[0].start_n
    for move in (two, three):
        assert [load.start_n for load in move.loads] == pytest.approx([weight / 2] * 2)
    assert "half each" in two.move.reason
