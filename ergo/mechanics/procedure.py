"""A procedure is a sequence of moves: which side pulls, how far, how long, and what fixes the direction."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from ergo.evidence import assumption
from ergo.inputs.scenario import Move, MoveKind, Scenario, Side
from ergo.mechanics.bed_clearance import BedClearance, bed_clearance
from ergo.mechanics.case import Case
from ergo.mechanics.rolling import roll_travel

__all__ = ["Direction", "PlannedMove", "direction_of", "other_side", "plan_moves"]

PullSide = Literal["left", "right", "both"]
_SIDE = float(np.pi / 2.0)
_TURNS_OVER = ("prone turn", "return to supine")
_LAYER_MOVES = {"in": "laid in", "through": "drawn through", "out": "taken out"}


@dataclass(frozen=True, slots=True)
class Direction:
    """Which side receives the patient, and why."""

    receiving: Side
    reason: str
    known: str


@dataclass(frozen=True, slots=True)
class PlannedMove:
    """One move with everything that the mechanics need to know.

    `offset_m` is where the patient's centre lies before the move, from the middle of the bed towards `towards`.
    """

    kind: MoveKind
    name: str
    towards: Side
    pull_side: PullSide
    offset_m: float = 0.0
    distance_m: float = 0.0
    from_rad: float = 0.0
    to_rad: float = 0.0
    hold_s: float = 0.0
    limb: Literal["arm", "leg", "head"] = "leg"
    hands: Literal[1, 2] = 2
    reason: str = ""

    @property
    def is_turn(self) -> bool:
        """Whether the patient rolls in this move, or is held on the side in the middle of one."""
        return self.to_rad > 0.0

    @property
    def guarded(self) -> bool:
        """Whether somebody guards each edge of the bed: the patient turns, or crosses to another bed."""
        return self.is_turn or self.kind == "lateral transfer"

    @property
    def rolls(self) -> bool:
        """Whether the patient rolls further in this move."""
        return self.to_rad > self.from_rad


def other_side(side: Side) -> Side:
    """Return the side across the bed.

    >>> other_side("left")
    'right'
    """
    return "right" if side == "left" else "left"


def direction_of(scenario: Scenario) -> Direction:
    """Return which side the patient goes to, from where the fixed equipment stands.

    A turn goes towards the equipment, so that tube and lines are not drawn across the bed; the return goes back the
    other way. A transfer and a slide go to the side that is free (common practice, no source).

    >>> from ergo.inputs.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> case = {"name": "x", "procedure": "prone turn", "patient": patient, "bed": {"equipment_side": "right"}}
    >>> direction_of(parse_scenario(case)).receiving
    'right'
    >>> direction_of(parse_scenario(case | {"procedure": "return to supine"})).receiving
    'left'
    """
    equipment = scenario.bed.equipment_side
    if equipment == "none":
        return Direction("left", "No fixed equipment: either direction will do, and left is shown.", "judgement")
    turning = scenario.procedure in ("prone turn", "side-lying turn")
    receiving: Side = equipment if turning else other_side(equipment)
    if turning:
        why = "the turn goes towards it, so that tube and lines are not drawn across the bed"
    elif scenario.procedure == "return to supine":
        why = "the return goes back the other way"
    else:
        why = "the other side is free"
    said = f"The fixed equipment stands on the {equipment}: {why}. The {receiving} side receives."
    return Direction(receiving, said, "common-practice")


def plan_moves(scenario: Scenario, case: Case) -> tuple[PlannedMove, ...]:
    """Return the moves of the scenario's procedure in order, with sides, angles and distances.

    >>> from ergo.mechanics.case import build_case
    >>> from ergo.inputs import examples
    >>> turn = examples.side_lying_turn()
    >>> [move.kind for move in plan_moves(turn, build_case(turn))]
    ['side-lying turn', 'centring']
    """
    towards = direction_of(scenario).receiving
    if scenario.procedure == "own sequence":
        return tuple(_own(move, towards, _assisted(scenario)) for move in scenario.moves)
    if scenario.procedure in _TURNS_OVER:
        return _turn_over(scenario, case, towards)
    slide = assumption("slide_distance").typical
    if scenario.procedure == "lateral transfer":
        return (_transfer(scenario, towards),)
    if scenario.procedure == "side-lying turn":
        return (
            _side_turn(towards, 0.0, _assisted(scenario)),
            _slide("centring", other_side(towards), slide, -slide, "the roll carried the patient off the middle"),
        )
    return (_own(_ALONE[scenario.procedure], towards),)


_ALONE = {move.kind: move for move in (Move(kind="boost"), Move(kind="slide to the side"), Move(kind="limb hold"))}


def bed_clearance_of(scenario: Scenario, case: Case) -> BedClearance:
    """Return the room on the bed for a half turn of this patient."""
    return bed_clearance(
        case.body.outline, case.body.half_breadth, scenario.bed.width_m, scenario.handling.landing_margin_m
    )


def _transfer(scenario: Scenario, towards: Side) -> PlannedMove:
    bed = scenario.bed
    return PlannedMove(
        "lateral transfer",
        f"Lateral transfer to the {towards}",
        towards,
        towards,
        distance_m=(bed.width_m + bed.other_width_m) / 2,
        reason="the side that the patient goes to pulls; the other side guides and guards the edge",
    )


def _slide(kind: MoveKind, towards: Side, distance: float, offset: float, reason: str) -> PlannedMove:
    titles = {
        "slide to the side": f"Slide to the {towards} side",
        "counter-slide": f"Draw the upper layer back to the {towards}, lower layer held",
        "centring": "Centring",
    }
    return PlannedMove(kind, titles[kind], towards, towards, offset, distance, reason=reason)


def _small_roll(towards: Side, layer: Literal["in", "through", "out"], offset: float = 0.0) -> PlannedMove:
    """A roll just far enough that a layer of the pad goes in under the patient, comes through or comes out."""
    angle, hold = assumption("micro_turn_angle").typical, assumption("micro_turn_hold").typical
    return PlannedMove(
        "micro-turn",
        f"Small roll to the {towards}: layer {layer}",
        towards,
        towards,
        offset,
        to_rad=float(np.radians(angle)),
        hold_s=hold,
        reason=f"held while the layer is {_LAYER_MOVES[layer]}",
    )


def _assisted(scenario: Scenario) -> float:
    """How far the bed itself has rolled the patient from the back before hands turn on [rad]."""
    return 0.0 if scenario.procedure == "return to supine" else float(np.radians(scenario.bed.turn_assist_deg))


def _side_turn(towards: Side, offset: float, from_rad: float) -> PlannedMove:
    name, why = f"Turn to the side, towards the {towards}", "onto the side"
    return PlannedMove("side-lying turn", name, towards, towards, offset, from_rad=from_rad, to_rad=_SIDE, reason=why)


def _stop(towards: Side, offset: float) -> PlannedMove:
    hold = assumption("stop_hold").typical
    why = "tube and lines are checked, hands are changed one after the other, and anybody may call stop"
    return PlannedMove(
        "stop on the side", "Stop on the side", towards, towards, offset, 0.0, _SIDE, _SIDE, hold, reason=why
    )


def _turn_over(scenario: Scenario, case: Case, towards: Side) -> tuple[PlannedMove, ...]:
    """The whole half turn: room is made, the patient goes to the side, over the balance point and down."""
    away = other_side(towards)
    room = bed_clearance_of(scenario, case)
    slide, counter, final = float(room.slide_m), float(room.counter_slide_m), float(room.final_m)
    layered = case.aid.two_layers
    kind: MoveKind = "prone turn" if scenario.procedure == "prone turn" else "return to supine"
    down = "face down" if kind == "prone turn" else "onto the back"
    rolled = float(roll_travel(case.body.outline, [_SIDE])[0])
    moves: list[PlannedMove] = []
    if layered:
        moves += [_small_roll(towards, "in"), _small_roll(away, "through")]
    if slide > 0:
        moves.append(_slide("slide to the side", away, slide, 0.0, "makes room on the bed for the roll"))
    if layered and counter > 0:
        moves.append(
            _slide(
                "counter-slide",
                away,
                counter,
                slide,
                "the bed is too narrow: the upper layer is drawn back",
            )
        )
    before = slide + counter if layered else slide  # with two layers the patient is drawn back before the turn
    moves += [_side_turn(towards, -before, _assisted(scenario)), _stop(towards, -before)]
    if not layered and counter > 0:
        moves.append(
            _slide(
                "slide to the side",
                away,
                counter,
                slide - rolled,
                "the bed is too narrow: drawn back while on the side",
            )
        )
    moves.append(
        PlannedMove(
            kind,
            f"Over the balance point and {down}",
            towards,
            towards,
            -slide - counter,
            from_rad=_SIDE,
            to_rad=float(np.pi),
            reason="the receiving side draws up to the balance point and then lowers",
        )
    )
    if layered:
        moves.append(_small_roll(away, "out", -final))
    if final > 0:
        moves.append(_slide("centring", away, final, -final, "the roll carried the patient off the middle"))
    if layered:
        moves += [_small_roll(towards, "through"), _small_roll(away, "out")]
    return tuple(moves)


def _own(move: Move, default: Side, assisted_rad: float = 0.0) -> PlannedMove:
    """Complete a move of the user's own sequence from its kind; a turn to the side starts where the bed leaves it."""
    side = move.towards or default
    distance = move.distance_m if move.distance_m is not None else assumption("slide_distance").typical
    micro = move.kind == "micro-turn"
    default_angle = assumption("micro_turn_angle").typical if micro else 90.0
    angle = float(np.radians(move.angle_deg if move.angle_deg is not None else default_angle))
    holds = {
        "micro-turn": "micro_turn_hold",
        "stop on the side": "stop_hold",
        "limb hold": "limb_hold",
        "head hold": "limb_hold",
    }
    default_hold = assumption(holds[move.kind]).typical if move.kind in holds else 0.0
    hold = move.hold_s if move.hold_s is not None else default_hold
    name = move.name or move.kind.capitalize()
    match move.kind:
        case "boost":
            return PlannedMove(move.kind, name, side, "both", distance_m=distance, reason="both sides draw up the bed")
        case "lateral transfer" | "slide to the side" | "counter-slide" | "centring":
            return PlannedMove(move.kind, name, side, side, distance_m=distance, reason=f"the {side} side pulls")
        case "micro-turn" | "side-lying turn":
            start = 0.0 if micro else assisted_rad
            why = f"the {side} side pulls"
            return PlannedMove(move.kind, name, side, side, from_rad=start, to_rad=angle, hold_s=hold, reason=why)
        case "stop on the side":
            return replace(_stop(side, 0.0), name=name, hold_s=hold)
        case "prone turn" | "return to supine":
            over = float(np.pi)
            return PlannedMove(move.kind, name, side, side, to_rad=over, reason=f"the {side} side draws, then lowers")
        case "limb hold" | "head hold":
            head = move.kind == "head hold"
            return PlannedMove(
                move.kind,
                name,
                side,
                side,
                hold_s=hold,
                limb="head" if head else move.limb,
                hands=move.hands,
                reason="held by the airway lead" if head else "held clear of the bed by one, or by two with half each",
            )
