"""A demand and a team -> the assessment: each move, each limit, the deciding one, the verdict, and why."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from ergo.assessment.check import LimitCheck, worse, worst_checks
from ergo.assessment.demand import Demand, refusal_sentences
from ergo.assessment.load import PersonLoad, shared_in_many
from ergo.assessment.sentences import answer_sentence, decided_words, move_sentence
from ergo.assessment.team import Person, Role, airway_lead, has_airway_lead, lacks_airway_lead, people_on_side, roles_of
from ergo.inputs.scenario import Scenario, Side
from ergo.limits.policy import DecidingPolicy, Verdict, severity, worst_verdict
from ergo.limits.registry import LIMITS
from ergo.mechanics.bed_clearance import BedClearance
from ergo.mechanics.case import aid_of
from ergo.mechanics.demand import Effort
from ergo.mechanics.procedure import Direction, PlannedMove
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["CAUTIONS", "Assessment", "EffortResult", "MoveResult", "compute_loads", "compute_loads_of_many", "judge"]

CAUTIONS = (
    "A screening aid for planning: not a clinical order and not a guarantee of a safe load.",
    "Manual handling is the last resort. Over a limit the answer is a mechanical lift or a better aid.",
    "What a person can manage differs with injury, fatigue, pregnancy and height: reassess each time.",
    "The patient's condition, airway and lines come first. Local policy, the maker's instructions and licensed "
    "professionals decide.",
)

_SIDES: tuple[Side, ...] = ("left", "right")
_VERBS = {
    "pull": "pull",
    "counter-hold": "hold the layer",
    "brake": "lower the patient",
    "hold back": "hold the patient back",
    "limb hold": "hold the limb",
    "head hold": "hold the head",
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

    def why_in(self, units: Units) -> str:
        """Return why the move has its verdict, in the reader's units."""
        return move_sentence(self.verdict, self.deciding, self.unmet, units)

    def _peak(self, role: str) -> float:
        return max((float(e.effort.start_n) for e in self.efforts if e.effort.role == role), default=0.0)

    @property
    def team_force_n(self) -> float:
        """Peak force that the whole pulling side must produce [N]."""
        return self._peak("pull")

    @property
    def counter_hold_n(self) -> float:
        """Peak force with which the other side holds a layer or the patient back [N]."""
        return max(self._peak("counter-hold"), self._peak("hold back"))

    @property
    def brake_force_n(self) -> float:
        """Peak force with which the receiving side lowers the patient [N]."""
        return self._peak("brake")

    @property
    def loads(self) -> tuple[PersonLoad, ...]:
        """Every person's load in every effort of the move."""
        return tuple(load for e in self.efforts for load in e.loads)

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


@dataclass(frozen=True, slots=True)
class _GroupLoads:
    """What the people of a side, or the airway lead, do in one effort; compared with limits when somebody asks."""

    loads: tuple[PersonLoad, ...]
    unmet: tuple[str, ...]
    known: dict[bool, tuple[LimitCheck, ...]]
    """Checks of every limit, or of those alone that decide."""

    def checks(self, demand: Demand, effort: Effort, every_limit: bool) -> tuple[LimitCheck, ...]:
        if every_limit not in self.known:
            limits = LIMITS if every_limit else demand.policy.limits
            self.known[every_limit] = worst_checks(demand, effort, self.loads, limits)
        return self.known[every_limit]


def judge(demand: Demand, left: int, right: int, every_limit: bool = True) -> Assessment:
    """Return the assessment of a demand with `left` and `right` people on the two sides.

    Without `every_limit` the moves list only the limits that decide; the verdict is the same.

    >>> from ergo.assessment.demand import demand_of
    >>> from ergo.inputs import examples
    >>> demand = demand_of(examples.boost())
    >>> judge(demand, 2, 2).worst_ratio < judge(demand, 1, 1).worst_ratio
    True
    """
    people: dict[Side, int] = {"left": left, "right": right}
    compute_loads(demand, [("airway", 1), *((side, n) for side, n in people.items() if n)])
    moves = tuple(_judge_move(demand, m, people, every_limit) for m in range(len(demand.moves)))
    worst = _worst(moves)
    verdict: Verdict = "over" if demand.refusals else worst_verdict([m.verdict for m in moves])
    return Assessment(
        scenario=demand.scenario,
        left=left,
        right=right,
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


def compute_loads(demand: Demand, groups: Iterable[tuple[Side | Literal["airway"], int]]) -> None:
    """Compute what each group, the people of a side or the airway lead, does in every effort that falls to it.

    Remembered in the demand. Groups that will all be asked for are found several times faster together than apart.

    >>> from ergo.assessment.demand import demand_of
    >>> from ergo.inputs import examples
    >>> demand = demand_of(examples.boost())
    >>> compute_loads(demand, [("left", 1), ("left", 2)])
    >>> [len(group.loads) for efforts in demand.computed.values() for group in efforts.values()]
    [1, 2]
    """
    compute_loads_of_many([(demand, side, people) for side, people in groups])


def compute_loads_of_many(groups: Iterable[tuple[Demand, Side | Literal["airway"], int]]) -> None:
    """Do as `compute_loads` for groups of several cases, all bodies found in one vectorised search."""
    tasks: list[tuple[Demand, Effort, tuple[Person, ...], float]] = []
    numbers: dict[tuple[object, ...], int] = {}  # an effort that comes again, as with every micro-turn, is one task
    keys = []
    found: dict[tuple[int, Side | Literal["airway"], int], tuple[Demand, dict[tuple[int, int], _GroupLoads]]] = {}
    for demand, side, people in groups:
        key = id(demand), side, people
        if (side, people) in demand.computed or key in found:
            continue
        found[key] = demand, {}
        group = (airway_lead(),) if side == "airway" else people_on_side(demand.scenario, side, people)
        for m, (_, efforts) in enumerate(demand.moves):
            for e, effort in enumerate(efforts):
                if effort.falls_to(side):
                    number = numbers.setdefault((*key, *_asks(effort)), len(tasks))
                    if number == len(tasks):
                        tasks.append((demand, effort, group, effort.part))
                    keys.append((key, (m, e), number))
    shares = list(map(_group_loads, shared_in_many(tasks)))
    for key, place, number in keys:
        found[key][1][place] = shares[number]
    for (_, side, people), (demand, group_loads) in found.items():  # whole, because another reader may share the demand
        demand.computed[(side, people)] = group_loads


def _asks(effort: Effort) -> tuple[object, ...]:
    """All that an effort asks of a group."""
    numbers = (
        effort.start_n,
        effort.steady_n,
        effort.hold_n,
        effort.elevation,
        effort.reach_m,
        effort.hand_height_m,
        effort.centre_m,
    )
    return effort.role, effort.side, effort.hands, effort.seconds, float(effort.held_kg), *map(float, numbers)


def _group_loads(loads: tuple[PersonLoad, ...]) -> _GroupLoads:
    unmet = tuple(f"{load.person.words}: {load.body.reason}" for load in loads if not load.body.can_be_held)
    return _GroupLoads(loads, unmet, {})


def _verdict(limits: Iterable[LimitCheck], unmet: Iterable[str]) -> Verdict:
    """Return the verdict of several limits: a deciding limit asked outside its range is never a silent pass."""
    deciding = [c for c in limits if c.decides]
    verdicts: list[Verdict] = [c.verdict for c in deciding if c.ratio is not None or c.outside]
    if any(unmet):
        verdicts.append("over")
    return worst_verdict(verdicts)


def _judge_move(demand: Demand, index: int, people: dict[Side, int], every_limit: bool) -> MoveResult:
    move, efforts = demand.moves[index]
    results, unmet = [], []
    worst: dict[str, LimitCheck] = {}
    for e, effort in enumerate(efforts):
        groups, absent = _present(demand, (index, e), effort, people)
        unmet += absent
        results.append(EffortResult(effort, tuple(load for group in groups for load in group.loads)))
        for group in groups:
            unmet += group.unmet
            for check in group.checks(demand, effort, every_limit):
                worst[check.key] = worse(worst.get(check.key), check)
    unmet += [f"nobody stands on the {side} side to guard the edge" for side in demand.guarded if not people[side]]
    if lacks_airway_lead(demand.scenario, move):
        unmet.append("nobody leads at the head")
    limits = tuple(worst.values())
    top = max((c for c in limits if c.decides and c.ratio is not None), key=lambda c: severity(c.ratio), default=None)
    verdict: Verdict = _verdict(limits, unmet) if efforts or unmet else "within"
    said = tuple(dict.fromkeys(unmet))
    return MoveResult(move, tuple(results), limits, top, verdict, said, move_sentence(verdict, top, said))


def _present(
    demand: Demand, place: tuple[int, int], effort: Effort, people: dict[Side, int]
) -> tuple[list[_GroupLoads], list[str]]:
    """Return what the people who are there do in one effort, worked out before; say so where nobody is there."""
    if effort.side == "airway":
        if has_airway_lead(demand.scenario):
            return [demand.computed[("airway", 1)][place]], []
        return [], ["nobody holds the head"]
    sides = [side for side in _SIDES if effort.falls_to(side)]
    groups = [demand.computed[(side, people[side])][place] for side in sides if people[side]]
    # One side alone would turn the patient in a boost, so both must be there.
    return groups, [f"nobody stands on the {s} side to {_VERBS[effort.role]}" for s in sides if not people[s]]
