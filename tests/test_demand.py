"""What a move asks of each side: nothing that gravity does is left out, and hands are where a patient is not."""

from __future__ import annotations

import numpy as np
import pytest

from ergo.mechanics.case import build_case
from ergo.mechanics.demand import demand, turn_statics
from ergo.mechanics.procedure import plan_moves
from ergo.mechanics.turn import roll_travel
from ergo.scenario import Scenario, parse_scenario
from ergo.units import G


def scenario_of(procedure: str, mass_kg: float = 82.0, **rest: object) -> Scenario:
    patient = {"sex": "M", "mass_kg": mass_kg, "stature_m": 1.76, "intubated": True}
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
        torque = G * mass_kg * lifting.gravity_lever_m
        assert np.allclose(lifting.force_n * lifting.pull_lever_m, np.maximum(torque, 0.0))
        assert np.allclose(lowering.force_n * lowering.pull_lever_m, np.maximum(-torque, 0.0))


def test_a_side_lying_turn_and_the_way_over_from_the_flat_side_both_ask_for_pull_and_brake():
    scenario = scenario_of("prone turn")
    case = build_case(scenario)
    turns = {m.kind: demand(m, case, scenario) for m in plan_moves(scenario, case) if m.is_turn}
    for kind in ("side-lying turn", "prone turn"):
        peaks = {e.role: float(e.start_n) for e in turns[kind]}
        assert peaks["pull"] > 10.0
        assert peaks["brake"] > 10.0


def test_a_hold_on_the_flat_side_is_a_brake_and_its_force_is_reported():
    move = {"kind": "side-lying turn", "angle_deg": 80.0, "hold_s": 30.0}
    scenario = scenario_of("own sequence", moves=[move])
    case = build_case(scenario)
    planned = plan_moves(scenario, case)[0]
    _, lowering = turn_statics(planned, case, scenario)
    brake = next(e for e in demand(planned, case, scenario) if e.role == "brake")
    assert lowering.force_n[-1] > 0.0
    assert float(brake.steady_n) >= float(lowering.force_n[-1])
    assert brake.seconds == 30.0


def test_the_braking_hands_reach_to_the_leading_edge_of_the_outline():
    scenario = scenario_of("prone turn")
    case = build_case(scenario)
    over = next(m for m in plan_moves(scenario, case) if m.kind == "prone turn")
    _, lowering = turn_statics(over, case, scenario)
    at = int(np.argmax(lowering.force_n))
    outline = case.body.outline
    # The mean outline's leading edge, straight from its support function a quarter turn ahead of straight down.
    leading = roll_travel(outline, lowering.angle)[at] + outline.height(lowering.angle[at] + np.pi / 2)
    brake = next(e for e in demand(over, case, scenario) if e.role == "brake")
    edge = scenario.bed.width_m / 2 - over.offset_m
    assert float(brake.reach_m) == pytest.approx(max(edge - float(leading), 0.0))


def test_hands_stay_ahead_of_a_patient_who_rolls_past_the_edge_where_they_stood():
    wide = scenario_of("own sequence", 210.0, moves=[{"kind": "side-lying turn"}], bed={"width_m": 0.7})
    case = build_case(wide)
    planned = plan_moves(wide, case)[0]
    lifting, _ = turn_statics(planned, case, wide)
    assert wide.bed.width_m / 2 < float(lifting.travel_m[-1])  # the patient comes to where the hands were
    assert np.all(lifting.pull_lever_m > 0.0)
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
