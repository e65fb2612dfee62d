"""Three reasons for a number of people: force, one who must break off, and guidance; and who stands beside."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from ergo.assessment import demand_of, judge, roles_of
from ergo.assessment.team_share import group, holds_without_one, share_task, team_effort_of
from ergo.evidence import assumption
from ergo.inputs.scenario import parse_scenario
from ergo.teams.team_search import reasons_of
from tests.tools.random_scenarios import random_cases

MAN = {"sex": "M", "mass_kg": 82.0, "stature_m": 1.76}


def case(procedure: str, **parts: object):
    return parse_scenario({"name": "x", "procedure": procedure, "patient": MAN} | parts)


def test_the_people_of_a_team_are_those_on_both_sides_and_the_roles():
    for scenario, demand in random_cases(12, 71):
        found = reasons_of(demand)
        if found.left is None:
            continue
        roles = sum(role.people for role in roles_of(scenario))
        assert found.people == found.left + found.right + roles
        assert found.people_by_force is not None
        assert found.people >= found.people_by_force
        assert team_effort_of(demand, found.left, found.right)[0] <= 1.0 + 1e-6
        if not found.no_room:
            asked = [found.people_by_force, found.people_if_one_breaks_off, found.people_by_guidance]
            assert found.people >= max(n for n in asked if n is not None)


def test_who_holds_without_one_still_holds_with_one_more_and_nobody_alone_holds_without_anybody():
    for _, demand in random_cases(10, 72):
        if not any(task.falls for task in demand.tasks):
            continue
        assert not holds_without_one(demand, 1, 0)
        assert not holds_without_one(demand, 0, 1)
        for left, right in itertools.product(range(1, 4), repeat=2):
            if holds_without_one(demand, left, right):
                assert holds_without_one(demand, left + 1, right)
                assert holds_without_one(demand, left, right + 1)


def test_a_slide_that_simply_stops_asks_for_nobody_more_if_one_breaks_off():
    for procedure in ("boost", "slide to the side"):
        assert reasons_of(demand_of(case(procedure))).people_if_one_breaks_off is None
    assert reasons_of(demand_of(case("prone turn"))).people_if_one_breaks_off is not None
    unasked = case("prone turn", policy={"count_breaking_off": False})
    assert reasons_of(demand_of(unasked)).people_if_one_breaks_off is None


def test_in_the_stop_on_the_side_a_hard_surface_holds_the_patient_and_a_soft_mattress_does_not():
    left_to_hold = {}
    for immersion in (0.0, 0.03):
        demand = demand_of(case("prone turn", aid="cotton draw sheet", bed={"immersion_m": immersion}))
        number = next(n for n, at in enumerate(demand.places) if demand.moves[at[0]][0].kind == "stop on the side")
        stop = demand.tasks[number]
        assert stop.hold_s == 60.0
        assert stop.falls
        assert np.degrees(stop.instants.angle).tolist() == pytest.approx([80.0, 100.0])
        # the moment of a centre of mass 2 cm off the middle, less what the flat side gives
        off = assumption("stop_centre_off").typical * float(stop.instants.weight_n)
        left_to_hold[immersion] = float(np.max(stop.instants.resistance)) - off
        sides = group(demand.scenario, 1, 1)
        assert share_task(demand, number, [*sides["left"], *sides["right"]]).worst < 1.0
    assert left_to_hold[0.0] < 0.0 < left_to_hold[0.03]


def test_five_people_turn_a_ventilated_man_prone_by_guidance_and_not_by_force():
    # common practice, no source: five or more for a prone turn, six to eight in many units
    patient = MAN | {"intubated": True}
    found = reasons_of(demand_of(case("prone turn", patient=patient, aid="cotton draw sheet")))
    assert (found.people, found.counts) == (5, "guidance")
    assert found.people_by_force < 5  # two sides of at most two, and the airway lead
    assert min(found.left, found.right) == 2
    team = {"lines_and_drains": 2, "separate_caller": True}
    more = reasons_of(demand_of(case("prone turn", patient=patient, aid="cotton draw sheet", team=team)))
    assert more.people == 8  # with two for lines and a caller: so do the six to eight come about
    assert more.people_by_force == found.people_by_force + 3


def test_a_child_on_a_slide_sheet_on_a_board_needs_a_small_team():
    child = {"sex": "F", "mass_kg": 25.0, "stature_m": 1.25}
    for height in (0.90, 1.00):
        found = reasons_of(
            demand_of(case("lateral transfer", patient=child, aid="slide sheet on a board", bed={"height_m": height}))
        )
        assert found.people_by_force is not None
        assert found.people_by_force <= 3


@pytest.mark.parametrize("mass_kg", [60.0, 120.0])
def test_on_a_high_bed_an_air_assisted_mattress_gives_a_team_or_says_why_not(mass_kg):
    high = case(
        "slide to the side", patient=MAN | {"mass_kg": mass_kg}, aid="air-assisted mattress", bed={"height_m": 1.05}
    )
    demand = demand_of(high)
    found = reasons_of(demand)
    if found.left is None:
        assert any(move.unmet for move in judge(demand, 6, 6).moves)
    else:
        assert found.people_by_force <= 4


@pytest.mark.parametrize(
    ("what", "step"), [(("patient", "mass_kg"), 0.1), (("bed", "height_m"), 0.001), (("handling", "grip_gap_m"), 0.001)]
)
def test_a_small_step_changes_the_least_effort_by_a_little(what, step):
    # 100 g or a millimetre: at most a fiftieth, but where a hand comes within a limit's printed range or a posture ends
    jumps, compared = [], 0
    for scenario, _ in random_cases(14, 75, handling={"technique": "typical", "turn_grip": "sheet"}):
        stated = scenario.model_dump(mode="json", exclude_none=True)
        stated["handling"].setdefault("grip_gap_m", 0.15)
        here = demand_of(parse_scenario(stated))
        stated[what[0]][what[1]] += step
        there = demand_of(parse_scenario(stated))
        for team in ((2, 1), (2, 2), (3, 3)):
            one, other = team_effort_of(here, *team)[0], team_effort_of(there, *team)[0]
            if one < 3.0 or other < 3.0:
                compared += 1
                if abs(other - one) > 0.02 * max(one, 0.2):
                    jumps.append((what, scenario.procedure, scenario.aid, scenario.patient.mass_kg, team, one, other))
    assert compared > 20
    assert len(jumps) <= compared // 20, jumps


def test_the_answer_in_a_mirror_is_the_mirror_image():
    swap = {"left": "right", "right": "left"}
    for scenario, demand in random_cases(8, 76, bed={"equipment_side": "left"}):
        stated = scenario.model_dump(mode="json", exclude_none=True)
        stated["bed"]["equipment_side"] = swap[scenario.bed.equipment_side]
        mirror = demand_of(parse_scenario(stated))
        here, there = reasons_of(demand), reasons_of(mirror)
        assert (here.left, here.right, here.people) == (there.right, there.left, there.people)
        assert (here.people_by_force, here.people_if_one_breaks_off) == (
            there.people_by_force, there.people_if_one_breaks_off,
        )  # fmt: skip
        for team in ((1, 2), (3, 1)):
            assert team_effort_of(demand, *team)[0] == pytest.approx(team_effort_of(mirror, *team[::-1])[0], rel=1e-9)
