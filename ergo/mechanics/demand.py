"""A planned move -> what it asks of the hands around the bed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from ergo.evidence import assumption
from ergo.inputs.scenario import Bed, Scenario, Side
from ergo.mechanics.body import SEGMENTS, limb_mass
from ergo.mechanics.case import Case, build_case, turns_over
from ergo.mechanics.cross_section import Outline
from ergo.mechanics.friction import along_last_axis, counter_hold_friction, slip_friction
from ergo.mechanics.hand_actions import (
    ActionName,
    HandAction,
    Instants,
    along_actions,
    slide_actions,
    turn_actions,
)
from ergo.mechanics.mattress import Mattress, hollow_drag, rolled_support
from ergo.mechanics.procedure import PlannedMove, other_side
from ergo.mechanics.sliding import SlideForce, body_slide_force, climb_angle
from ergo.units import G

__all__ = [
    "Effort",
    "TeamTask",
    "critical_angles",
    "held_in_stop",
    "roll_force",
    "task_of_turn",
    "ways_of",
    "working_actions",
]

Floats = NDArray[np.float64]
Group = Literal["sides", "limb", "airway"]

_LEAST_STEPS = 60  # of a turn, else one a degree; sixteen times as many change a peak by 0.13 % or 0.03 N at most


@dataclass(frozen=True, slots=True)
class TeamTask:
    """What the people around the bed do together in one part of a move, at each of several instants.

    Attributes
    ----------
    group : "sides", "limb" or "airway"
        Who does it: everybody at the sides, those of the receiving side who hold a limb, the airway lead.
    towards : "left" or "right"
        The receiving side.
    instants : Instants
        What resists, and what hands can do about it.
    hold_s : float [s]
        How long the force is held; 0 while the patient moves.
    slide_s : float [s]
        How long a slide lasts; 0 otherwise.
    steady_share : ndarray [-]
        The force while a slide lasts, as part of that at its start; 0 in a turn, where it changes all the time.
    push_most_n : ndarray [N]
        With more than this the other side would roll the patient in place of sliding.
    falls : bool
        Whether gravity would carry the patient on or back if somebody let go.
    centre_m : ndarray [m]
        Where along the body the force acts, from the top of the head.
    hands : 1 or 2
    held_kg : ndarray [kg]
        Mass held, for a limb or the head; otherwise zero.
    along : bool
        Whether the hands draw along the bed.
    part : str
        Of a move in parts, which: "to the edge", "across", "beyond the push", or "held" at the end; else empty.
    terms : mapping
        Intermediate terms, for the working.
    sources : tuple of str
    """

    group: Group
    towards: Side
    instants: Instants
    hold_s: float
    slide_s: float
    steady_share: Floats
    push_most_n: Floats
    falls: bool
    centre_m: Floats
    hands: Literal[1, 2]
    held_kg: Floats
    along: bool
    part: str
    terms: Mapping[str, Floats]
    sources: tuple[str, ...]

    def side_of(self, action: HandAction) -> Side:
        """Return the side of the bed where an action is done."""
        return self.towards if action.side == "receiving" else other_side(self.towards)


@dataclass(frozen=True, slots=True)
class Effort:
    """One action of one side at one instant of a move, as a whole side; `ergo.assessment` finds it for a team.

    Attributes
    ----------
    role : what is done; side : who does it ("airway" is the airway lead)
    start_n, steady_n, hold_n : ndarray [N]
        Peak force, the force while it lasts, and the force held at the end, along the line of the hands.
    elevation : ndarray [rad]
        Direction of the force above the horizontal, towards the handler; a push points away, beyond 90°.
    reach_m : ndarray [m]
        From the bed's edge, where the handler stands, to the hands.
    hand_height_m : ndarray [m]
        Hands above the mattress.
    seconds : float [s]
        How long the force is held, or a slide lasts.
    centre_m : ndarray [m]
        Where along the body the force acts, from the top of the head.
    hands : 1 or 2
    held_kg : ndarray [kg]
        Mass held, for holds; otherwise zero.
    terms : mapping
        Intermediate terms, for the working.
    sources : tuple of str
    part : str
        Of a move in parts, which; else empty.
    along_bed : bool
        The force goes along the bed, not across it towards the handler.
    """

    role: ActionName
    side: Literal["left", "right", "airway"]
    start_n: Floats
    steady_n: Floats
    hold_n: Floats
    elevation: Floats
    reach_m: Floats
    hand_height_m: Floats
    seconds: float
    centre_m: Floats
    hands: Literal[1, 2]
    held_kg: Floats
    terms: Mapping[str, Floats]
    sources: tuple[str, ...]
    part: str = ""
    along_bed: bool = False


_SLIDES = ("lateral transfer", "slide to the side", "counter-slide", "boost", "centring")


def ways_of(move: PlannedMove, case: Case, scenario: Scenario) -> tuple[tuple[TeamTask, ...], ...]:
    """Return the ways in which a move can be made, each the tasks that it consists of; a team takes the easier one.

    A transfer is made at once, or in two stages: to the edge, and across.

    >>> from ergo.mechanics.case import build_case
    >>> from ergo.mechanics.procedure import plan_moves
    >>> from ergo.inputs import examples
    >>> boost = examples.boost()
    >>> case = build_case(boost)
    >>> ((task,),) = ways_of(plan_moves(boost, case)[0], case, boost)
    >>> [(action.name, task.side_of(action)) for action in task.instants.actions]
    [('pulls the sheet', 'left'), ('pulls the sheet', 'right')]
    """
    if move.kind == "lateral transfer":
        return _slide_tasks(move, case, scenario), _two_stages(move, case, scenario)
    if move.kind in _SLIDES:
        return (_slide_tasks(move, case, scenario),)
    if move.kind in ("limb hold", "head hold"):
        hands = min(move.hands, case.head_hands) if move.limb == "head" else move.hands
        return ((_hold(move.limb, move.towards, case, move.hold_s, hands),),)
    return (_turn_tasks(move, case, scenario),)


def working_actions(move: PlannedMove, case: Case, scenario: Scenario) -> frozenset[ActionName]:
    """Return which actions a move is made with: as the scenario says, else as it is taught for the task and the aid.

    Draw-sheet transfer: the receiving side pulls, the far side holds the sheet and guards the edge. Board and slide
    sheet: the far side begins with a push. A turn in bed: the receiving side rolls the patient towards itself. Prone
    turn: both, the far side pays out (common practice, no source).
    """
    receiving: set[ActionName] = {
        "pulls the sheet", "draws the far shoulder and hip", "receives and lowers", "holds the under-sheet",
    }  # fmt: skip
    other: set[ActionName] = {"pushes", "lifts its edge", "pays out"}
    if scenario.handling.turn_grip == "hands":
        other.add("holds back")
    choice = scenario.team.who_works
    if choice == "as taught":
        if move.kind == "lateral transfer":
            choice = case.aid.transfer_by
        elif move.kind in ("side-lying turn", "micro-turn") and not turns_over(scenario):
            choice = "receiving side"
        else:
            choice = "both sides"
        if move.kind == "micro-turn":
            choice = "receiving side"  # the others place the layer
    return frozenset(receiving | other if choice == "both sides" else receiving)


def _sliding(case: Case) -> tuple[Floats, Floats, Floats]:
    """What drags on the aid's layers and what on the linen: mass and place of the two parts, and friction.

    Segments on one layer are one mass at their common centre: every force of a slide is linear in the mass. A carried
    head does not drag.
    """
    parts = np.stack([case.covered, ~case.covered], axis=-1).astype(float)
    mass = case.body.mass_kg
    if case.head_carried:
        mass = mass * np.array([s != "head" for s in SEGMENTS])
    both = mass @ parts
    centre = ((mass * case.body.position_m) @ parts) / np.where(both > 0.0, both, 1.0)
    return both, centre, along_last_axis(slip_friction(case.mu), case.linen_mu)


def _task(towards: Side, instants: Instants, **rest: object) -> TeamTask:
    given = {
        "group": "sides",
        "hold_s": 0.0,
        "slide_s": 0.0,
        "steady_share": np.ones(()),
        "push_most_n": np.full((), np.inf),
        "falls": False,
        "centre_m": np.zeros(()),
        "hands": 2,
        "held_kg": np.zeros(()),
        "along": False,
        "part": "",
        "terms": {},
        "sources": (),
        **rest,
    }
    return TeamTask(towards=towards, instants=instants, **given)  # type: ignore[arg-type]


def _only(instants: Instants, names: frozenset[ActionName] | set[ActionName]) -> Instants:
    return replace(instants, actions=tuple(a for a in instants.actions if a.name in names))


def _two_stages(move: PlannedMove, case: Case, scenario: Scenario) -> tuple[TeamTask, ...]:
    """To the edge, the receiving side at the bed itself, then across, the patient's side at the edge."""
    usual = float(build_case(scenario).body.half_breadth)  # whatever the breadth that is drawn
    to_edge = max(scenario.bed.width_m / 2.0 - usual, 0.0)
    whole = move.distance_m
    first = replace(move, kind="slide to the side", distance_m=to_edge)
    across = replace(move, distance_m=max(whole - to_edge, 0.0), offset_m=to_edge)
    if to_edge < assumption("taken_up_slide").typical:
        return _slide_tasks(across, case, scenario, move)
    parts = {"to the edge": first, "across": across}
    return tuple(
        replace(task, part=", ".join(filter(None, (part, task.part))))
        for part, of in parts.items()
        for task in _slide_tasks(of, case, scenario, move)
    )


def _slide_tasks(
    move: PlannedMove, case: Case, scenario: Scenario, taught: PlannedMove | None = None
) -> tuple[TeamTask, ...]:
    bed = scenario.bed
    mass, centre, mu = _sliding(case)
    half = np.asarray(case.body.half_breadth)
    held = np.zeros(())
    if move.kind == "counter-slide":
        mu = along_last_axis(case.mu[..., 0], mu[..., 1])
        held = np.asarray(counter_hold_friction(case.mu) * mass[..., 0] * G)
    slope = np.zeros(())
    if move.kind == "boost":
        slope = np.asarray(np.radians(bed.tilt_deg))  # head-up is uphill for a boost
    elif move.kind == "lateral transfer":
        slope = climb_angle(bed.rise_m, bed.ledge_m, 2.0 * half)
    time = case.slide_time(move.distance_m)
    lengthwise = case.body.stature_m if move.kind == "boost" else None
    given = {
        "drag": hollow_drag(case.body.outline, case.mattress, lengthwise),
        "slope_rad": slope,
        "breakaway": case.breakaway,
        "distance_m": move.distance_m,
        "time_s": time,
    }
    level = body_slide_force(mass, mu, centre, pull_rad=0.0, **given)  # type: ignore[arg-type]
    force = body_slide_force(mass, mu, centre, pull_rad=case.pull_rad, **given)  # type: ignore[arg-type]
    gain = np.where(force.start_n > 0.0, level.start_n / np.where(force.start_n > 0.0, force.start_n, 1.0), 1.0)
    reach = _pull_reach(move, case, bed)
    common = {
        "slide_s": float(np.max(time)),
        "steady_share": np.where(
            force.start_n > 0, force.steady_n / np.where(force.start_n > 0, force.start_n, 1), 1.0
        ),
        "centre_m": force.centre_m,
        "terms": {
            "weakest friction under the grip": slip_friction(case.mu),
            "steady pull": force.steady_n,
            "start by breakaway": force.breakaway_n,
            "push for acceleration": force.inertia_n,
            "moving the hollow of the mattress along": force.hollow_n,
            "slope": np.asarray(slope),
        },
        "sources": ("mcgill_kavcic_2005", "flash_hogan_1985", "temel_2022"),
    }
    hands = case.hand_height_m
    if move.pull_side == "both":
        instants = along_actions(level.start_n, gain, pull_angle_rad=case.pull_rad, reach_m=reach, hand_height_m=hands)
        tasks = [_task(move.towards, instants, along=True, **common)]
    else:
        instants = slide_actions(
            level.start_n,
            np.zeros(()),
            pull_angle_rad=case.pull_rad,
            pull_reach_m=reach,
            push_reach_m=np.maximum(bed.width_m / 2.0 + move.offset_m - half, 0.0),
            hand_height_m=hands,
            push_height_m=np.asarray(case.body.outline.over_angles().height(np.zeros(1))[..., 0]),
        )
        pull, push = instants.actions
        instants = replace(instants, actions=(replace(pull, gain=gain[..., None] + 0.0 * pull.gain), push))
        names = working_actions(taught or move, case, scenario)
        if move.kind == "counter-slide":
            names = frozenset({"pulls the sheet"})
        rolls = roll_force(case, scenario) if "pushes" in names else np.full((), np.inf)
        tasks = [_task(move.towards, _only(instants, names), push_most_n=rolls, **common)]
        if move.kind == "lateral transfer" and "pushes" in names:
            tasks.append(_beyond_the_push(move, instants, level, force, common))
    side_pull = {"pull_angle_rad": 0.0, "pull_reach_m": 0.0, "push_reach_m": 0.0, "push_height_m": 0.0}
    if np.any(held > 0):
        layer = slide_actions(held, np.zeros(()), hand_height_m=hands, **side_pull)
        tasks.append(_one_action(move, layer, "holds the under-sheet", common, case))
    if np.any(force.hold_back_n > 0):
        if move.pull_side == "both":
            back = along_actions(force.hold_back_n, 1.0, pull_angle_rad=0.0, reach_m=reach, hand_height_m=hands)
            back = replace(back, actions=tuple(replace(a, name="holds back") for a in back.actions))
            tasks.append(_task(move.towards, back, **common | {"steady_share": np.ones(())}))
        else:
            layer = slide_actions(force.hold_back_n, np.zeros(()), hand_height_m=hands, **side_pull)
            tasks.append(_one_action(move, layer, "holds back", common, case))
    return tuple(tasks)


def _beyond_the_push(
    move: PlannedMove, instants: Instants, level: SlideForce, force: SlideForce, common: Mapping[str, object]
) -> TeamTask:
    """The far side begins with a push and is soon out of reach: those who pull keep the patient moving alone."""
    pull = instants.actions[0]
    worth = np.where(force.steady_n > 0.0, level.steady_n / np.where(force.steady_n > 0.0, force.steady_n, 1.0), 1.0)
    alone = replace(pull, gain=worth[..., None] + 0.0 * pull.gain)
    steady = np.broadcast_to(level.steady_n[..., None], instants.resistance.shape)
    kept = {**common, "steady_share": np.ones(()), "part": "beyond the push"}
    return _task(move.towards, replace(instants, resistance=steady, actions=(alone,)), **kept)


def _one_action(
    move: PlannedMove, instants: Instants, name: ActionName, common: Mapping[str, object], case: Case
) -> TeamTask:
    """What the side across from the pull holds meanwhile, at the edge of its own bed."""
    held = replace(instants.actions[0], name=name, side="other")
    terms = {"friction held": np.asarray(counter_hold_friction(case.mu))} if name == "holds the under-sheet" else {}
    return _task(
        move.towards,
        replace(instants, actions=(held,)),
        **dict(common) | {"steady_share": np.ones(()), "terms": terms},
    )


def _pull_reach(move: PlannedMove, case: Case, bed: Bed) -> Floats:
    """From the edge where the pulling side stands to its hands, which take the layer where they can work."""
    edge = bed.width_m / 2.0 - move.offset_m - np.asarray(case.body.half_breadth)
    across = bed.other_width_m if move.kind == "lateral transfer" else 0.0
    return np.maximum(edge + across - case.overhang_m, 0.0)


def roll_force(case: Case, scenario: Scenario) -> Floats:
    """Return the push of the other side beyond which the patient would roll in place of sliding [N].

    max over φ of m g p / (h + a sin φ)
    """
    outline, mattress = case.body.outline, case.mattress
    if np.size(mattress.pressed_m2) == np.size(mattress.loss) == 1 or outline.a.ndim > 1:
        return _remembered_roll(outline, mattress) * scenario.patient.mass_kg
    # many mattresses under one patient: straight between some that give more and more, a parabola over the loss
    pressed, loss = np.broadcast_arrays(mattress.pressed_m2, mattress.loss)
    areas, lost = np.linspace(np.min(pressed), np.max(pressed), 17), np.linspace(0.0, np.max(loss), 3)
    found = _remembered_roll(outline, Mattress(areas, lost[:, None]))
    if lost[-1] == 0.0:
        return np.asarray(np.interp(pressed, areas, found[0]) * scenario.patient.mass_kg)
    none, half, all_of_it = (np.interp(pressed, areas, row) for row in found)
    u = 2.0 * loss / lost[-1] - 1.0
    return np.asarray(
        (half + u * (all_of_it - none) / 2.0 + u * u * ((all_of_it + none) / 2.0 - half)) * scenario.patient.mass_kg
    )


@lru_cache(maxsize=256)
def _remembered_roll(outline: Outline, mattress: Mattress) -> Floats:
    angle = np.linspace(0.0, np.pi / 2.0, 91)
    at = rolled_support(outline, mattress, angle)
    half = np.asarray(outline.half_breadth)[..., None]
    resists = np.maximum(at.moment_arm_m + np.asarray(mattress.loss)[..., None] * at.loss_arm_m, 0.0)
    return np.asarray(np.max(G * resists / (at.friction_depth_m + half * np.sin(angle)), axis=-1))


def _turn_instants(
    move: PlannedMove, case: Case, scenario: Scenario, angle: Floats, every_angle: bool = False, still: bool = False
) -> Instants:
    return turn_actions(
        case.body.outline,
        scenario.patient.mass_kg * case.turned_fraction,
        slip_friction(case.mu),
        angle,
        offset_m=move.offset_m,
        bed_width_m=scenario.bed.width_m,
        hand_height_m=case.hand_height_m,
        far_layer_m=0.0 if case.aid.far_edge and turns_over(scenario) else None,
        by_hands_to_m=case.handler_shoulder_m if scenario.handling.turn_grip == "hands" else None,
        every_angle=every_angle,
        mattress=case.mattress.at_rest() if still else case.mattress,
        laid_over_m=_laid_over(move, case),
    )


def _laid_over(move: PlannedMove, case: Case) -> Floats:
    """How far limbs have moved the centre of mass [m]; nobody lays them over for a small roll, which goes both ways."""
    return case.limbs_over_m if move.rolls and move.kind != "micro-turn" else np.zeros(())


def critical_angles(move: PlannedMove, case: Case, scenario: Scenario) -> Floats:
    """Return the roll angles at which a turn can be hardest, whoever works.

    The peaks of the resistance over what a newton is worth: for each action, for each side and for both; where the
    layers are nearest to slipping; and where hands that hold no sheet reach farthest while much resists already.
    """
    return _remembered_angles(
        replace(move, name="", reason="", towards="left", pull_side="left", hold_s=0.0),
        case.body.outline,
        case.aid.far_edge,
        float(case.hand_height_m),
        case.handler_shoulder_m,
        scenario.bed.width_m,
        scenario.handling.turn_grip,
        turns_over(scenario),
        case.mattress,
        float(_laid_over(move, case)),
    )


@lru_cache(maxsize=256)
def _remembered_angles(
    move: PlannedMove, outline: Outline, far_edge: bool, hand_height_m: float, shoulder_m: float, bed_width_m: float,
    grip: str, half_turn: bool, mattress: Mattress, laid_over_m: float,
) -> Floats:  # fmt: skip
    steps = max(_LEAST_STEPS, round(float(np.degrees(move.to_rad - move.from_rad))))
    angle = np.linspace(move.from_rad, move.to_rad, steps + 1)
    instants = turn_actions(
        outline, 1.0, 0.0, angle, offset_m=move.offset_m, bed_width_m=bed_width_m, hand_height_m=hand_height_m,
        far_layer_m=0.0 if far_edge and half_turn else None, by_hands_to_m=shoulder_m if grip == "hands" else None,
        mattress=mattress, laid_over_m=laid_over_m,
    )  # fmt: skip
    found: set[int] = set()
    for way in (~instants.driving, instants.driving):
        working = [a for a in instants.actions if np.any(a.gain[way] > 0.0)]
        if not working:
            continue
        if grip == "hands":  # which reach across the patient, farthest at the beginning
            found.add(int(np.argmax(way & (instants.resistance > _MUCH * np.max(instants.resistance[way])))))
        sets = [[a] for a in working]
        sets += [[a for a in working if a.side == side] for side in ("receiving", "other")] + [working]
        for some in sets:
            worth = np.sum([a.gain for a in some], axis=0)
            ratio = np.where(way & (worth > 1e-9), instants.resistance / np.maximum(worth, 1e-9), 0.0) if some else None
            if ratio is not None and ratio.max() > 0.0:
                found.add(int(np.argmax(ratio)))
                slips = np.sum([a.slip for a in some], axis=0) * ratio
                found.add(int(np.argmax(np.where(way, np.abs(slips), 0.0))))
    apart: list[float] = []
    for at in angle[sorted(found)].tolist():
        if not apart or at - apart[-1] >= _APART_RAD:  # nearer, a peak is no higher than its neighbour
            apart.append(at)
    return np.array(apart) if apart else angle[[-1]]


_MUCH = 0.75  # of the largest resistance: a choice of where to look, the hardest of all angles looked at counts
_APART_RAD = float(np.radians(2.5))  # then the hardest of these is within 1.1 % of the hardest degree of a turn


def _turn_tasks(move: PlannedMove, case: Case, scenario: Scenario) -> tuple[TeamTask, ...]:
    tasks = []
    if move.kind == "stop on the side":
        tasks.append(task_of_turn(move, case, scenario, stop_angles()))
    else:
        tasks.append(task_of_turn(move, case, scenario, critical_angles(move, case, scenario)))
        if move.hold_s > 0:
            tasks.append(task_of_turn(move, case, scenario, np.array([move.to_rad]), held=True))
    if case.head_carried:
        tasks.append(_hold("head", move.towards, case, move.hold_s, case.head_hands))
    return tuple(tasks)


def stop_angles() -> Floats:
    """Return the angles beside 90° that a patient who is held on the side may tip to."""
    off = np.radians(assumption("stop_angle_off").typical)
    return np.array([np.pi / 2.0 - off, np.pi / 2.0 + off])


def task_of_turn(
    move: PlannedMove, case: Case, scenario: Scenario, angle: Floats, held: bool = False, every_angle: bool = False
) -> TeamTask:
    """Return what a turn asks at some roll angles; with `every_angle` as if gravity drove and resisted everywhere.

    In the stop on the side the patient is held against tipping back and tipping on, the centre of mass a little off.
    """
    stop = move.kind == "stop on the side"
    instants = _turn_instants(move, case, scenario, angle, every_angle or stop, still=held or stop)
    if stop and not every_angle:
        instants = _held_on_side(instants)
    centre = float(np.sum(case.body.mass_kg * case.body.position_m) / np.sum(case.body.mass_kg))
    immersion = rolled_support(case.body.outline, case.mattress, np.zeros(1)).sink_m[..., 0]
    terms = {
        "roll angle": instants.angle,
        "immersion": immersion,
        "gravity's moment about the contact line": instants.resistance,
        "weakest friction under the patient": np.asarray(slip_friction(case.mu)),
    }
    if np.any(over := _laid_over(move, case)):
        terms["centre of mass moved by limbs laid over"] = over
    if move.rolls and move.from_rad > 0.0 and move.kind == "side-lying turn":
        terms["rolled by the bed's turn assist"] = np.asarray(move.from_rad)
    return _task(
        move.towards,
        _only(instants, working_actions(move, case, scenario)),
        hold_s=move.hold_s if held or stop else 0.0,
        part="held" if held else "",
        falls=held or stop or bool(np.any(instants.driving)),
        centre_m=np.asarray(centre),
        steady_share=np.zeros(()),
        terms=terms,
        sources=("gordon_2014", "deleva_1996", "mcgill_kavcic_2005"),
    )


def _held_on_side(instants: Instants) -> Instants:
    on = np.broadcast_to(instants.angle > np.pi / 2.0, instants.resistance.shape)
    return instants.with_part(held_in_stop(instants.resistance, on, instants.weight_n[..., None]), on)


def held_in_stop(moment_nm: NDArray[Any], beyond: NDArray[np.bool_], weight_n: NDArray[Any]) -> NDArray[Any]:
    """Return what must be held in the stop on the side [N m]: the centre of mass may lie a little off, as it tips.

    R = max(0, ±M + W e): M gravity's moment about the contact line [N m], which resists the turn before 90° and, where
    `beyond` it, would carry the patient on; W the weight that turns [N]; e `stop_centre_off` of the assumptions.

    >>> held_in_stop(np.array([3.0, -3.0, 30.0]), np.array([False, True, True]), np.array([100.0])).tolist()
    [5.0, 5.0, 0.0]
    """
    off = assumption("stop_centre_off").typical
    return np.asarray(np.maximum(np.where(beyond, -moment_nm, moment_nm) + weight_n * off, 0.0))


def _hold(
    limb: Literal["arm", "leg", "head"], towards: Side, case: Case, seconds: float, hands: Literal[1, 2] = 2
) -> TeamTask:
    """A limb or the head held clear of the bed: by the airway lead from the head end, or by the people of one side."""
    mass = limb_mass(limb, np.sum(case.body.mass_kg, axis=-1), case.body.stature_m)
    weight = (mass * G)[..., None]
    up, idle = np.ones_like(weight), np.zeros_like(weight)
    reach = assumption("head_reach").typical if limb == "head" else 0.0
    name: ActionName = "holds the head" if limb == "head" else "holds the limb"
    action = HandAction(name, "receiving", up, idle, idle, idle, up, idle + reach, idle + case.hand_height_m[..., None])
    instants = Instants(
        np.zeros(1), weight, np.zeros(weight.shape, dtype=bool), np.full(weight.shape, np.inf), (action,)
    )
    return _task(
        towards,
        instants,
        group="airway" if limb == "head" else "limb",
        hold_s=seconds,
        hands=hands,
        held_kg=np.asarray(mass),
        sources=("winter_2009",),
    )
