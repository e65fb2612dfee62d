"""A turn solved over a grid of breadth, depth and hand height, and interpolated draw by draw."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ergo.inputs.scenario import Scenario
from ergo.mechanics.case import Case, build_case
from ergo.mechanics.demand import mean_while_acting, turn_statics
from ergo.mechanics.friction import slip_friction
from ergo.mechanics.procedure import PlannedMove
from ergo.mechanics.rolling import Turn, counter_hold
from ergo.uncertainty.distributions import UncertainInput
from ergo.units import G

__all__ = ["TurnTable", "turn_forces", "turn_table", "turn_weights"]

Floats = NDArray[np.float64]
Draws = Mapping[str, Floats]


@dataclass(frozen=True, slots=True)
class TurnTable:
    """Per unit of turning mass, over a grid of breadth, depth and hand height: peak, mean, end and brake of a turn."""

    axes: tuple[Floats, Floats, Floats]
    values: dict[str, Floats]
    elevation: Floats
    hold_mu: Floats
    hold_part: Floats


def turn_table(move: PlannedMove, scenario: Scenario, inputs: tuple[UncertainInput, ...]) -> TurnTable:
    """Solve a turn over its grid; remembered, because neither aid nor team changes it.

    >>> from ergo.mechanics.procedure import plan_moves
    >>> from ergo.uncertainty.distributions import uncertain_inputs
    >>> from ergo.inputs import examples
    >>> prone = examples.prone_turn(intubated=False)
    >>> move = next(move for move in plan_moves(prone, build_case(prone)) if move.is_turn)
    >>> table = turn_table(move, prone, uncertain_inputs(prone))
    >>> table.values["peak"].shape, table is turn_table(move, prone, uncertain_inputs(prone))
    ((4, 4, 3), True)
    """
    drawn = tuple(i for i in inputs if i.name in _TURN_INPUTS)
    plain = Scenario(
        name="turn", procedure="prone turn", patient=scenario.patient, bed=scenario.bed, handling=scenario.handling
    )
    unnamed = replace(move, name="", reason="", hold_s=0.0)
    return _solved_turn(unnamed, plain, drawn)


_TURN_INPUTS = {"breadth_scale": 4, "depth_scale": 4, "hand_height_m": 3}
"""The axes and how many nodes each has: the hands move the force less than the outline does."""
_VALUES = ("peak", "mean", "end", "brake", "brake end", "brake mean")


@lru_cache(maxsize=16)
def _grid_of(scenario: Scenario, inputs: tuple[UncertainInput, ...]) -> tuple[tuple[Floats, Floats, Floats], Case]:
    """The axes, and the patient at every node; all turns of a procedure share them."""
    spread = {i.name: i for i in inputs}
    axes = []
    for name, nodes in _TURN_INPUTS.items():
        if name in spread:
            lowest, highest = (float(spread[name].at(u)) for u in (0.0005, 0.9995))
            # Chebyshev's nodes keep the polynomial honest at the ends
            axes.append(
                (lowest + highest) / 2 + (highest - lowest) / 2 * np.cos(np.pi * (np.arange(nodes) + 0.5) / nodes)
            )
        else:  # measured on the patient: nothing to interpolate
            axes.append(np.ones(1))
    breadth, depth = np.meshgrid(axes[0], axes[1], indexing="ij")
    # The hands stand on an axis of their own, the first: the outline does not know of them.
    grid = {"breadth_scale": breadth, "depth_scale": depth, "hand_height_m": axes[2][:, None, None]}
    return (axes[0], axes[1], axes[2]), build_case(scenario, grid | {"turned_fraction": np.ones(())})


@lru_cache(maxsize=256)
def _solved_turn(move: PlannedMove, scenario: Scenario, inputs: tuple[UncertainInput, ...]) -> TurnTable:
    axes, case = _grid_of(scenario, inputs)
    lifting, lowering = turn_statics(move, case, scenario)
    at = np.argmax(lifting.force_n, axis=-1)[..., None]
    shape = tuple(len(axis) for axis in axes)
    weight = scenario.patient.mass_kg * G

    def laid(values: Floats) -> Floats:
        """Over breadth, depth and hand height."""
        return np.asarray(np.moveaxis(np.broadcast_to(values, (shape[2], *shape[:2])), 0, -1))

    values = {
        "peak": np.max(lifting.force_n, axis=-1),
        "mean": mean_while_acting(lifting.force_n),
        "end": lifting.force_n[..., -1],
        "brake": _smooth_brake(lowering, weight),
        "brake end": lowering.force_n[..., -1],
        "brake mean": mean_while_acting(lowering.force_n),
    }
    middle = (shape[2] - 1) // 2, *(int(np.argmin(np.abs(axis - 1.0))) for axis in axes[:2])
    mu = np.linspace(0.02, 0.6, 30)
    force, elevation = (
        np.broadcast_to(v, (shape[2], *shape[:2], v.shape[-1]))[middle] for v in (lifting.force_n, lifting.elevation)
    )
    hold = counter_hold(force, elevation, np.asarray(weight), mu[:, None])
    top = hold.max(axis=1)
    part = np.where(top > 0, hold.mean(axis=1) / np.where(top > 0, top, 1.0), 0.0)
    return TurnTable(
        axes,
        {name: laid(v) for name, v in values.items()},
        laid(np.take_along_axis(lifting.elevation, at, axis=-1)[..., 0]),
        mu,
        part,
    )


def _smooth_brake(lowering: Turn, weight: float) -> Floats:
    """The brake's peak, below zero where it is still to come: a polynomial follows that, but not a kink at zero."""
    p = lowering.gravity_moment_arm_m
    signed = np.where(p < 0, lowering.force_n, -weight * p / lowering.pull_moment_arm_m)
    past = np.arange(p.shape[-1]) >= np.argmax(p, axis=-1)[..., None]
    return np.asarray(np.max(signed, axis=-1, where=past | (p < 0), initial=-np.inf))


def turn_weights(grid: TurnTable, draws: Draws) -> Floats:
    """Return how much each point of the grid counts in each draw; all turns of a case share it.

    The product of the weights along the axes, each those of the polynomial through its nodes.

    >>> axes = np.array([0.9, 1.1]), np.ones(1), np.ones(1)
    >>> grid = TurnTable(axes, {}, np.ones((2, 1, 1)), np.ones(1), np.ones(1))
    >>> turn_weights(grid, {"breadth_scale": np.array([0.9, 1.0]), "breakaway": np.ones(2)}).round(9).tolist()
    [[1.0, 0.5], [0.0, 0.5]]
    """
    ones = np.ones(len(draws["breakaway"]))
    breadth, depth, hand = (
        _along(axis, draws.get(name, ones)) for axis, name in zip(grid.axes, _TURN_INPUTS, strict=True)
    )
    return np.asarray(breadth[:, None, None] * depth[:, None] * hand).reshape(-1, len(ones))


def _along(axis: Floats, x: Floats) -> Floats:
    """Weights of the polynomial through the nodes of an axis, shape (nodes, draws)."""
    found = []
    for i, node in enumerate(axis):
        others = np.delete(axis, i)
        found.append(np.prod((x[None, :] - others[:, None]) / (node - others)[:, None], axis=0))
    return np.stack(found)


def turn_forces(
    grid: TurnTable, move: PlannedMove, case: Case, draws: Draws, scenario: Scenario, weights: Floats
) -> dict[str, tuple[Floats, Floats]]:
    """Return peak and steady force of each role of a turn, interpolated for every draw.

    The counter-hold is that of the pull at its peak.

    >>> from ergo.mechanics.procedure import plan_moves
    >>> from ergo.uncertainty.distributions import uncertain_inputs
    >>> from ergo.inputs import examples
    >>> prone = examples.prone_turn(intubated=False)
    >>> case, inputs = build_case(prone), uncertain_inputs(prone)
    >>> move = next(move for move in plan_moves(prone, case) if move.is_turn)
    >>> table, draws = turn_table(move, prone, inputs), {spread.name: np.array([spread.typical]) for spread in inputs}
    >>> peak, _ = turn_forces(table, move, case, draws, prone, turn_weights(table, draws))["pull"]
    >>> exact = turn_statics(move, case, prone)[0].force_n.max()
    >>> bool(abs(peak[0] / exact - 1.0) < 0.005)  # within half a percent of the turn solved outright
    True
    """
    rows = np.stack([*(grid.values[name] for name in _VALUES), grid.elevation + np.pi])
    found = np.maximum(0.0, rows.reshape(len(rows), -1) @ weights)  # nothing of this is ever negative
    turned = draws["turned_fraction"]
    held = turned if move.hold_s > 0 else 0.0
    peak, mean, end, brake, brake_end, brake_mean = found[:-1]
    elevation = found[-1] - np.pi
    mu = slip_friction(case.mu)
    weight = scenario.patient.mass_kg * turned * G
    pull = peak * turned
    slip = counter_hold(pull, elevation, weight, mu)
    return {
        "pull": (pull, np.maximum(mean * turned, end * held)),
        "counter-hold": (slip, slip * np.interp(mu, grid.hold_mu, grid.hold_part)),
        "brake": (brake * turned, np.maximum(brake_mean * turned, brake_end * held)),
    }
