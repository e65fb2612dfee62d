"""The turning patient in cross-section, at one roll angle: contact line, levers, sheet, pull, hold and brake.

x runs towards the receiving side from the middle of the bed, y up from the mattress.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ergo.assessment import Demand
from ergo.mechanics.demand import turn_statics
from ergo.mechanics.layers import slip_friction
from ergo.mechanics.outline import Outline
from ergo.mechanics.procedure import PlannedMove
from ergo.mechanics.turn import Turn, counter_hold, roll_travel
from ergo.show.figures.drawing import Arrow, Axis, Drawing, Item, Label, Line, Mark, Point, Polygon
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["TurnAt", "TurnView", "at_angle", "balance_points", "cross_section", "turn_view"]

Floats = NDArray[np.float64]
_FULL = 500.0  # newtons drawn as _LONGEST metres; only a scale of the drawing, said on it
_LONGEST = 0.5
_SIGN_M = 1e-9
_NO_LEVER_M = 0.002  # below this the drawing shows none


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
    lever_m: float
    centre_x_m: float
    elevation: float
    pull_lever_m: float
    pull_n: float
    counter_n: float
    brake_n: float
    brake_ahead_m: float


def turn_view(asked: Demand, move: PlannedMove) -> TurnView:
    """Return one turn of a demand, ready to be drawn.

    Parameters
    ----------
    asked : Demand
    move : PlannedMove
        A turn; its `is_turn` holds.

    Returns
    -------
    TurnView
    """
    scenario, case = asked.scenario, asked.case
    lifting, lowering = turn_statics(move, case, scenario)
    mass = scenario.patient.mass_kg * case.turned_fraction
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
        counter_n=counter_hold(lifting, mass, slip_friction(case.mu)),
        from_deg=float(np.degrees(move.from_rad)),
        to_deg=float(np.degrees(move.to_rad)),
    )


def at_angle(view: TurnView, angle_deg: float) -> TurnAt:
    """Return what the turn asks at one roll angle, between the computed ones by straight lines."""
    angle = float(np.radians(angle_deg))

    def of(turn: Turn, values: Floats) -> float:
        return float(np.interp(angle, turn.angle, values))

    lift, low = view.lifting, view.lowering
    lever = float(view.outline.lever(angle))
    # Between two computed angles the force may fall to nothing at once: gravity's lever says on which side we are.
    resists, drives = lever > _SIGN_M, lever < -_SIGN_M
    return TurnAt(
        angle_deg=angle_deg,
        height_m=float(view.outline.height(angle)),
        lever_m=lever,
        centre_x_m=view.start_x_m + float(roll_travel(view.outline, [angle])[0]),
        elevation=of(lift, lift.elevation),
        pull_lever_m=of(lift, lift.pull_lever_m),
        pull_n=of(lift, lift.force_n) if resists else 0.0,
        counter_n=of(lift, view.counter_n) if resists else 0.0,
        brake_n=of(low, low.force_n) if drives else 0.0,
        brake_ahead_m=float(view.outline.height(angle + np.pi / 2)),
    )


def _body(outline: Outline, angle: float, centre: Point) -> list[Point]:
    """The mean outline, rolled, from its support function: each tangent's foot."""
    normal = np.linspace(0.0, 2.0 * np.pi, 181)
    h, slope = outline.over_angles().height(normal), outline.over_angles().lever(normal)
    x = h * np.sin(normal) + slope * np.cos(normal)
    y = -h * np.cos(normal) + slope * np.sin(normal)
    c, s = np.cos(angle), np.sin(angle)
    return [(centre[0] + float(c * a + s * b), centre[1] + float(-s * a + c * b)) for a, b in zip(x, y, strict=True)]


def cross_section(view: TurnView, angle_deg: float, units: Units = DEFAULT_UNITS) -> Drawing:
    """Return the patient in cross-section at one roll angle.

    Parameters
    ----------
    view : TurnView
    angle_deg : float [deg]
    units : Units

    Returns
    -------
    Drawing
        To scale; the arrows of forces to a scale of their own that the drawing shows.
    """
    now = at_angle(view, angle_deg)
    half = view.bed_width_m / 2
    centre = (now.centre_x_m, now.height_m)
    contact = (centre[0] + now.lever_m, 0.0)
    outline = _body(view.outline, float(np.radians(angle_deg)), centre)
    items: list[Item] = [
        Polygon([(-half, -0.09), (half, -0.09), (half, 0.0), (-half, 0.0)], "bed"),
        Polygon(outline, "patient", "ink", 2.0),
        Line([centre, (centre[0], 0.0)], "quiet", 1.5, dash=True),
        Mark(centre, "circle", "ink", 9),
        Mark(contact, "triangle", "ink", 13),
        Label((contact[0], -0.045), "contact line", "middle", size=13),
    ]
    items += _forces(view, now, centre, outline, units)
    items += _gravity(now, centre, contact, units)
    items += [
        Label((-half, -0.14), "bed edge", "middle", "quiet", 13),
        Label((half, -0.14), f"bed edge, {view.towards}", "middle", "quiet", 13),
        *_scale(half, units),
    ]
    return Drawing(
        x=Axis(-half - 0.25, half + 0.6),
        y=Axis(-0.3, max(2.0 * float(view.outline.height(np.pi / 2)) + 0.12, 0.5)),
        items=items,
        alt=_alt(view, now, units),
        height=470,
        to_scale=True,
    )


def _length(force_n: float) -> float:
    return force_n / _FULL * _LONGEST


def _forces(view: TurnView, now: TurnAt, centre: Point, outline: list[Point], units: Units) -> list[Item]:
    items: list[Item] = []
    half = view.bed_width_m / 2
    along = (float(np.cos(now.elevation)), float(np.sin(now.elevation)))
    if view.by_sheet and (now.pull_n > 0 or now.angle_deg <= 90.0):
        up = (-along[1], along[0])
        leaves = max(outline, key=lambda p: p[0] * up[0] + p[1] * up[1])
        hands = (half, view.hand_height_m)
        items.append(Line([leaves, hands], "layer", 5.0))
        items.append(Mark(hands, "circle", "within", 11))
    else:
        hands = (centre[0] - float(np.cos(np.radians(now.angle_deg))) * float(view.outline.half_breadth), centre[1])
    if now.pull_n > 0:
        tip = hands[0] + along[0] * _length(now.pull_n), hands[1] + along[1] * _length(now.pull_n)
        items.append(Arrow(hands, tip, "within", 4.0))
        items.append(Label(tip, f"pull {units.show_force(now.pull_n)}", "start", "within", 16, True, (-20, 18), True))
    if now.counter_n > 0:
        tail = (centre[0] - 0.12, 0.02)
        tip = (tail[0] - max(_length(now.counter_n), 0.06), 0.02)
        items.append(Arrow(tail, tip, "close", 4.0))
        said = f"counter-hold {units.show_force(now.counter_n)}"
        name = (-half - 0.2, 0.42)
        items.append(Line([(tip[0], 0.05), (name[0] + 0.2, name[1] - 0.04)], "close", 1.0))
        items.append(Label(name, said, "start", "close", 15, True, (0, 0), True))
    if now.brake_n > 0:
        x = centre[0] + now.brake_ahead_m
        tip = (x, 0.03 + _length(now.brake_n))
        items.append(Arrow((x, 0.03), tip, "over", 4.0))
        items.append(Label(tip, f"brake {units.show_force(now.brake_n)}", "middle", "over", 15, True, (0, 14), True))
    return items


def _gravity(now: TurnAt, centre: Point, contact: Point, units: Units) -> list[Item]:
    """The lever between the centre's vertical and the contact line, and what gravity does there."""
    said = f"{_state(now)}, lever {units.show_length(abs(now.lever_m))}"
    if abs(now.lever_m) < _NO_LEVER_M:
        said = "flat: gravity has no lever" if now.angle_deg % 180.0 < 1.0 else "balance point: gravity has no lever"
    return [
        Arrow(centre, (centre[0], centre[1] * 0.35), "ink", 2.5),
        Line([(centre[0], -0.19), (contact[0], -0.19)], "ink", 5.0),
        Label(((centre[0] + contact[0]) / 2, -0.25), said, "middle", size=15, bold=True, backed=True),
    ]


def _state(now: TurnAt) -> str:
    return "gravity resists" if now.lever_m > 0 else "gravity drives"


def balance_points(view: TurnView) -> list[float]:
    """Return the angles [deg] at which gravity's lever changes its sign within the turn.

    A square outline has three: it rises to a corner, falls onto its side, and rises again.
    """
    lever, angle = view.lifting.gravity_lever_m, np.degrees(view.lifting.angle)
    found = []
    for i in range(len(lever) - 1):
        if lever[i] * lever[i + 1] < 0:
            part = lever[i] / (lever[i] - lever[i + 1])
            found.append(float(angle[i] + part * (angle[i + 1] - angle[i])))
    return found


def _scale(half: float, units: Units) -> list[Item]:
    right = half + 0.55
    return [
        Line([(right - _length(100.0), -0.19), (right, -0.19)], "ink", 3.0),
        Label((right, -0.25), f"{units.show_force(100.0)} force", "end", "quiet", 13),
    ]


def _alt(view: TurnView, now: TurnAt, units: Units) -> str:
    force = units.show_force
    state = "gravity has no lever" if abs(now.lever_m) < _NO_LEVER_M else _state(now)
    return (
        f"Cross-section of {view.name} at {now.angle_deg:.0f} degrees: {state} with a lever of "
        f"{units.show_length(abs(now.lever_m))}; pull {force(now.pull_n)}, counter-hold {force(now.counter_n)}, "
        f"brake {force(now.brake_n)}."
    )
