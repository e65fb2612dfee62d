"""Where the people of a shift stand: the order of the list is nothing, duties are kept, faults are told."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import permutations

import pytest

from ergo.assessment import demand_of, place_people
from ergo.assessment.team_share import team_effort_of
from ergo.errors import InputError
from ergo.inputs import examples
from ergo.inputs.scenario import Scenario

SHIFT = [
    {"size": "small"},
    {"size": "medium"},
    {"size": "tall"},
    {"sex": "M", "stature_m": 1.7, "mass_kg": 90.0},
    {"size": "medium", "may_do": ["hands"], "most_lift_kg": 15.0},
]


def ratio(case: Scenario) -> float:
    placed = place_people(case)
    return team_effort_of(demand_of(placed), placed.team.left, placed.team.right)[0]


@pytest.mark.parametrize("make", [examples.boost, examples.lateral_transfer])
def test_the_order_in_which_people_are_listed_changes_nothing(make):
    first = make(90.0, team={"members": SHIFT})
    where = {str(m): m.side for m in place_people(first).team.members}
    for order in list(permutations(SHIFT))[7::29]:
        case = make(90.0, team={"members": list(order)})
        assert ratio(case) == pytest.approx(ratio(first), rel=1e-9)
        assert {str(m): m.side for m in place_people(case).team.members} == where


def test_who_may_do_nothing_with_the_hands_leads_at_the_head():
    shift = [{"size": "small"}, {"size": "tall", "most_lift_kg": 5.0}, {"size": "medium"}, {"size": "medium"}]
    placed = place_people(examples.prone_turn(team={"members": shift}))
    assert [m.role for m in placed.team.members] == ["hands", "airway", "hands", "hands"]
    assert placed.team.left + placed.team.right == 3


def test_a_restriction_that_has_ended_restricts_nobody():
    ended = (date.today() - timedelta(days=1)).isoformat()
    shift = [{"size": "medium", "most_lift_kg": 5.0, "until": ended}, {"size": "medium"}]
    placed = place_people(examples.boost(team={"members": shift}))
    assert [m.role for m in placed.team.members] == ["hands", "hands"]


def test_in_a_turn_each_side_has_as_many_as_guidance_asks_for_where_that_is_within_the_limits():
    placed = place_people(examples.prone_turn(team={"members": [{"size": "medium"}] * 6}))
    assert min(placed.team.left, placed.team.right) == 2


def test_who_is_put_on_a_side_stays_there():
    shift = [{"size": "tall", "side": "right"}, {"size": "small"}, {"size": "medium"}]
    placed = place_people(examples.boost(team={"members": shift}))
    assert placed.team.members[0].side == "right"
    assert all(m.side for m in placed.team.members)


def test_a_role_that_nobody_may_do_is_a_fault_that_says_which():
    shift = [{"size": "small", "may_do": ["hands"]}, {"size": "tall", "may_do": ["hands"]}]
    with pytest.raises(InputError) as told:
        place_people(examples.prone_turn(team={"members": shift, "lines_and_drains": 1}))
    said = str(told.value)
    assert "the head and the airway" in said
    assert "lines and drains" in said


def test_more_people_than_places_are_a_fault_that_says_how_many_places_there_are():
    with pytest.raises(InputError, match="no more than the 1 places on the left and 1 on the right"):
        place_people(
            examples.boost(
                team={"left": 0, "right": 0, "members": [{"size": "medium"}] * 4},
                bed={"places_left": 1, "places_right": 1},
            )
        )


def test_unplaced_people_leave_the_stated_numbers_alone():
    case = examples.boost(team={"left": 3, "right": 1, "members": [{"size": "small"}]})
    assert (case.team.left, case.team.right) == (3, 1)
