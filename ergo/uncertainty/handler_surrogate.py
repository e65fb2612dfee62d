"""What a force costs a handler, tabulated over force so that thousands of draws are fast."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ergo.assessment.check import LimitComparison, compare_with_limits
from ergo.assessment.demand import Demand
from ergo.assessment.load import BodyLoad, Row, bodies_of, load_of, participants
from ergo.assessment.team import Person
from ergo.inputs.scenario import Scenario, Technique
from ergo.limits.registry import NotApplicable, Value
from ergo.mechanics.demand import Effort
from ergo.uncertainty.distributions import UncertainInput
from ergo.units import G

__all__ = [
    "NOT_HELD",
    "SPINE",
    "Borne",
    "Holding",
    "PerNewton",
    "PersonTable",
    "PostureDraws",
    "body_of",
    "costs_of",
    "holding",
    "node_forces",
    "nodes_to",
    "of_one_newton",
    "person_ratio",
    "person_tables",
    "posture_draws",
    "ratio_of",
    "worst_of",
]

Floats = NDArray[np.float64]

SPINE = "spine_lower_limit"
_NEAR_M, _NEAR_RAD = 0.001, float(np.radians(0.5))  # hands this near each other are held alike

_Posture = tuple[BodyLoad, BodyLoad]
"""A body with the stated technique, and with the best where the technique is drawn."""

_POSTURES: dict[tuple[object, ...], list[_Posture]] = {}
_COSTS: dict[tuple[object, ...], Floats] = {}
_MOST_POSTURES, _MOST_COSTS = 2048, 8192  # of about 10 kB and 1 kB; then they start anew


class Holding(NamedTuple):
    """An effort of 1 N, its hands at one of a few places; what a posture depends on there, and limits ask beside."""

    effort: Effort
    place: tuple[object, ...]
    beside: tuple[object, ...]


Asked = tuple[Person, Holding, int]


def holding(effort: Effort, scenario: Scenario) -> Holding:
    """Return how an effort is held, the hands moved by less than a millimetre to one of a few places.

    >>> from ergo.assessment.demand import demand_of
    >>> from ergo.inputs import examples
    >>> boost = examples.boost()
    >>> effort = demand_of(boost).moves[0][1][0]
    >>> holding(effort, boost).place == holding(replace(effort, reach_m=effort.reach_m + 1e-5), boost).place
    True
    """
    reach, height = (np.round(np.asarray(m) / _NEAR_M) * _NEAR_M for m in (effort.reach_m, effort.hand_height_m))
    elevation = np.round(np.asarray(effort.elevation) / _NEAR_RAD) * _NEAR_RAD
    numbers = tuple(round(float(n), 9) for n in (elevation, reach, height, scenario.bed.height_m))
    one_newton = of_one_newton(effort)
    shares = tuple(round(float(n), 9) for n in (one_newton.hold_n, one_newton.held_kg))
    return Holding(
        replace(one_newton, reach_m=reach, hand_height_m=height, elevation=elevation),
        (effort.hands, effort.along_bed, bool(effort.hold_n > 0), numbers, scenario.handling),
        (effort.role, effort.seconds, *shares, scenario.policy),
    )


def of_one_newton(effort: Effort) -> Effort:
    """Return the effort with a steady force of 1 N, and what hangs at the hands less by as much.

    >>> from ergo.assessment.demand import demand_of
    >>> from ergo.inputs import examples
    >>> boost = examples.boost()
    >>> float(of_one_newton(demand_of(boost).moves[0][1][0]).start_n)
    1.0
    """
    start, one = float(effort.start_n), np.ones(())
    hold, held = (part / start if start > 0 else 0.0 * part for part in (effort.hold_n, effort.held_kg))
    return replace(effort, start_n=one, steady_n=one, hold_n=hold, held_kg=held)


def ratio_of(found: LimitComparison) -> float:
    """Return the ratio of a limit; 0 where it says nothing, so that what it does not cover is counted apart."""
    return 0.0 if found.ratio is None else found.ratio


def _outside(found: LimitComparison) -> bool:
    """Say whether a limit was asked outside its range."""
    return isinstance(found.value, NotApplicable) and found.value.outside


def costs_of(demand: Demand, wanted: Sequence[Asked]) -> list[Floats]:
    """Return what the first forces of the grid cost each person (who, how held, how many forces), shape (6, forces).

    The worst ratio to the deciding limits that follow from the posture, compression apart; compression [N]; what the
    back muscle adds to it [N]; by how much each of the two is less in the best posture [N]; and 1 where a posture holds
    the force. All postures that are not known yet are found in one search.

    >>> from ergo.assessment.demand import demand_of
    >>> from ergo.assessment.team import people_on_side
    >>> from ergo.inputs import examples
    >>> boost = examples.boost()
    >>> demand, (one,) = demand_of(boost), people_on_side(boost, "left", 1)
    >>> pull = holding(demand.moves[0][1][0], boost)
    >>> few, more = costs_of(demand, [(one, pull, 3), (one, pull, 5)])
    >>> more.shape, bool(np.array_equal(few, more[:, :3])), bool((np.diff(more[1]) > 0).all())
    ((6, 5), True, True)
    """
    keys = [(person, one.place, one.beside) for person, one, _ in wanted]
    most: dict[tuple[object, ...], Asked] = {}
    for key, ask in zip(keys, wanted, strict=True):
        known = _COSTS[key].shape[1] if key in _COSTS else 0
        if ask[-1] > max(known, most[key][-1] if key in most else 0):
            most[key] = ask
    postures = _postures_of(demand.scenario, list(most.values()))
    found = {key: _costs(demand, *ask, postures[key[:2]]) for key, ask in most.items()}
    every = {key: found[key] if key in found else _COSTS[key] for key in keys}
    if len(_COSTS) + len(found) > _MOST_COSTS:
        _COSTS.clear()
    _COSTS.update(found)
    return [every[key][:, :count] for key, (_, _, count) in zip(keys, wanted, strict=True)]


def _postures_of(scenario: Scenario, wanted: Sequence[Asked]) -> Mapping[tuple[object, ...], Sequence[_Posture]]:
    """Return the postures at each place from the least force up, as far as somebody wants them."""
    rows: dict[tuple[object, ...], list[Row]] = {}
    for person, one, count in wanted:
        place = person, one.place
        known = len(_POSTURES.get(place, ())) + len(rows.get(place, ()))
        rows.setdefault(place, []).extend((one.effort, person, force) for force in node_forces(count)[known:].tolist())
    every = [row for group in rows.values() for row in group]
    stated = scenario.handling.technique
    techniques: list[Technique] = [stated, "best"] if stated == "typical" else [stated]
    bodies = bodies_of(scenario, every * len(techniques), [t for t in techniques for _ in every])
    pairs = zip(bodies[: len(every)], bodies[len(bodies) - len(every) :], strict=True)
    found = {place: [*_POSTURES.get(place, ()), *islice(pairs, len(group))] for place, group in rows.items()}
    if len(_POSTURES) + len(found) > _MOST_POSTURES:
        _POSTURES.clear()
    _POSTURES.update(found)
    return found


def _costs(demand: Demand, person: Person, one: Holding, count: int, postures: Sequence[_Posture]) -> Floats:
    postures = postures[:count]
    bent = [limit for limit in demand.policy.limits if limit.by_posture and limit.key != SPINE]
    ratios = []
    for force, (body, _) in zip(node_forces(count).tolist(), postures, strict=True):
        load = load_of(demand.scenario, one.effort, person, force, body)
        found = list(compare_with_limits(demand, one.effort, load, bent))
        ratios.append(np.nan if any(map(_outside, found)) else max(map(ratio_of, found), default=0.0))
    compression, muscle = (
        np.array([[getattr(body, field) for body in bodies] for bodies in zip(*postures, strict=True)])
        for field in ("compression_n", "muscle_n")
    )
    can_be_held = [float(body.can_be_held) for body, _ in postures]
    softer = compression[1] - compression[0], muscle[1] - muscle[0]
    return np.array([ratios, compression[0], muscle[0], *softer, can_be_held])


_ROOM = 1.8  # the table reaches this far beyond the force at typical values; further out it goes on straight
_LEAST_SPAN = 0.2  # and at least over this part of the patient's weight, where the typical force is small or nil
_UNEVEN = 2.0  # times an even share of that is the most for one person: in no draw of the examples does anybody bear it

_ANY_N = 100.0  # a force at which limits that are proportional to it are asked
_NOBODY = BodyLoad(True, "", *[0.0] * 15)  # they do not look at the body


class _Key(NamedTuple):
    """All that makes one table differ from another within a case."""

    person: Person
    nodes: int
    demand: tuple[object, ...]


def body_of(person: Person) -> Person:
    """Return a person without the place where they stand: two people of the same body share a table.

    >>> from ergo.assessment.team import people_on_side
    >>> from ergo.inputs import examples
    >>> boost = examples.boost()
    >>> (left,), (right,) = people_on_side(boost, "left", 1), people_on_side(boost, "right", 1)
    >>> left == right, body_of(left) == body_of(right)
    (False, True)
    """
    return Person(person.sex, person.stature_m, person.mass_kg)


def person_tables(
    demand: Demand, groups: Mapping[str, Sequence[Sequence[Person]]], inputs: tuple[UncertainInput, ...]
) -> dict[tuple[int, int, Person], PersonTable]:
    """Tabulate every person in every effort, by move, effort and person without a place; smaller groups come first.

    >>> from ergo.assessment.demand import demand_of
    >>> from ergo.assessment.team import airway_lead, people_on_side
    >>> from ergo.uncertainty.distributions import uncertain_inputs
    >>> from ergo.inputs import examples
    >>> boost = examples.boost()
    >>> one = people_on_side(boost, "left", 1)
    >>> groups = {"left": [one], "right": [one], "airway": [(airway_lead(),)]}
    >>> ((place, table),) = person_tables(demand_of(boost), groups, uncertain_inputs(boost)).items()
    >>> place == (0, 0, body_of(one[0])), bool(table.forces[0] == 0.0), bool(np.all(np.diff(table.forces) > 0))
    (True, True, True)
    """
    hand = next(i for i in inputs if i.name == "hand_height_m")
    shifts = (hand.low - hand.typical, hand.high - hand.typical)
    scenario, least = demand.scenario, _LEAST_SPAN * demand.scenario.patient.mass_kg * G
    bodies_in = {side: [[body_of(person) for person in group] for group in groups[side]] for side in groups}
    wanted: dict[tuple[int, int, Person], _Key] = {}
    unlike: dict[_Key, tuple[Effort, Holding]] = {}
    for m, (_, efforts) in enumerate(demand.moves):
        for e, effort in enumerate(efforts):
            whole = effort.part * max(float(effort.start_n) * _ROOM, least)
            one, turned = holding(effort, scenario), (float(effort.elevation), float(effort.hand_height_m))
            for group in (bodies for side in groups if effort.falls_to(side) for bodies in bodies_in[side]):
                members, _, _ = participants(effort, group)
                nodes = nodes_to(whole * min(1.0, _UNEVEN / len(members)))
                for person in members:
                    key = _Key(person, nodes, (one.place, one.beside, turned))
                    unlike.setdefault(wanted.setdefault((m, e, person), key), (effort, one))
    costs = costs_of(demand, [(key.person, one, key.nodes) for key, (_, one) in unlike.items()])
    straight: dict[tuple[object, ...], PerNewton] = {}
    made: dict[_Key, PersonTable] = {}
    for (key, (effort, _)), cost in zip(unlike.items(), costs, strict=True):
        alike = key.person.sex, key.person.stature_m, key.demand
        if alike not in straight:
            straight[alike] = _per_newton(demand, effort, key.person, shifts)
        made[key] = PersonTable.of(straight[alike], along=cost[:-1], held=cost[-1])
    return {place: made[key] for place, key in wanted.items()}


class PerNewton(NamedTuple):
    """What needs no posture: worst ratios per newton by height of the hands, the heights covered, compression's limit.

    Heights are parts of the spread, 0 at its low end and 1 at its high end.
    """

    per_n: Floats
    covered: tuple[float, float]
    spine_limit: float


_HEIGHTS = np.linspace(0.0, 1.0, 33)  # within 0.2 % of limits that bend with the height, over a spread of 0.15 m
_NOWHERE = (np.inf, -np.inf)
_HALVINGS = 20


def _per_newton(demand: Demand, effort: Effort, person: Person, shifts: tuple[float, float]) -> PerNewton:
    """Hold the limits that are proportional to the force against one newton at every height of the hands."""
    proportional = [limit for limit in demand.policy.limits if not limit.by_posture]
    compressed = [limit for limit in demand.policy.limits if limit.key == SPINE]
    there = of_one_newton(effort)
    load = load_of(demand.scenario, there, person, _ANY_N, _NOBODY)

    def asked(part: float) -> tuple[float, bool]:
        shift = shifts[0] + part * (shifts[1] - shifts[0])
        shifted = replace(load, hand_height_m=load.hand_height_m + shift)
        found = list(compare_with_limits(demand, there, shifted, proportional))
        return max(map(ratio_of, found), default=0.0) / load.start_n, not any(map(_outside, found))

    def edge(inside: float, beyond: float) -> float:
        for _ in range(_HALVINGS):
            middle = 0.5 * (inside + beyond)
            inside, beyond = (middle, beyond) if asked(middle)[1] else (inside, middle)
        return inside

    every = [asked(part) for part in _HEIGHTS] if shifts[1] > shifts[0] else [asked(0.0)] * len(_HEIGHTS)
    inside = [i for i, (_, covered) in enumerate(every) if covered]
    covered = _NOWHERE
    if inside:
        first, last = inside[0], inside[-1]
        covered = (
            edge(_HEIGHTS[first], _HEIGHTS[first - 1]) if first else 0.0,
            edge(_HEIGHTS[last], _HEIGHTS[last + 1]) if last < len(_HEIGHTS) - 1 else 1.0,
        )
        for i, part in enumerate(_HEIGHTS):  # beyond what is covered the ratios go on as at its ends
            if not covered[0] <= part <= covered[1]:
                every[i] = asked(min(max(part, covered[0]), covered[1]))
    spine = [f.value.value for f in compare_with_limits(demand, there, load, compressed) if isinstance(f.value, Value)]
    return PerNewton(np.array([ratio for ratio, _ in every]), covered, spine[0] if spine else float("inf"))


Draws = Mapping[str, Floats]

_NODE_N = 2.0  # force at the first node; the next stand at its square multiples, dense where a posture changes most
NOT_HELD = 2.0  # ratio given to a force that no posture holds: twice over


def nodes_to(top_n: float) -> int:
    """Return how many forces of the grid there are up to the first that is not below `top_n`.

    >>> nodes_to(2.0), nodes_to(2.1), node_forces(nodes_to(8.0)).tolist()
    (2, 3, [0.0, 2.0, 8.0])
    """
    return int(np.ceil(np.sqrt(top_n / _NODE_N))) + 1


def node_forces(nodes: int) -> Floats:
    """Return the first forces of the grid on which all tables are made, F_k = k² · 2 N.

    >>> node_forces(4).tolist()
    [0.0, 2.0, 8.0, 18.0]
    """
    return _NODE_N * np.arange(nodes, dtype=np.float64) ** 2


class PostureDraws(NamedTuple):
    """How a force is held, draw by draw: height of the hands within its spread, the piece of the grid of heights where
    it lies and how far along, how far the technique goes from the stated one to the best, how much shorter the back's
    moment arm is, and the product of the last two."""

    height: Floats
    piece: NDArray[np.intp]
    along: Floats
    softer: Floats
    shorter: Floats
    both: Floats

    @classmethod
    def of(cls, height: Floats, softer: Floats, shorter: Floats) -> PostureDraws:
        """Return the draws with what follows from them."""
        spaced = height * (len(_HEIGHTS) - 1)
        piece = np.minimum(spaced.astype(np.intp), len(_HEIGHTS) - 2)
        return cls(height, piece, spaced - piece, softer, shorter, softer * shorter)


@dataclass(frozen=True, slots=True)
class PersonTable:
    """What a force costs one person in one effort.

    `per_n` are the worst ratios per newton, by height of the hands, to the deciding limits proportional to the force,
    and `covered` the heights for which all of them have a figure. The rows of `along` run over `forces`: the worst
    ratio to the limits that follow from the posture found, compression apart; compression, and what the back muscle
    adds to it; and by how much each of the two is less in the best posture, so that the back's moment arm and the
    technique can be drawn. `held` is 1 where a posture holds the force.
    """

    per_n: Floats
    covered: tuple[float, float]
    spine_limit: float
    along: Floats
    held: Floats

    @classmethod
    def of(cls, straight: PerNewton, along: Floats, held: Floats) -> PersonTable:
        """Return a table; where a posture's limit was asked outside its range, nothing is covered."""
        if np.isnan(along[0]).any():
            return cls(straight.per_n, _NOWHERE, straight.spine_limit, np.nan_to_num(along), held)
        return cls(*straight, along, held)

    @property
    def forces(self) -> Floats:
        """The forces of the grid that the table covers [N]."""
        return node_forces(len(self.held))


class Borne(NamedTuple):
    """What one person bears in one effort, draw by draw [N]."""

    table: PersonTable
    peak_n: Floats


def posture_draws(draws: Draws, hand: UncertainInput, back_arm_m: float) -> PostureDraws:
    """Return what the draws say of how a force is held, the same for everybody; `back_arm_m` is that of the tables.

    >>> hand = UncertainInput("hand_height_m", "hands", "triangular", 0.0, 0.1, 0.4, "m", "", "")
    >>> draws = {"hand_height_m": np.array([0.1]), "posture": np.array([0.5]), "back_arm_m": np.array([0.05])}
    >>> held_so = posture_draws(draws, hand, 0.06)
    >>> held_so.height.tolist(), held_so.piece.tolist(), held_so.both.round(9).tolist()
    ([0.25], [8], [0.1])
    """
    spread = hand.high - hand.low
    height = (draws["hand_height_m"] - hand.low) / spread if spread > 0 else np.zeros_like(draws["hand_height_m"])
    return PostureDraws.of(height, draws["posture"], back_arm_m / draws["back_arm_m"] - 1.0)


def person_ratio(grid: PersonTable, peak_n: Floats, held_so: PostureDraws) -> Floats:
    """Return the worst ratio to the deciding limits of one person, draw by draw.

    max(peak x ratio per newton, ratio of the posture, (C + t ΔC + a (M + t ΔM)) / C_limit), with C the compression, M
    what the muscle adds to it, Δ by how much the best posture changes them, t how far the technique goes to the best
    and a how much shorter the back's moment arm is. Beyond the table's forces its last piece goes on straight; at least
    2 where no posture holds the force.

    >>> along = np.array([[0.0] * 3, [1000.0, 1200.0, 1800.0], [500.0] * 3, [0.0] * 3, [0.0] * 3])
    >>> grid = PersonTable(np.linspace(0.1, 0.3, 33), (0.0, 1.0), 3400.0, along, np.ones(3))
    >>> usual, middle = np.zeros(2), np.full(2, 0.5)  # hands half way up: 0.2 a newton
    >>> person_ratio(grid, np.array([1.0, 5.0]), PostureDraws.of(middle, usual, usual)).round(9).tolist()
    [0.323529412, 1.0]
    """
    spent = peak_n / _NODE_N
    index = np.minimum(np.sqrt(spent).astype(np.intp), len(grid.held) - 2)
    part = (spent - index * index) / (2 * index + 1)  # forces stand at the squares
    per_n = grid.per_n[held_so.piece]
    per_n += held_so.along * np.diff(grid.per_n)[held_so.piece]
    ratio = peak_n * per_n
    rows = np.take(np.diff(grid.along, axis=1), index, axis=1)
    rows *= part
    rows += np.take(grid.along, index, axis=1)
    posture, compression, muscle, softer_compression, softer_muscle = rows
    np.maximum(ratio, posture, out=ratio)
    if not grid.held.all():
        nearer = grid.held[np.where(part < 0.5, index, index + 1)]
        ratio[nearer == 0.0] = np.maximum(ratio[nearer == 0.0], NOT_HELD)
    if np.isfinite(grid.spine_limit):
        # compression + softer Δcompression + shorter (muscle + softer Δmuscle)
        softer_compression *= held_so.softer
        muscle *= held_so.shorter
        softer_muscle *= held_so.both
        compression += softer_compression
        compression += muscle
        compression += softer_muscle
        compression /= grid.spine_limit
        np.maximum(ratio, compression, out=ratio)
    return ratio


def worst_of(borne: Iterable[Borne], held_so: PostureDraws) -> Floats:
    """Return the largest `person_ratio` of several people and efforts, draw by draw; zero where nobody bears anything.

    Not a number where nobody is over a limit, but one that decides does not cover the height of somebody's hands.

    >>> along = np.array([[0.0] * 3, [1000.0, 1200.0, 1800.0], [500.0] * 3, [0.0] * 3, [0.0] * 3])
    >>> grid = PersonTable(np.linspace(0.1, 0.3, 33), (0.2, 1.0), 3400.0, along, np.ones(3))
    >>> usual, small, large = np.zeros(2), np.array([1.0, 5.0]), np.array([2.0, 4.0])
    >>> held_so = PostureDraws.of(np.array([0.5, 0.1]), usual, usual)
    >>> worst_of([Borne(grid, small), Borne(grid, large)], held_so).round(9).tolist()
    [0.4, nan]
    """
    worst, uncovered = np.zeros_like(held_so.height), np.zeros(len(held_so.height), dtype=bool)
    for table, peak in borne:
        np.maximum(worst, person_ratio(table, peak, held_so), out=worst)
        low, high = table.covered
        if low > 0.0 or high < 1.0:
            uncovered |= (peak > 0.0) & ((held_so.height < low) | (held_so.height > high))
    worst[uncovered & (worst <= 1.0)] = np.nan
    return worst
