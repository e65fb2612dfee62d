"""A scenario made fast: tables and closed forms from which a hundred thousand draws are judged in a second.

Slides are closed forms already and are evaluated draw by draw. A turn is smooth in breadth, depth and hand height: it
is solved at four values of each and interpolated. What a force at the hands costs a person is tabulated with the
assessment's own loads and checks, so every limit and the posture come from the same code as a single answer.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ergo.assessment.asked import Demand
from ergo.assessment.check import LimitCheck, checks
from ergo.assessment.crew import Person, airway_lead, crew_of, roles_of
from ergo.assessment.load import PersonLoad, Row, loads_of, stand_in
from ergo.limits.registry import LIMITS
from ergo.mechanics.case import Case, build_case
from ergo.mechanics.demand import Effort, demand, turn_statics
from ergo.mechanics.layers import slip_friction
from ergo.mechanics.procedure import PlannedMove
from ergo.people.sharing import best_shares
from ergo.plan.inputs import UncertainInput
from ergo.scenario import Scenario, Side
from ergo.units import G

__all__ = ["Compiled", "compile_demand", "team_forces", "worst_ratio"]

Floats = NDArray[np.float64]
Draws = Mapping[str, Floats]

_SPINE = "spine_action"
_FORCES = 16  # nodes along the force at the hands; what follows from the posture is nearly straight between them
_NOT_HELD = 2.0  # ratio given to a force that no posture holds: twice over
_ROOM = 1.8  # the table reaches this far beyond the force at typical values; further out it goes on straight
_GRID = np.linspace(0.0, 1.0, _FORCES) ** 2  # dense at small forces, where a posture changes most
_LEAST_SPAN = 0.2  # and at least over this part of the patient's weight, where the typical force is small or nil


@dataclass(frozen=True, slots=True)
class _PersonTable:
    """What a force costs one person in one effort.

    `peak_per_n` and `steady_per_n` are the worst ratios per newton, at the lowest and highest hand, to the deciding
    limits that are proportional to the peak and to the steady force. `posture`, over `forces`, is the worst ratio to
    those that follow from the posture found, compression apart; `held` is 1 where a posture holds the force.
    Compression is split so that the back's lever and the technique can be drawn.
    """

    forces: Floats
    peak_per_n: tuple[float, float]
    steady_per_n: tuple[float, float]
    posture: Floats
    held: Floats
    compression: Floats
    muscle: Floats
    best_compression: Floats
    best_muscle: Floats
    spine_limit: float


@dataclass(frozen=True)
class Compiled:
    """A demand made fast. `tables` is keyed by move, effort and person."""

    asked: Demand
    inputs: tuple[UncertainInput, ...]
    turns: dict[int, _TurnTable]
    tables: dict[tuple[int, int, Person], _PersonTable]


@dataclass(frozen=True, slots=True)
class _TurnTable:
    """Per unit of turning mass, over a grid of breadth, depth and hand height: peak, mean, end and brake of a turn."""

    axes: tuple[Floats, Floats, Floats]
    values: dict[str, Floats]
    elevation: Floats
    hold_mu: Floats
    hold_part: Floats


def compile_demand(asked: Demand, inputs: tuple[UncertainInput, ...], most: int) -> Compiled:
    """Build the tables of a demand for crews of up to `most` people a side.

    Efforts that are nil at typical values are kept where a draw can make them real: a layer that just does not slip.
    """
    asked = replace(asked, moves=tuple((m, demand(m, asked.case, asked.scenario)) for m, _ in asked.moves))
    turns = {m: _turn_table(move, asked.scenario, inputs) for m, (move, _) in enumerate(asked.moves) if move.is_turn}
    sides: tuple[Side, ...] = ("left", "right")
    people: dict[str, list[Person]] = {
        side: [p for n in range(1, most + 1) for p in crew_of(asked.scenario, side, n)] for side in sides
    }
    people["airway"] = [airway_lead()]
    tables = _person_tables(asked, people, inputs)
    return Compiled(asked, inputs, turns, tables)


def _body_of(person: Person) -> Person:
    """Strip a person of the place: two people of the same body share a table."""
    return replace(person, label="", along_m=0.0)


def _person_tables(
    asked: Demand, people: dict[str, list[Person]], inputs: tuple[UncertainInput, ...]
) -> dict[tuple[int, int, Person], _PersonTable]:
    """Tabulate every person in every effort; all postures are found in one vectorised search."""
    keys: list[tuple[int, int, Person]] = []
    rows: list[Row] = []
    first_of: dict[tuple[object, ...], tuple[int, int]] = {}
    twins: dict[tuple[int, int], tuple[int, int]] = {}
    for m, (_, efforts) in enumerate(asked.moves):
        for e, effort in enumerate(efforts):
            first = first_of.setdefault(_signature(effort), (m, e))
            if first != (m, e):  # the same effort again, as when a pad is laid and later stored
                twins[(m, e)] = first
                continue
            sides = ("left", "right") if effort.side == "both" else (effort.side,)
            crew = dict.fromkeys(_body_of(p) for side in sides for p in people[side])
            top = max(float(effort.start_n) * _ROOM, _LEAST_SPAN * asked.scenario.patient.mass_kg * G)
            for person in crew:
                keys.append((m, e, person))
                rows += [(_at(effort, force), person, 1.0) for force in top * _GRID]
    stated = loads_of(asked.scenario, rows)
    softer = asked.scenario.handling.technique == "typical"
    best = loads_of(asked.scenario, rows, "best") if softer else stated
    hand = next(i for i in inputs if i.name == "hand_height_m")
    shifts = (hand.low - hand.typical, hand.high - hand.typical)
    found = {}
    for k, key in enumerate(keys):
        span = slice(k * _FORCES, (k + 1) * _FORCES)
        found[key] = _person_table(asked, rows[span], stated[span], best[span], shifts)
    for twin, first in twins.items():
        found |= {(*twin, key[2]): found[key] for key in keys if key[:2] == first}
    return found


def _person_table(
    asked: Demand, rows: list[Row], stated: list[PersonLoad], best: list[PersonLoad], shifts: tuple[float, float]
) -> _PersonTable:
    deciding = [limit for limit in LIMITS if limit.key in asked.policy.deciding]
    straight = {limit.key for limit in deciding if not limit.by_posture}
    bent = {limit.key for limit in deciding if limit.by_posture} - {_SPINE}
    effort, last = rows[-1][0], stated[-1]
    per_n: dict[str, list[float]] = {"steady": [], "peak": []}
    for shift in shifts:
        there = replace(last, hand_height_m=last.hand_height_m + shift)
        worst = {"steady": 0.0, "peak": 0.0}
        for check in checks(asked, effort, there, only=straight):
            phase = "steady" if check.quantity == "steady force" else "peak"
            worst[phase] = max(worst[phase], _ratio_of(check) / last.start_n)
        for phase, ratio in worst.items():
            per_n[phase].append(ratio)
    posture = [
        max((_ratio_of(c) for c in checks(asked, row[0], load, only=bent)), default=0.0)
        for row, load in zip(rows, stated, strict=True)
    ]
    spine = [c.limit for c in checks(asked, effort, last, only={_SPINE}) if c.decides and c.limit is not None]
    return _PersonTable(
        forces=np.array([float(row[0].start_n) for row in rows]),
        peak_per_n=(per_n["peak"][0], per_n["peak"][1]),
        steady_per_n=(per_n["steady"][0], per_n["steady"][1]),
        posture=np.array(posture),
        held=np.array([float(load.body.can_be_held) for load in stated]),
        compression=np.array([load.body.compression_n for load in stated]),
        muscle=np.array([load.body.muscle_n for load in stated]),
        best_compression=np.array([load.body.compression_n for load in best]),
        best_muscle=np.array([load.body.muscle_n for load in best]),
        spine_limit=spine[0] if spine else float("inf"),
    )


def _ratio_of(check: LimitCheck) -> float:
    """Ratio of a deciding limit; one asked outside its range is no pass, one that does not cover the case is silent."""
    if check.ratio is not None:
        return check.ratio
    return _NOT_HELD if check.outside else 0.0


def _signature(effort: Effort) -> tuple[object, ...]:
    """What the cost of a force depends on."""
    numbers = (effort.start_n, effort.steady_n, effort.elevation, effort.reach_m, effort.hand_height_m, effort.held_kg)
    return (effort.role, effort.side, effort.hands, effort.seconds, *(round(float(n), 9) for n in numbers))


def _at(effort: Effort, force: float) -> Effort:
    """Return the effort with another force, kept steady at it."""
    there = np.asarray(force)
    scale = force / float(effort.start_n) if float(effort.start_n) > 0 else 0.0
    return replace(effort, start_n=there, steady_n=there, held_kg=effort.held_kg * scale)


def _turn_table(move: PlannedMove, scenario: Scenario, inputs: tuple[UncertainInput, ...]) -> _TurnTable:
    """Solve a turn over its grid; remembered, because neither aid nor team changes it."""
    drawn = tuple(i for i in inputs if i.name in _TURN_INPUTS)
    plain = Scenario(
        name="turn", procedure="prone turn", patient=scenario.patient, bed=scenario.bed, handling=scenario.handling
    )
    unnamed = replace(move, name="", reason="", hold_s=0.0)
    return _solved_turn(unnamed, plain, drawn)


_CHEBYSHEV = np.cos(np.pi * (np.arange(4) + 0.5) / 4)  # nodes from -1 to 1 that keep a cubic honest at the ends
_TURN_INPUTS = ("breadth_scale", "depth_scale", "hand_height_m")


@lru_cache(maxsize=256)
def _solved_turn(move: PlannedMove, scenario: Scenario, inputs: tuple[UncertainInput, ...]) -> _TurnTable:
    spread = {i.name: i for i in inputs}
    axes = []
    for name in _TURN_INPUTS:
        if name in spread:
            lowest, highest = (float(spread[name].at(u)) for u in (0.0005, 0.9995))
            axes.append((lowest + highest) / 2 + (highest - lowest) / 2 * _CHEBYSHEV)
        else:  # measured on the patient: nothing to interpolate
            axes.append(np.ones(1))
    breadth, depth, hand = (g.ravel() for g in np.meshgrid(*axes, indexing="ij"))
    grid = {
        "breadth_scale": breadth,
        "depth_scale": depth,
        "hand_height_m": hand,
        "turned_fraction": np.ones(len(hand)),
    }
    lifting, lowering = turn_statics(move, build_case(scenario, grid), scenario)
    at = np.argmax(lifting.force_n, axis=-1)[..., None]
    shape = tuple(len(axis) for axis in axes)
    weight = scenario.patient.mass_kg * G
    values = {
        "peak": np.max(lifting.force_n, axis=-1),
        "mean": np.mean(lifting.force_n, axis=-1),
        "end": lifting.force_n[..., -1],
        "brake": np.max(lowering.force_n, axis=-1),
        "brake mean": np.mean(lowering.force_n, axis=-1),
    }
    middle = int(np.argmin(np.abs(breadth - 1) + np.abs(depth - 1)))
    mu = np.linspace(0.02, 0.6, 30)
    along = lifting.force_n[middle] * np.cos(lifting.elevation[middle])
    up = lifting.force_n[middle] * np.sin(lifting.elevation[middle])
    hold = np.maximum(0.0, along[None, :] - mu[:, None] * (weight - up[None, :]))
    top = hold.max(axis=1)
    part = np.where(top > 0, hold.mean(axis=1) / np.where(top > 0, top, 1.0), 0.0)
    return _TurnTable(
        (axes[0], axes[1], axes[2]),
        {name: np.reshape(v, shape) for name, v in values.items()},
        np.reshape(np.take_along_axis(lifting.elevation, at, axis=-1), shape),
        mu,
        part,
    )


def _weights(axis: Floats, x: Floats) -> Floats:
    """Weights of the polynomial through the nodes of an axis, shape (nodes, draws)."""
    found = []
    for i, node in enumerate(axis):
        others = np.delete(axis, i)
        found.append(np.prod((x[None, :] - others[:, None]) / (node - others)[:, None], axis=0))
    return np.stack(found)


def team_forces(compiled: Compiled, draws: Draws) -> dict[tuple[int, int], tuple[Floats, Floats]]:
    """Return the peak and steady force of every effort in every draw [N].

    Parameters
    ----------
    compiled : Compiled
    draws : mapping of input name to ndarray, shape (draws,)

    Returns
    -------
    dict of (move, effort) to (start, steady)
    """
    asked = compiled.asked
    size = len(draws["breakaway"])
    typical = asked.case
    stack = [draws[f"mu_{i}"] for i in range(typical.mu.shape[-1])]
    broader = draws.get("breadth_scale", np.ones(size))
    case = replace(
        typical,
        body=replace(typical.body, half_breadth=typical.body.half_breadth * broader),
        mu=np.stack(stack, axis=-1),
        linen_mu=draws["linen_mu"],
        breakaway=draws["breakaway"],
        pull_rad=np.radians(draws["pull_deg"]),
        slide_time_s=draws["slide_time_s"],
    )
    found: dict[tuple[int, int], tuple[Floats, Floats]] = {}
    for m, (move, efforts) in enumerate(asked.moves):
        if m in compiled.turns:
            by_role = _turn_forces(compiled.turns[m], move, case, draws, asked.scenario)
        else:
            by_role = {x.role: (x.start_n, x.steady_n) for x in demand(move, case, asked.scenario)}
        for e, effort in enumerate(efforts):
            start, steady = by_role.get(effort.role, (effort.start_n, effort.steady_n))
            found[(m, e)] = (np.broadcast_to(start, (size,)), np.broadcast_to(steady, (size,)))
    return found


def _turn_forces(
    grid: _TurnTable, move: PlannedMove, case: Case, draws: Draws, scenario: Scenario
) -> dict[str, tuple[Floats, Floats]]:
    ones = np.ones(len(draws["breakaway"]))
    w = [_weights(axis, draws.get(name, ones)) for axis, name in zip(grid.axes, _TURN_INPUTS, strict=True)]

    def at(values: Floats) -> Floats:
        """Interpolate a quantity that is never negative."""
        found = np.einsum("ai,bi,ci,abc->i", *w, values, optimize=["einsum_path", (0, 3), (0, 2), (0, 1)])
        return np.asarray(np.maximum(0.0, found))

    turned = draws["turned_fraction"]
    peak, hold = at(grid.values["peak"]) * turned, at(grid.values["end"]) * turned if move.hold_s > 0 else 0.0
    elevation = at(grid.elevation + np.pi) - np.pi
    mu = slip_friction(case.mu)
    weight = scenario.patient.mass_kg * turned * G
    slip = np.maximum(0.0, peak * np.cos(elevation) - mu * (weight - peak * np.sin(elevation)))
    return {
        "pull": (peak, np.maximum(at(grid.values["mean"]) * turned, hold)),
        "counter-hold": (slip, slip * np.interp(mu, grid.hold_mu, grid.hold_part)),
        "brake": (at(grid.values["brake"]) * turned, at(grid.values["brake mean"]) * turned),
    }


def worst_ratio(
    compiled: Compiled,
    forces: Mapping[tuple[int, int], tuple[Floats, Floats]],
    draws: Draws,
    side: Side | str,
    people: int,
    effort_spread: Floats,
) -> tuple[Floats, Floats]:
    """Return, draw by draw, the worst ratio and the largest force of one side with `people` there.

    Parameters
    ----------
    compiled : Compiled
    forces : as from `team_forces`
    draws : mapping of input name to ndarray, shape (draws,)
    side : "left", "right" or "airway"
    people : int
    effort_spread : ndarray, shape (6 or more, draws)
        e^(σ z) of each person.

    Returns
    -------
    ratio, force : ndarray, shape (draws,)
    """
    asked = compiled.asked
    size = len(draws["breakaway"])
    worst, largest = np.zeros(size), np.zeros(size)
    crew = (airway_lead(),) if side == "airway" else crew_of(asked.scenario, side, people)  # type: ignore[arg-type]
    if side == "airway" and not any(r.name == "airway lead" for r in roles_of(asked.scenario)):
        return worst, largest
    for m, (_, efforts) in enumerate(asked.moves):
        for e, effort in enumerate(efforts):
            if effort.side != side and not (effort.side == "both" and side != "airway"):
                continue
            members, places, centre = stand_in(effort, crew)
            best = best_shares(places, centre)
            share = best[:, None] * effort_spread[: len(members)]
            share /= share.sum(axis=0)
            start, steady = forces[(m, e)]
            portion = 0.5 if effort.side == "both" else 1.0
            for i, person in enumerate(members):
                peak_n, steady_n = portion * share[i] * start, portion * share[i] * steady
                np.maximum(worst, _ratio(compiled, (m, e, _body_of(person)), peak_n, steady_n, draws), out=worst)
                np.maximum(largest, peak_n, out=largest)
    return worst, largest


def _ratio(compiled: Compiled, key: tuple[int, int, Person], peak_n: Floats, steady_n: Floats, draws: Draws) -> Floats:
    """Worst ratio to the deciding limits of one person, draw by draw."""
    grid = compiled.tables[key]
    hand = next(i for i in compiled.inputs if i.name == "hand_height_m")
    t = (draws["hand_height_m"] - hand.low) / (hand.high - hand.low) if hand.high > hand.low else 0.0
    forces = grid.forces
    index = np.minimum((np.sqrt(peak_n / forces[-1]) * (_FORCES - 1)).astype(np.intp), _FORCES - 2)
    part = (peak_n - forces[index]) / (forces[index + 1] - forces[index])

    def along(values: Floats) -> Floats:
        return np.asarray(values[index] + part * (values[index + 1] - values[index]))

    def between(ends: tuple[float, float]) -> Floats | float:
        return ends[0] + t * (ends[1] - ends[0])

    ratio = np.maximum(peak_n * between(grid.peak_per_n), steady_n * between(grid.steady_per_n))
    np.maximum(ratio, along(grid.posture), out=ratio)
    if not grid.held.all():
        ratio[along(grid.held) < 0.5] = _NOT_HELD  # the nearer node decides
    if np.isfinite(grid.spine_limit):
        softer = draws["posture"]
        compression, muscle = along(grid.compression), along(grid.muscle)
        if grid.best_compression is not grid.compression:
            compression = compression + softer * (along(grid.best_compression) - compression)
            muscle = muscle + softer * (along(grid.best_muscle) - muscle)
        arm = compiled.asked.scenario.handling.back_arm_m
        compression = compression + muscle * (arm / draws["back_arm_m"] - 1.0)
        np.maximum(ratio, compression / grid.spine_limit, out=ratio)
    return ratio
