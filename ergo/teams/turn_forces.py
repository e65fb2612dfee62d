"""What each action of a team does over the angles of a turn, and what it would take from that action alone."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ergo.assessment import Demand
from ergo.assessment.team import at_the_head
from ergo.assessment.team_share import group, people_for, share_task
from ergo.inputs.scenario import Side
from ergo.mechanics.demand import critical_angles, task_of_turn
from ergo.mechanics.hand_actions import ActionName, force_alone
from ergo.mechanics.procedure import PlannedMove

__all__ = ["ActionForce", "TurnForces", "turn_forces"]

Floats = NDArray[np.float64]
_STEPS = 30  # beside the critical angles


@dataclass(frozen=True, slots=True)
class ActionForce:
    """One action over the angles of a turn; all arrays of shape (angles,).

    Attributes
    ----------
    name, side
    receiving : bool
        Whether the patient comes towards those who do it.
    force_n : ndarray [N]
        What all who do it give together.
    alone_n : ndarray [N]
        What it would take if nothing else were done; infinite where the action alone does nothing.
    x_m, y_m : ndarray [m]
        The hands: towards the receiving side from the middle of the bed, and above the mattress.
    elevation : ndarray [rad]
        Direction of the force above the way towards the receiving side.
    """

    name: ActionName
    side: Side
    receiving: bool
    force_n: Floats
    alone_n: Floats
    x_m: Floats
    y_m: Floats
    elevation: Floats


@dataclass(frozen=True, slots=True)
class TurnForces:
    """A turn with a team: roll angles [rad], and the part of what they can manage that all give, at each of them."""

    angle: Floats
    effort: Floats
    actions: tuple[ActionForce, ...]


def turn_forces(demand: Demand, move: PlannedMove, left: int, right: int) -> TurnForces:
    """Return what each action of a team does over a turn, in the way in which the move is made.

    >>> from ergo.assessment import demand_of
    >>> from ergo.inputs import examples
    >>> demand = demand_of(examples.prone_turn())
    >>> found = turn_forces(demand, demand.moves[1][0], 2, 2)
    >>> [(action.name, action.side) for action in found.actions][:2]
    [('pulls the sheet', 'left'), ('pushes', 'right')]
    >>> bool(found.effort.max() < 1.0)
    True
    """
    scenario, case = demand.scenario, demand.case
    evenly = np.linspace(move.from_rad, move.to_rad, _STEPS + 1)
    angle = np.unique(np.concatenate([evenly, critical_angles(move, case, scenario)]))
    task = task_of_turn(move, case, scenario, angle)
    people = people_for(task, group(scenario, left, right), at_the_head(scenario))
    share = share_task(replace(demand, tasks=(task,), capacities={}), 0, people)
    half = 0.5 * scenario.bed.width_m
    resistance = task.instants.resistance
    found = []
    for k, action in enumerate(task.instants.actions):
        gain, reach, height, pull, lift = (
            np.broadcast_to(v, resistance.shape)
            for v in (action.gain, action.reach_m, action.hand_height_m, action.pull, action.lift)
        )
        force, alone = np.sum(share.force_n[:, :, k], axis=1), force_alone(resistance, gain)
        if not np.any(np.isfinite(alone)) and not np.any(force > 0.0):
            continue
        way = 1.0 if action.side == "receiving" else -1.0
        found.append(
            ActionForce(
                name=action.name,
                side=task.side_of(action),
                receiving=action.side == "receiving",
                force_n=force,
                alone_n=alone,
                x_m=way * (half - reach),
                y_m=height,
                elevation=np.arctan2(lift, way * pull),
            )
        )
    return TurnForces(angle, share.ratio, tuple(found))
