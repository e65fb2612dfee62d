"""Verdicts at their edges: what decides, and no silent pass."""

from __future__ import annotations

import dataclasses
import itertools
import math

import numpy as np
import pytest

from ergo.assessment import Assessment, demand_of, judge
from ergo.assessment import verdict as verdict_module
from ergo.assessment.check import checks, worst_checks
from ergo.errors import InputError
from ergo.inputs.examples import shipped
from ergo.inputs.scenario import parse_scenario
from ergo.limits.policy import ENOUGH, severity, verdict_of, worst_verdict
from ergo.teams.sentences import gain_words
from ergo.teams.smallest_team import compare_aids
from tests.tools.limit_cases import BY_KEY, PATIENT, assessed


def up(value: float) -> float:
    return math.nextafter(value, math.inf)


# --- words -------------------------------------------------------------------------------------------------------


def test_at_the_limit_is_close_and_the_next_number_is_over_and_at_85_percent_is_still_within():
    assert [verdict_of(r) for r in (0.0, 0.85, up(0.85), 1.0, up(1.0), 2.5)] == [
        "within", "within", "close", "close", "over", "over",
    ]  # fmt: skip


def test_a_case_that_no_limit_covers_is_worse_than_close_and_better_than_over():
    assert worst_verdict(["within", "close"]) == "close"
    assert worst_verdict(["close", "not applicable"]) == "not applicable"
    assert worst_verdict(["not applicable", "over"]) == "over"
    assert worst_verdict(["within"]) == "within"
    assert worst_verdict([]) == "not applicable"


def test_a_team_may_be_named_within_or_close_and_never_where_no_limit_speaks():
    assert ENOUGH == ("within", "close")


def a_side(n: int, ratio: float) -> Assessment:
    """A team with a given highest ratio to a limit."""
    result = assessed(team={"left": n, "right": 2})
    assert result.deciding is not None
    return dataclasses.replace(result, deciding=dataclasses.replace(result.deciding, ratio=ratio))


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [
        (0.92, 0.85, "on the left, where it is hardest: the load goes from 0.92 to 0.85 of the limit."),
        (0.6512, 0.6488, "on the left, where it is hardest: the load goes from 0.651 to 0.649 of the limit."),
        (0.6512, 0.6512, "changes nothing where it is hardest: the load stays at 0.65 of the limit."),
        (0.59, 0.64, "does not ease it where it is hardest: the load goes from 0.59 to 0.64 of the limit."),
        (0.65121, 0.65119, "changes nothing where it is hardest: the load stays at 0.65 of the limit."),
    ],
)
def test_a_gain_is_told_with_digits_that_differ_or_as_none(before, after, said):
    (told,) = gain_words(a_side(2, before), a_side(3, after), (), "x")
    assert told.endswith(said)


def test_an_aid_that_changes_a_ratio_by_less_than_a_thousandth_is_no_gain():
    any_aid = compare_aids(assessed().scenario)[0]
    now = dataclasses.replace(any_aid, aid="now", people=4, worst_ratio=0.6512)
    for ratio, gains in ((0.65119, 0), (0.649, 1)):
        other = dataclasses.replace(now, aid="other", worst_ratio=ratio)
        assert len(gain_words(None, None, (now, other), "now")) == gains


# --- what is not a number ----------------------------------------------------------------------------------------


def test_a_ratio_that_is_not_a_number_is_over_and_worse_than_any_other():
    assert verdict_of(math.nan) == "over"
    assert verdict_of(np.float64("nan")) == "over"
    assert max([0.2, math.nan, 3.0, None], key=severity) is math.nan


@pytest.mark.parametrize(
    ("where", "field", "limit"),
    [
        ("load", "pull_n", "pull_initial"),
        ("load", "pull_n", "pull_guideline"),
        ("load", "lift_n", "lift"),
        ("body", "shoulder_moment_nm", "hold_endurance"),
        ("load", "held_kg", "aorn_two_hands"),
        ("body", "compression_n", "spine_lower_limit"),
        ("body", "shear_n", "spine_shear"),
        ("body", "floor_friction", "floor_friction"),
        ("body", "shoulder_over_bed_m", "ccohs_arms_extended"),
    ],
)
def test_a_load_that_is_not_a_number_is_over_its_limit_and_never_silent(where, field, limit):
    demand, effort, load = first_load()
    lost = {field: math.nan}
    if field == "shoulder_over_bed_m":  # it only says whether the limit speaks
        lost |= {"extended_arm": 1.0}
        load = dataclasses.replace(load, pull_n=120.0)
    if limit == "hold_endurance":
        effort = dataclasses.replace(effort, hold_n=effort.start_n)
    body = dataclasses.replace(load.body, **lost) if where == "body" else load.body
    load = dataclasses.replace(load, body=body, **(lost if where == "load" else {}))
    found = found_for(demand, effort, load)[limit]
    assert found.verdict == "over"
    assert found.decides


def test_a_move_whose_resistance_is_not_a_number_is_an_error_or_over_and_never_a_pass():
    demand = demand_of(assessed().scenario)
    (task,) = demand.tasks
    lost = dataclasses.replace(task, instants=dataclasses.replace(task.instants, resistance=np.array([math.nan])))
    try:
        found = judge(dataclasses.replace(demand, tasks=(lost,), capacities={}), 2, 2)
    except (InputError, ValueError):
        return
    assert found.verdict == "over"


def test_a_body_that_is_not_a_number_makes_the_whole_answer_over(monkeypatch):
    demand = demand_of(assessed().scenario)
    whole = verdict_module.bodies_of_many

    def lost(*given):
        return [dataclasses.replace(body, shear_n=math.nan) for body in whole(*given)]

    monkeypatch.setattr(verdict_module, "bodies_of_many", lost)
    result = judge(demand, 2, 2)
    assert result.verdict == "over"
    assert result.deciding is not None
    assert result.deciding.key == "spine_shear"


# --- checks ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("order", [(0, 1, 2), (2, 1, 0), (1, 0, 2)])
def test_the_worst_of_all_loads_is_the_highest_ratio_or_what_is_no_number_and_the_first_of_equals(order):
    result = assessed()
    demand = demand_of(result.scenario)
    done = [(one.effort, load) for one in result.moves[0].efforts for load in one.loads][:2]
    (effort, one), (_, equal) = done
    same = dataclasses.replace(equal, body=one.body)
    for compression in (2.0 * one.body.compression_n, math.nan):
        more = dataclasses.replace(equal, body=dataclasses.replace(one.body, compression_n=compression))
        asked = [(effort, (one, same, more)[k]) for k in order]
        found = {check.key: check for check in worst_checks(demand, asked)}
        assert str(found["spine_lower_limit"].amount) == str(compression)
        assert found["spine_shear"].person == asked[0][1].person


def first_load(**parts):
    demand = demand_of(parse_scenario({"name": "x", "procedure": "boost", "patient": PATIENT} | parts))
    move = judge(demand, 2, 2).moves[0]
    return demand, move.efforts[0].effort, move.efforts[0].loads[0]


def found_for(demand, effort, load):
    return {c.key: c for c in checks(demand, effort, load)}


def test_each_quantity_of_a_load_is_held_against_the_limits_on_it():
    demand, effort, load = first_load()
    body = dataclasses.replace(
        load.body, compression_n=1700.0, shear_n=-500.0, shoulder_moment_nm=-30.0, elbow_moment_nm=-9.0
    )
    body = dataclasses.replace(body, floor_friction=0.25)
    load = dataclasses.replace(load, start_n=120.0, steady_n=90.0, pull_n=100.0, lift_n=50.0, held_kg=0.0, body=body)
    found = found_for(demand, dataclasses.replace(effort, seconds=0.0), load)
    assert found["pull_initial"].amount == 100.0
    assert found["ccohs_whole_body"].amount == 100.0
    assert found["pull_sustained"].amount == pytest.approx(75.0)  # the level part of the steady force: 90 * 100 / 120
    assert found["niosh_35lb"].amount == 50.0
    assert found["spine_lower_limit"].ratio == pytest.approx(0.5)
    assert found["spine_shear"].amount == 500.0
    assert found["spine_shear"].ratio == pytest.approx(0.5)
    assert found["shoulder_strength"].amount == 30.0
    assert found["elbow_strength"].amount == 9.0
    assert found["floor_friction"].ratio == pytest.approx(0.5)
    assert {"aorn_two_hands", "aorn_one_hand", "hold_endurance"} & set(found) == set()
    assert found["ccohs_whole_body"].ratio == pytest.approx(100 / 225)
    for check in found.values():
        limit = BY_KEY[check.key]
        assert (check.label, check.quantity, check.unit) == (limit.label, limit.quantity, limit.unit)
        flat = check.key == "lift"  # a flat pull is held against 35 lb, which was published elsewhere
        known = ("waters_2007", "read") if flat else (limit.source, limit.known)
        assert (check.source, check.known, check.person) == (*known, load.person)
        assert check.decides == (check.key in demand.policy.deciding)


def test_what_an_effort_does_not_have_no_limit_speaks_of():
    demand, effort, load = first_load()
    idle = dataclasses.replace(load, start_n=0.0, steady_n=0.0, pull_n=0.0, lift_n=-10.0)
    found = found_for(demand, dataclasses.replace(effort, seconds=0.0), idle)
    assert {c.quantity for c in found.values()} == {
        "L5/S1 compression", "L5/S1 shear", "shoulder moment", "elbow moment", "floor friction",
    }  # fmt: skip
    held = dataclasses.replace(load, held_kg=4.0)
    effort = dataclasses.replace(effort, hold_n=effort.start_n)
    found = found_for(demand, dataclasses.replace(effort, seconds=30.0), held)
    assert found["aorn_two_hands"].ratio == pytest.approx(4.0 / 10.1)
    assert found["hold_endurance"].amount == 30.0
    assert "pull_initial" not in found  # a held mass is not a pull
    light = dataclasses.replace(load, held_kg=0.5, body=dataclasses.replace(load.body, compression_n=0.5))
    found = found_for(demand, effort, light)
    assert found["aorn_two_hands"].amount == 0.5
    assert found["spine_lower_limit"].amount == 0.5
    short = found_for(demand, dataclasses.replace(effort, seconds=0.5), held)
    assert short["hold_endurance"].amount == 0.5
    faint = dataclasses.replace(load, start_n=0.6, steady_n=0.5, pull_n=0.5, lift_n=0.5)
    found = found_for(demand, effort, faint)
    assert found["pull_initial"].amount == 0.5  # half a newton is still a pull
    assert found["niosh_35lb"].amount == 0.5
    nothing = dataclasses.replace(load, pull_n=1e-6, lift_n=1e-6)
    assert not {"pull_initial", "niosh_35lb"} & set(found_for(demand, effort, nothing))
    only = list(checks(demand, effort, load, [BY_KEY["spine_lower_limit"]]))
    assert [c.key for c in only] == ["spine_lower_limit"]


def test_a_check_that_does_not_apply_has_no_figure_no_ratio_and_says_why():
    demand, effort, load = first_load()
    found = found_for(demand, effort, dataclasses.replace(load, hand_height_m=0.3))
    pull = found["pull_initial"]
    assert (pull.limit, pull.ratio, pull.verdict, pull.outside) == (None, None, "not applicable", True)
    assert "57 to 135 cm" in pull.note
    site = found["site_limit"]
    assert (site.limit, site.ratio, site.verdict, site.outside) == (None, None, "not applicable", False)
    inside = found_for(demand, effort, load)["pull_initial"]
    assert inside.verdict == verdict_of(inside.ratio)
    assert not inside.outside


def test_the_conditions_of_a_check_are_those_of_the_load_the_effort_and_the_policy():
    demand, effort, load = first_load(policy={"loadings_per_day": 500.0, "site_limit_n": 90.0})
    found = found_for(demand, effort, load)
    assert found["spine_shear"].limit == 700.0
    assert found["site_limit"].limit == 90.0
    rare = first_load(policy={"minutes_between_efforts": 480.0})
    often = first_load(policy={"minutes_between_efforts": 0.2})
    assert found_for(*rare)["pull_initial"].limit > found_for(*often)["pull_initial"].limit
    over = dataclasses.replace(load, body=dataclasses.replace(load.body, extended_arm=1.0, shoulder_over_bed_m=0.1))
    assert found_for(demand, effort, over)["ccohs_arms_extended"].limit == 110.0
    one = dataclasses.replace(effort, hands=1)
    assert found_for(demand, one, dataclasses.replace(load, held_kg=2.0))["aorn_one_hand"].limit == 5.03
    man = dataclasses.replace(load, person=dataclasses.replace(load.person, sex="M"))
    mixed = first_load(policy={"protect": "mixed team"})[0]
    assert found_for(mixed, effort, man)["hse_start"].limit == 200.0
    assert found_for(demand, effort, man)["hse_start"].limit == 150.0  # this policy protects women, whoever pulls


# --- judge -------------------------------------------------------------------------------------------------------


def test_one_side_alone_does_not_draw_a_patient_up_the_bed():
    demand = demand_of(parse_scenario({"name": "x", "procedure": "boost", "patient": PATIENT}))
    for team, side in (((2, 0), "right"), ((0, 2), "left")):
        alone = judge(demand, *team)
        assert alone.verdict == "over"
        assert alone.moves[0].unmet == (f"nobody stands on the {side} side, and one side alone would turn the patient",)
        assert alone.why.startswith("Not possible in “Boost”: nobody stands on the")
    both = judge(demand, 2, 2)
    assert both.moves[0].unmet == ()
    assert both.people == 4
    assert judge(demand, 0, 0).moves[0].unmet == ("nobody stands at the bed",)


def test_in_a_turn_somebody_guards_the_far_edge_and_an_airway_lead_is_counted():
    patient = PATIENT | {"intubated": True}
    turn = {"name": "x", "procedure": "prone turn", "patient": patient}
    demand = demand_of(parse_scenario(turn))
    for left, right, side in ((0, 4, "left"), (4, 0, "right")):
        unmet = [said for move in judge(demand, left, right).moves for said in move.unmet]
        assert any(f"nobody stands on the {side} side to guard the edge" in said for said in unmet)
    unled = judge(demand_of(parse_scenario(turn | {"team": {"airway_lead": False}})), 4, 4)
    assert [move.move.is_turn for move in unled.moves] == ["nobody leads at the head" in m.unmet for m in unled.moves]
    whole = judge(demand, 4, 4)
    assert not any("nobody" in s for move in whole.moves for s in move.unmet)
    assert whole.people == 9


def test_a_head_hold_without_an_airway_lead_is_not_possible():
    hold = {"procedure": "own sequence", "moves": [{"kind": "head hold", "hold_s": 20.0}]}
    nobody = assessed(**hold)
    assert nobody.verdict == "over"
    assert nobody.moves[0].unmet == ("nobody holds the head",)
    somebody = assessed(**hold, team={"airway_lead": True})
    assert somebody.moves[0].unmet == ()
    assert somebody.moves[0].worst_person_force_n > 0
    assert somebody.moves[0].efforts[0].loads[0].person.role == "airway lead"


def test_where_nobody_can_reach_the_move_is_over_and_says_what_they_would_do():
    short = {"side": "left", "sex": "F", "stature_m": 1.35, "mass_kg": 40.0}
    far = assessed(
        procedure="slide to the side", handling={"grip_gap_m": 0.0}, bed={"width_m": 1.6, "height_m": 0.95},
        team={"left": 2, "right": 0, "members": [short, short], "who_works": "receiving side"},
    )  # fmt: skip
    assert far.verdict == "over"
    assert far.moves[0].unmet == ("nobody there can pull the sheet from the left",)
    assert far.moves[0].effort == math.inf


@pytest.mark.parametrize("turned", [False, True])
def test_the_assessment_names_the_highest_deciding_ratio_of_all_moves(turned):
    moves = [{"kind": "micro-turn"}, {"kind": "boost", "name": "up the bed"}]
    result = assessed(procedure="own sequence", moves=moves[::-1] if turned else moves)
    ratios = [m.deciding.ratio for m in result.moves]
    worst = int(np.argmax(ratios))
    assert ratios[worst] > 1.01 * min(ratios)
    assert result.deciding is result.moves[worst].deciding
    assert result.deciding_move == result.moves[worst].move.name
    assert result.worst_ratio == max(ratios)
    for move in result.moves:
        deciding = [c for c in move.limits if c.decides and c.ratio is not None]
        assert move.deciding.ratio == max(c.ratio for c in deciding)
        assert move.verdict == worst_verdict([c.verdict for c in deciding])


def test_with_nobody_at_the_bed_there_is_no_force_in_any_hands_and_no_ratio():
    nobody = judge(demand_of(parse_scenario({"name": "x", "procedure": "boost", "patient": PATIENT})), 0, 0)
    assert nobody.verdict == "over"
    assert nobody.worst_ratio == 0.0
    assert nobody.deciding is None
    assert nobody.moves[0].worst_load is None
    assert nobody.moves[0].worst_person_force_n == 0.0


def test_a_move_that_asks_nothing_of_anybody_is_within():
    demand = demand_of(parse_scenario({"name": "x", "procedure": "boost", "patient": PATIENT}))
    idle = judge(dataclasses.replace(demand, moves=tuple((m, ((),)) for m, _ in demand.moves), capacities={}), 1, 1)
    assert idle.verdict == "within"
    assert idle.moves[0].why == "Nothing is pulled or held."


def test_the_forces_of_a_move_are_those_of_its_efforts_by_action():
    result = assessed(procedure="prone turn", patient=PATIENT | {"intubated": True}, team={"left": 3, "right": 3})
    seen = set()
    for move in result.moves:
        peaks: dict[str, float] = {}
        for e in move.efforts:
            peaks[e.effort.role] = max(peaks.get(e.effort.role, 0.0), float(e.effort.start_n))
            loads = [load.start_n for load in e.loads]
            assert sum(loads) == pytest.approx(float(e.effort.start_n))
            assert sum(load.fraction for load in e.loads) == pytest.approx(1.0)
            assert all(0.0 < load.start_n <= load.capacity_n * move.effort * (1 + 1e-9) for load in e.loads)
        seen |= set(peaks)
        assert all(move.force_n(action) == peaks.get(action, 0.0) for action in ("pulls the sheet", "pays out"))
        assert move.worst_person_force_n == max((load.start_n for load in move.loads), default=0.0)
    assert {"pulls the sheet", "lifts its edge", "pays out"} <= seen


def test_both_sides_of_a_boost_give_half_where_all_are_alike_and_give_what_they_can():
    result = assessed(team={"left": 2, "right": 2, "sharing": "best"})
    efforts = result.moves[0].efforts
    assert [(e.effort.side, len(e.loads)) for e in efforts] == [("left", 2), ("right", 2)]
    forces = [load.start_n for e in efforts for load in e.loads]
    assert forces == pytest.approx([forces[0]] * 4)


def test_who_gives_no_force_stands_by_and_is_told():
    transfer = assessed(procedure="lateral transfer", aid="transfer board", team={
        "left": 2, "right": 2, "who_works": "receiving side"})  # fmt: skip
    (move,) = transfer.moves
    working = {(load.person.side, load.person.index) for load in move.loads}
    assert {side for side, _ in working} == {"left"}
    assert {(p.side, p.index) for p in move.idle} == {("right", 0), ("right", 1)}


@pytest.mark.parametrize("key", ["prone_two_layer_pad", "prone_cotton_draw_sheet", "return_to_supine_pad", "limb_hold"])
def test_a_task_that_comes_again_is_judged_as_every_time_anew(key, monkeypatch):
    counted, case = itertools.count(), shipped()[key]
    once = [judge(demand_of(case), *team) for team in ((1, 1), (2, 3))]
    monkeypatch.setattr("ergo.assessment.demand._asks", lambda task: (next(counted),))
    assert repr([judge(demand_of(case), *team) for team in ((1, 1), (2, 3))]) == repr(once)


@pytest.mark.parametrize("name", sorted(shipped()))
def test_a_verdict_is_the_same_whether_or_not_limits_that_do_not_decide_are_asked(name):
    demand = demand_of(shipped()[name])
    for left, right in itertools.product((1, 2, 4), repeat=2):
        few, every = judge(demand, left, right, every_limit=False), judge(demand, left, right)
        moves = [
            dataclasses.replace(move, limits=tuple(check for check in move.limits if check.decides))
            for move in every.moves
        ]
        assert few == dataclasses.replace(every, moves=tuple(moves))


@pytest.mark.parametrize("ratio", [math.nan, math.inf, -math.inf])
def test_what_is_not_a_number_is_over(ratio):
    assert verdict_of(ratio) == "over"
    assert severity(ratio) == math.inf
