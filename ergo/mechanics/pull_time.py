"""What a jerk costs: the force that starts a slide against the time of the pull."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ergo.inputs.scenario import Scenario
from ergo.mechanics.case import build_case
from ergo.mechanics.demand import TeamTask, ways_of
from ergo.mechanics.procedure import PlannedMove, plan_moves

__all__ = ["PULL_TIMES", "StartForce", "start_force_by_time"]

Floats = NDArray[np.float64]

PULL_TIMES = (0.3, 0.5, 0.8, 1.0, 1.5, 2.0, 3.0, 5.0)
"""Times of one pull that are shown [s]: from a jerk to a slow pull."""


@dataclass(frozen=True, slots=True)
class StartForce:
    """The force of the whole team that starts one slide, by the time in which it is pulled.

    Attributes
    ----------
    move : PlannedMove
    time_s, start_n : ndarray, shape (times,) [s], [N]
    usual_s, usual_n : float [s], [N]
        Time and start force of the case itself.
    hurried_n : float [N]
        Start force in half that time.
    breakaway_n, steady_n : float [N]
        What it takes to break loose, and to keep moving, however slowly.
    unhurried_s : float [s]
        A pull that takes this long or longer needs no more than to break loose.
    sources : tuple of str
    """

    move: PlannedMove
    time_s: Floats
    start_n: Floats
    usual_s: float
    usual_n: float
    hurried_n: float
    breakaway_n: float
    steady_n: float
    unhurried_s: float
    sources: tuple[str, ...]


def start_force_by_time(scenario: Scenario, time_s: ArrayLike = PULL_TIMES) -> tuple[StartForce, ...]:
    """Return the start force of each slide of a scenario at these times of the pull; none where the slope does it all.

    start = max(k F, F + m · 10/√3 · d/T²), F the steady pull; the two are equal at T = √(m · 10/√3 · d / ((k - 1) F)).

    Source: as `sliding.slide_force`.

    >>> from ergo.inputs import examples
    >>> (boost,) = start_force_by_time(examples.boost(aid="doubled slide sheet"), [0.5, 1.0, 5.0])
    >>> boost.start_n.round().tolist(), round(boost.breakaway_n), round(boost.unhurried_s, 2)
    ([615.0, 252.0, 169.0], 169, 1.77)
    """
    case, times = build_case(scenario), np.asarray(time_s, dtype=float)
    found = []
    for move in plan_moves(scenario, case):
        if move.distance_m > 0:
            seconds = float(case.slide_time(move.distance_m))
            timed = replace(case, slide_time_s=np.append(times, seconds / 2.0), slide_time_stated=True)
            usual, by_time = (ways_of(move, one, scenario)[0][0] for one in (case, timed))
            start_n = np.broadcast_to(_pull_n(by_time), times.size + 1)
            steady, breakaway, push = (
                float(usual.terms[name]) for name in ("steady pull", "start by breakaway", "push for acceleration")
            )
            if steady <= 0.0:
                continue
            found.append(
                StartForce(
                    move=move,
                    time_s=times,
                    start_n=start_n[:-1],
                    usual_s=seconds,
                    usual_n=float(_pull_n(usual)),
                    hurried_n=float(start_n[-1]),
                    breakaway_n=breakaway,
                    steady_n=steady,
                    unhurried_s=seconds * float(np.sqrt(push / (breakaway - steady))),
                    sources=usual.sources,
                )
            )
    return tuple(found)


def _pull_n(task: TeamTask) -> Floats:
    """The force at the start if everybody pulled: what resists over what a newton of the pull is worth."""
    at = task.instants
    gain = next(action.gain for action in at.actions if action.name == "pulls the sheet")
    return np.asarray((at.resistance / gain)[..., 0])
