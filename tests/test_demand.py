"""What a move asks of each side: nothing that gravity does is left out, and hands are where a patient is not."""

from __future__ import annotations

import sys
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

from ergo.errors import InputError
from ergo.evidence import assumption
from ergo.inputs.scenario import Scenario, parse_scenario
from ergo.mechanics.bed_clearance import bed_clearance
from ergo.mechanics.body import SEGMENTS, build_body
from ergo.mechanics.case import build_case, find_lying
from ergo.mechanics.demand import TeamTask, ways_of
from ergo.mechanics.friction import find_aid, registry
from ergo.mechanics.mattress import hollow_drag, outline_support
from ergo.mechanics.procedure import direction_of, plan_moves
from ergo.mechanics.rolling import roll_travel
from ergo.mechanics.sliding import body_slide_force, climb_angle
from ergo.remembered import remembered
from ergo.units import G
from tests.tools.one_side import turn_statics


def tasks_of(scenario: Scenario, *kinds: str) -> list[TeamTask]:
    """The tasks of the moves of some kinds, or of all, each move made the first way."""
    case = build_case(scenario)
    moves = [m for m in plan_moves(scenario, case) if not kinds or m.kind in kinds]
    return [task for move in moves for task in ways_of(move, case, scenario)[0]]


def alone(task: TeamTask, name: str) -> float:
    """The largest force of an action that does alone all that it has a part in; zero where it is not done."""
    found = [0.0]
    for action in (a for a in task.instants.actions if a.name == name):
        helps = (action.gain > 0.0) & (task.instants.resistance > 0.0)
        found += (task.instants.resistance[helps] / action.gain[helps]).tolist()
    return max(found)


def scenario_of(procedure: str, mass_kg: float = 82.0, **rest: object) -> Scenario:
    patient = {"sex": "M", "mass_kg": mass_kg, "stature_m": 1.76, "intubated": True}
    rest["bed"] = {"immersion_m": 0.0} | dict(rest.get("bed", {}))  # type: ignore[call-overload]  # a hard surface
    return parse_scenario({"name": "x", "procedure": procedure, "patient": patient, **rest})


@pytest.mark.parametrize("mass_kg", [55.0, 82.0, 140.0])
@pytest.mark.parametrize("procedure", ["prone turn", "return to supine", "side-lying turn"])
def test_at_every_angle_of_a_turn_somebody_pulls_where_gravity_resists_and_brakes_where_it_drives(procedure, mass_kg):
    # A square outline lies stably on its flat side: gravity helps before 90 degrees and resists again after it.
    scenario = scenario_of(procedure, mass_kg)
    case = build_case(scenario)
    for move in plan_moves(scenario, case):
        if not move.is_turn:
            continue
        lifting, lowering = turn_statics(move, case, scenario)
        for part in (lifting, lowering):
            assert part.angle[0] == move.from_rad
            assert part.angle[-1] == move.to_rad
            assert np.max(np.diff(part.angle)) <= np.radians(1.0) + 1e-12
        torque = G * mass_kg * lifting.gravity_moment_arm_m
        assert np.allclose(lifting.force_n * lifting.pull_moment_arm_m, np.maximum(torque, 0.0))
        assert np.allclose(lowering.force_n * lowering.pull_moment_arm_m, np.maximum(-torque, 0.0))


def test_a_side_lying_turn_and_the_way_over_from_the_flat_side_both_ask_for_a_pull_and_for_lowering():
    for kind in ("side-lying turn", "prone turn"):
        task = next(t for t in tasks_of(scenario_of("prone turn"), kind) if t.group == "sides")
        assert alone(task, "pulls the sheet") > 10.0
        assert alone(task, "receives and lowers") > 10.0
        assert task.falls


@pytest.mark.parametrize("grip", ["sheet", "hands"])
@pytest.mark.parametrize("mass_kg", [40.0, 82.0, 140.0])
@pytest.mark.parametrize("kind", ["side-lying turn", "prone turn", "return to supine"])
def test_one_side_that_works_alone_needs_the_force_of_the_statics_of_one_side_at_every_critical_instant(
    kind, mass_kg, grip
):
    scenario = scenario_of(kind, mass_kg, handling={"turn_grip": grip})
    case = build_case(scenario)
    for move in plan_moves(scenario, case):
        if not move.is_turn or move.kind == "stop on the side":
            continue
        task = ways_of(move, case, scenario)[0][0]
        lifting, lowering = turn_statics(move, case, scenario)
        pull, bear = task.instants.actions[0], next(a for a in task.instants.actions if a.name == "receives and lowers")
        assert pull.name == ("pulls the sheet" if grip == "sheet" else "draws the far shoulder and hip")
        for j, angle in enumerate(task.instants.angle):
            at = int(np.argmin(np.abs(lifting.angle - angle)))
            assert lifting.angle[at] == pytest.approx(angle, abs=1e-12)  # an instant is one of the statics' angles
            for action, one in ((pull, lifting), (bear, lowering)):
                if action.gain[j] > 0.0:
                    force = float(task.instants.resistance[j] / action.gain[j])
                    assert force == pytest.approx(float(one.force_n[at]), rel=1e-9, abs=1e-9)
                elif one.force_n[at] > 1e-6:
                    pytest.fail(f"{action.name} has no part where the statics of one side give {one.force_n[at]:.0f} N")


@pytest.mark.parametrize("procedure", ["boost", "slide to the side", "lateral transfer"])
def test_those_who_draw_the_layer_alone_need_the_start_force_of_the_slides_statics(procedure):
    scenario = scenario_of(procedure, aid="transfer board" if procedure == "lateral transfer" else "cotton draw sheet")
    case = build_case(scenario)
    (move,) = plan_moves(scenario, case)
    task = ways_of(move, case, scenario)[0][0]
    dragged = np.array([s != "head" or not case.head_carried for s in SEGMENTS])
    mu = np.where(case.covered, np.min(case.mu), case.linen_mu)
    slope = climb_angle(scenario.bed.rise_m, scenario.bed.ledge_m, 2 * case.body.half_breadth)
    one = body_slide_force(
        case.body.mass_kg * dragged, mu, case.body.position_m, pull_rad=case.pull_rad,
        slope_rad=slope if procedure == "lateral transfer" else 0.0, breakaway=case.breakaway,
        distance_m=move.distance_m, time_s=case.slide_time(move.distance_m),
    )  # fmt: skip
    assert alone(task, "pulls the sheet") == pytest.approx(float(one.start_n), rel=1e-9)
    assert float(task.steady_share) == pytest.approx(float(one.steady_n / one.start_n), rel=1e-9)


def test_a_hold_on_the_flat_side_is_asked_of_those_who_receive_for_as_long_as_it_lasts():
    move = {"kind": "side-lying turn", "angle_deg": 80.0, "hold_s": 30.0}
    scenario = scenario_of("own sequence", moves=[move])
    case = build_case(scenario)
    planned = plan_moves(scenario, case)[0]
    _, lowering = turn_statics(planned, case, scenario)
    held = next(t for t in ways_of(planned, case, scenario)[0] if t.hold_s > 0 and t.group == "sides")
    assert held.falls
    assert held.hold_s == 30.0
    assert lowering.force_n[-1] > 0.0
    assert alone(held, "receives and lowers") == pytest.approx(float(lowering.force_n[-1]))


def test_the_lowering_hands_reach_to_the_leading_edge_of_the_outline():
    scenario = scenario_of("prone turn")
    case = build_case(scenario)
    over = next(m for m in plan_moves(scenario, case) if m.kind == "prone turn")
    task = ways_of(over, case, scenario)[0][0]
    outline = case.body.outline
    # The mean outline's leading edge, straight from its support function a quarter turn ahead of straight down.
    leading = roll_travel(outline, task.instants.angle) + outline.over_angles().height(task.instants.angle + np.pi / 2)
    bear = next(a for a in task.instants.actions if a.name == "receives and lowers")
    edge = scenario.bed.width_m / 2 - over.offset_m
    assert bear.reach_m == pytest.approx(np.maximum(edge - leading, 0.0))


def test_hands_stay_ahead_of_a_patient_who_rolls_past_the_edge_where_they_stood():
    wide = scenario_of("own sequence", 210.0, moves=[{"kind": "side-lying turn"}], bed={"width_m": 0.7})
    case = build_case(wide)
    planned = plan_moves(wide, case)[0]
    lifting, _ = turn_statics(planned, case, wide)
    assert wide.bed.width_m / 2 < float(lifting.travel_m[-1])  # the patient comes to where the hands were
    assert np.all(lifting.pull_moment_arm_m > 0.0)
    assert np.all(np.isfinite(lifting.force_n))
    assert float(np.max(lifting.force_n)) < 210.0 * G


def test_each_move_of_a_turn_over_begins_where_the_last_one_ended():
    for mass_kg in (60.0, 82.0, 110.0, 150.0):
        for aid in ("cotton draw sheet", "two-layer turning pad"):
            for procedure in ("prone turn", "return to supine"):
                scenario = scenario_of(procedure, mass_kg, aid=aid)
                case = build_case(scenario)
                receiving = next(m for m in plan_moves(scenario, case) if m.kind == procedure).towards
                place = 0.0  # towards the receiving side, from the middle of the bed
                for move in plan_moves(scenario, case):
                    sign = 1.0 if move.towards == receiving else -1.0
                    before_roll = 0.0
                    if move.from_rad > 0:  # a turn's own place is counted from where it lay on the back
                        before_roll = float(roll_travel(case.body.outline, [move.from_rad])[0])
                    assert move.offset_m == pytest.approx(sign * place - before_roll), (mass_kg, aid, move.name)
                    if move.is_turn and move.kind != "micro-turn":
                        place += sign * float(np.diff(roll_travel(case.body.outline, [move.from_rad, move.to_rad]))[0])
                    elif not move.is_turn:
                        place += sign * move.distance_m
                assert place == pytest.approx(0.0, abs=1e-9)  # centred at the end


def pull_of(scenario: Scenario) -> float:
    return max(alone(task, "pulls the sheet") for task in tasks_of(scenario))


def test_head_down_tilt_helps_a_boost_by_the_weights_part_along_the_bed_and_head_up_hinders_it():
    down, flat, up = (pull_of(scenario_of("boost", bed={"tilt_deg": t})) for t in (-10.0, 0.0, 10.0))
    assert down < flat < up
    # Free body along the bed: the two tilts differ by twice the weight's part along it, over the pull's moment arm.
    dragged = float(np.sum(build_case(scenario_of("boost")).body.mass_kg))
    by_weight = 2 * dragged * G * np.sin(np.radians(10.0))
    # 1.3 is the breakaway ratio, which decides at this friction; cos + mu sin lies between 1.07 and 1.1
    assert 1.3 * by_weight / 1.12 < up - down < 1.3 * by_weight / 1.05


def layered(*friction: float) -> Scenario:
    stack = [
        {"upper": f"l{i}", "lower": f"l{i + 1}", "mu_low": m, "mu": m, "mu_high": m} for i, m in enumerate(friction)
    ]
    regions = ["head", "trunk", "arms", "thighs", "shanks", "feet"]
    aid = {"name": "stack", "interfaces": stack, "covers": regions}
    return scenario_of("slide to the side", aid="stack", own_aids=[aid])


def test_a_stack_slips_at_its_weakest_interface_wherever_that_lies():
    weakest = pull_of(layered(0.2))
    for stack in ((0.2, 0.6), (0.6, 0.2), (0.9, 0.2, 0.6), (0.6, 0.9, 0.2)):
        assert pull_of(layered(*stack)) == pytest.approx(weakest)
    assert pull_of(layered(0.6, 0.6)) > weakest


def test_in_a_counter_slide_the_other_side_holds_what_the_lower_layer_would_drag_along():
    stack = [
        {"upper": "pad", "lower": "under-pad", "mu_low": 0.3, "mu": 0.3, "mu_high": 0.3},
        {"upper": "under-pad", "lower": "linen", "mu_low": 0.2, "mu": 0.2, "mu_high": 0.2},
    ]
    regions = ["head", "trunk", "arms", "thighs", "shanks", "feet"]
    for order, expected in ((stack, 0.1), (stack[::-1], 0.0)):
        aid = {"name": "stack", "interfaces": order, "covers": regions}
        moves = [{"kind": "counter-slide", "towards": "left"}]
        scenario = scenario_of("own sequence", aid="stack", own_aids=[aid], moves=moves)
        case = build_case(scenario)
        tasks = tasks_of(scenario)
        sides = {a.name: task.side_of(a) for task in tasks for a in task.instants.actions}
        dragged = float(np.sum(case.body.mass_kg))
        held = max(alone(task, "holds the under-sheet") for task in tasks)
        assert held == pytest.approx(expected * dragged * G, abs=1e-9)
        assert sides.get("holds the under-sheet", "right") == "right"
        assert sides["pulls the sheet"] == "left"


def head_holds(scenario: Scenario) -> list[TeamTask]:
    tasks = tasks_of(scenario)
    return [task for task in tasks if task.instants.actions[0].name == "holds the head"]


def test_a_head_rests_and_moves_with_the_body_unless_it_is_carried_and_then_it_is_held_and_not_dragged():
    carrying = {"head_carried": True}
    dragged, carried = scenario_of("slide to the side"), scenario_of("slide to the side", handling=carrying)
    assert pull_of(carried) < pull_of(dragged)
    assert head_holds(scenario_of("side-lying turn")) == []
    held = head_holds(scenario_of("side-lying turn", handling=carrying))
    assert [t.group for t in held] == ["airway"]
    # winter_2009, Table 4.1: head and neck 0.081 of body mass; at 82 kg and 1.76 m the body is above a BMI of 25
    assert float(held[0].held_kg) == pytest.approx(0.081 * 25.0 * 1.76**2)


@pytest.mark.parametrize("move", ["side-lying turn", "head hold"])
def test_a_head_is_carried_in_one_hand_where_the_other_holds_the_tube(move):
    def hands(intubated: bool, **team: bool) -> list[int]:
        stated = {
            "name": "x", "procedure": "own sequence", "moves": [{"kind": move}], "handling": {"head_carried": True},
            "patient": {"sex": "M", "mass_kg": 82.0, "stature_m": 1.76, "intubated": intubated},
            "team": {"airway_lead": True} | team,
        }  # fmt: skip
        return [e.hands for e in head_holds(parse_scenario(stated))]

    assert (hands(True), hands(True, separate_tube_holder=True), hands(False)) == ([1], [2], [2])


def test_a_head_that_nobody_is_there_to_carry_is_an_input_fault_and_its_mass_never_vanishes():
    with pytest.raises(InputError, match=r"handling\.head_carried"):
        scenario_of("boost", handling={"head_carried": True}, team={"airway_lead": False})
    carried = scenario_of("boost", handling={"head_carried": True})
    unchecked = carried.model_copy(update={"team": carried.team.model_copy(update={"airway_lead": False})})
    assert pull_of(unchecked) == pull_of(scenario_of("boost")) > pull_of(carried)


@pytest.mark.parametrize(
    ("procedure", "equipment", "receiving"),
    [
        ("prone turn", "left", "left"),
        ("prone turn", "right", "right"),
        ("return to supine", "left", "right"),
        ("side-lying turn", "right", "right"),
        ("lateral transfer", "right", "left"),
        ("slide to the side", "left", "right"),
    ],
)
def test_the_direction_follows_from_the_side_of_the_fixed_equipment_and_is_said(procedure, equipment, receiving):
    direction = direction_of(scenario_of(procedure, bed={"equipment_side": equipment}))
    assert direction.receiving == receiving
    assert f"stands on the {equipment}" in direction.reason
    assert f"The {receiving} side receives" in direction.reason


def test_a_prone_turn_slides_away_from_the_receiving_side_and_turns_towards_it():
    scenario = scenario_of("prone turn", bed={"equipment_side": "right"})
    towards = [(m.kind, m.towards, m.pull_side) for m in plan_moves(scenario, build_case(scenario))]
    assert towards[0] == ("slide to the side", "left", "left")
    assert ("side-lying turn", "right", "right") in towards
    assert ("prone turn", "right", "right") in towards
    assert towards[-1] == ("centring", "left", "left")


def test_the_layers_of_a_pad_go_in_and_through_by_small_rolls_and_come_out_the_same_way():
    scenario = scenario_of("prone turn", aid="two-layer turning pad")
    planned = plan_moves(scenario, build_case(scenario))
    rolls = [(m.towards, m.name.partition(": ")[2]) for m in planned if m.kind == "micro-turn"]
    assert rolls == [
        ("left", "layer in"),
        ("right", "layer through"),
        ("right", "layer out"),
        ("left", "layer through"),
        ("right", "layer out"),
    ]
    assert [m.name for m in planned if m.kind == "counter-slide"] == [
        "Draw the upper layer back to the right, lower layer held"
    ]
    back = scenario_of("return to supine", aid="two-layer turning pad", bed={"equipment_side": "left"})
    there = scenario_of("prone turn", aid="two-layer turning pad", bed={"equipment_side": "left"})
    swap = {"left": "right", "right": "left"}
    forth = [m.towards for m in plan_moves(there, build_case(there))]
    assert [swap[m.towards] for m in plan_moves(back, build_case(back))] == forth


@pytest.mark.parametrize("width", [0.6, 0.8, 0.9, 1.1, 1.4])
@pytest.mark.parametrize("mass_kg", [60.0, 90.0, 160.0])
def test_after_the_slides_and_the_roll_the_patient_lies_within_the_margins_and_no_slide_is_wasted(width, mass_kg):
    body = build_body("M", mass_kg, 1.76)
    half, margin = float(body.half_breadth), 0.05
    room = bed_clearance(body.outline, half, width, margin)
    travel = float(roll_travel(body.outline, [np.pi])[0])
    edge = width / 2 - half - margin
    slide, counter = float(room.slide_m), float(room.counter_slide_m)
    end = travel - slide - counter
    assert end == pytest.approx(float(room.final_m))
    if edge < 0:
        assert not bool(room.fits)
        return
    assert slide <= edge + 1e-12  # before the turn the patient still lies within the margin
    assert end <= edge + 1e-12
    if slide + counter > 0:
        assert end == pytest.approx(edge)  # no farther than needed
    assert counter == pytest.approx(max(0.0, -float(room.room_m))) or slide == 0.0


def test_an_overhang_is_the_cases_own_or_the_aids_own_or_the_usual_one_of_the_class():
    layer = {"upper": "sheet", "lower": "linen", "mu_low": 0.2, "mu": 0.2, "mu_high": 0.2}
    own = {"aid": "wide", "own_aids": [{"name": "wide", "interfaces": [layer], "overhang_m": 0.6}]}
    plain = {"aid": "wide", "own_aids": [{"name": "wide", "interfaces": [layer]}]}
    found = [
        build_case(scenario_of("boost", **part)).overhang_m
        for part in ({"aid": "air-assisted mattress"}, own, plain, own | {"handling": {"overhang_m": 0.1}})
    ]
    usual = find_aid("air-assisted mattress").overhang_m
    assert found == [usual[1], 0.6, assumption("transfer_grip_gap").typical, 0.1]
    for aid in registry().values():
        assert aid.overhang_m == tuple(sorted(aid.overhang_m))
        assert 0.0 <= aid.overhang_m[0] < aid.overhang_m[2] <= 0.8
    for bad in (-0.1, 0.9):
        with pytest.raises(InputError, match="overhang_m"):
            scenario_of("boost", handling={"overhang_m": bad})


def test_patients_who_are_found_together_lie_as_each_does_alone():
    patients = [
        {"sex": sex, "mass_kg": 48.3 + 31.0 * k, "stature_m": 1.51 + 0.1 * k, "hip_breadth_m": 0.41 if k == 1 else None}
        for k, sex in enumerate("FMF")
    ]
    beds = [{"immersion_m": 0.031}, {"mattress": "alternating air"}, {"immersion_m": 0.0}]
    cases = [
        parse_scenario({"name": "x", "procedure": "boost", "patient": patient, "bed": bed})
        for patient, bed in zip(patients, beds, strict=True)
    ]
    find_lying(cases)
    for case, patient in zip(map(build_case, cases), patients, strict=True):
        own = {"hip": (patient["hip_breadth_m"], None)}
        alone = build_body(patient["sex"], patient["mass_kg"], patient["stature_m"], measured=own)
        for name in ("mass_kg", "position_m", "half_breadth", "stature_m"):
            assert getattr(case.body, name) == pytest.approx(getattr(alone, name), rel=1e-12), name
        for name in ("a", "b", "n", "weight"):
            assert getattr(case.body.outline, name) == pytest.approx(getattr(alone.outline, name), rel=1e-12), name
        at = outline_support(alone.outline, case.mattress.pressed_m2, [0.0])
        mean = float((at.friction_depth_m - at.centre_height_m)[0])
        drag = float(hollow_drag(case.body.outline, case.mattress, 1.7))
        assert drag == pytest.approx(0.5 * float(case.mattress.loss) * mean / 1.7, rel=1e-9)


def test_what_is_remembered_is_found_once_and_forgotten_before_it_is_too_much():
    known, asked = {}, []

    def double(some):
        asked.append(some)
        return [2 * one for one in some]

    for keys in ([1, 2, 1], [2, 3], [1, 2, 3, 4], [1, 4]):
        assert remembered(known, zip(keys, keys, strict=True), double, 3) == [2 * key for key in keys]
    assert asked == [[1, 2], [3], [4], [1]]
    assert known == {1: 2, 4: 8}


def test_what_is_remembered_serves_several_readers_at_a_time_while_it_is_forgotten_again_and_again():
    known, wrong = {}, []

    def read(seed):
        for keys in np.random.default_rng(seed).integers(0, 40, (2000, 5)).tolist():
            found = remembered(known, zip(keys, keys, strict=True), lambda some: [3 * one for one in some], 12)
            wrong.extend(key for key, three in zip(keys, found, strict=True) if three != 3 * key)
        return "read"

    usual = sys.getswitchinterval()
    sys.setswitchinterval(1e-6)
    try:
        with ThreadPoolExecutor(4) as readers:
            assert list(readers.map(read, range(4))) == ["read"] * 4
    finally:
        sys.setswitchinterval(usual)
    assert wrong == []
    assert len(known) <= 12 + 4 * 5
