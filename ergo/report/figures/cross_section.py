"""The turning patient in cross-section, at one roll angle: contact line, moment arms, sheet, pull, hold and brake.

x runs towards the receiving side from the middle of the bed, y up from the mattress.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ergo.assessment import Demand
from ergo.mechanics.cross_section import Outline
from ergo.mechanics.demand import turn_statics
from ergo.mechanics.friction import slip_friction
from ergo.mechanics.procedure import PlannedMove
from ergo.mechanics.rolling import Turn, roll_travel
from ergo.report.figures.drawing import Arrow, Axis, Drawing, Item, Label, Line, Mark, Point, Polygon
from ergo.report.figures.label_layout import Room
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["TurnAt", "TurnView", "at_angle", "balance_points", "cross_section", "turn_view"]

Floats = NDArray[np.float64]
_FULL, _LONGEST = 300.0, 0.3  # at least so many newtons are drawn as so many metres; the scale is said on the drawing
_SIDE_M, _WORDS_M = 0.04, 0.31  # beside what is drawn; beyond the hands, for words
_TELEPHONE = 330.0  # pixels that a telephone shows across; wider, words only move apart
_BED, _CONTACT, _EDGES, _LEVER, _STATE, _SCALE, _LOW = 22.0, 13.0, 33.0, 45.0, 58.0, 74.0, 85.0  # pixels under the top
_OVER, _NAME = 31.0, 10.0  # pixels over what is drawn, and from the top to the words there
_NO_FORCE_N = 0.5  # below this no arrow is drawn
_SIGN_M = 1e-9
_NO_MOMENT_ARM_M = 0.002  # below this the drawing shows none


@dataclass(frozen=True, slots=True)
class TurnView:
    """One turn of a procedure, ready to be drawn."""

    name: str
    towards: str
    outline: Outline
    bed_width_m: float
    start_x_m: float
    hand_height_m: float
    by_sheet: bool
    lifting: Turn
    lowering: Turn
    counter_n: Floats
    from_deg: float
    to_deg: float


@dataclass(frozen=True, slots=True)
class TurnAt:
    """What a turn asks at one angle. Lengths [m], forces [N], `elevation` [rad]."""

    angle_deg: float
    height_m: float
    moment_arm_m: float
    centre_x_m: float
    elevation: float
    pull_moment_arm_m: float
    pull_n: float
    counter_n: float
    brake_n: float
    brake_ahead_m: float


def turn_view(demand: Demand, move: PlannedMove) -> TurnView:
    """Return one turn of a demand, ready to be drawn."""
    scenario, case = demand.scenario, demand.case
    lifting, lowering = turn_statics(move, case, scenario)
    return TurnView(
        name=move.name,
        towards=move.towards,
        outline=case.body.outline,
        bed_width_m=scenario.bed.width_m,
        start_x_m=move.offset_m,
        hand_height_m=float(case.hand_height_m),
        by_sheet=scenario.handling.turn_grip == "sheet",
        lifting=lifting,
        lowering=lowering,
        counter_n=lifting.counter_hold_n(slip_friction(case.mu)),
        from_deg=float(np.degrees(move.from_rad)),
        to_deg=float(np.degrees(move.to_rad)),
    )


def at_angle(view: TurnView, angle_deg: float) -> TurnAt:
    """Return what the turn asks at one roll angle, between the computed ones by straight lines."""
    angle = float(np.radians(angle_deg))

    def of(turn: Turn, values: Floats) -> float:
        return float(np.interp(angle, turn.angle, values))

    lift, low = view.lifting, view.lowering
    moment_arm = float(view.outline.moment_arm(angle))
    # Between two computed angles the force may fall to nothing at once: gravity's moment arm says on which side we are.
    resists, drives = moment_arm > _SIGN_M, moment_arm < -_SIGN_M
    return TurnAt(
        angle_deg=angle_deg,
        height_m=float(view.outline.height(angle)),
        moment_arm_m=moment_arm,
        centre_x_m=view.start_x_m + float(roll_travel(view.outline, [angle])[0]),
        elevation=of(lift, lift.elevation),
        pull_moment_arm_m=of(lift, lift.pull_moment_arm_m),
        pull_n=of(lift, lift.force_n) if resists else 0.0,
        counter_n=of(lift, view.counter_n) if resists else 0.0,
        brake_n=of(low, low.force_n) if drives else 0.0,
        brake_ahead_m=float(view.outline.height(angle + np.pi / 2)),
    )


def _body(outline: Outline, angle: float, centre: Point) -> list[Point]:
    """The mean outline, rolled, from its support function: each tangent's foot."""
    normal = np.linspace(0.0, 2.0 * np.pi, 181)
    h, slope = outline.over_angles().height(normal), outline.over_angles().moment_arm(normal)
    x = h * np.sin(normal) + slope * np.cos(normal)
    y = -h * np.cos(normal) + slope * np.sin(normal)
    c, s = np.cos(angle), np.sin(angle)
    return [(centre[0] + float(c * a + s * b), centre[1] + float(-s * a + c * b)) for a, b in zip(x, y, strict=True)]


@dataclass(frozen=True, slots=True)
class _Frame:
    """What the drawing spans and the scale of its arrows: the same at every angle of a turn."""

    x: Point
    top: float
    metres_per_newton: float

    def down(self, pixels: float) -> float:
        """How far rows of words stand from what is drawn in metres, so that they never touch on a telephone."""
        return pixels * (self.x[1] - self.x[0]) / _TELEPHONE

    @property
    def y(self) -> Point:
        return -self.down(_LOW), self.top + self.down(_OVER)

    @property
    def room(self) -> Room:
        return Room(self.x, self.y, _TELEPHONE, _TELEPHONE * (self.y[1] - self.y[0]) / (self.x[1] - self.x[0]))


def _frame(view: TurnView) -> _Frame:
    """As narrow as bed, patient and arrows allow, so that a telephone shows them large."""
    lift, half = view.lifting, view.bed_width_m / 2
    largest = max(float(f.max()) for f in (lift.force_n, view.lowering.force_n, view.counter_n))
    scale = _LONGEST / max(largest, _FULL)
    centre = view.start_x_m + roll_travel(view.outline, lift.angle)
    beside = view.outline.over_angles().height(lift.angle + np.pi / 2)  # half of the patient's breadth at each angle
    hands = half if view.by_sheet else centre - np.cos(lift.angle) * float(view.outline.half_breadth)
    up = view.hand_height_m if view.by_sheet else lift.height_m
    tips_x = hands + np.cos(lift.elevation) * lift.force_n * scale
    tips_y = up + np.sin(lift.elevation) * lift.force_n * scale
    left = min(-half, float(np.min(centre - beside)))
    right = max(half + _WORDS_M, float(np.max(tips_x)), float(np.max(centre + beside)))
    top = max(2.0 * float(lift.height_m.max()), float(np.max(tips_y)), float(view.lowering.force_n.max()) * scale)
    return _Frame((left - _SIDE_M, right + _SIDE_M), top, scale)


def cross_section(view: TurnView, angle_deg: float, units: Units = DEFAULT_UNITS) -> Drawing:
    """Return the patient in cross-section at one roll angle."""
    now, frame = at_angle(view, angle_deg), _frame(view)
    half = view.bed_width_m / 2
    centre = (now.centre_x_m, now.height_m)
    contact = (centre[0] + now.moment_arm_m, 0.0)
    outline = _body(view.outline, float(np.radians(angle_deg)), centre)
    room = frame.room
    words = [
        room.inside(Label((contact[0], -frame.down(_CONTACT)), "contact line", "middle", size=13)),
        Label((-half, -frame.down(_EDGES)), "bed edge", "start", "quiet", 13),
        Label((half, -frame.down(_EDGES)), f"bed edge, {view.towards}", "end", "quiet", 13),
        room.inside(_gravity_words(now, ((centre[0] + contact[0]) / 2, -frame.down(_STATE)), units)),
    ]
    scale = _scale(frame, units)
    for label in [*words, *(item for item in scale if isinstance(item, Label))]:
        room.keep_words(label)
    under, moment_arm = -frame.down(_BED), -frame.down(_LEVER)
    bed = [(-half, under), (half, under), (half, 0.0), (-half, 0.0)]
    for edge in (outline, bed):
        room.keep_line([*edge, edge[0]])
    items: list[Item] = [
        Polygon(bed, "bed"),
        Polygon(outline, "patient", "ink", 2.0),
        Line([centre, (centre[0], 0.0)], "quiet", 1.5, dash=True),
        Mark(centre, "circle", "ink", 9),
        Mark(contact, "triangle", "ink", 13),
        *_forces(view, now, centre, outline, units, frame, room),
        Arrow(centre, (centre[0], centre[1] * 0.35), "ink", 2.5),
        Line([(centre[0], moment_arm), (contact[0], moment_arm)], "ink", 5.0),
        *words,
        *scale,
    ]
    return Drawing(
        x=Axis(*frame.x),
        y=Axis(*frame.y),
        items=items,
        alt=_alt(view, now, units),
        height=360,
        to_scale=True,
    )


def _forces(
    view: TurnView, now: TurnAt, centre: Point, outline: list[Point], units: Units, frame: _Frame, room: Room
) -> list[Item]:
    items: list[Item] = []
    half = view.bed_width_m / 2
    along = (float(np.cos(now.elevation)), float(np.sin(now.elevation)))
    metres = frame.metres_per_newton
    if view.by_sheet and (now.pull_n > 0 or now.angle_deg <= 90.0):
        up = (-along[1], along[0])
        leaves = max(outline, key=lambda p: p[0] * up[0] + p[1] * up[1])
        hands = (half, view.hand_height_m)
        items.append(Line([leaves, hands], "layer", 5.0))
        items.append(Mark(hands, "circle", "within", 11))
        room.keep_line([leaves, hands])
    else:
        hands = (centre[0] - float(np.cos(np.radians(now.angle_deg))) * float(view.outline.half_breadth), centre[1])
    arrows: list[tuple[Arrow, str]] = []
    if now.pull_n >= _NO_FORCE_N:
        tip = hands[0] + along[0] * now.pull_n * metres, hands[1] + along[1] * now.pull_n * metres
        arrows.append((Arrow(hands, tip, "within", 4.0), f"pull {units.show_force(now.pull_n)}"))
    if now.brake_n >= _NO_FORCE_N:
        x = centre[0] + now.brake_ahead_m
        tip = (x, 0.03 + now.brake_n * metres)
        arrows.append((Arrow((x, 0.03), tip, "over", 4.0), f"lowering {units.show_force(now.brake_n)}"))
    if now.counter_n >= _NO_FORCE_N:
        items += _counter_hold(now, centre, units, frame, room)
    for arrow, _ in arrows:
        room.keep_line([arrow.tail, arrow.head])
    for arrow, said in arrows:
        middle = (arrow.tail[0] + arrow.head[0]) / 2, (arrow.tail[1] + arrow.head[1]) / 2
        places = [label for at in (arrow.head, middle) for label in room.around(at, said, 15, bold=True)]
        items += [arrow, replace(room.first_free(places), colour=arrow.colour)]
    return items


def _counter_hold(now: TurnAt, centre: Point, units: Units, frame: _Frame, room: Room) -> list[Item]:
    """The hands that hold back lie under the patient: their words stand over the far edge."""
    tail = (centre[0] - 0.12, 0.02)
    tip = (tail[0] - max(now.counter_n * frame.metres_per_newton, 0.06), 0.02)
    top = frame.y[1]
    said = f"counter-hold {units.show_force(now.counter_n)}"
    name = Label((frame.x[0], top - frame.down(_NAME)), said, "start", "close", 15, True)
    leader = [(tip[0], 0.05), (frame.x[0] + 0.05, top - frame.down(2 * _NAME))]
    room.keep_words(name)
    room.keep_line(leader)
    return [Arrow(tail, tip, "close", 4.0), Line(leader, "close", 1.0), replace(name, backed=True)]


def _gravity_words(now: TurnAt, at: Point, units: Units) -> Label:
    """What gravity does at the moment arm between the centre's vertical and the contact line."""
    said = f"{_state(now)}, moment arm {units.show_length(abs(now.moment_arm_m))}"
    if abs(now.moment_arm_m) < _NO_MOMENT_ARM_M:
        said = (
            "flat: gravity has no moment arm"
            if now.angle_deg % 180.0 < 1.0
            else "balance point: gravity has no moment arm"
        )
    return Label(at, said, "middle", size=15, bold=True, backed=True)


def _state(now: TurnAt) -> str:
    return "gravity resists" if now.moment_arm_m > 0 else "gravity drives"


def balance_points(view: TurnView) -> list[float]:
    """Return the angles [deg] at which gravity's moment arm changes its sign within the turn.

    A square outline has three: it rises to a corner, falls onto its side, and rises again.
    """
    moment_arm, angle = view.lifting.gravity_moment_arm_m, np.degrees(view.lifting.angle)
    found = []
    for i in range(len(moment_arm) - 1):
        if moment_arm[i] * moment_arm[i + 1] < 0:
            part = moment_arm[i] / (moment_arm[i] - moment_arm[i + 1])
            found.append(float(angle[i] + part * (angle[i + 1] - angle[i])))
    return found


def _scale(frame: _Frame, units: Units) -> list[Item]:
    right, row = frame.x[1] - _SIDE_M / 2, -frame.down(_SCALE)
    left = right - 100.0 * frame.metres_per_newton
    return [
        Line([(left, row), (right, row)], "ink", 3.0),
        Label((left, row), f"{units.show_force(100.0)} force", "end", "quiet", 13, shift=(-6, 0)),
    ]


def _alt(view: TurnView, now: TurnAt, units: Units) -> str:
    force = units.show_force
    state = "gravity has no moment arm" if abs(now.moment_arm_m) < _NO_MOMENT_ARM_M else _state(now)
    return (
        f"Cross-section of {view.name} at {now.angle_deg:.0f} degrees: {state} with a moment arm of "
        f"{units.show_length(abs(now.moment_arm_m))}; pull {force(now.pull_n)}, counter-hold {force(now.counter_n)}, "
        f"lowering (brake) {force(now.brake_n)}."
    )
