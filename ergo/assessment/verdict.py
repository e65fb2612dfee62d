"""A demand and a team -> the assessment: each move, each limit, the deciding one, the verdict, and why."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ergo.assessment.check import NEGLIGIBLE_N, LimitCheck, worst_checks
from ergo.assessment.demand import Demand, easiest_ways, refusal_sentences
from ergo.assessment.load import PersonLoad, bodies_of_many, load_of
from ergo.assessment.possible_teams import nobody_where_needed
from ergo.assessment.sentences import answer_sentence, decided_words, move_sentence
from ergo.assessment.team import Person, Role, at_the_head, roles_of
from ergo.assessment.team_share import TaskShare, find_capacities, group, people_for, share_tasks
from ergo.handlers.team_effort import FULL_EFFORT
from ergo.inputs.scenario import Scenario, Side
from ergo.limits.policy import DecidingPolicy, Verdict, severity, worst_verdict
from ergo.limits.registry import LIMITS
from ergo.mechanics.bed_clearance import BedClearance
from ergo.mechanics.case import aid_of
from ergo.mechanics.demand import Effort
from ergo.mechanics.hand_actions import ActionName
from ergo.mechanics.procedure import Direction, PlannedMove
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["Assessment", "EffortResult", "MoveResult", "judge", "judge_teams"]

_VERBS: dict[ActionName, str] = {
    "pulls the sheet": "pull the sheet",
    "draws the far shoulder and hip": "draw the far shoulder and hip",
    "pushes": "push",
    "lifts its edge": "lift the edge",
    "receives and lowers": "receive and lower the patient",
    "pays out": "pay out the layer",
    "holds back": "hold the patient back",
    "holds the under-sheet": "hold the under-sheet",
    "holds the limb": "hold the limb",
    "holds the head": "hold the head",
}


@dataclass(frozen=True, slots=True)
class EffortResult:
    """An effort and the people who share it."""

    effort: Effort
    loads: tuple[PersonLoad, ...]


@dataclass(frozen=True, slots=True)
class MoveResult:
    """One move with one team: forces, every limit, the deciding one, the verdict and why.

    `unmet` says what no limit can: nobody is there, or no posture holds the force.
    """

    move: PlannedMove
    efforts: tuple[EffortResult, ...]
    limits: tuple[LimitCheck, ...]
    deciding: LimitCheck | None
    verdict: Verdict
    unmet: tuple[str, ...]
    why: str
    """In kg, N and cm; `why_in` says the same in other units."""
    effort: float
    """The part of what they can manage that everybody gives, where it is hardest; infinite where the team cannot."""
    idle: tuple[Person, ...]
    """Who stands by and gives no force in this move, at the sides or at the head."""

    def why_in(self, units: Units) -> str:
        """Return why the move has its verdict, in the reader's units."""
        hands_n = _hands_n(self.deciding, self.loads)
        return move_sentence(self.verdict, self.deciding, self.unmet, units, hands_n)

    def force_n(self, action: ActionName) -> float:
        """Return the peak force of all who do an action on one side [N]."""
        return max((float(e.effort.start_n) for e in self.efforts if e.effort.role == action), default=0.0)

    @property
    def loads(self) -> tuple[PersonLoad, ...]:
        """Every person's load in every effort of the move."""
        return tuple(load for e in self.efforts for load in e.loads)

    @property
    def hardest_of_each(self) -> tuple[PersonLoad, ...]:
        """For everybody who does something, what takes the largest force, in the order of `loads`."""
        most: dict[tuple[Side | None, int], PersonLoad] = {}
        for load in self.loads:
            at = load.person.side, load.person.index
            if at not in most or load.start_n > most[at].start_n:
                most[at] = load
        return tuple(most.values())

    @property
    def worst_load(self) -> PersonLoad | None:
        """The person with the largest force at the hands."""
        return max(self.loads, key=lambda load: load.start_n, default=None)

    @property
    def worst_person_force_n(self) -> float:
        """The largest force in one pair of hands [N]."""
        worst = self.worst_load
        return worst.start_n if worst else 0.0


@dataclass(frozen=True, slots=True)
class Assessment:
    """The answer for one scenario and one team."""

    scenario: Scenario
    left: int
    right: int
    roles: tuple[Role, ...]
    moves: tuple[MoveResult, ...]
    verdict: Verdict
    deciding: LimitCheck | None
    deciding_move: str
    refusals: tuple[str, ...]
    direction: Direction
    landing: BedClearance | None
    policy: DecidingPolicy
    why: str
    """In kg, N and cm; `why_in` says the same in other units."""

    def refusals_in(self, units: Units) -> tuple[str, ...]:
        """Return what is refused, in the reader's units."""
        return refusal_sentences(self.scenario, aid_of(self.scenario), self.landing, units)

    def why_in(self, units: Units) -> str:
        """Return why the whole has its verdict, in the reader's units."""
        return _why(self.verdict, self.refusals_in(units), self.moves, units)

    @property
    def people(self) -> int:
        """Everybody in the room for the move: both sides and the roles."""
        return self.left + self.right + sum(role.people for role in self.roles)

    @property
    def decided_by(self) -> str:
        """Which limit decided, whom it protects, how it was found and how it is known."""
        return self.decided_by_in(DEFAULT_UNITS)

    def decided_by_in(self, units: Units) -> str:
        """Return the same with the reader's units."""
        return decided_words(self.deciding, units)

    @property
    def worst_ratio(self) -> float:
        """Largest ratio of an amount to its deciding limit; 0 when none applies."""
        return (self.deciding.ratio or 0.0) if self.deciding else 0.0

    @property
    def worst_person_force_n(self) -> float:
        """The largest force in one pair of hands in any move [N]."""
        return max((move.worst_person_force_n for move in self.moves), default=0.0)

    @property
    def hardest_move(self) -> MoveResult:
        """The move with the highest ratio to a deciding limit, the first where no limit applies."""
        return _worst(self.moves) or self.moves[0]


def judge(demand: Demand, left: int, right: int, every_limit: bool = True) -> Assessment:
    """Return the assessment of a demand with `left` and `right` people on the two sides.

    Without `every_limit` the moves list only the limits that decide; the verdict is the same.

    >>> from ergo.assessment.demand import demand_of
    >>> from ergo.inputs import examples
    >>> demand = demand_of(examples.boost())
    >>> judge(demand, 2, 2).worst_ratio < judge(demand, 1, 1).worst_ratio
    True
    """
    return judge_teams([(demand, left, right)], every_limit)[0]


def judge_teams(teams: Iterable[tuple[Demand, int, int]], every_limit: bool = True) -> list[Assessment]:
    """Do as `judge` for teams of one case or of many, all bodies found in one search.

    >>> from ergo.assessment.demand import demand_of
    >>> from ergo.inputs import examples
    >>> demand = demand_of(examples.boost())
    >>> judge_teams([(demand, 1, 1), (demand, 2, 2)])[1] == judge(demand, 2, 2)
    True
    """
    staffed = [_Staffed.of(*team) for team in teams]
    find_capacities([(one.demand, (*one.sides["left"], *one.sides["right"])) for one in staffed])
    shared = _shares(staffed)
    ways = [_easiest(one.demand, shares) for one, shares in zip(staffed, shared, strict=True)]
    efforts = [
        (k, n, effort, parts)
        for k, (shares, chosen) in enumerate(zip(shared, ways, strict=True))
        for n in sorted({n for way in chosen for n in way})
        for effort, parts in _actions(shares[n])
    ]
    rows = [(effort, person, part) for _, _, effort, parts in efforts for person, part, _ in parts]
    cases = [staffed[k].demand.scenario for k, _, _, parts in efforts for _ in parts]
    bodies = iter(bodies_of_many(cases, rows, [case.handling.technique for case in cases]))
    done: list[dict[int, tuple[EffortResult, ...]]] = [{} for _ in staffed]
    for k, n, effort, parts in efforts:
        scenario = staffed[k].demand.scenario
        loads = tuple(load_of(scenario, effort, *who[:2], next(bodies), who[2]) for who in parts)
        done[k][n] = (*done[k].get(n, ()), EffortResult(effort, loads))
    return [
        _assessment(one, [[(shares[n], found.get(n, ())) for n in way] for way in chosen], every_limit)
        for one, shares, chosen, found in zip(staffed, shared, ways, done, strict=True)
    ]


@dataclass(frozen=True, slots=True)
class _Staffed:
    """What a case asks, and who is there."""

    demand: Demand
    left: int
    right: int
    sides: dict[Side, Sequence[Person]]
    lead: tuple[Person, ...]

    @classmethod
    def of(cls, demand: Demand, left: int, right: int) -> _Staffed:
        return cls(demand, left, right, group(demand.scenario, left, right), at_the_head(demand.scenario))


def _shares(staffed: Sequence[_Staffed]) -> list[list[TaskShare]]:
    """How each team shares each task of its case."""
    found = iter(
        share_tasks(
            [
                (one.demand, n, people_for(task, one.sides, one.lead))
                for one in staffed
                for n, task in enumerate(one.demand.tasks)
            ]
        )
    )
    return [[next(found) for _ in one.demand.tasks] for one in staffed]


def _assessment(
    one: _Staffed, done: Sequence[Sequence[tuple[TaskShare, tuple[EffortResult, ...]]]], every_limit: bool
) -> Assessment:
    demand = one.demand
    moves = tuple(
        _judge_move(
            demand, move, parts, one.sides, one.lead, nobody_where_needed(demand, n, one.left, one.right), every_limit
        )
        for n, ((move, _), parts) in enumerate(zip(demand.moves, done, strict=True))
    )
    worst = _worst(moves)
    verdict: Verdict = "over" if demand.refusals else worst_verdict([m.verdict for m in moves])
    return Assessment(
        scenario=demand.scenario,
        left=one.left,
        right=one.right,
        roles=roles_of(demand.scenario),
        moves=moves,
        verdict=verdict,
        deciding=worst.deciding if worst else None,
        deciding_move=worst.move.name if worst else "",
        refusals=demand.refusals,
        direction=demand.direction,
        landing=demand.landing,
        policy=demand.policy,
        why=_why(verdict, demand.refusals, moves, DEFAULT_UNITS),
    )


def _easiest(demand: Demand, shares: Sequence[TaskShare]) -> list[tuple[int, ...]]:
    """The way of each move in which everybody gives the least part of what they can."""
    every = easiest_ways(demand, np.array([share.worst for share in shares]))
    return [ways[int(way)] for (_, ways), (_, way) in zip(demand.moves, every, strict=True)]


def _actions(share: TaskShare) -> Iterator[tuple[Effort, list[tuple[Person, float, float]]]]:
    """Yield each action of each side at the instant where it is hardest: the whole, and who does which part of it."""
    task, at = share.task, share.task.instants

    def value(values: NDArray[Any], j: int) -> float:
        return float(values.item(j if values.size > 1 else 0))

    for k, action in enumerate(at.actions):
        side = "airway" if task.group == "airway" else task.side_of(action)
        doing = [i for i, p in enumerate(share.people) if p.side in (side, None)]
        force, can = share.force_n[:, doing, k], share.capacity_n[:, doing, k]
        gives = force > NEGLIGIBLE_N
        if not gives.any():
            continue
        j = int(np.where(gives, force / np.where(can > 0.0, can, np.inf), 0.0).max(axis=1).argmax())
        whole = float(force[j].sum())
        level, up = value(action.pull, j), value(action.lift, j)
        effort = Effort(
            role=action.name,
            side=side,
            start_n=np.asarray(whole),
            steady_n=np.asarray(whole * float(np.max(task.steady_share))),
            hold_n=np.asarray(whole if task.hold_s > 0 else 0.0),
            elevation=np.asarray(np.arctan2(up, level)),
            reach_m=np.asarray(value(action.reach_m, j)),
            hand_height_m=np.asarray(value(action.hand_height_m, j)),
            seconds=task.hold_s or task.slide_s,
            centre_m=task.centre_m,
            hands=task.hands,
            held_kg=task.held_kg,
            terms={
                **{name: np.asarray(value(term, j)) for name, term in task.terms.items()},
                **({} if "roll angle" in task.terms else {"what resists": np.asarray(value(at.resistance, j))}),
                "worth of one newton": np.asarray(value(action.gain, j)),
            },
            sources=task.sources,
            along_bed=task.along,
            part=task.part,
        )
        parts = [
            (share.people[i], float(f) / whole, float(c))
            for i, f, c in zip(doing, force[j], can[j], strict=True)
            if f > NEGLIGIBLE_N
        ]
        yield effort, parts


def _worst(moves: Iterable[MoveResult]) -> MoveResult | None:
    """The move with the highest ratio to a deciding limit, the first of equals; None where no limit applies."""
    decided = [(m, m.deciding.ratio) for m in moves if m.deciding is not None]
    return max(decided, key=lambda pair: severity(pair[1]), default=(None, None))[0]


def _why(verdict: Verdict, refusals: Sequence[str], moves: Sequence[MoveResult], units: Units) -> str:
    worst = _worst(moves)
    said = [(m.move.name, m.why_in(units), m.unmet) for m in moves]
    return answer_sentence(
        verdict, refusals, said, worst.why_in(units) if worst else None, worst.move.name if worst else ""
    )


def _verdict(limits: Iterable[LimitCheck], unmet: Iterable[str]) -> Verdict:
    """Return the verdict of several limits: a deciding limit asked outside its range is never a silent pass."""
    deciding = [c for c in limits if c.decides]
    verdicts: list[Verdict] = [c.verdict for c in deciding if c.ratio is not None or c.outside]
    if any(unmet):
        verdicts.append("over")
    return worst_verdict(verdicts)


def _judge_move(
    demand: Demand,
    move: PlannedMove,
    done: Sequence[tuple[TaskShare, tuple[EffortResult, ...]]],
    sides: Mapping[Side, Sequence[Person]],
    lead: Sequence[Person],
    missing: Sequence[str],
    every_limit: bool,
) -> MoveResult:
    efforts = tuple(effort for _, every in done for effort in every)
    unmet = [words for share, every in done if (words := _unmet(share, every))]
    unmet += missing
    loads = [(result.effort, load) for result in efforts for load in result.loads]
    limits = worst_checks(demand, loads, LIMITS if every_limit else demand.policy.limits)
    top = max((c for c in limits if c.decides and c.ratio is not None), key=lambda c: severity(c.ratio), default=None)
    uncovered = [share for share, _ in done if share.uncovered and not share.worst <= FULL_EFFORT]
    if uncovered and len(unmet) == sum(not share.worst < np.inf for share in uncovered):
        verdict: Verdict = "not applicable"
    else:
        verdict = _verdict(limits, unmet) if efforts or unmet else "within"
    said = tuple(dict.fromkeys(unmet))
    ratio = max((share.worst for share, _ in done), default=0.0)
    busy = {(load.person.side, load.person.index) for _, load in loads}
    idle = tuple(p for p in (*sides["left"], *sides["right"], *lead) if (p.side, p.index) not in busy)
    hands_n = _hands_n(top, (load for _, load in loads))
    why = move_sentence(verdict, top, said, hands_n=hands_n)
    return MoveResult(move, efforts, limits, top, verdict, said, why, ratio, idle)


def _hands_n(check: LimitCheck | None, loads: Iterable[PersonLoad]) -> float | None:
    """The whole force in the hands [N] whose level part a limit judges; None for every other limit."""
    if check is None or check.quantity not in ("start force", "hand force"):
        return None
    return next((x.start_n for x in loads if x.person == check.person and abs(x.pull_n) == check.amount), None)


def _unmet(share: TaskShare, efforts: Sequence[EffortResult]) -> str:
    """Say what no ratio can: that nobody is there or able, or that somebody is beyond what the body can hold."""
    if not share.worst < np.inf:
        whose = {"airway": "nobody holds the head", "limb": "nobody can hold the limb"}
        j = int(np.argmax(share.ratio))
        here = [a for a in share.task.instants.actions if np.broadcast_to(a.gain, share.ratio.shape)[j] > 0.0]
        names = " or ".join(dict.fromkeys(f"{_VERBS[a.name]} from the {share.task.side_of(a)}" for a in here))
        said = f"nobody there can {names}" if names else "nothing that hands can do moves the patient"
        if names and share.task.hold_s > 0:
            said += f" and hold on for {share.task.hold_s:g} s"
        if share.task.group == "sides" and not share.people:
            said = "nobody stands at the bed"
        if share.uncovered:
            said += ": a limit that decides does not cover where the hands are"
        return said if share.people and share.task.group == "sides" else whose.get(share.task.group, said)
    loads = [load for effort in efforts for load in effort.loads]
    return next((f"{load.person.words}: {load.body.reason}" for load in loads if not load.body.can_be_held), "")
