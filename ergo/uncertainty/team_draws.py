"""How hard a team must work in thousands of draws: what tasks ask and what people can manage, from tables.

A turn is solved over a grid of breadth, depth and hand height and interpolated. What one body can manage in an action
is solved at a few heights of the hands, with the stated and the best technique and at both ends of the back's moment
arm.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache, reduce
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ergo.assessment.capacity import Hands, capacities_by_back_arm, force_limit
from ergo.assessment.demand import Demand
from ergo.assessment.team import airway_lead, people_on_side
from ergo.assessment.team_share import hands_at
from ergo.handlers.person import Person
from ergo.handlers.staff import staff_types
from ergo.handlers.team_effort import BESIDE, best_price, short_of_rolling
from ergo.inputs.scenario import Scenario, Technique
from ergo.mechanics.case import Case, build_case, mattress_of
from ergo.mechanics.demand import TeamTask, held_in_stop, roll_force, task_of_turn, ways_of
from ergo.mechanics.friction import along_last_axis, slip_friction
from ergo.mechanics.mattress import rolled_support
from ergo.mechanics.procedure import PlannedMove
from ergo.uncertainty.distributions import UncertainInput
from ergo.units import G

__all__ = ["Singles", "TaskDraws", "TeamTables", "build_tables", "least_effort", "solve_tables", "task_draws"]

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
"""What is worked out in every draw: the rounding, one in ten million, is far below the error of the tables."""
Draws = Mapping[str, Floats]

_AXES = {"breadth_scale": 4, "depth_scale": 4, "immersion_m": 3, "hand_height_m": 3}
"""The axes of a turn's grid and how many nodes each has: the hands move the force less than the outline does."""
_BY_LAYER = ("pulls the sheet", "pays out", "holds the under-sheet")
"""Actions with the hands on a layer, whose height is drawn; the others take hold of the body."""
_TECHNIQUES: tuple[Technique | None, ...] = (None, "best")
"""The stated technique and the best, between which a draw lies."""


class _TurnGrid(NamedTuple):
    """A turn of 1 kg over the grid: rows are gravity's moment and what the mattress can keep of it, then worth, level
    and upward part of each action."""

    axes: tuple[Floats, ...]
    rows: Singles


class _ActionTable(NamedTuple):
    """What each body can manage in one action, shape (bodies, instants, nodes), and what no limit covers there.

    `covered` are the heights of hands on a layer between which every limit that decides says something [m]; beyond them
    what is covered nearest stands in the table, and the draw is counted apart.
    """

    force_n: Floats
    uncovered: NDArray[np.bool_]
    by_layer: bool
    covered: tuple[float, float] = (-np.inf, np.inf)


@dataclass(frozen=True)
class TeamTables:
    """All that the draws of a case are computed from; what has to be solved for it is, once, when it is first read.

    Attributes
    ----------
    bodies : those among whom people are drawn, or who are stated; the airway lead is the last
    """

    demand: Demand
    inputs: tuple[UncertainInput, ...]
    bodies: tuple[Person, ...]
    heights: Floats
    back_arms: Floats
    stated: bool
    """Whether the people are those of the scenario, who are not drawn."""
    solved: dict[Literal["turns", "actions", "usual"], Any] = field(default_factory=dict, compare=False, repr=False)

    @property
    def turns(self) -> Mapping[int, _TurnGrid]:
        """The grids of the tasks that turn the patient."""
        solve_tables([self])
        found: Mapping[int, _TurnGrid] = self.solved["turns"]
        return found

    @property
    def actions(self) -> Mapping[tuple[int, int], _ActionTable]:
        """What each body can manage, by task and action."""
        solve_tables([self])
        found: Mapping[tuple[int, int], _ActionTable] = self.solved["actions"]
        return found

    @property
    def usual(self) -> _Ways:
        """The ways of each move at typical values."""
        found: _Ways = self.solved.setdefault("usual", _Ways(self.demand, self.demand.case))
        return found


def build_tables(demand: Demand, inputs: tuple[UncertainInput, ...], also: tuple[Person, ...] = ()) -> TeamTables:
    """Return everything that the draws of a case are interpolated from.

    >>> from ergo.assessment import demand_of
    >>> from ergo.uncertainty.distributions import uncertain_inputs
    >>> from ergo.inputs import examples
    >>> boost = examples.boost()
    >>> tables = build_tables(demand_of(boost), uncertain_inputs(boost))
    >>> len(tables.bodies), tables.actions[(0, 0)].force_n.shape
    (9, (9, 1, 12))
    """
    own = [
        p.bare
        for side in ("left", "right")
        if any(m.side == side for m in demand.scenario.team.members)
        for p in people_on_side(demand.scenario, side, getattr(demand.scenario.team, side))
    ]
    if demand.scenario.team.members:
        own += [person.bare for person in also]
    people = (*(dict.fromkeys(own) or staff_types()), airway_lead(demand.scenario).bare)
    spread = {i.name: i for i in inputs}
    hand, arm = spread["hand_height_m"], spread["back_arm_m"]
    heights = np.array([hand.low, hand.typical, hand.high])
    arms = np.array([arm.low, arm.high]) if arm.high > arm.low else np.array([arm.typical])
    return TeamTables(demand, inputs, people, heights, arms, bool(own))


class _Asked(NamedTuple):
    """Hands whose capacity stands in a table: its task and action, and the body, instant and nodes in it."""

    key: tuple[int, int]
    at: tuple[int, int, slice]
    hands: Hands


def solve_tables(every: Sequence[TeamTables]) -> None:
    """Solve the tables of several cases that are not solved yet, what hands can manage in one search for all of them.

    >>> from ergo.assessment import demand_of
    >>> from ergo.uncertainty.distributions import uncertain_inputs
    >>> from ergo.inputs import examples
    >>> cases = [examples.boost(mass_kg) for mass_kg in (70.0, 90.0)]
    >>> two = [build_tables(demand_of(boost), uncertain_inputs(boost)) for boost in cases]
    >>> solve_tables(two)
    >>> [sorted(tables.solved) for tables in two]
    [['actions', 'turns', 'usual'], ['actions', 'turns', 'usual']]
    """
    new = [tables for tables in every if "actions" not in tables.solved]
    of_arms: dict[tuple[float, ...], list[TeamTables]] = {}
    for tables in new:
        of_arms.setdefault(tuple(tables.back_arms.tolist()), []).append(tables)
    for arms, alike in of_arms.items():
        _solve_alike(alike, arms)


def _solve_alike(every: Sequence[TeamTables], arms: tuple[float, ...]) -> None:
    asked: list[list[_Asked]] = []
    for tables in every:
        tables.solved["turns"], tables.solved["actions"], hands = _unsolved(tables)
        asked.append(hands)
    whole = [(tables, one) for tables, some in zip(every, asked, strict=True) for one in some]
    stated = capacities_by_back_arm([(tables.demand.scenario, one.hands) for tables, one in whole], arms)
    # the best technique changes nothing where a limit on the force itself decides
    bent = [i for i, found in enumerate(stated) if any(one.by_posture or not one.force_n for one in found)]
    better = capacities_by_back_arm(
        [(whole[i][0].demand.scenario, whole[i][1].hands._replace(technique="best")) for i in bent], arms
    )
    best = dict(zip(bent, better, strict=True))
    for i, (tables, (key, (b, j, nodes), _)) in enumerate(whole):
        beside = slice(nodes.stop, nodes.stop + len(arms))
        for at, found in ((nodes, stated[i]), (beside, best.get(i, stated[i]))):
            tables.solved["actions"][key].force_n[b, j, at] = [one.force_n for one in found]
            tables.solved["actions"][key].uncovered[b, j, at] = [one.uncovered for one in found]
    for tables, some in zip(every, asked, strict=True):
        actions, scenario = tables.solved["actions"], tables.demand.scenario
        for key, table in actions.items():
            if table.by_layer and table.uncovered.any():
                first = next(one.hands for one in some if one.key == key)
                actions[key] = _with_covered(table, scenario, first, tables.bodies, tables.heights)


def _unsolved(
    of: TeamTables,
) -> tuple[dict[int, _TurnGrid], dict[tuple[int, int], _ActionTable], list[_Asked]]:
    """The grids of a case, its tables before what hands can manage is known, and the hands that stand in them."""
    demand, people, heights = of.demand, of.bodies, of.heights
    places, arms, inputs = demand.places, of.back_arms, of.inputs
    higher = _Ways(demand, replace(demand.case, hand_height_m=heights))
    grids: dict[int, _TurnGrid] = {}
    tables: dict[tuple[int, int], _ActionTable] = {}
    asked: list[_Asked] = []
    for n, task in enumerate(demand.tasks):
        move = demand.moves[places[n][0]][0]
        if task.group == "sides" and move.is_turn:
            angles = tuple(task.instants.angle.tolist())
            grids[n] = _turn_grid(_plain(move), _bare(demand.scenario), inputs, angles, task.hold_s > 0)
        at_heights = _at_heights(demand, n, of.usual, higher) if task.group == "sides" else [task]
        who = [len(people) - 1] if task.group == "airway" else list(range(len(people) - 1))
        for k, action in enumerate(task.instants.actions):
            by_layer = action.name in _BY_LAYER and task.group == "sides"
            tasks = at_heights if by_layer else [task]
            shape = len(people), len(task.instants.angle), len(tasks) * len(_TECHNIQUES) * len(arms)
            tables[(n, k)] = _ActionTable(np.zeros(shape), np.zeros(shape, dtype=bool), by_layer)
            for j in range(len(task.instants.angle)):
                if not _has_part(task, k, j):
                    continue
                for h, of_height in enumerate(tasks):
                    hands = hands_at(of_height, people[0], k, j)
                    first = h * len(_TECHNIQUES) * len(arms)
                    for b in who:
                        at = b, j, slice(first, first + len(arms))
                        asked.append(_Asked((n, k), at, hands._replace(person=people[b])))
    return grids, tables, asked


_NOWHERE = np.inf, -np.inf
_SOUGHT = 20  # halvings of the height at which a limit begins to say nothing


def _with_covered(
    table: _ActionTable, scenario: Scenario, hands: Hands, people: Sequence[Person], heights: Floats
) -> _ActionTable:
    """A table whose heights without a limit take what the nearest one with a limit has."""
    sexes = list({p.sex: p for p in people}.values())

    def covers(height: float) -> bool:
        there = [hands._replace(person=p, hand_height_m=height) for p in sexes]
        return not any(force_limit(scenario, one)[1] for one in there)

    inside = [h for h, height in enumerate(heights) if covers(float(height))]
    if not inside:
        return table._replace(covered=_NOWHERE)

    def edge(last: float, beyond: float) -> float:
        for _ in range(_SOUGHT):
            middle = 0.5 * (last + beyond)
            last, beyond = (middle, beyond) if covers(middle) else (last, middle)
        return last

    low, high = inside[0], inside[-1]
    ends = (
        edge(heights[low], heights[low - 1]) if low else -np.inf,
        edge(heights[high], heights[high + 1]) if high < len(heights) - 1 else np.inf,
    )
    by_height = table.force_n.reshape(*table.force_n.shape[:2], len(heights), -1)
    filled = by_height[:, :, [min(max(h, low), high) for h in range(len(heights))]].reshape(table.force_n.shape)
    return table._replace(force_n=filled, uncovered=np.zeros_like(table.uncovered), covered=ends)


def _has_part(task: TeamTask, k: int, j: int) -> bool:
    """Whether an action can have a part at an instant in some draw: gravity may come to drive a little earlier."""
    action = task.instants.actions[k]
    if action.while_gravity == "both":
        return True
    drives = bool(np.broadcast_to(task.instants.driving, task.instants.resistance.shape)[..., j].any())
    return drives == (action.while_gravity == "drives")


def _plain(move: PlannedMove) -> PlannedMove:
    return replace(move, name="", reason="")


def _bare(scenario: Scenario) -> Scenario:
    """The scenario without what no turn depends on, so that tables are remembered."""
    return Scenario(
        name="turn", procedure=scenario.procedure, patient=scenario.patient, bed=scenario.bed,
        handling=scenario.handling, aid=scenario.aid, own_aids=scenario.own_aids, moves=scenario.moves,
        team=scenario.team.model_copy(update={"left": 2, "right": 2, "members": ()}),
    )  # fmt: skip


class _Ways:
    """The ways of each move for one case, found once for all of its tasks."""

    def __init__(self, demand: Demand, case: Case) -> None:
        self.case = case
        self._demand = demand
        self._known: dict[int, tuple[tuple[TeamTask, ...], ...]] = {}

    def of(self, move: int) -> tuple[tuple[TeamTask, ...], ...]:
        """Return the tasks of each way of a move."""
        if move not in self._known:
            self._known[move] = ways_of(self._demand.moves[move][0], self.case, self._demand.scenario)
        return self._known[move]


def _at_heights(demand: Demand, number: int, usual: _Ways, higher: _Ways) -> list[TeamTask]:
    """A task with the hands that hold a layer at each of some other heights."""
    task, place = demand.tasks[number], demand.places[number]
    move = demand.moves[place[0]][0]
    if move.is_turn:
        held = task.hold_s > 0
        of_all = task_of_turn(move, higher.case, demand.scenario, task.instants.angle, held, every_angle=True)
    else:
        of_all = _same_part(place, usual, higher)
    shape = len(higher.case.hand_height_m), len(task.instants.angle)
    every = [tuple(a.picked(h, shape) for a in of_all.instants.actions) for h in range(shape[0])]
    return [replace(of_all, instants=replace(of_all.instants, actions=actions)) for actions in every]


def _same_part(place: tuple[int, int, int], of_usual: _Ways, of_there: _Ways) -> TeamTask:
    """The part of a way that stands at a place, for another case, in which something may have to be held back."""
    m, w, k = place
    usual, there = of_usual.of(m)[w], of_there.of(m)[w]
    if len(usual) == len(there):
        return there[k]
    alike = [task for task in there if _does(task) == _does(usual[k])]
    nth = sum(_does(task) == _does(usual[k]) for task in usual[:k])
    if nth < len(alike):
        return alike[nth]
    nothing = replace(usual[k].instants, resistance=0.0 * usual[k].instants.resistance)
    return replace(usual[k], instants=nothing)


def _does(task: TeamTask) -> tuple[str, ...]:
    return tuple(action.name for action in task.instants.actions)


@lru_cache(maxsize=64)
def _turn_grid(
    move: PlannedMove, scenario: Scenario, inputs: tuple[UncertainInput, ...], angles: tuple[float, ...], held: bool
) -> _TurnGrid:
    axes, case = _grid_case(scenario, tuple(i for i in inputs if i.name in _AXES))
    mass = 1.0 / scenario.patient.mass_kg
    still = case.mattress.at_rest()
    of_one = replace(case, turned_fraction=np.asarray(mass), mu=np.zeros_like(case.mu), mattress=still)
    task = task_of_turn(move, of_one, scenario, np.array(angles), held, every_angle=True)
    shape = (len(axes[3]), len(axes[0]), len(axes[1]), len(axes[2]), len(angles))
    rows = [task.instants.resistance, G * rolled_support(case.body.outline, still, np.array(angles)).loss_arm_m]
    for action in task.instants.actions:
        along = action.pull if action.side == "receiving" else -action.pull
        rows += [action.gain, along, action.lift]
    laid = np.stack([np.moveaxis(np.broadcast_to(row, shape), 0, 3) for row in rows])
    by_row = np.moveaxis(laid, -1, 1).reshape(len(rows) * len(angles), -1)
    return _TurnGrid(axes, by_row.astype(np.float32))


@lru_cache(maxsize=16)
def _grid_case(scenario: Scenario, inputs: tuple[UncertainInput, ...]) -> tuple[tuple[Floats, ...], Case]:
    """The axes, and the patient at every node; all turns of a procedure share them."""
    spread = {i.name: i for i in inputs}
    stated, axes = {"immersion_m": scenario.bed.immersion_m or 0.0}, []
    for name, nodes in _AXES.items():
        if name in spread and spread[name].high > spread[name].low:
            lowest, highest = (float(spread[name].at(u)) for u in (0.0005, 0.9995))
            # Chebyshev's nodes keep the polynomial honest at the ends
            axes.append(
                (lowest + highest) / 2 + (highest - lowest) / 2 * np.cos(np.pi * (np.arange(nodes) + 0.5) / nodes)
            )
        else:  # measured on the patient: nothing to interpolate
            axes.append(np.array([spread[name].typical if name in spread else stated.get(name, 1.0)]))
    breadth, depth, immersion = np.meshgrid(*axes[:3], indexing="ij")
    # The hands stand on an axis of their own, the first: the outline does not know of them.
    grid = {"breadth_scale": breadth, "depth_scale": depth, "hand_height_m": axes[3][:, None, None, None]}
    return tuple(axes), build_case(scenario, grid | {"immersion_m": immersion})


def _along(axis: Floats, x: Floats) -> Singles:
    """Weights of the polynomial through the nodes of an axis, shape (nodes, draws)."""
    found = []
    for i, node in enumerate(axis):
        others = np.delete(axis, i)
        found.append(np.prod((x[None, :] - others[:, None]) / (node - others)[:, None], axis=0))
    return np.stack(found).astype(np.float32)


def _between(axis: Floats, x: Floats) -> Singles:
    """Weights of straight pieces between the nodes of an axis, shape (nodes, draws); the end value beyond."""
    if len(axis) == 1:
        return np.ones((1, len(x)), dtype=np.float32)
    spaced = np.clip(np.interp(x, axis, np.arange(len(axis))), 0.0, len(axis) - 1.0)
    apart = np.abs(spaced[None, :] - np.arange(len(axis))[:, None])
    return np.maximum(0.0, 1.0 - apart).astype(np.float32)


class TaskDraws(NamedTuple):
    """One task in every draw: arrays of shape (instants, draws), lists by action.

    `can` is what each body can manage, shape (bodies, instants, draws), and `acts` at which instants that is anything:
    elsewhere what the action is worth is left at nil. `uncovered` says whose hands are where a limit
    that decides says nothing, so that they can do nothing; `beyond` in which draws hands on the layer are.
    """

    task: TeamTask
    resistance: Singles
    margin: Singles | None
    gain: list[Singles]
    slip: list[Singles]
    unloading: list[Singles]
    can: list[Singles]
    acts: list[NDArray[np.bool_]]
    uncovered: list[NDArray[np.bool_] | None]
    beyond: list[NDArray[np.bool_] | None]
    push_most_n: Singles


def task_draws(tables: TeamTables, draws: Draws) -> list[TaskDraws]:
    """Return every task of a case in every draw.

    >>> from ergo.assessment import demand_of
    >>> from ergo.uncertainty.distributions import uncertain_inputs
    >>> from ergo.inputs import examples
    >>> boost = examples.boost()
    >>> inputs, demand = uncertain_inputs(boost), demand_of(boost)
    >>> typical = {spread.name: np.array([spread.typical]) for spread in inputs}
    >>> (one,) = task_draws(build_tables(demand, inputs), typical)
    >>> bool(np.isclose(one.resistance[0, 0], demand.tasks[0].instants.resistance[0]))
    True
    """
    demand = tables.demand
    there = _Ways(demand, _drawn_case(demand, draws, len(draws["breakaway"])))
    weights = _weights_of(tables, draws)
    return [_drawn(tables, n, there, draws, weights) for n in range(len(demand.tasks))]


class _Weights(NamedTuple):
    """How much of every node of a table goes into a draw, shape (nodes, draws): with hands on the body, with hands on a
    layer, and of a turn's grid."""

    body: Singles
    layer: Singles
    grid: Singles | None


def _weights_of(tables: TeamTables, draws: Draws) -> _Weights:
    how = _between(np.array([0.0, 1.0]), draws["posture"])
    body = _product(how, _between(tables.back_arms, draws["back_arm_m"]))
    layer = _product(_between(tables.heights, draws["hand_height_m"]), body)
    grid = next(iter(tables.turns.values()), None)  # all turns of a case have the same axes
    if grid is None:
        return _Weights(body, layer, None)
    ones = np.ones(body.shape[1])
    along = (_along(axis, draws.get(name, ones)) for axis, name in zip(grid.axes, _AXES, strict=True))
    return _Weights(body, layer, reduce(_product, along))


def _product(first: Singles, second: Singles) -> Singles:
    """Weights over two axes, the second running fastest."""
    return np.asarray((first[:, None] * second).reshape(-1, first.shape[1]))


def _drawn_case(demand: Demand, draws: Draws, size: int) -> Case:
    typical = demand.case
    broader = draws.get("breadth_scale", np.ones(size))
    return replace(
        typical,
        mattress=mattress_of(demand.scenario, draws),
        body=replace(typical.body, half_breadth=typical.body.half_breadth * broader),
        mu=along_last_axis(*(draws[f"mu_{i}"] for i in range(typical.mu.shape[-1]))),
        linen_mu=draws["linen_mu"],
        breakaway=draws["breakaway"],
        pull_rad=np.radians(draws["pull_deg"]),
        slide_time_s=draws["slide_time_s"],
    )


def _drawn(tables: TeamTables, number: int, there: _Ways, draws: Draws, weights: _Weights) -> TaskDraws:
    task, size = tables.demand.tasks[number], weights.body.shape[1]
    instants, actions = len(task.instants.angle), task.instants.actions
    idle = np.zeros((instants, size), dtype=np.float32)
    margin: Singles | None = None
    most: Singles = np.full(size, np.inf, dtype=np.float32)
    acts = [np.any(tables.actions[(number, k)].force_n, axis=(0, 2)) for k in range(len(actions))]
    if number in tables.turns:
        resistance, margin, (gain, slip, unloading) = _turned(tables, number, there.case, draws, weights, acts)
    elif task.group == "sides":
        same = _same_part(tables.demand.places[number], tables.usual, there)
        resistance = _laid(np.moveaxis(same.instants.resistance, -1, 0), idle.shape)
        gain = [_laid(np.moveaxis(a.gain, -1, 0), idle.shape) for a in same.instants.actions]
        slip = unloading = [idle] * len(actions)
        if np.isfinite(np.max(task.push_most_n)):
            most = _laid(same.push_most_n * _shape_factor(tables.demand.scenario, draws), (size,))
    else:
        resistance = _laid(task.instants.resistance[:, None], idle.shape)
        gain, slip, unloading = [idle + 1.0], [idle], [idle]
    can, uncovered, beyond = [], [], []
    for k, at in enumerate(acts):
        table = tables.actions[(number, k)]
        of_nodes = weights.layer if table.by_layer else weights.body
        # of one instant together, as it is read
        by_instant = np.moveaxis(table.force_n[:, at], 0, 1).astype(np.float32)
        can.append(np.moveaxis(_at_those(at, by_instant @ of_nodes), 0, 1))
        out = table.uncovered
        uncovered.append(
            (out.reshape(-1, out.shape[-1]) @ of_nodes > 0.5).reshape(*out.shape[:2], size) if out.any() else None
        )
        low, high = table.covered
        height = draws["hand_height_m"]
        beyond.append((height < low) | (height > high) if np.isfinite(low) or np.isfinite(high) else None)
    return TaskDraws(task, resistance, margin, gain, slip, unloading, can, acts, uncovered, beyond, most)


def _turned(
    tables: TeamTables, number: int, case: Case, draws: Draws, weights: _Weights, acts: Sequence[NDArray[np.bool_]]
) -> tuple[Singles, Singles, tuple[list[Singles], ...]]:
    """What resists a turn in every draw, what slip friction bears, and what each action is worth, slips and unloads."""
    demand, task = tables.demand, tables.demand.tasks[number]
    assert weights.grid is not None
    instants, size = len(task.instants.angle), weights.grid.shape[1]
    rows = tables.turns[number].rows.reshape(-1, instants, len(weights.grid))
    asked = [rows[:2], *(rows[2 + 3 * k : 5 + 3 * k, at] for k, at in enumerate(acts))]
    found = np.concatenate([part.reshape(-1, rows.shape[-1]) for part in asked]) @ weights.grid
    pull, loss = found[: 2 * instants].reshape(2, instants, size)
    mass = (demand.scenario.patient.mass_kg * draws["turned_fraction"]).astype(np.float32)
    mu = slip_friction(case.mu).astype(np.float32)
    margin = np.broadcast_to(mu * mass * G, (instants, size))
    still = task.hold_s > 0  # what foam keeps of the work is soon gone
    moment = (pull if still else pull + np.float32(case.mattress.loss) * loss) * mass
    if still and demand.moves[demand.places[number][0]][0].kind == "stop on the side":
        driving = np.broadcast_to((task.instants.angle > np.pi / 2.0)[:, None], moment.shape)
        resistance = held_in_stop(moment, driving, mass * G)
    else:
        resistance, driving = np.abs(moment), moment < 0.0
    of_actions: tuple[list[Singles], ...] = [], [], []
    first = 2 * instants
    for action, at in zip(task.instants.actions, acts, strict=True):
        worth, along, up = found[first : first + 3 * at.sum()].reshape(3, -1, size)
        first += 3 * at.sum()
        lifted = mu * up
        for rows_of, values in zip(of_actions, (np.maximum(worth, 0.0), along + lifted, lifted), strict=True):
            rows_of.append(_at_those(at, action.in_its_part(values, driving[at])))
    return resistance, margin, of_actions


def _at_those(at: NDArray[np.bool_], values: Singles) -> Singles:
    """Values of those instants, and nil at the others."""
    if at.all():
        return values
    every = np.zeros((len(at), *values.shape[1:]), dtype=values.dtype)
    every[at] = values
    return every


def _laid(values: Floats, shape: tuple[int, ...]) -> Singles:
    return np.broadcast_to(values.astype(np.float32), shape)


def _shape_factor(scenario: Scenario, draws: Draws) -> Floats:
    """How the push that rolls the patient grows with breadth and falls with depth, as powers of both."""
    powers = _shape_powers(_bare(scenario))
    return np.asarray(np.prod([draws[n] ** power for n, power in powers.items() if n in draws], axis=0))


@lru_cache(maxsize=64)
def _shape_powers(scenario: Scenario) -> Mapping[str, float]:
    less, more = 0.94, 1.06
    both = np.array([less, more, 1.0, 1.0])
    drawn = build_case(scenario, {"breadth_scale": both, "depth_scale": both[::-1]})
    push = np.broadcast_to(roll_force(drawn, scenario), both.shape)  # one for all where every section was measured
    span = np.log(more / less)
    return {
        "breadth_scale": float(np.log(push[1] / push[0]) / span),
        "depth_scale": float(np.log(push[2] / push[3]) / span),
    }


class Worker(NamedTuple):
    """One person in every draw: which body, and how much of what they can manage they give beside the first."""

    body: NDArray[np.intp]
    gives: Singles


def least_effort(drawn: TaskDraws, sides: Mapping[str, Sequence[Worker]]) -> tuple[Singles, Singles, NDArray[np.bool_]]:
    """Return in every draw the least part of what they can that all must give, and the largest force in one pair of
    hands.

    And whether somebody's hands are where a limit that decides says nothing: so that they can do nothing, and on a
    layer as high as it is drawn.

    r = max over t of (R - t S) / Σ_i max_k c_ik (J_k - t g_k), t the price of slip at which it is largest.
    """
    shape = drawn.resistance.shape
    own = [
        drawn.task.side_of(action) if drawn.task.group != "airway" else "airway"
        for action in drawn.task.instants.actions
    ]
    people = [
        ([k for k, side in enumerate(own) if side == place], worker)
        for place, every in sides.items()
        for worker in every
    ]
    size = shape[-1]
    there = [(ks, worker.body * size + np.arange(size), worker.gives) for ks, worker in people if ks]
    out = np.zeros((2, size), dtype=bool)
    for ks, worker in people:
        for k in ks:
            flags, beyond = drawn.uncovered[k], drawn.beyond[k]
            if flags is not None:
                out[0] |= np.any(_picked(flags, worker.body), axis=0)
            if beyond is not None:
                out[1] |= beyond
    worst, most = (np.zeros(size, dtype=np.float32) for _ in range(2))
    # instant after instant, so that what is worked on stays in the cache
    for j in range(shape[0]):
        ratio, force = _at_instant(drawn, j, there)
        np.maximum(worst, ratio, out=worst)
        np.maximum(most, force, out=most)
    return worst, most, out


There = Sequence[tuple[list[int], NDArray[np.intp], Singles]]
"""Of everybody their actions, where what their body can do stands in each draw, and how much of it they give."""
Each = Sequence[list[tuple[int, Singles, Singles]]]
"""What everybody can do, action by action, and the most of one pair of hands: the same but where people whose only
action it is are taken together."""


def _at_instant(drawn: TaskDraws, j: int, there: There) -> tuple[Singles, Singles]:
    """The least effort at one instant, and the largest force in one pair of hands."""
    actions = drawn.task.instants.actions
    gain, along, up = ([rows[j] for rows in of] for of in (drawn.gain, drawn.slip, drawn.unloading))
    ways = [along]
    if drawn.margin is not None and any(a.while_gravity == "drives" for a in actions):
        ways.append([2.0 * lifted - pulled for pulled, lifted in zip(along, up, strict=True)])
    each: list[list[tuple[int, Singles, Singles]]] = []
    alone: dict[int, list[Singles]] = {}
    for ks, at, gives in there:
        can = [(k, drawn.can[k][:, j].reshape(-1).take(at) * gives) for k in ks if drawn.acts[k][j]]
        if len(can) == 1:
            alone.setdefault(can[0][0], []).append(can[0][1])
        elif can:
            each.append([(k, c, c) for k, c in can])
    each += [[(k, np.sum(every, axis=0), np.max(every, axis=0))] for k, every in alone.items()]
    if drawn.margin is None:
        return _slide_effort(drawn, j, each)
    worst, force = _one_way(drawn.resistance[j], drawn.margin[j], gain, ways[0], each)
    for slip in ways[1:]:
        ratio, most = _one_way(drawn.resistance[j], drawn.margin[j], gain, slip, each)
        force = np.where(ratio > worst, most, force)
        worst = np.maximum(worst, ratio)
    return worst, force


def _picked(values: NDArray[Any], body: NDArray[np.intp]) -> NDArray[Any]:
    return values[body, :, np.arange(len(body))].T


def _slide_effort(drawn: TaskDraws, j: int, each: Each) -> tuple[Singles, Singles]:
    """A slide, where nothing must not slip: R / Σ J c; the other side pushes no more than slides the patient."""
    names = [a.name for a in drawn.task.instants.actions]
    resistance = drawn.resistance[j]
    pulls, pushes, most = (np.zeros_like(resistance) for _ in range(3))
    for can in each:
        for k, c, hands in can:
            if names[k] == "pushes":
                pushes += drawn.gain[k][j] * c
            else:
                pulls += drawn.gain[k][j] * c
            np.maximum(most, hands, out=most)
    with np.errstate(divide="ignore", invalid="ignore"):
        together = np.where(resistance > 0.0, resistance / (pulls + pushes), 0.0)
        ratio = short_of_rolling(together, resistance, pulls, pushes, drawn.push_most_n)
        force = np.where(np.isfinite(ratio), ratio * most, np.inf)
    return ratio, force


def _one_way(
    resistance: Singles, margin: Singles, gain: Sequence[Singles], slip: Sequence[Singles], each: Each
) -> tuple[Singles, Singles]:
    """The least effort with slip in one direction, and the largest force in one pair of hands."""
    worth, slips, most = _together(gain, slip, each)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(resistance > 0.0, resistance / worth, 0.0)
        force = np.where(np.isfinite(ratio), ratio * most, np.inf)
    # as long as what they do slips, a price of slip is worse for the team; infinite needs are looked at too
    tight = (resistance > 0.0) & (worth * 0.0 == 0.0) & (resistance * slips > margin * worth) & (worth > 0.0)
    at = np.flatnonzero(tight)
    if at.size:
        some = [[(k, c[at], hands[at]) for k, c, hands in can] for can in each]
        fewer, slips_so = [g[at] for g in gain], [s[at] for s in slip]
        a, q = (_stacked(of, some) for of in (fewer, slips_so))
        ratio[at], price = best_price(resistance[at].astype(float), margin[at].astype(float), a, q)
        just_below = (price * (1.0 - BESIDE)).astype(np.float32)  # who stops at the price still has a part in it
        value = [g - just_below * s for g, s in zip(fewer, slips_so, strict=True)]
        with np.errstate(invalid="ignore"):
            force[at] = np.where(np.isfinite(ratio[at]), ratio[at] * _together(value, slips_so, some)[2], np.inf)
    return ratio, force


def _stacked(of: Sequence[Singles], each: Each) -> Floats:
    """What one action is worth, or slips, at everybody's capacity, shape (draws, people, actions of one person)."""
    done = np.zeros((len(each), max(map(len, each)), len(of[0])))
    for i, can in enumerate(each):
        for j, (k, c, _) in enumerate(can):
            done[i, j] = of[k] * c
    return np.moveaxis(done, -1, 0)


def _together(value: Sequence[Singles], slip: Sequence[Singles], each: Each) -> tuple[Singles, Singles, Singles]:
    """What all can do, everybody at capacity in the action worth most; how much it slips; the largest force."""
    worth, slips, most = (np.zeros_like(value[0]) for _ in range(3))
    for can in each:
        best = slid = largest = _NIL
        for k, c, hands in can:
            mine = value[k] * c
            better = mine > best
            best = np.where(better, mine, best)
            slid = np.where(better, slip[k] * c, slid)
            largest = np.where(better, hands, largest)
        worth += best
        slips += slid
        np.maximum(most, largest, out=most)
    return worth, slips, most


_NIL: Singles = np.zeros((), dtype=np.float32)
