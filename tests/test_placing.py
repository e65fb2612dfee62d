"""Where the people of a shift stand: the order of the list is nothing, duties are kept, faults are told."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import permutations

import pytest

from ergo.assessment import demand_of, place_people, roles_of
from ergo.assessment.team_share import team_effort_of
from ergo.errors import InputError
from ergo.inputs import examples
from ergo.inputs.scenario import Member, Scenario, limb_guides, parse_scenario

PATIENT = {"sex": "F", "mass_kg": 80.0, "stature_m": 1.65}
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


def test_more_on_the_sides_than_the_shift_has_is_a_fault_unless_nobody_of_it_would_stand_there():
    two = [{"size": "small"}] * 2
    with pytest.raises(InputError, match=r"team.left, team.right = 3, 1: left out, or together at most the 2 people"):
        examples.boost(team={"left": 3, "right": 1, "members": two})
    assert examples.boost(team={"left": 1, "right": 1, "members": two}).team.left == 1
    assert examples.boost(team={"left": 2, "right": 2, "members": two}).team.left == 2  # as older files hold it
    lines = [{"role": "lines"}]
    assert examples.boost(team={"left": 3, "right": 1, "members": lines, "lines_and_drains": 1}).team.left == 3


def test_whoever_guides_limbs_is_found_among_those_on_shift_and_counted():
    shift = [{"size": "medium"}] * 5 + [{"size": "small", "may_do": ["limbs"]}]
    placed = place_people(examples.prone_turn(team={"members": shift, "limbs": 1}))
    assert [m.role for m in placed.team.members].count("limbs") == 1
    assert placed.team.members[5].role == "limbs"
    assert {role.name: role.people for role in roles_of(placed)}["limbs"] == 1
    with pytest.raises(InputError, match="1 more for the limbs"):
        place_people(
            examples.prone_turn(team={"members": [{"may_do": ["hands"]}] * 4 + [{"may_do": ["airway"]}], "limbs": 1})
        )


def test_a_spinal_patient_who_is_turned_has_one_who_guides_the_limbs_unless_the_team_says_otherwise():
    spinal = {"spinal_precautions": "thoracolumbar"}

    def limbs(**parts):
        return limb_guides(parse_scenario({"name": "x", "patient": {**PATIENT, **spinal}, **parts}))

    assert limbs(procedure="side-lying turn") == 1
    assert limbs(procedure="boost") == 0
    assert limbs(procedure="side-lying turn", team={"limbs": 0}) == 0
    assert limbs(procedure="own sequence", moves=[{"kind": "side-lying turn"}]) == 1
    assert limb_guides(examples.side_lying_turn()) == 0


def test_what_a_person_may_do_ends_with_its_last_day():
    past, coming = date.today() - timedelta(days=1), date.today()
    assert "hands" in Member(may_do=("limbs",), until=past).duties
    assert Member(may_do=("limbs",), until=coming).duties == ("limbs",)
    assert Member(may_do=("limbs",)).duties == ("limbs",)
    assert not Member(most_lift_kg=5.0, until=past).restricted


def test_a_size_beside_stature_and_mass_is_a_fault():
    with pytest.raises(InputError, match=r"team.members.0.size = 'small': left out where stature and mass are stated"):
        examples.boost(team={"members": [{"size": "small", "stature_m": 2.0, "mass_kg": 120.0}]})
    assert examples.boost(team={"members": [{"size": "small", "mass_kg": 70.0}]}).team.members[0].mass_kg == 70.0


@pytest.mark.parametrize(("role", "name"), [("limbs", "limbs"), ("lines", "lines and drains")])
def test_who_is_put_to_limbs_or_lines_is_counted_in_the_team(role, name):
    placed = place_people(examples.prone_turn(team={"members": [{"size": "medium"}] * 5 + [{"role": role}]}))
    assert {one.name: one.people for one in roles_of(placed)}[name] == 1
    assert placed.team.left + placed.team.right + sum(one.people for one in roles_of(placed)) == 6
