"""What a team does together in one part of a move: how hard all work at least, and the force in each pair of hands."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ergo.assessment.capacity import Against, Hands, capacities
from ergo.assessment.demand import Demand, easiest_ways, team_most
from ergo.assessment.team import airway_lead, at_the_head, people_of_team, people_on_side
from ergo.evidence import assumption, row
from ergo.handlers.person import Person
from ergo.handlers.team_effort import least_ratio, short_of_rolling, team_effort
from ergo.inputs.scenario import SIDES, Scenario, Sharing, Side, Team
from ergo.mechanics.demand import TeamTask
from ergo.mechanics.hand_actions import HandAction

__all__ = [
    "Body",
    "TaskShare",
    "capacity_tables",
    "evenness",
    "find_capacities",
    "find_efforts",
    "find_hold_without_one",
    "group",
    "hands_at",
    "holds_without_one",
    "people_for",
    "share_task",
    "share_tasks",
    "team_effort_of",
    "team_efforts",
]

Floats = NDArray[np.float64]
Body = Person
"""A person without role and place: two people of one body can do the same."""


@dataclass(frozen=True, slots=True)
class TaskShare:
    """How a team shares one task, at each of its instants.

    Attributes
    ----------
    people : who takes part
    ratio : ndarray, shape (instants,)
        The part of what they can manage that they must give; infinite where they cannot do it.
    force_n, capacity_n : ndarray, shape (instants, people, actions) [N]
    uncovered : bool
        Whether somebody's hands are where a limit that decides says nothing.
    """

    task: TeamTask
    people: tuple[Person, ...]
    ratio: Floats
    force_n: Floats
    capacity_n: Floats
    uncovered: bool

    @property
    def worst(self) -> float:
        """The largest ratio of all instants."""
        return float(np.max(self.ratio, initial=0.0))


def body_of(person: Person) -> Body:
    """Return what of a person decides what they can do."""
    return person.bare


def hands_at(task: TeamTask, person: Person, action: int, instant: int) -> Hands:
    """Return one pair of hands in an action at an instant of a task."""
    does, shape = task.instants.actions[action], task.instants.resistance.shape[-1:]

    def at(values: Floats) -> float:
        flat = values.reshape(-1)
        return float(flat[instant] if flat.shape == shape else flat[0])

    level, up = at(does.pull), at(does.lift)
    size = math.hypot(level, up) or 1.0
    return Hands(
        person.bare, level / size, up / size, at(does.reach_m),
        at(does.hand_height_m), task.hold_s, task.hands, bool(np.max(task.held_kg) > 0), task.along,
    )  # fmt: skip


def find_capacities(asked: Iterable[tuple[Demand, Iterable[Person]]], against: Against = "policy") -> None:
    """Find what people can manage in the tasks of their demands, all postures in one search; kept in the demand.

    Against the upper limits only where gravity would carry the patient on or back: nothing else is asked of them.
    """
    wanted: dict[tuple[int, tuple[object, ...]], tuple[Demand, TeamTask, Person, list[tuple[int, int]]]] = {}
    for demand, people in asked:
        bodies = _bodies(people)
        for number, task in enumerate(demand.tasks):
            if against == "upper limits" and not task.falls:
                continue
            doing = _bodies([airway_lead(demand.scenario)]) if task.group == "airway" else bodies
            keys = {(number, body, against): person for body, person in doing.items()}
            if new := {key: person for key, person in keys.items() if key not in demand.capacities}:
                places = _places(task)
                wanted |= {(id(demand), key): (demand, task, person, places) for key, person in new.items()}
    hands = [
        (demand.scenario, hands_at(task, person, k, j))
        for demand, task, person, places in wanted.values()
        for k, j in places
    ]
    found = iter(capacities(hands, against))
    for (_, key), (demand, task, _, places) in wanted.items():
        shape = len(task.instants.angle), len(task.instants.actions)
        force, uncovered = np.zeros(shape), np.zeros(shape, dtype=bool)
        for k, j in places:
            capacity = next(found)
            force[j, k], uncovered[j, k] = capacity.force_n, capacity.uncovered
        demand.capacities[key] = force, uncovered  # filled: whoever is interrupted before leaves none


def _bodies(people: Iterable[Person]) -> dict[Body, Person]:
    return {body_of(person): person for person in people}


def _places(task: TeamTask) -> list[tuple[int, int]]:
    """The actions that help at an instant at which something resists, each with the instant."""
    at = task.instants
    return [
        (k, int(j))
        for k, action in enumerate(at.actions)
        for j in np.flatnonzero(((action.gain > 0.0) | (action.slip < 0.0)) & (at.resistance > 0.0))
    ]


def capacity_tables(
    demand: Demand, number: int, people: Sequence[Person], against: Against = "policy"
) -> tuple[Floats, NDArray[np.bool_]]:
    """Return what people can manage in one task, shape (instants, people, actions), and what no limit covers.

    Nobody can do anything on the side where they do not stand.
    """
    task = demand.tasks[number]
    keys = [(number, body_of(person), against) for person in people]
    if any(key not in demand.capacities for key in keys):
        find_capacities([(demand, people)], against)
    tables = [demand.capacities[key] for key in keys]
    own = np.array(
        [
            [person.side is None or task.side_of(action) == person.side for action in task.instants.actions]
            for person in people
        ]
    )
    force = np.stack([force for force, _ in tables], axis=1) * own
    return force, np.stack([out for _, out in tables], axis=1) & own


def people_for(task: TeamTask, sides: dict[Side, Sequence[Person]], lead: Sequence[Person]) -> tuple[Person, ...]:
    """Return who takes part in a task: everybody at the sides, those who hold a limb, or the airway lead."""
    if task.group == "airway":
        return tuple(lead)
    if task.group == "limb":
        return _of_a_limb(sides[task.towards])
    return (*sides["left"], *sides["right"])


def _of_a_limb(people: Sequence[Person]) -> tuple[Person, ...]:
    return tuple(people[: int(assumption("people_per_limb").typical)])


def evenness(people: Sequence[Person], sharing: Sharing, held: bool = False) -> Floats:
    """Return how much of what they can manage each person gives, beside the first of their side.

    realistic: 1 for the first of a side, for the others the median of e^(-σ |z|), σ the `share_spread`; two who hold a
    limb share its weight evenly. best: all 1. guidance: a team is credited with 2/3 or 1/2 of its summed strength.
    """
    counts = {side: sum(p.side == side for p in people) for side in ("left", "right", None)}
    if sharing == "guidance":
        parts = {
            n: 1.0 if n < 2 else float(row("team_effects", id="T06", people=str(min(n, 3)))["value"])
            for n in counts.values()
        }
        return np.array([parts[counts[p.side]] for p in people])
    if sharing == "best" or held:
        return np.ones(len(people))
    usual = float(np.exp(-assumption("share_spread").typical * _HALF_NORMAL_MEDIAN))
    return np.array([1.0 if p.index == 0 else usual for p in people])


_HALF_NORMAL_MEDIAN = 0.6744897501960817  # of |z|


def share_task(demand: Demand, number: int, people: Sequence[Person], against: Against = "policy") -> TaskShare:
    """Return how some people share a task with the least effort; `people` empty can do nothing.

    >>> from ergo.assessment.demand import demand_of
    >>> from ergo.inputs import examples
    >>> demand = demand_of(examples.boost())
    >>> sides = [*people_on_side(demand.scenario, "left", 1), *people_on_side(demand.scenario, "right", 1)]
    >>> two = share_task(demand, 0, sides)
    >>> bool(two.force_n.sum(axis=(1, 2))[0] > 300.0), two.worst < share_task(demand, 0, sides[:1]).worst
    (True, True)
    """
    return share_tasks([(demand, number, people)], against)[0]


def share_tasks(asked: Sequence[tuple[Demand, int, Sequence[Person]]], against: Against = "policy") -> list[TaskShare]:
    """Return how each of several teams shares a task of its demand, as `share_task`; tasks that are alike together.

    >>> from ergo.assessment.demand import demand_of
    >>> from ergo.inputs import examples
    >>> demand = demand_of(examples.boost())
    >>> left, right = (people_on_side(demand.scenario, side, 2) for side in ("left", "right"))
    >>> one, four = share_tasks([(demand, 0, left[:1]), (demand, 0, [*left, *right])])
    >>> four.worst < one.worst
    True
    """
    shares: dict[int, TaskShare] = {}
    for alike in _alike([demand.tasks[number] for demand, number, _ in asked]):
        some = [asked[k] for k in alike]
        shares |= zip(alike, _shared_alike([demand.tasks[n] for demand, n, _ in some], some, against), strict=True)
    return [shares[k] for k in range(len(asked))]


def _shared_alike(
    tasks: Sequence[TeamTask], asked: Sequence[tuple[Demand, int, Sequence[Person]]], against: Against
) -> list[TaskShare]:
    worth = _Worth.of(tasks)
    # who is not there can do nothing
    shape = (*worth.resistance.shape, max(len(people) for *_, people in asked), len(tasks[0].instants.actions))
    capacity, uncovered, spread = np.zeros(shape), [False] * len(tasks), np.zeros((shape[0], 1, shape[-2], 1))
    for k, (demand, number, people) in enumerate(asked):
        if people:
            capacity[k, :, : len(people)], out = capacity_tables(demand, number, people, against)
            uncovered[k] = bool(out.any())
            spread[k, 0, : len(people), 0] = evenness(people, demand.scenario.team.sharing, tasks[k].group == "limb")
    given = capacity * spread
    gain = worth.gain[..., None, :]
    found = team_effort(
        worth.resistance, gain, given, worth.slip[..., None, :], worth.slip_margin_n,
        either_way=worth.either_way, lift_slip=worth.unloading[..., None, :],
    )  # fmt: skip
    pushes = worth.pushes
    shares = []
    for k, (*_, people) in enumerate(asked):
        ratio, force, there = found.ratio[k], found.force_n[k][:, : len(people)], slice(len(people))
        most = float(worth.push_most_n[k])
        if pushes.any() and np.isfinite(most) and np.sum(force[..., pushes]) > most:
            given_here = given[k][:, there]
            ratio, force = _share_short_of_rolling(worth.resistance[k], gain[k], given_here, pushes, most)
        ratio = np.where(np.isfinite(ratio), ratio, np.inf)
        shares.append(TaskShare(tasks[k], tuple(people), ratio, force, capacity[k][:, there], uncovered[k]))
    return shares


def _alike(tasks: Sequence[TeamTask], teams: int = 1) -> Iterator[list[int]]:
    """Yield which tasks are worked out together: the same actions of the same sides at as many instants."""
    found: dict[tuple[object, ...], list[int]] = {}
    for k, task in enumerate(tasks):
        at = task.instants
        does = tuple((action.name, action.side) for action in at.actions)
        key = task.group, task.towards, at.resistance.shape, bool(at.driving.any()), does
        found.setdefault(key, []).append(k)
    for alike in found.values():
        at = tasks[alike[0]].instants
        at_once = max(1, _BLOCK // (teams * at.resistance.size * len(at.actions) ** 2))
        yield from (alike[start : start + at_once] for start in range(0, len(alike), at_once))


_BLOCK = 2**14  # numbers worked on at once, so that they stay near the processor


@dataclass(frozen=True, slots=True)
class _Worth:
    """What tasks that are alike ask, and what a newton of each action does.

    `resistance` and `slip_margin_n` are of shape (tasks, instants); `gain`, `slip` and `unloading` of shape (tasks,
    instants, actions); `push_most_n` of shape (tasks,); `pushes` tells which actions push.
    """

    resistance: Floats
    slip_margin_n: Floats
    gain: Floats
    slip: Floats
    unloading: Floats
    push_most_n: Floats
    pushes: NDArray[np.bool_]
    either_way: bool

    @classmethod
    def of(cls, tasks: Sequence[TeamTask]) -> _Worth:
        every = [task.instants for task in tasks]

        def of_actions(values: Callable[[HandAction], Floats]) -> Floats:
            return np.moveaxis(np.array([[values(action) for action in at.actions] for at in every]), 1, -1)

        return cls(
            np.array([at.resistance for at in every]),
            np.array([at.slip_margin_n for at in every]),
            of_actions(lambda action: action.gain),
            of_actions(lambda action: action.slip),
            of_actions(lambda action: action.unloading),
            np.array([task.push_most_n for task in tasks], dtype=float),
            np.array([action.name == "pushes" for action in every[0].actions]),
            bool(every[0].driving.any()),
        )

    def least_ratio(self, can: Floats) -> Floats:
        """The least effort at each instant, `can` of shape (tasks, ..., instants, people, actions)."""

        def wide(values: Floats) -> Floats:
            return values.reshape(len(values), *(1,) * (can.ndim - 4), *values.shape[1:])

        resistance, gain = wide(self.resistance), wide(self.gain)[..., None, :]
        slip, unloading = wide(self.slip)[..., None, :], wide(self.unloading)[..., None, :]
        ratio = least_ratio(resistance, gain, can, slip, wide(self.slip_margin_n), self.either_way, unloading)
        if self.pushes.any():
            pushed = np.sum((can * gain)[..., self.pushes], axis=(-2, -1))
            pulled = np.sum((can * gain)[..., ~self.pushes], axis=(-2, -1))
            ratio = short_of_rolling(ratio, resistance, pulled, pushed, wide(self.push_most_n[:, None]))
        return np.where(np.isfinite(ratio), ratio, np.inf)


def _share_short_of_rolling(
    resistance: Floats, gain: Floats, given: Floats, pushes: NDArray[np.bool_], most: float
) -> tuple[Floats, Floats]:
    """The other side pushes no more than slides the patient; those who pull do the rest."""
    can = np.sum(given[..., pushes], axis=(-2, -1))
    pushed = given * pushes * (most / np.where(can > 0.0, can, 1.0))[..., None, None]
    left = resistance - most * np.max(gain[..., pushes])
    rest = team_effort(left, gain, given * ~pushes)
    return np.maximum(rest.ratio, most / np.where(can > 0.0, can, np.inf)), rest.force_n + pushed


def team_effort_of(demand: Demand, left: int, right: int) -> tuple[float, bool]:
    """Return the part of what they can that everybody must give in the hardest move, and whether a limit says nothing.

    Infinite where the team cannot make a move at all, which may be because a limit that decides does not cover where
    hands are. Found for all teams together, and remembered in the demand.

    >>> from ergo.assessment.demand import demand_of
    >>> from ergo.inputs import examples
    >>> demand = demand_of(examples.boost())
    >>> team_effort_of(demand, 2, 2)[0] < team_effort_of(demand, 1, 1)[0]
    True
    """
    if "teams" not in demand.capacities:
        find_efforts([demand])
    ratio, uncovered = demand.capacities["teams"]
    return float(ratio[left, right]), bool(uncovered[left, right])


def find_efforts(demands: Iterable[Demand]) -> None:
    """Find the effort of every team of several cases, all postures in one search; kept in the demands."""
    new: dict[_Staff, list[Demand]] = {}
    for demand in demands:
        if "teams" not in demand.capacities:
            new.setdefault(_staff_of(demand), []).append(demand)
    find_capacities([(demand, staff.bodies) for staff, some in new.items() for demand in some])
    for staff, some in new.items():
        found = iter(_of_all_teams([(demand, n) for demand in some for n in range(len(demand.tasks))], staff))
        for demand in some:
            demand.capacities["teams"] = _hardest(demand, staff, [next(found) for _ in demand.tasks])


@dataclass(frozen=True, slots=True, eq=False)
class _Staff:
    """Who may stand on the sides.

    `bodies` are theirs, each once; `gives` is how much of each body a number of people on a side gives, shape (numbers,
    bodies), by side and by whether they hold a limb of a patient who goes there.
    """

    bodies: tuple[Body, ...]
    gives: Mapping[tuple[Side, bool], Floats]

    @property
    def most(self) -> int:
        return len(self.gives["left", False])


def _staff_of(demand: Demand) -> _Staff:
    team = demand.scenario.team
    # where unstated people stand along a patient changes nothing of what they can do
    return _staff_of_team(team, demand.scenario.patient.stature_m if team.members else 1.0)


@lru_cache(maxsize=64)
def _staff_of_team(team: Team, stature_m: float) -> _Staff:
    most = max(team_most(), team.left, team.right) + 1
    sides = {side: [people_of_team(team, side, n, stature_m) for n in range(most)] for side in SIDES}
    bodies = list(dict.fromkeys(body_of(p) for some in sides.values() for people in some for p in people))
    gives = {(side, held): np.zeros((most, len(bodies))) for side in SIDES for held in (False, True)}
    for (side, held), parts in gives.items():
        for n, people in enumerate(sides[side]):
            some = _of_a_limb(people) if held else people
            for person, part in zip(some, evenness(some, team.sharing, held), strict=True):
                parts[n, bodies.index(body_of(person))] += part
    return _Staff(tuple(bodies), gives)


def _hardest(
    demand: Demand, staff: _Staff, tasks: Sequence[tuple[Floats, NDArray[np.bool_]]]
) -> tuple[Floats, NDArray[np.bool_]]:
    """The effort of every team of up to the most on each side, and whether a limit says nothing of where hands are."""
    shape = len(tasks), staff.most, staff.most
    ratio, out = (np.array([task[i] for task in tasks]).reshape(shape) for i in range(2))
    worst, uncovered = np.zeros(shape[1:]), np.zeros(shape[1:], dtype=bool)
    for (_, ways), (effort, easiest) in zip(demand.moves, easiest_ways(demand, ratio), strict=True):
        np.maximum(worst, effort, out=worst)
        uncovered |= np.choose(easiest, [np.any(out[list(way)], axis=0) for way in ways])
    return worst, uncovered


def team_efforts(demand: Demand, people: Sequence[Person], on_left: NDArray[np.bool_]) -> Floats:
    """Return how hard all must work in each way of dividing some people between the sides, shape (ways, people).

    >>> from ergo.assessment.demand import demand_of
    >>> from ergo.assessment.team import mixed_team
    >>> from ergo.inputs import examples
    >>> ways = np.array([[True, False], [True, True]])
    >>> one, all_left = team_efforts(demand_of(examples.boost()), mixed_team(2), ways)
    >>> bool(one < np.inf)
    True
    """
    find_capacities([(demand, people)])
    # the first of a side gives what they can, the others a little less
    first = np.zeros(on_left.shape, dtype=bool)
    for side in (on_left, ~on_left):
        first |= side & (np.cumsum(side, axis=1) == 1)
    usual = evenness([replace(p, index=1) for p in people], demand.scenario.team.sharing)
    gives = np.where(first, 1.0, usual)
    found = np.zeros((len(demand.tasks), len(on_left)))
    for n, task in enumerate(demand.tasks):
        if task.group == "airway":
            continue
        tables = [demand.capacities[(n, body_of(person), "policy")][0] for person in people]
        left = np.array([task.side_of(action) == "left" for action in task.instants.actions])
        there = np.where(on_left[:, :, None], left, ~left) * gives[:, :, None]
        can = there[:, None] * np.stack(tables, axis=1)
        if task.group == "limb":
            can = (
                can * (np.cumsum(there.any(axis=-1), axis=1) <= assumption("people_per_limb").typical)[:, None, :, None]
            )
        found[n] = np.max(_Worth.of([task]).least_ratio(can[None])[0], axis=-1)
    worst: Floats = np.max([effort for effort, _ in easiest_ways(demand, found)], axis=0, initial=0.0)
    return worst


def _of_all_teams(asked: Sequence[tuple[Demand, int]], staff: _Staff) -> list[tuple[Floats, NDArray[np.bool_]]]:
    """The effort of every team in each task of a demand, and what no limit covers; tasks that are alike together."""
    found: dict[int, tuple[Floats, NDArray[np.bool_]]] = {}
    for alike in _alike([demand.tasks[n] for demand, n in asked], staff.most**2):
        found |= zip(alike, _of_all_teams_alike([asked[k] for k in alike], staff), strict=True)
    return [found[k] for k in range(len(asked))]


def _of_all_teams_alike(
    asked: Sequence[tuple[Demand, int]], staff: _Staff
) -> Iterable[tuple[Floats, NDArray[np.bool_]]]:
    """The same of tasks that are alike: people of one body and side stand together, what they can is added up."""
    tasks = [demand.tasks[n] for demand, n in asked]
    task, shape = tasks[0], (staff.most, staff.most)
    if task.group == "airway":
        leads = share_tasks([(demand, n, at_the_head(demand.scenario)) for demand, n in asked])
        return [
            (np.full(shape, lead.worst), np.full(shape, lead.uncovered and not lead.worst < np.inf)) for lead in leads
        ]
    tables = [[demand.capacities[(n, body, "policy")] for body in staff.bodies] for demand, n in asked]
    every = np.array([[force for force, _ in bodies] for bodies in tables])
    outside = np.array([[out for _, out in bodies] for bodies in tables])
    together, unlike = [], []
    for side in SIDES:
        own = np.array([task.side_of(action) == side for action in task.instants.actions])
        held = task.group == "limb"
        gives = staff.gives[side, held] * float(not held or side == task.towards)
        together.append(gives[:, None, :, None] * np.moveaxis(every * own, 1, 2)[:, None])
        flags = (outside & own).any(axis=(2, 3))
        unlike.append(np.any((gives > 0.0) & flags[:, None], axis=-1))
    whole = len(tasks), *shape, *together[0].shape[2:]
    left, right = np.broadcast_to(together[0][:, :, None], whole), np.broadcast_to(together[1][:, None, :], whole)
    can = np.concatenate([left, right], axis=-2)
    can = can[..., can.any(axis=(0, 1, 2, 3, 5)), :] if can.any() else can[..., :1, :]
    ratio = np.max(_Worth.of(tasks).least_ratio(can), axis=-1)
    uncovered = (unlike[0][:, :, None] | unlike[1][:, None, :]) & ~(ratio < np.inf)
    return zip(ratio, uncovered, strict=True)


def find_hold_without_one(demands: Iterable[Demand]) -> None:
    """Find what people can manage within the upper limits in several cases, all postures in one search."""
    find_capacities([(demand, _staff_of(demand).bodies) for demand in demands], "upper limits")


def holds_without_one(demand: Demand, left: int, right: int) -> bool:
    """Return whether the others still hold the patient when any one of the team must let go.

    Wherever gravity would carry the patient on or back: nobody over the upper limits, everybody in a posture that
    holds. The airway lead does not let go.
    """
    sides = group(demand.scenario, left, right)
    everybody = [*sides["left"], *sides["right"]]
    falling = [n for n, task in enumerate(demand.tasks) if task.falls]
    if not falling:
        return True
    find_hold_without_one([demand])
    gone = list({(p.side, body_of(p), p.index == 0): p for p in everybody}.values())
    stays = np.array([[p is not one for p in everybody] for one in gone], dtype=float)
    spread = evenness(everybody, demand.scenario.team.sharing)
    for n in falling:
        task = demand.tasks[n]
        can, _ = capacity_tables(demand, n, everybody, "upper limits")
        ratio = _Worth.of([task]).least_ratio(((stays * spread)[:, None, :, None] * can)[None])[0]
        falls = np.broadcast_to(task.instants.driving if task.hold_s <= 0 else True, ratio.shape)
        if np.any(ratio[falls] > 1.0):
            return False
    return True


def group(scenario: Scenario, left: int, right: int) -> dict[Side, Sequence[Person]]:
    """Return who stands on each side."""
    return {"left": people_on_side(scenario, "left", left), "right": people_on_side(scenario, "right", right)}
