"""The turning patient in cross-section, at one roll angle: contact line, moment arms, layers, and what hands do.

x runs towards the receiving side from the middle of the bed, y up from the unpressed mattress, into which the patient
sinks.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ergo.assessment import Demand
from ergo.mechanics.cross_section import Outline
from ergo.mechanics.hand_actions import ActionName
from ergo.mechanics.mattress import Mattress, MattressSupport, rolled_support
from ergo.mechanics.procedure import PlannedMove
from ergo.mechanics.rolling import roll_travel
from ergo.report.figures.drawing import Arrow, Axis, Colour, Drawing, Item, Label, Line, Mark, Point, Polygon
from ergo.report.figures.label_layout import Room
from ergo.teams.turn_forces import ActionForce, TurnForces, turn_forces
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["HandsAt", "TurnAt", "TurnView", "at_angle", "balance_points", "cross_section", "turn_view"]

Floats = NDArray[np.float64]
_FULL, _LONGEST = 300.0, 0.3  # at least so many newtons are drawn as so many metres; the scale is said on the drawing
_SIDE_M = 0.04  # beside what is drawn
_TELEPHONE = 330.0  # pixels that a telephone shows across; wider, words only move apart
_BED, _CONTACT, _EDGES, _LEVER, _STATE, _SCALE, _LOW = 22.0, 13.0, 33.0, 45.0, 58.0, 74.0, 85.0  # pixels under the top
_NAME, _ROW, _OVER = 10.0, 19.0, 10.0  # pixels from the top to the words there, from row to row, and under them
_NO_FORCE_N = 0.5  # below this no arrow is drawn
_NO_MOMENT_ARM_M = 0.002  # below this the drawing shows none
_FINE = 361  # angles at which a change of sign is looked for

SHORT_WORDS: dict[ActionName, str] = {
    "pulls the sheet": "pulls",
    "draws the far shoulder and hip": "draws",
    "pushes": "pushes",
    "lifts its edge": "lifts the edge",
    "receives and lowers": "receives",
    "pays out": "pays out",
    "holds back": "holds back",
    "holds the under-sheet": "holds the layer",
    "holds the limb": "holds the limb",
    "holds the head": "holds the head",
}


@dataclass(frozen=True, slots=True)
class TurnView:
    """One turn of a procedure with a team, ready to be drawn; angles over which it runs in degrees."""

    name: str
    towards: str
    outline: Outline
    mattress: Mattress
    bed_width_m: float
    start_x_m: float
    forces: TurnForces
    from_deg: float
    to_deg: float

    def support(self, angle: ArrayLike) -> MattressSupport:
        """Return how the mattress bears the patient at some roll angles [rad], as the forces of the turn have it."""
        return rolled_support(self.outline, self.mattress, angle)


@dataclass(frozen=True, slots=True)
class HandsAt:
    """One action at one angle: where the hands are [m], where they pull to [rad], together and alone [N]."""

    name: ActionName
    side: str
    receiving: bool
    at: Point
    elevation: float
    force_n: float
    alone_n: float

    @property
    def colour(self) -> Colour:
        """The colour of the side."""
        return side_colour(self.receiving)


@dataclass(frozen=True, slots=True)
class TurnAt:
    """What a turn asks at one angle. Lengths [m]; `effort` is the part of what they can manage that all give.

    `height_m` is that of the centre, `contact_m` that of the contact line, below the surface where the mattress gives.
    """

    angle_deg: float
    height_m: float
    contact_m: float
    moment_arm_m: float
    centre_x_m: float
    effort: float
    hands: tuple[HandsAt, ...]


def side_colour(receiving: bool) -> Colour:
    """Return the colour of what a side does."""
    return "within" if receiving else "close"


def turn_view(demand: Demand, move: PlannedMove, left: int | None = None, right: int | None = None) -> TurnView:
    """Return one turn of a demand with a team, the scenario's own where none is given, ready to be drawn."""
    scenario, team = demand.scenario, demand.scenario.team
    forces = turn_forces(demand, move, team.left if left is None else left, team.right if right is None else right)
    return TurnView(
        name=move.name,
        towards=move.towards,
        outline=demand.case.body.outline,
        mattress=demand.case.mattress,
        bed_width_m=scenario.bed.width_m,
        start_x_m=move.offset_m,
        forces=forces,
        from_deg=float(np.degrees(forces.angle[0])),
        to_deg=float(np.degrees(forces.angle[-1])),
    )


def at_angle(view: TurnView, angle_deg: float) -> TurnAt:
    """Return what the turn asks at one roll angle, between the computed ones by straight lines."""
    angle, forces = float(np.radians(angle_deg)), view.forces

    def of(values: Floats) -> float:
        return float(np.interp(angle, forces.angle, values))

    borne = view.support([angle])
    height = float(borne.centre_height_m[0])
    return TurnAt(
        angle_deg=angle_deg,
        height_m=height,
        contact_m=height - float(borne.friction_depth_m[0]),
        moment_arm_m=float(borne.moment_arm_m[0]),
        centre_x_m=view.start_x_m + float(roll_travel(view.outline, [angle])[0]),
        effort=of(forces.effort),
        hands=tuple(
            HandsAt(
                a.name, a.side, a.receiving, (of(a.x_m), of(a.y_m)), of(np.unwrap(a.elevation)), of(a.force_n),
                of(a.alone_n),
            )
            for a in forces.actions
        ),
    )  # fmt: skip


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
    sunk: float
    metres_per_newton: float
    rows: int

    def down(self, pixels: float) -> float:
        """How far rows of words stand from what is drawn in metres, so that they never touch on a telephone."""
        return pixels * (self.x[1] - self.x[0]) / _TELEPHONE

    def under(self, pixels: float) -> float:
        """A row so far under the patient where they lie deepest."""
        return -self.sunk - self.down(pixels)

    @property
    def y(self) -> Point:
        return self.under(_LOW), self.top + self.down(_OVER + _ROW * self.rows)

    @property
    def room(self) -> Room:
        return Room(self.x, self.y, _TELEPHONE, _TELEPHONE * (self.y[1] - self.y[0]) / (self.x[1] - self.x[0]))


def _frame(view: TurnView) -> _Frame:
    """As narrow as bed, patient and arrows allow, so that a telephone shows them large."""
    forces, half = view.forces, view.bed_width_m / 2
    scale = _LONGEST / max([_FULL, *(float(a.force_n.max()) for a in forces.actions)])
    centre = view.start_x_m + roll_travel(view.outline, forces.angle)
    beside = view.outline.over_angles().height(forces.angle + np.pi / 2)  # half of the patient's breadth at each angle
    tips = [_tip(a, scale) for a in forces.actions]
    left = min([-half, float(np.min(centre - beside)), *(float(np.min(x)) for x, _ in tips)])
    right = max([half, float(np.max(centre + beside)), *(float(np.max(x)) for x, _ in tips)])
    borne = view.support(forces.angle)
    high = float(np.max(borne.centre_height_m + view.outline.over_angles().height(forces.angle)))
    top = max([high, *(float(np.max(y)) for _, y in tips)])
    return _Frame((left - _SIDE_M, right + _SIDE_M), top, float(np.max(borne.sink_m)), scale, _rows(view))


def _tip(action: ActionForce, metres: float) -> tuple[Floats, Floats]:
    """Where the arrow of an action ends at each angle."""
    drawn = np.where(action.force_n >= _NO_FORCE_N, action.force_n, 0.0) * metres
    here = (action.x_m, action.y_m)
    return (
        np.where(drawn > 0.0, here[0] + np.cos(action.elevation) * drawn, 0.0),
        np.where(drawn > 0.0, here[1] + np.sin(action.elevation) * drawn, 0.0),
    )


def _rows(view: TurnView) -> int:
    """How many rows of words the sides need at the angle where one of them does most things at once."""
    acts = {
        side: [a.force_n >= _NO_FORCE_N for a in view.forces.actions if a.receiving is side] for side in (True, False)
    }
    return max(1, *(int(np.max(np.sum(some, axis=0))) for some in acts.values() if some))


def cross_section(view: TurnView, angle_deg: float, units: Units = DEFAULT_UNITS) -> Drawing:
    """Return the patient in cross-section at one roll angle."""
    now, frame = at_angle(view, angle_deg), _frame(view)
    half = view.bed_width_m / 2
    centre = (now.centre_x_m, now.height_m)
    contact = (centre[0] + now.moment_arm_m, now.contact_m)
    outline = _body(view.outline, float(np.radians(angle_deg)), centre)
    room = frame.room
    words = [
        room.inside(Label((contact[0], frame.under(_CONTACT)), "contact line", "middle", size=13)),
        Label((-half, frame.under(_EDGES)), "bed edge", "start", "quiet", 13),
        Label((half, frame.under(_EDGES)), f"bed edge, {view.towards}", "end", "quiet", 13),
        room.inside(_gravity_words(now, ((centre[0] + contact[0]) / 2, frame.under(_STATE)), units)),
    ]
    scale = _scale(frame, units)
    for label in [*words, *(item for item in scale if isinstance(item, Label))]:
        room.keep_words(label)
    under, moment_arm = frame.under(_BED), frame.under(_LEVER)
    bed = [(-half, under), (half, under), (half, 0.0), (-half, 0.0)]
    for edge in (outline, bed):
        room.keep_line([*edge, edge[0]])
    items: list[Item] = [
        Polygon(bed, "bed"),
        Polygon(outline, "patient", "ink", 2.0),
        Line([centre, (centre[0], contact[1])], "quiet", 1.5, dash=True),
        Mark(centre, "circle", "ink", 9),
        Mark(contact, "triangle", "ink", 13),
        *_forces(view, now, outline, units, frame, room),
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


def _forces(view: TurnView, now: TurnAt, outline: list[Point], units: Units, frame: _Frame, room: Room) -> list[Item]:
    """The layers that are held, the force of each action, and its words over the patient, each side on its own."""
    items: list[Item] = []
    rows = {True: 0, False: 0}
    for hands in now.hands:
        acts, along = hands.force_n >= _NO_FORCE_N, (float(np.cos(hands.elevation)), float(np.sin(hands.elevation)))
        if hands.name in _BY_A_LAYER and (acts or (hands.receiving and now.angle_deg <= 90.0)):
            over = (-along[1], along[0]) if along[0] >= 0.0 else (along[1], -along[0])
            leaves = max(outline, key=lambda p: p[0] * over[0] + p[1] * over[1])
            items += [Line([leaves, hands.at], "layer", 5.0), Mark(hands.at, "circle", hands.colour, 11)]
        if not acts:
            continue
        size = hands.force_n * frame.metres_per_newton
        tip = (hands.at[0] + along[0] * size, hands.at[1] + along[1] * size)
        row = frame.y[1] - frame.down(_NAME + _ROW * rows[hands.receiving])
        rows[hands.receiving] += 1
        items += [
            Arrow(hands.at, tip, hands.colour, 4.0),
            Label(
                (frame.x[1] if hands.receiving else frame.x[0], row),
                f"{SHORT_WORDS[hands.name]} {units.show_force(hands.force_n)}",
                "end" if hands.receiving else "start",
                hands.colour,
                15,
                True,
            ),
        ]
    return items


_BY_A_LAYER = ("pulls the sheet", "pays out")


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
    fine = np.linspace(np.radians(view.from_deg), np.radians(view.to_deg), _FINE)
    moment_arm, angle = view.support(fine).moment_arm_m, np.degrees(fine)
    found = []
    for i in range(len(moment_arm) - 1):
        if moment_arm[i] * moment_arm[i + 1] < 0:
            part = moment_arm[i] / (moment_arm[i] - moment_arm[i + 1])
            found.append(float(angle[i] + part * (angle[i + 1] - angle[i])))
    return found


def _scale(frame: _Frame, units: Units) -> list[Item]:
    right, row = frame.x[1] - _SIDE_M / 2, frame.under(_SCALE)
    left = right - 100.0 * frame.metres_per_newton
    return [
        Line([(left, row), (right, row)], "ink", 3.0),
        Label((left, row), f"{units.show_force(100.0)} force", "end", "quiet", 13, shift=(-6, 0)),
    ]


def _alt(view: TurnView, now: TurnAt, units: Units) -> str:
    force = units.show_force
    state = "gravity has no moment arm" if abs(now.moment_arm_m) < _NO_MOMENT_ARM_M else _state(now)
    doing = [f"{h.side} side {h.name} with {force(h.force_n)}" for h in now.hands if h.force_n >= _NO_FORCE_N]
    return (
        f"Cross-section of {view.name} at {now.angle_deg:.0f} degrees: {state} with a moment arm of "
        f"{units.show_length(abs(now.moment_arm_m))}; {', '.join(doing) or 'no force is needed'}."
    )
