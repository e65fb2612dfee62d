"""The statics of a turn by one side alone, out of the bare formulas: what the tasks of a move are held against."""

from __future__ import annotations

import numpy as np

from ergo.inputs.scenario import Scenario
from ergo.mechanics.case import Case
from ergo.mechanics.procedure import PlannedMove
from ergo.mechanics.rolling import Turn, brake, turn_by_hands, turn_by_sheet

LEAST_STEPS = 60  # of a turn, else one a degree


def turn_statics(move: PlannedMove, case: Case, scenario: Scenario) -> tuple[Turn, Turn]:
    """Return the pull of one side alone and its lowering at each roll angle of a turn."""
    mass = np.asarray(scenario.patient.mass_kg * case.turned_fraction)
    hand_x = np.asarray(scenario.bed.width_m / 2.0 - move.offset_m)
    steps = max(LEAST_STEPS, round(float(np.degrees(move.to_rad - move.from_rad))))
    angle = np.linspace(move.from_rad, move.to_rad, steps + 1)
    outline, mattress = case.body.outline, case.mattress
    if scenario.handling.turn_grip == "sheet":
        lifting = turn_by_sheet(outline, mass, angle, hand_x, case.hand_height_m, mattress)
    else:
        lifting = turn_by_hands(outline, mass, angle, hand_x, case.handler_shoulder_m, mattress)
    return lifting, brake(outline, mass, angle, mattress)
