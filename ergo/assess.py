"""Scenario -> assessment: the one module that knows every model.

`demand_of` computes what each move asks of each side, with the value of every limit; `judge` shares it between the
people of one team and compares. `assess` does both for the team of the scenario.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ergo.errors import Fault, InputError
from ergo.evidence import assumption, table
from ergo.limits.policy import POLICIES, DecidingPolicy, Verdict, verdict_of, worst_verdict
from ergo.limits.registry import LIMITS, Condition, Limit, NotApplicable, Quantity, Value
from ergo.mechanics.case import Case, build_case
from ergo.mechanics.demand import Effort, demand
from ergo.mechanics.landing import Landing
from ergo.mechanics.procedure import Direction, PlannedMove, direction_of, landing_of, plan_moves
from ergo.people.sharing import Shares, share, station_name, stations
from ergo.scenario import Member, Scenario, Sex, Side

__all__ = [
    "CAUTIONS",
    "Assessment",
    "Demand",
    "LimitCheck",
    "MoveResult",
    "Person",
    "PersonLoad",
    "Role",
    "assess",
    "demand_of",
    "judge",
    "roles_of",
]

CAUTIONS = (
    "A screening aid for planning: not a clinical order and not a guarantee of a safe load.",
    "Manual handling is the last resort. Over a limit the answer is a mechanical lift or a better aid.",
    "Capacity differs with injury, fatigue, pregnancy and difference in height: reassess each time.",
    "The patient's condition, airway and lines come first. Local policy, the maker's instructions and licensed "
    "professionals decide.",
)

LimitValues = tuple[tuple[Limit, Value | NotApplicable], ...]


@dataclass(frozen=True, slots=True)
class Person:
    """One person at the bedside who pulls, holds or brakes."""

    side: Side
    along_m: float
    place: str
    sex: Sex | None = None

    @property
    def label(self) -> str:
        """Side and place in words."""
        return f"{self.side} side, at the {self.place}"


@dataclass(frozen=True, slots=True)
class Role:
    """A person who does not pull."""

    name: str
    people: int
    reason: str


@dataclass(frozen=True, slots=True)
class PersonLoad:
    """What one person does in one effort. Forces in N along the line of the hands; `up_n` is their upward part."""

    who: str
    role: str
    fraction: float
    start_n: float
    steady_n: float
    up_n: float
    held_kg: float
    sex: Sex | None


@dataclass(frozen=True, slots=True)
class LimitCheck:
    """One limit held against the person whom it judges worst in a move."""

    key: str
    label: str
    who: str
    demand: float
    limit: float | None
    unit: str
    ratio: float | None
    verdict: Verdict
    source: str
    known: str
    decides: bool
    note: str


@dataclass(frozen=True, slots=True)
class EffortResult:
    """An effort and how it is shared."""

    effort: Effort
    shares: Shares | None
    loads: tuple[PersonLoad, ...]


@dataclass(frozen=True, slots=True)
class MoveResult:
    """One move with one team: forces, every limit, the deciding one, the verdict and why."""

    move: PlannedMove
    efforts: tuple[EffortResult, ...]
    limits: tuple[LimitCheck, ...]
    deciding: LimitCheck | None
    verdict: Verdict
    missing: tuple[str, ...]
    why: str

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
    def worst_load(self) -> PersonLoad | None:
        """The person with the largest force at the hands."""
        return max((load for e in self.efforts for load in e.loads), key=lambda load: load.start_n, default=None)

    @property
    def worst_person_force_n(self) -> float:
        """The largest force in one pair of hands [N]."""
        worst = self.worst_load
        return worst.start_n if worst else 0.0


@dataclass(frozen=True, slots=True)
class Judged:
    """An effort with the value of every limit that speaks of it, for women and for men."""

    effort: Effort
    limits: dict[Sex, LimitValues]


@dataclass(frozen=True)
class Demand:
    """What a scenario asks, before any team is chosen."""

    scenario: Scenario
    case: Case
    direction: Direction
    landing: Landing | None
    moves: tuple[tuple[PlannedMove, tuple[Judged, ...]], ...]
    refusals: tuple[str, ...]

    @cached_property
    def guarded(self) -> frozenset[Side]:
        """Sides where somebody must stand even if nothing is pulled there (common practice, no source)."""
        moving_over = any(m.is_turn or m.kind == "lateral transfer" for m, _ in self.moves)
        return frozenset(("left", "right")) if moving_over else frozenset()


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
    landing: Landing | None
    policy: DecidingPolicy
    why: str

    @property
    def people(self) -> int:
        """Everybody in the room for the move: both sides and the roles."""
        return self.left + self.right + sum(role.people for role in self.roles)

    @property
    def worst_ratio(self) -> float:
        """Largest ratio of demand to a deciding limit; 0 when none applies."""
        return (self.deciding.ratio or 0.0) if self.deciding else 0.0


def roles_of(scenario: Scenario) -> tuple[Role, ...]:
    """Return the people who do not pull.

    Examples
    --------
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6, "intubated": True}
    >>> [r.name for r in roles_of(parse_scenario({"name": "x", "procedure": "prone turn", "patient": patient}))]
    ['airway lead']
    """
    team = scenario.team
    wanted = team.airway_lead if team.airway_lead is not None else scenario.patient.intubated
    found = []
    if wanted:
        found.append(Role("airway lead", 1, "holds head and tube, and nothing else"))
    if team.lines_and_drains:
        found.append(Role("lines and drains", team.lines_and_drains, "keeps lines and drains free"))
    if team.separate_caller:
        found.append(Role("caller", 1, "counts and watches"))
    return tuple(found)


def assess(scenario: Scenario) -> Assessment:
    """Return the assessment of a scenario with its own team.

    Parameters
    ----------
    scenario : Scenario

    Returns
    -------
    Assessment

    Raises
    ------
    InputError
        If the aid cannot serve the procedure.

    Examples
    --------
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> result = assess(parse_scenario({"name": "x", "procedure": "boost", "patient": patient}))
    >>> result.people, result.moves[0].move.kind
    (4, 'boost')
    """
    return judge(demand_of(scenario), scenario.team.left, scenario.team.right)


def demand_of(scenario: Scenario) -> Demand:
    """Return what every move of a scenario asks of each side, and the value of each limit there.

    Raises
    ------
    InputError
        If the aid cannot serve the procedure.
    """
    case = build_case(scenario)
    planned = plan_moves(scenario, case)
    _check_aid(case, planned)
    turns_over = any(m.to_rad >= np.pi - 1e-9 for m in planned)
    room = landing_of(scenario, case) if turns_over else None
    judged = []
    for move in planned:
        efforts = (e for e in demand(move, case, scenario) if float(e.start_n) > 0 or float(e.steady_n) > 0)
        judged.append((move, tuple(_with_limits(e, scenario) for e in efforts)))
    return Demand(scenario, case, direction_of(scenario), room, tuple(judged), tuple(_refusals(scenario, case, room)))


def _check_aid(case: Case, planned: tuple[PlannedMove, ...]) -> None:
    faults = []
    needed = {_service(m) for m in planned} - {""}
    able = set(case.aid.serves) | ({"lateral"} if "slide" in case.aid.serves else set())
    if needed - able:
        faults.append(Fault("aid", repr(case.aid.name), f"does not serve a {' or '.join(sorted(needed - able))} move"))
    if any(m.kind == "counter-slide" for m in planned) and not case.aid.two_layers:
        faults.append(Fault("aid", repr(case.aid.name), "a counter-slide needs an aid with two layers"))
    if faults:
        raise InputError("scenario", faults)


def _service(move: PlannedMove) -> str:
    if move.kind in ("limb hold", "head hold"):
        return ""
    if move.is_turn:
        return "turn"
    return "lateral" if move.kind == "lateral transfer" else "slide"


def _refusals(scenario: Scenario, case: Case, room: Landing | None) -> Iterable[str]:
    mass = scenario.patient.mass_kg
    for what, capacity in (("bed", scenario.bed.rated_capacity_kg), (case.aid.name, case.aid.rated_capacity_kg)):
        if capacity is not None and mass > capacity:
            yield f"The patient's {mass:.0f} kg exceed the rated capacity of the {what}, {capacity:.0f} kg."
    if room is not None and not bool(room.fits):
        yield (
            f"The bed is too narrow: {scenario.bed.width_m * 100:.0f} cm leave no room to turn this patient over, "
            "even with a counter-slide."
        )


def _arm_length() -> float:
    """From shoulder to grip of a median woman [m]; the shortest arms reach their limit first."""
    part = {r["item"]: float(r["fraction_of_stature"]) for r in table("stature_fractions")}
    arm = part["upper arm"] + part["forearm"] + assumption("grip_point").typical * part["hand"]
    return arm * assumption("handler_stature").typical


def _with_limits(effort: Effort, scenario: Scenario) -> Judged:
    policy = POLICIES[scenario.policy.protect]
    found: dict[Sex, LimitValues] = {}
    sexes: tuple[Sex, ...] = ("F", "M") if policy.sex is None else (policy.sex,)
    speaks = _quantities(effort)
    for sex in sexes:
        condition = Condition(
            sex=sex,
            percent=policy.percent,
            minutes_between=scenario.policy.minutes_between_efforts,
            hand_height_m=scenario.bed.height_m + float(effort.hand_height_m),
            reach_of_arm=float(effort.reach_m) / _arm_length(),
            hands=effort.hands,
            seconds=effort.seconds,
            site_limit_n=scenario.policy.site_limit_n,
        )
        found[sex] = tuple((limit, limit.value(condition)) for limit in LIMITS if limit.quantity in speaks)
    return Judged(effort, found)


def _quantities(effort: Effort) -> frozenset[Quantity]:
    """Say which quantities an effort has at all; a limit on another quantity is silent about it."""
    spoken: set[Quantity] = set()
    if effort.role in ("limb hold", "head hold"):
        return frozenset({"held mass", "upward force"})
    if float(effort.level_n) > 1e-9 * float(effort.start_n):
        spoken |= {"start force", "steady force", "hand force"}
    if float(effort.up_n) > 0:
        spoken.add("upward force")
    return frozenset(spoken)


def _quantity(load: PersonLoad, effort: Effort, quantity: Quantity) -> float:
    level = float(np.cos(effort.elevation))
    match quantity:
        case "start force" | "hand force":
            return load.start_n * level
        case "steady force":
            return load.steady_n * level
        case "upward force":
            return load.up_n
        case "held mass":
            return load.held_kg


def judge(asked: Demand, left: int, right: int) -> Assessment:
    """Return the assessment of a demand with `left` and `right` people on the two sides.

    Parameters
    ----------
    asked : Demand
    left, right : int

    Returns
    -------
    Assessment
    """
    scenario = asked.scenario
    policy = POLICIES[scenario.policy.protect]
    crew = _crew(scenario, left, right)
    moves = tuple(_judge_move(move, efforts, crew, asked, policy) for move, efforts in asked.moves)
    checks = [(m.deciding.ratio or 0.0, m) for m in moves if m.deciding is not None]
    worst = max(checks, key=lambda pair: pair[0])[1] if checks else None
    verdict = worst_verdict([m.verdict for m in moves])
    if asked.refusals:
        verdict = "over"
    deciding = worst.deciding if worst else None
    return Assessment(
        scenario=scenario,
        left=left,
        right=right,
        roles=roles_of(scenario),
        moves=moves,
        verdict=verdict,
        deciding=deciding,
        deciding_move=worst.move.name if worst else "",
        refusals=asked.refusals,
        direction=asked.direction,
        landing=asked.landing,
        policy=policy,
        why=_why(verdict, asked.refusals, moves, worst),
    )


def _crew(scenario: Scenario, left: int, right: int) -> dict[Side, tuple[Person, ...]]:
    """The people on each side: the scenario's own members where their number fits, else evenly spread."""
    stature = scenario.patient.stature_m
    team = scenario.team
    named = team.members if (left, right) == (team.left, team.right) else ()
    counts: tuple[tuple[Side, int], ...] = (("left", left), ("right", right))
    return {side: _side_crew(side, count, [m for m in named if m.side == side], stature) for side, count in counts}


def _side_crew(side: Side, count: int, members: list[Member], stature_m: float) -> tuple[Person, ...]:
    if not count:
        return ()
    spread = stations(count, stature_m)
    people = []
    for i in range(count):
        member = members[i] if members else None
        along = member.along_m if member and member.along_m is not None else float(spread[i])
        people.append(Person(side, along, station_name(along, stature_m), member.sex if member else None))
    return tuple(people)


def _judge_move(
    move: PlannedMove,
    efforts: tuple[Judged, ...],
    crew: dict[Side, tuple[Person, ...]],
    asked: Demand,
    policy: DecidingPolicy,
) -> MoveResult:
    results, missing = [], []
    worst: dict[str, LimitCheck] = {}
    for judged in efforts:
        loads, shares, absent = _loads(judged.effort, crew, asked.scenario)
        missing += absent
        results.append(EffortResult(judged.effort, shares, loads))
        for check in _checks(judged, loads, policy):
            known = worst.get(check.key)
            if known is None or (check.ratio or -1.0) > (known.ratio or -1.0):
                worst[check.key] = check
    for side in asked.guarded:
        if not crew[side]:
            missing.append(f"nobody stands on the {side} side to guard the edge")
    limits = tuple(worst.values())
    deciding = [c for c in limits if c.decides]
    applicable = [c for c in deciding if c.ratio is not None]
    verdicts = [c.verdict for c in applicable]
    if any(c.verdict == "not applicable" and c.note.startswith(_OUTSIDE) for c in deciding):
        verdicts.append("not applicable")
    if missing:
        verdicts.append("over")
    elif not efforts:
        verdicts.append("within")
    top = max(applicable, key=lambda c: c.ratio or 0.0, default=None)
    verdict = worst_verdict(verdicts)
    return MoveResult(
        move,
        tuple(results),
        limits,
        top,
        verdict,
        tuple(dict.fromkeys(missing)),
        _move_why(move, verdict, top, missing),
    )


_OUTSIDE = "outside its range: "


def _loads(
    effort: Effort, crew: dict[Side, tuple[Person, ...]], scenario: Scenario
) -> tuple[tuple[PersonLoad, ...], Shares | None, list[str]]:
    """Share one effort between the people it falls to; say so where nobody is there."""
    if effort.side == "airway":
        if not any(r.name == "airway lead" for r in roles_of(scenario)):
            return (), None, ["nobody holds the head"]
        return (_load(effort, 1.0, "airway lead", None),), None, []
    sides: tuple[Side, ...] = ("left", "right") if effort.side == "both" else (effort.side,)
    groups = [crew[side] for side in sides]
    if empty := [side for side in sides if not crew[side]]:  # one side alone would turn the patient in a boost
        return (), None, [f"nobody stands on the {side} side to {_VERBS[effort.role]}" for side in empty]
    loads: list[PersonLoad] = []
    shares = None
    for group in groups:
        people = group
        if effort.role == "limb hold":
            people = group[: int(assumption("pullers_per_limb").typical)]
        shares = share([p.along_m for p in people], float(effort.centre_m), scenario.team.sharing)
        if effort.role == "limb hold" or effort.side == "both":  # the places along the body do not matter there
            shares = share([0.0] * len(people), 0.0, scenario.team.sharing)
        part = 1.0 / len(groups)
        loads += [_load(effort, part * float(f), p.label, p.sex) for p, f in zip(people, shares.fraction, strict=True)]
    return tuple(loads), shares, []


_VERBS = {
    "pull": "pull",
    "counter-hold": "hold the layer",
    "brake": "lower the patient",
    "hold back": "hold the patient back",
    "limb hold": "hold the limb",
    "head hold": "hold the head",
}


def _load(effort: Effort, fraction: float, who: str, sex: Sex | None) -> PersonLoad:
    return PersonLoad(
        who=who,
        role=effort.role,
        fraction=fraction,
        start_n=fraction * float(effort.start_n),
        steady_n=fraction * float(effort.steady_n),
        up_n=fraction * float(effort.up_n),
        held_kg=fraction * float(effort.held_kg),
        sex=sex,
    )


def _checks(judged: Judged, loads: tuple[PersonLoad, ...], policy: DecidingPolicy) -> Iterable[LimitCheck]:
    """Hold each limit against the person it judges worst."""
    if not loads:
        return
    default: Sex = policy.sex or "F"
    for index, (limit, _) in enumerate(judged.limits[default]):
        decides = limit.key in policy.deciding
        best: LimitCheck | None = None
        for load in loads:
            sex: Sex = policy.sex or load.sex or "F"
            value = judged.limits[sex][index][1]
            amount = _quantity(load, judged.effort, limit.quantity)
            check = _check(limit, value, amount, load.who, decides)
            if best is None or (check.ratio or -1.0) > (best.ratio or -1.0):
                best = check
        if best is not None:
            yield best


def _check(limit: Limit, value: Value | NotApplicable, amount: float, who: str, decides: bool) -> LimitCheck:
    if isinstance(value, NotApplicable):
        note = (_OUTSIDE if value.outside else "") + value.reason
        figure, ratio, verdict = None, None, "not applicable"
    else:
        note, figure = value.note, value.value
        ratio = amount / figure
        verdict = verdict_of(ratio)
    return LimitCheck(
        limit.key,
        limit.label,
        who,
        amount,
        figure,
        limit.unit,
        ratio,
        verdict,  # type: ignore[arg-type]
        limit.source,
        limit.known,
        decides,
        note,
    )


def _move_why(move: PlannedMove, verdict: Verdict, top: LimitCheck | None, missing: list[str]) -> str:
    if missing:
        return f"{missing[0].capitalize()}."
    if top is None or top.limit is None:
        return "No deciding limit applies." if verdict == "not applicable" else "Nothing is pulled or held."
    said = f"{top.who}: {top.demand:.0f} {top.unit} against {top.limit:.0f} {top.unit}, {top.label}"
    said = said[0].upper() + said[1:]
    if verdict == "not applicable":
        return f"{said}; another deciding limit was asked outside its range."
    return f"{said} ({top.ratio:.2f} of the limit)."


def _why(verdict: Verdict, refusals: tuple[str, ...], moves: tuple[MoveResult, ...], worst: MoveResult | None) -> str:
    """One sentence that says why."""
    if refusals:
        return refusals[0] + " Use a mechanical lift or equipment rated for this patient."
    incomplete = next((m for m in moves if m.missing), None)
    if incomplete:
        return f"{incomplete.move.name}: {incomplete.why}"
    if worst is None:
        return "No deciding limit applies to any move."
    asked = {
        "within": "Every move is within the limits; the nearest is",
        "close": "Every move is within the limits, but close in",
        "over": "Over the limit in",
        "not applicable": "No verdict: a deciding limit does not cover this case; the highest ratio is in",
    }[verdict]
    return f"{asked} “{worst.move.name}”: {worst.why[0].lower()}{worst.why[1:]}"
