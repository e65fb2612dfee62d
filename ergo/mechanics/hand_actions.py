"""What hands can do in a turn or a slide: where they take hold, which way they work, what a newton of it is worth.

Coordinates in the plane across the bed: x towards the receiving side from the middle of the bed, y up from the
mattress. While gravity resists, the gain of an action is its moment arm about the contact line; while gravity drives,
the arm with which it holds the patient back; in a slide, what it takes of the level resistance.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ergo.mechanics.cross_section import Outline
from ergo.mechanics.mattress import HARD_SURFACE, Mattress, MattressSupport, rolled_support
from ergo.mechanics.rolling import roll_travel, sheet_elevation, sheet_moment_arm
from ergo.units import G

__all__ = ["ActionName", "HandAction", "Instants", "along_actions", "force_alone", "slide_actions", "turn_actions"]

Floats = NDArray[np.float64]
ActionName = Literal[
    "pulls the sheet",
    "draws the far shoulder and hip",
    "pushes",
    "lifts its edge",
    "receives and lowers",
    "pays out",
    "holds back",
    "holds the under-sheet",
    "holds the limb",
    "holds the head",
]
ActionSide = Literal["receiving", "other"]


@dataclass(frozen=True, slots=True)
class HandAction:
    """One thing that one pair of hands can do at each instant of a move; all arrays of shape (..., instants).

    Attributes
    ----------
    name, side
    gain : ndarray [m in a turn, 1 in a slide]
        What one newton takes of the resistance; zero where the action does not help.
    slip : ndarray [-]
        What one newton adds to the slip towards the receiving side.
    unloading : ndarray [-]
        The part of `slip` that comes from lifting, the same in both directions.
    pull, lift : ndarray [-]
        Direction of the force as the handler feels it: towards the own body (a push is negative), and up.
    reach_m : ndarray [m]
        From the edge of the bed where the handler stands to the hands.
    hand_height_m : ndarray [m]
        Hands above the mattress.
    while_gravity : "resists", "drives" or "both"
        When it has a part.
    """

    name: ActionName
    side: ActionSide
    gain: Floats
    slip: Floats
    unloading: Floats
    pull: Floats
    lift: Floats
    reach_m: Floats
    hand_height_m: Floats
    while_gravity: Literal["resists", "drives", "both"] = "both"

    def in_its_part(self, values: NDArray[Any], driving: NDArray[np.bool_]) -> NDArray[Any]:
        """Return values where the action has a part, while gravity resists, drives or both; zero elsewhere."""
        if self.while_gravity == "both":
            return values
        return np.where(driving if self.while_gravity == "drives" else ~driving, values, 0.0)

    def picked(self, case: int, shape: tuple[int, int]) -> HandAction:
        """Return the action in one of several cases, which its arrays hold or share, shape (cases, instants)."""
        values = {
            field.name: np.broadcast_to(value, shape)[case]
            for field in fields(self)
            if isinstance(value := getattr(self, field.name), np.ndarray)
        }
        return replace(self, **values)


@dataclass(frozen=True, slots=True)
class Instants:
    """A move at several instants: what resists, how much slip friction bears, and what hands can do.

    Attributes
    ----------
    angle : ndarray, shape (instants,) [rad]
        Roll angle; zero throughout in a slide.
    resistance : ndarray, shape (..., instants) [N m in a turn, N in a slide]
    driving : ndarray of bool, shape (..., instants)
        Where gravity carries the patient on and must be held back.
    slip_margin_n : ndarray, shape (..., instants) [N]
        μ m g; infinite in a slide, where slipping is the aim.
    actions : tuple of HandAction
    weight_n : ndarray, shape (...) [N]
        What turns; zero in a slide.
    """

    angle: Floats
    resistance: Floats
    driving: NDArray[np.bool_]
    slip_margin_n: Floats
    actions: tuple[HandAction, ...]
    weight_n: Floats = field(default_factory=lambda: np.zeros(()))

    def with_part(self, resistance: Floats, driving: NDArray[np.bool_]) -> Instants:
        """Return the same with a resistance and a way of gravity of its own; who has no part there does nothing."""
        found = tuple(
            replace(
                action,
                gain=action.in_its_part(np.maximum(action.gain, 0.0), driving),
                slip=action.in_its_part(action.slip, driving),
                unloading=action.in_its_part(action.unloading, driving),
            )
            for action in self.actions
        )
        return replace(self, resistance=resistance, driving=driving, actions=found)


def force_alone(resistance: ArrayLike, worth: ArrayLike) -> Floats:
    """Return what an action alone would have to give [N]: F = R / J; infinite where it alone does nothing.

    >>> force_alone([10.0, 10.0], [0.25, 0.0]).tolist()
    [40.0, inf]
    """
    gain = np.asarray(worth, dtype=float)
    return np.where(gain > _NO_WORTH, np.asarray(resistance) / np.maximum(gain, _NO_WORTH), np.inf)


_NO_WORTH = 1e-3  # what one newton takes, in a turn [m]: with less an action alone does nothing


def turn_actions(
    outline: Outline,
    mass_kg: ArrayLike,
    friction: ArrayLike,
    angle: ArrayLike,
    *,
    offset_m: float,
    bed_width_m: float,
    hand_height_m: ArrayLike,
    push_lift_rad: float = 0.0,
    receive_lift_rad: ArrayLike = np.pi / 2.0,
    far_layer_m: float | None = None,
    by_hands_to_m: float | None = None,
    every_angle: bool = False,
    mattress: Mattress = HARD_SURFACE,
    laid_over_m: ArrayLike = 0.0,
) -> Instants:
    """Return what both sides can do at each angle of a turn.

    A force d at a point r has the moment arm J = (r_y - y_c) d_x - (r_x - x_c) d_y about the contact line c.

    Parameters
    ----------
    outline : Outline, shape (...)
    mass_kg : array_like, shape (...) [kg]
        The mass that turns.
    friction : array_like, shape (...) [-]
        μ of the weakest layer under the patient.
    angle : array_like, shape (instants,) [rad]
        Roll angles, ascending, from 0 on the back to π face down.
    offset_m : float [m]
        Where the patient's centre lies on the back, from the middle of the bed towards the receiving side.
    bed_width_m : float [m]
    hand_height_m : array_like, shape (...) [m]
        Hands that hold a layer, above the mattress, at the edge of the bed.
    push_lift_rad : float [rad]
        How far above the level the other side pushes.
    receive_lift_rad : array_like [rad]
        Direction above the level in which the receiving side bears; π/2 straight up.
    far_layer_m : float, optional [m]
        How far a second far edge, to be paid out, reaches beyond the patient; None where there is none.
    by_hands_to_m : float, optional [m]
        Height of the handlers' shoulders above the mattress where the receiving side holds far shoulder and hip, and
        no sheet.
    every_angle : bool
        Give what a newton would be worth at every angle, also where the action has no part.
    mattress : Mattress
        What gives under the patient; `mattress.at_rest()` for a patient who is held still.
    laid_over_m : array_like, shape (...) [m]
        How far limbs that were laid over have moved the centre of mass towards the receiving side.

    Returns
    -------
    Instants

    Notes
    -----
    Quasi-static, no slip, a rigid outline. On a mattress that gives, the contact line is where pressure and friction
    act together, below its surface, and what the mattress keeps of the work resists: it adds to gravity that resists
    and takes from gravity that drives. Limbs laid over, by c, take c cos φ from what resists up to the side, to
    nothing where that is more; where gravity drives they lie on the mattress ahead, and are not counted.
    Source: statics.

    Examples
    --------
    >>> circle = Outline.single(0.15, 0.15, 2.0)
    >>> one = turn_actions(circle, 80.0, 0.4, [0.5], offset_m=0.0, bed_width_m=0.9, hand_height_m=0.1)
    >>> {a.name: round(float(a.gain[0]), 3) for a in one.actions if a.side == "other"}["holds the under-sheet"]
    0.0
    """
    phi = np.asarray(angle, dtype=float)
    shaped, half_bed = outline.over_angles(), 0.5 * bed_width_m
    mass, mu = (np.asarray(v, dtype=float)[..., None] for v in (mass_kg, friction))
    hands_y = np.asarray(hand_height_m, dtype=float)[..., None]
    at = rolled_support(outline, mattress, phi)
    height, p = at.centre_height_m, at.moment_arm_m
    centre = offset_m + roll_travel(outline, phi)
    contact, contact_y = centre + p, height - at.friction_depth_m
    moving = p + np.asarray(mattress.loss)[..., None] * at.loss_arm_m
    over = np.asarray(laid_over_m, dtype=float)[..., None] * np.maximum(np.cos(phi), 0.0)
    moving = np.where(moving > 0.0, np.maximum(moving - over, 0.0), moving)
    half = np.asarray(outline.half_breadth)[..., None]
    driving = moving < 0.0
    resists = ~driving
    everywhere = np.ones_like(driving)
    rises, falls = (everywhere, everywhere) if every_angle else (resists, driving)

    def action(
        name: ActionName, side: ActionSide, rising: bool, x: ArrayLike, y: ArrayLike, dx: ArrayLike, dy: ArrayLike
    ) -> HandAction:
        x, y, dx, dy, on = np.broadcast_arrays(x, y, dx, dy, rises if rising else falls)
        about = (y - contact_y) * dx - (x - contact) * dy
        # while gravity drives, what counts is the moment against the roll
        gain = np.where(on, about if rising else -about, 0.0)
        towards = dx if side == "receiving" else -dx
        reach = half_bed - x if side == "receiving" else half_bed + x
        return HandAction(
            name, side, gain if every_angle else np.maximum(gain, 0.0), np.where(on, dx + mu * dy, 0.0),
            np.where(on, mu * dy, 0.0), towards,
            np.asarray(dy), np.maximum(reach, 0.0), np.maximum(np.asarray(y), 0.0), "resists" if rising else "drives",
        )  # fmt: skip

    # the trailing end of the breadth axis: far shoulder and hip, and the edge that is lifted
    trail_x, trail_y = centre - half * np.cos(phi), height + half * np.sin(phi)
    # the sheet leaves the body along the tangent towards the receiving side's hands
    beta = sheet_elevation(shaped, phi, half_bed - centre, hands_y - height)
    from_contact = np.hypot(trail_x - contact, trail_y - contact_y)
    # the leading edge, where the receiving side bears
    ahead = shaped.height(phi + np.pi / 2.0)
    lead_x, lead_y = centre + ahead, height - shaped.moment_arm(phi + np.pi / 2.0)
    bear = np.asarray(receive_lift_rad, dtype=float)
    if by_hands_to_m is None:
        # along the tangent; where the body has come over the hands, along the one that passes nearest to them
        drawn = replace(
            action("pulls the sheet", "receiving", True, half_bed, hands_y, np.cos(beta), np.sin(beta)),
            gain=np.where(rises, sheet_moment_arm(at.friction_depth_m, p, shaped.height(phi + beta), beta), 0.0),
        )
    else:
        beta = np.arctan2(by_hands_to_m - trail_y, half_bed - trail_x)
        drawn = action(
            "draws the far shoulder and hip", "receiving", True, trail_x, trail_y, np.cos(beta), np.sin(beta)
        )
    found = [
        drawn,
        action("pushes", "other", True, trail_x, trail_y, np.cos(push_lift_rad), np.sin(push_lift_rad)),
        action(
            "lifts its edge", "other", True, trail_x, trail_y, (trail_y - contact_y) / from_contact,
            (contact - trail_x) / from_contact,
        ),
        action("receives and lowers", "receiving", False, lead_x, lead_y, -np.cos(bear), np.sin(bear)),
        action("holds back", "other", False, trail_x, trail_y, -1.0, 0.0),
    ]  # fmt: skip
    if far_layer_m is not None:
        found.append(_pay_out(shaped, phi, centre, at, falls, mu, half_bed, hands_y))
    idle = np.zeros(np.broadcast_shapes(p.shape, mu.shape))
    edge = idle + half_bed
    found.append(
        HandAction(
            "holds the under-sheet",
            "other",
            idle,
            idle - 1.0,
            idle,
            idle + 1.0,
            idle,
            edge * 0.0,
            idle + hands_y,
            "both",
        )
    )
    weight = mass * G
    return Instants(
        phi, weight * (moving if every_angle else np.abs(moving)), np.broadcast_to(driving, (weight * p).shape),
        mu * weight + idle, tuple(found), weight[..., 0],
    )  # fmt: skip


def _pay_out(
    shaped: Outline,
    phi: Floats,
    centre: Floats,
    at: MattressSupport,
    falls: NDArray[np.bool_],
    mu: Floats,
    half_bed: float,
    hands_y: Floats,
) -> HandAction:
    """The lower layer's far edge, kept taut and let go slowly: a tangent on the other side, towards its hands.

    -X sin γ + Y cos γ = h(φ - γ) with X from the centre back to the hands at the far edge; d = (-cos γ, sin γ).
    """
    gamma = sheet_elevation(shaped, -phi, centre + half_bed, hands_y - at.centre_height_m)
    dx, dy = -np.cos(gamma), np.sin(gamma)
    contact_y = at.centre_height_m - at.friction_depth_m
    about = (hands_y - contact_y) * dx - (-half_bed - (centre + at.moment_arm_m)) * dy
    gain = np.where(falls, -about, 0.0)
    gain = gain if falls.all() else np.maximum(gain, 0.0)
    on = falls & (gain > 0.0)
    still = np.zeros(gain.shape)
    return HandAction(
        "pays out", "other", gain, np.where(on, dx + mu * dy, 0.0), np.where(on, mu * dy, 0.0), -dx + still, dy + still,
        still, still + hands_y, "drives",
    )  # fmt: skip


def along_actions(
    resistance_n: ArrayLike, gain: ArrayLike, *, pull_angle_rad: ArrayLike, reach_m: ArrayLike, hand_height_m: ArrayLike
) -> Instants:
    """Return what both sides can do at the start of a slide along the bed: they draw the layer on both sides.

    >>> one = along_actions(320.0, 1.0, pull_angle_rad=0.0, reach_m=0.1, hand_height_m=0.1)
    >>> [(a.name, a.side, float(a.gain[0])) for a in one.actions]
    [('pulls the sheet', 'receiving', 1.0), ('pulls the sheet', 'other', 1.0)]
    """
    worth, rise, reach, height = (
        np.asarray(v, dtype=float)[..., None] for v in (gain, pull_angle_rad, reach_m, hand_height_m)
    )
    resistance = np.asarray(resistance_n, dtype=float)[..., None]
    idle = np.zeros(np.broadcast_shapes(worth.shape, rise.shape, height.shape, resistance.shape))
    sides: tuple[ActionSide, ActionSide] = ("receiving", "other")
    pulls = tuple(
        HandAction(
            "pulls the sheet", side, worth + idle, worth + idle, idle, np.cos(rise) + idle, np.sin(rise) + idle,
            reach + idle, height + idle,
        )
        for side in sides
    )  # fmt: skip
    still = np.zeros(idle.shape, dtype=bool)
    return Instants(np.zeros(1), resistance + idle, still, np.full(idle.shape, np.inf), pulls)


def slide_actions(
    resistance_n: ArrayLike,
    friction: ArrayLike,
    *,
    pull_angle_rad: ArrayLike,
    pull_reach_m: ArrayLike,
    push_reach_m: ArrayLike,
    hand_height_m: ArrayLike,
    push_height_m: ArrayLike,
    push_lift_rad: ArrayLike = 0.0,
) -> Instants:
    """Return what both sides can do at the start of a slide: one draws the layer, the other pushes.

    J = d_x + μ d_y: what lifts, unloads.

    Parameters
    ----------
    resistance_n : array_like, shape (...) [N]
        R, what a level pull without unloading would have to overcome.
    friction : array_like, shape (...) [-]
    pull_angle_rad, push_lift_rad : array_like [rad]
        Above the level.
    pull_reach_m, push_reach_m, hand_height_m, push_height_m : array_like [m]
        Hands from the own edge of the bed, and above the mattress.

    Returns
    -------
    Instants
        With one instant.

    Examples
    --------
    >>> one = slide_actions(320.0, 0.4, pull_angle_rad=0.0, pull_reach_m=0.2, push_reach_m=0.4, hand_height_m=0.1,
    ...                     push_height_m=0.15)
    >>> [(a.name, float(a.gain[0]), float(a.pull[0])) for a in one.actions]
    [('pulls the sheet', 1.0, 1.0), ('pushes', 1.0, -1.0)]
    """
    mu = np.asarray(friction, dtype=float)[..., None]

    def action(
        name: ActionName, side: ActionSide, up: ArrayLike, reach: ArrayLike, y: ArrayLike, way: float
    ) -> HandAction:
        rise = np.asarray(up, dtype=float)[..., None]
        level, lift = np.cos(rise), np.sin(rise)
        reach_m, height_m = (np.asarray(v, dtype=float)[..., None] for v in (reach, y))
        shape = np.broadcast_shapes(mu.shape, level.shape, reach_m.shape, height_m.shape)
        gain = np.broadcast_to(level + mu * lift, shape)
        reach_m, height_m = np.broadcast_to(reach_m, shape), np.broadcast_to(height_m, shape)
        return HandAction(
            name, side, gain, gain, np.broadcast_to(mu * lift, shape), np.broadcast_to(way * level, shape),
            np.broadcast_to(lift, shape), reach_m, height_m,
        )  # fmt: skip

    resistance = np.asarray(resistance_n, dtype=float)[..., None]
    return Instants(
        np.zeros(1),
        resistance,
        np.zeros(resistance.shape, dtype=bool),
        np.full(resistance.shape, np.inf),
        (
            action("pulls the sheet", "receiving", pull_angle_rad, pull_reach_m, hand_height_m, 1.0),
            action("pushes", "other", push_lift_rad, push_reach_m, push_height_m, -1.0),
        ),
    )
