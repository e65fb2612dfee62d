"""Turns: a body that rolls over the mattress without slipping, drawn by a sheet or by hands, then braked.

Coordinates in the plane across the bed: x towards the receiving side, y up, the origin on the mattress under the
patient's centre before the roll. The roll angle φ is 0 on the back, 90° on the side, 180° face down.

On a mattress that gives, the centre lies lower, the contact line is where pressure and friction act together, and what
the mattress keeps of the work of pressing resists every roll. How far the centre travels is taken as on a hard surface:
over half a turn it would be 3 cm less at 3 cm of immersion.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ergo.errors import checked_numbers
from ergo.evidence import assumption
from ergo.mechanics.cross_section import Outline
from ergo.mechanics.mattress import HARD_SURFACE, Mattress, MattressSupport, pressed_area, rolled_support
from ergo.units import G

__all__ = [
    "Turn",
    "brake",
    "brake_force",
    "counter_hold",
    "hand_pull_moment_arm",
    "roll_travel",
    "sheet_elevation",
    "sheet_moment_arm",
    "turn_by_hands",
    "turn_by_sheet",
    "turn_force",
]

Floats = NDArray[np.float64]

_SIDE = np.pi / 2.0
_MOST_STEPS = 60
_CLOSE_M = 1e-6  # how near the tangent must pass to the hands before the last step, which squares what is left
_FEW = 0.5  # of the angles: then picking them out costs less than looking at all
_CLOSE_RAD = 1e-9  # between the bounds of an elevation, where no tangent passes that near
# Knots over a quarter turn, dense at both ends, where the height of a square outline rises like a fractional power;
# four Gauss nodes between each two.
_STEPS = np.linspace(0.0, 1.0, 129)
_KNOTS = _SIDE * _STEPS**2 * (3.0 - 2.0 * _STEPS)
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(4)
_WIDTHS = np.diff(_KNOTS)
_BETWEEN = _KNOTS[:-1, None] + _WIDTHS[:, None] * (_NODES + 1.0) / 2.0


SOURCES = ("gordon_2014", "deleva_1996", "mcgill_kavcic_2005")


@dataclass(frozen=True, slots=True)
class Turn:
    """The statics of a turn at each roll angle.

    Attributes
    ----------
    angle : ndarray, shape (angles,) [rad]
    gravity_moment_arm_m : ndarray, shape (..., angles)
        Positive while gravity resists the roll.
    height_m, travel_m : ndarray
        The centre's height above the mattress, and how far it has moved across the bed.
    elevation : ndarray [rad]
        Direction of the hand force above the horizontal.
    pull_moment_arm_m : ndarray
        Moment arm of the hand force about the contact line.
    force_n : ndarray
        Force of the whole team; zero where gravity drives the roll, and nobody pulls.
    weight_n : ndarray, shape (...)
        Weight that turns.
    hold_n : ndarray, shape (..., angles)
        Force that holds the patient still there, when the mattress has settled; on a hard surface `force_n`.
    loss_moment_arm_m : ndarray, shape (..., angles)
        What the mattress keeps, as a moment arm of the weight: it adds to gravity's while the patient moves.
    sources : tuple of str
    """

    angle: Floats
    gravity_moment_arm_m: Floats
    height_m: Floats
    travel_m: Floats
    elevation: Floats
    pull_moment_arm_m: Floats
    force_n: Floats
    weight_n: Floats
    hold_n: Floats
    loss_moment_arm_m: Floats
    sources: tuple[str, ...] = SOURCES

    def counter_hold_n(self, friction: ArrayLike) -> Floats:
        """Return what the other side must hold at each angle [N], for the friction under the patient, shape (...)."""
        mu = np.asarray(friction, dtype=float)[..., None]
        return counter_hold(self.force_n, self.elevation, self.weight_n[..., None], mu)


def roll_travel(outline: Outline, angle: ArrayLike) -> Floats:
    """Return how far the centre has moved across the bed [m] when the body has rolled without slip from its back.

    x(φ) = ∫ h dφ; half the perimeter at 180°. Angles ascend.

    >>> round(float(roll_travel(Outline.single(0.15, 0.15, 2.0), np.array([np.pi]))[0] / (0.15 * np.pi)), 9)
    1.0
    """
    angle = np.asarray(angle, dtype=float)
    folded = np.where(angle > _SIDE, np.pi - angle, angle)  # h(π - φ) = h(φ)
    travel, slope = _travel_at_knots(outline)
    at = np.clip(np.searchsorted(_KNOTS, folded, side="right") - 1, 0, len(_WIDTHS) - 1)
    width = _WIDTHS[at]
    u = (folded - _KNOTS[at]) / width
    # Cubic through the integrals at two knots with the heights there as slopes.
    part = (
        travel[..., at] * (1.0 + 2.0 * u) * (1.0 - u) ** 2
        + travel[..., at + 1] * u**2 * (3.0 - 2.0 * u)
        + width * u * (1.0 - u) * (slope[..., at] * (1.0 - u) - slope[..., at + 1] * u)
    )
    return np.where(angle > _SIDE, np.asarray(outline.half_perimeter)[..., None] - part, part)


@lru_cache(maxsize=4)  # an outline is its own key, and rolls in every turn of a procedure
def _travel_at_knots(outline: Outline) -> tuple[Floats, Floats]:
    """How far the centre has moved at each knot, and how high it stands there."""
    shaped = outline.over_angles()
    pieces = np.sum(shaped.over_angles().height(_BETWEEN) * _WEIGHTS, axis=-1) * _WIDTHS / 2.0
    travel = np.concatenate([np.zeros((*pieces.shape[:-1], 1)), np.cumsum(pieces, axis=-1)], axis=-1)
    return travel, shaped.height(_KNOTS)


def sheet_elevation(outline: Outline, angle: ArrayLike, hand_x: ArrayLike, hand_y: ArrayLike) -> Floats:
    """Return the elevation β [rad] of a sheet that leaves the body along the tangent towards the hands.

    Solves -X sin β + Y cos β = h(φ + β) between -90° and 90°, X and Y from the centre to the hands, outside the body.

    >>> circle = Outline.single(0.15, 0.15, 2.0).over_angles()
    >>> round(float(np.degrees(sheet_elevation(circle, np.array([0.3]), 0.3, 0.0))[0]), 6)
    -30.0
    """
    phi, x, y = (np.asarray(v, dtype=float) for v in (angle, hand_x, hand_y))
    shape = np.broadcast_shapes(phi.shape, x.shape, y.shape, outline.a.shape[:-1])
    low, high = np.full(shape, -np.pi / 2.0), np.full(shape, np.pi / 2.0)
    # As if the outline were a circle of its height here, a start that is a step or two nearer than the level.
    beta = np.arctan2(y, x) - np.arcsin(np.clip(outline.height(phi) / np.sqrt(x * x + y * y), -1.0, 1.0))
    beta = np.where((beta > low) & (beta < high), beta, 0.0)
    found, left = np.empty(beta.size), np.arange(beta.size).reshape(shape)
    rolled_sine, rolled_cosine = np.sin(phi), np.cos(phi)
    for _ in range(_MOST_STEPS):
        # The left side less the right falls with β wherever the tangent runs to the hands: keep the root bracketed.
        sine, cosine = np.sin(beta), np.cos(beta)
        reach, moment_arm = outline.towards(
            rolled_sine * cosine + rolled_cosine * sine, rolled_cosine * cosine - rolled_sine * sine
        )
        gap = -x * sine + y * cosine - reach
        low, high = np.where(gap > 0, beta, low), np.where(gap > 0, high, beta)
        slope = -x * cosine - y * sine - moment_arm
        newton = beta - gap / np.where(slope < 0, slope, -1.0)
        far = (np.abs(gap) >= _CLOSE_M) & (high - low >= _CLOSE_RAD)
        inside = (newton > low) & (newton < high)
        beta = np.where(inside, newton, np.where(far, 0.5 * (low + high), beta))
        if not far.any():
            break
        if far.mean() < _FEW:  # at a kink of the outline some take far longer than the rest: go on with them alone
            found[left] = beta
            left, rolled_sine, rolled_cosine, x, y, low, high, beta = (
                np.broadcast_to(v, far.shape)[far] for v in (left, rolled_sine, rolled_cosine, x, y, low, high, beta)
            )
            outline = outline.picked(far)
    found[left] = beta
    return found.reshape(shape)


def sheet_moment_arm(height: ArrayLike, moment_arm: ArrayLike, tangent: ArrayLike, elevation: ArrayLike) -> Floats:
    """Return the moment arm [m] of a sheet's pull about the contact line.

    L = s + h cos β + p sin β, with h(φ), p = h'(φ) and s = h(φ + β), the tangent's distance from the centre; on a
    mattress that gives, h is the depth at which friction acts below the centre.

    >>> float(sheet_moment_arm(0.15, 0.0, 0.15, 0.0))  # a circle, drawn level: its diameter
    0.3
    """
    h, p, s = np.asarray(height), np.asarray(moment_arm), np.asarray(tangent)
    return np.asarray(s + h * np.cos(elevation) + p * np.sin(elevation))


def hand_pull_moment_arm(
    half_breadth: ArrayLike, height: ArrayLike, moment_arm: ArrayLike, angle: ArrayLike, elevation: ArrayLike
) -> Floats:
    """Return the moment arm [m] about the contact line of hands that pull on the far shoulder and hip.

    L = (a sin φ + h) cos β + (a cos φ + p) sin β: the hands hold the end of the outline's breadth axis.

    >>> float(hand_pull_moment_arm(0.2, 0.12, 0.0, 0.0, 0.0))
    0.12
    """
    a, h, p = np.asarray(half_breadth), np.asarray(height), np.asarray(moment_arm)
    return np.asarray((a * np.sin(angle) + h) * np.cos(elevation) + (a * np.cos(angle) + p) * np.sin(elevation))


_QUARTER_TURN = np.radians(np.arange(91.0))


def _section(
    what: str,
    mass_kg: ArrayLike,
    half_breadth_m: ArrayLike,
    half_depth_m: ArrayLike,
    superellipse_exponent: ArrayLike | None,
    angle_rad: ArrayLike,
    immersion_m: ArrayLike,
    loss: ArrayLike,
    **more: tuple[ArrayLike, float, float, str],
) -> tuple[Outline, list[Floats]]:
    """Return the outline of one section, then mass and what else was given; angles are an axis of their own."""
    exponent = (
        assumption("chest_superellipse_exponent").typical if superellipse_exponent is None else superellipse_exponent
    )
    (angles,) = checked_numbers(what, angle_rad=(np.atleast_1d(angle_rad), 0.0, np.pi, "rad"))
    mass, breadth, depth, n, *rest = checked_numbers(
        what,
        mass_kg=(mass_kg, 0.0, 700.0, "kg"),
        half_breadth_m=(half_breadth_m, 0.05, 0.6, "m"),
        half_depth_m=(half_depth_m, 0.05, 0.6, "m"),
        superellipse_exponent=(exponent, 1.5, 60.0, "-"),
        immersion_m=(immersion_m, 0.0, 0.3, "m"),
        loss=(loss, 0.0, 1.0, "-"),
        **more,
    )
    return Outline.single(*np.broadcast_arrays(breadth, depth, n)), [angles, mass, *rest]


def turn_force(
    mass_kg: ArrayLike,
    half_breadth_m: ArrayLike,
    half_depth_m: ArrayLike,
    *,
    hands_x_m: ArrayLike,
    hands_y_m: ArrayLike,
    angle_rad: ArrayLike = _QUARTER_TURN,
    superellipse_exponent: ArrayLike | None = None,
    immersion_m: ArrayLike = 0.0,
    loss: ArrayLike = 0.0,
) -> Turn:
    """Return the pull on a sheet that turns a patient from the back onto the side.

    F(φ) = m g p / (s + h cos β + p sin β), with h(φ) the height of the centre, p = h'(φ) the moment arm of gravity,
    β the elevation of the sheet and s = h(φ + β).

    Parameters
    ----------
    mass_kg : array_like, shape (...) [kg]
        Mass that turns, 0 to 700.
    half_breadth_m, half_depth_m : array_like, shape (...) [m]
        Half of the patient's breadth and depth, 0.05 to 0.6.
    hands_x_m : array_like, shape (...) [m]
        From the patient's centre, on the back, across the bed to the hands, 0.1 to 3; beyond the patient's side at the
        end of the turn.
    hands_y_m : array_like, shape (...) [m]
        Hands above the mattress, -0.5 to 1.5.
    angle_rad : array_like, shape (angles,) [rad]
        Roll angles, ascending, 0 to π; by default 0 to 90° by degrees.
    superellipse_exponent : array_like, shape (...) [-], optional
        Of the outline, 2 is an ellipse; by default assumption `chest_superellipse_exponent`.
    immersion_m : array_like, shape (...) [m]
        How deep the lowest point lies below the unpressed mattress with the patient on the back, 0 to 0.3; by
        default 0, a hard surface. Nobody sinks deeper than to the centre.
    loss : array_like, shape (...) [-]
        Part of the work of pressing that the mattress keeps, 0 to 1.

    Returns
    -------
    Turn
        `force_n` of the whole team and its terms, shape (..., angles); `counter_hold_n(friction)` gives what the other
        side must hold so that the patient rolls instead of sliding.

    Raises
    ------
    InputError
        With every argument that is not a number, out of range or of a length that does not fit.

    Notes
    -----
    At rest at each angle, no slip, rigid outline. A mattress that gives spreads the contact and lowers the peak: p and
    h are then those of `mattress_support`, and the loss adds to p. Source: statics.

    Examples
    --------
    >>> turn = turn_force(80.0, 0.20, 0.12, hands_x_m=0.6, hands_y_m=0.1, superellipse_exponent=2.0)
    >>> round(float(turn.force_n.max())), round(float(np.degrees(turn.angle[turn.force_n.argmax()])))
    (258, 34)
    >>> round(float(turn.counter_hold_n(0.1).max()))
    156
    """
    hands = {"hands_x_m": (hands_x_m, 0.1, 3.0, "m"), "hands_y_m": (hands_y_m, -0.5, 1.5, "m")}
    outline, (angles, mass, sink, lost, x, y) = _section(
        "turn force",
        mass_kg,
        half_breadth_m,
        half_depth_m,
        superellipse_exponent,
        angle_rad,
        immersion_m,
        loss,
        **hands,
    )
    return turn_by_sheet(outline, mass, angles, x, y, Mattress(pressed_area(outline, sink), lost))


def brake_force(
    mass_kg: ArrayLike,
    half_breadth_m: ArrayLike,
    half_depth_m: ArrayLike,
    *,
    angle_rad: ArrayLike = _QUARTER_TURN + _SIDE,
    superellipse_exponent: ArrayLike | None = None,
    immersion_m: ArrayLike = 0.0,
    loss: ArrayLike = 0.0,
) -> Turn:
    """Return the lift with which the receiving side lowers a patient from the side onto the front or the back.

    F = m g |p| / (|p| + w): gravity drives the roll by |p|, hands under the leading edge bear up at w = h(φ + 90°)
    ahead of the centre.

    Parameters
    ----------
    mass_kg : array_like, shape (...) [kg]
        Mass that turns, 0 to 700.
    half_breadth_m, half_depth_m : array_like, shape (...) [m]
        Half of the patient's breadth and depth, 0.05 to 0.6.
    angle_rad : array_like, shape (angles,) [rad]
        Roll angles, ascending, 0 to π; by default 90° to 180° by degrees.
    superellipse_exponent : array_like, shape (...) [-], optional
        Of the outline, 2 is an ellipse; by default assumption `chest_superellipse_exponent`.
    immersion_m : array_like, shape (...) [m]
        How deep the lowest point lies below the unpressed mattress with the patient on the back, 0 to 0.3; by
        default 0, a hard surface. Nobody sinks deeper than to the centre.
    loss : array_like, shape (...) [-]
        Part of the work of pressing that the mattress keeps, 0 to 1.

    Returns
    -------
    Turn
        `force_n`, straight up, and its terms, shape (..., angles); zero while gravity still resists.

    Raises
    ------
    InputError
        With every argument that is not a number, out of range or of a length that does not fit.

    Notes
    -----
    At rest at each angle. Nobody can push on a sheet, so the receiving side brakes with hands under the patient, not
    along the tangent. Source: statics.

    Examples
    --------
    >>> lowering = brake_force([60.0, 80.0], 0.20, 0.12, superellipse_exponent=2.0)
    >>> lowering.force_n.max(axis=-1).round().tolist()
    [188.0, 251.0]
    """
    outline, (angles, mass, sink, lost) = _section(
        "brake force", mass_kg, half_breadth_m, half_depth_m, superellipse_exponent, angle_rad, immersion_m, loss
    )
    return brake(outline, mass, angles, Mattress(pressed_area(outline, sink), lost))


def turn_by_sheet(
    outline: Outline,
    mass_kg: ArrayLike,
    angle: ArrayLike,
    hand_x: ArrayLike,
    hand_y: ArrayLike,
    mattress: Mattress = HARD_SURFACE,
) -> Turn:
    """Return the pull on a sheet that passes over the patient to hands on the receiving side (as `turn_force`).

    β is solved at each angle because the body travels towards the hands; they lie hand_x from the patient's centre on
    the back and hand_y above the mattress. Statics, check value C13.

    >>> turn = turn_by_sheet(Outline.single(0.20, 0.12, 2.0), 80.0, np.radians([0.0, 37.76, 90.0]), 0.6, 0.1)
    >>> round(float(80.0 * 9.80665 * turn.gravity_moment_arm_m[1]), 2), bool(turn.force_n[2] < 1e-9)
    (62.76, True)
    """
    angle = np.asarray(angle, dtype=float)
    shaped = outline.over_angles()
    travel = roll_travel(outline, angle)
    at = rolled_support(outline, mattress, angle)
    x = np.asarray(hand_x, dtype=float)[..., None] - travel
    y = np.asarray(hand_y, dtype=float)[..., None] - at.centre_height_m
    elevation = sheet_elevation(shaped, angle, x, y)
    tangent = shaped.height(angle + elevation)
    arm = sheet_moment_arm(at.friction_depth_m, at.moment_arm_m, tangent, elevation)
    return _turn(angle, at, mattress, travel, elevation, arm, mass_kg, 1)


def _turn(
    angle: Floats,
    at: MattressSupport,
    mattress: Mattress,
    travel: Floats,
    elevation: Floats,
    arm: Floats,
    mass_kg: ArrayLike,
    way: Literal[1, -1],
) -> Turn:
    """Forces along the line of the hands from their moment arm: against gravity that resists (1) or drives (-1)."""
    p, weight = at.moment_arm_m, np.asarray(mass_kg, dtype=float) * G
    lost = np.asarray(mattress.loss)[..., None] * at.loss_arm_m
    force, hold = (weight[..., None] * np.maximum(way * moment, 0.0) / arm for moment in (p + lost, p))
    return Turn(angle, p, at.centre_height_m, travel, elevation, arm, force, weight, hold, lost)


def turn_by_hands(
    outline: Outline,
    mass_kg: ArrayLike,
    angle: ArrayLike,
    shoulder_x: ArrayLike,
    shoulder_y: ArrayLike,
    mattress: Mattress = HARD_SURFACE,
) -> Turn:
    """Return the pull of hands on the far shoulder and hip, towards the handlers' own shoulders.

    >>> turn = turn_by_hands(Outline.single(0.18, 0.12, 2.8), 80.0, np.radians([0.0, 15.0, 30.0]), 0.45, 0.45)
    >>> bool(turn.force_n[1] > turn.force_n[0])
    True
    """
    angle = np.asarray(angle, dtype=float)
    travel = roll_travel(outline, angle)
    a = np.asarray(outline.half_breadth)[..., None]
    at = rolled_support(outline, mattress, angle)
    away_x = np.asarray(shoulder_x, dtype=float)[..., None] - travel + a * np.cos(angle)
    away_y = np.asarray(shoulder_y, dtype=float)[..., None] - at.centre_height_m - a * np.sin(angle)
    elevation = np.arctan2(away_y, away_x)
    arm = hand_pull_moment_arm(a, at.friction_depth_m, at.moment_arm_m, angle, elevation)
    return _turn(angle, at, mattress, travel, elevation, arm, mass_kg, 1)


def counter_hold(pull_n: Floats, elevation: Floats, weight_n: Floats, friction: Floats) -> Floats:
    """Return what the other side must hold so that the patient rolls instead of sliding [N].

    hold = max(0, F cos β - μ (W - F sin β)), μ of the weakest interface under the patient

    >>> counter_hold(np.array([0.0, 200.0]), np.zeros(2), np.array(784.5), np.array(0.1)).round(2).tolist()
    [0.0, 121.55]
    """
    pressed = weight_n - pull_n * np.sin(elevation)
    return np.asarray(np.maximum(0.0, pull_n * np.cos(elevation) - friction * pressed))


def brake(outline: Outline, mass_kg: ArrayLike, angle: ArrayLike, mattress: Mattress = HARD_SURFACE) -> Turn:
    """Return the lift with which the receiving side lowers the patient past the balance point (as `brake_force`).

    >>> lowering = brake(Outline.single(0.18, 0.12, 2.8), 80.0, np.radians([90.0, 165.0]))
    >>> round(float(lowering.force_n[0]), 3), bool(lowering.force_n[1] > 100)
    (0.0, True)
    """
    angle = np.asarray(angle, dtype=float)
    at = rolled_support(outline, mattress, angle)
    arm = np.maximum(-at.moment_arm_m, 0.0) + outline.over_angles().height(angle + np.pi / 2.0)
    up = np.full_like(at.moment_arm_m, np.pi / 2.0)
    return _turn(angle, at, mattress, roll_travel(outline, angle), up, arm, mass_kg, -1)
