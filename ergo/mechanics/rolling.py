"""Turns: a body that rolls over the mattress without slipping, drawn by a sheet or by hands, then braked.

Coordinates in the plane across the bed: x towards the receiving side, y up, the origin on the mattress under the
patient's centre before the roll. The roll angle φ is 0 on the back, 90° on the side, 180° face down.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ergo.mechanics.cross_section import Outline
from ergo.units import G

__all__ = [
    "Turn",
    "brake",
    "counter_hold",
    "hand_pull_moment_arm",
    "roll_travel",
    "sheet_elevation",
    "sheet_moment_arm",
    "turn_by_hands",
    "turn_by_sheet",
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


@dataclass(frozen=True, slots=True)
class Turn:
    """The statics of a turn at each roll angle.

    Attributes
    ----------
    angle : ndarray, shape (angles,) [rad]
    gravity_lever_m : ndarray, shape (..., angles)
        Positive while gravity resists the roll.
    height_m, travel_m : ndarray
        The centre's height, and how far it has moved across the bed.
    elevation : ndarray [rad]
        Direction of the hand force above the horizontal.
    pull_lever_m : ndarray
        Lever of the hand force about the contact line.
    force_n : ndarray
        Force of the whole team; zero where gravity drives the roll, and nobody pulls.
    """

    angle: Floats
    gravity_moment_arm_m: Floats
    height_m: Floats
    travel_m: Floats
    elevation: Floats
    pull_moment_arm_m: Floats
    force_n: Floats


def roll_travel(outline: Outline, angle: ArrayLike) -> Floats:
    """Return how far the centre moves across the bed while the body rolls without slip from its back.

    x(φ) = ∫ h dφ; half the perimeter at 180°.

    Parameters
    ----------
    outline : Outline
    angle : array_like, shape (angles,) [rad]
        Ascending from wherever the turn starts.

    Returns
    -------
    ndarray, shape (..., angles) [m]
        Measured from the back (φ = 0).

    Examples
    --------
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
    """Return the elevation of a sheet that leaves the body along the tangent towards the hands.

    Solves -X sin β + Y cos β = h(φ + β), X and Y from the centre to the hands.

    Parameters
    ----------
    outline : Outline with an axis for angles
    angle : array_like [rad]
        Roll angle φ.
    hand_x, hand_y : array_like [m]
        The hands from the centre; they must lie outside the outline.

    Returns
    -------
    ndarray [rad]
        β between -π/2 and π/2; negative where the hands are lower than the top of the patient.

    Examples
    --------
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
    """Return the lever of a sheet's pull about the contact line.

    L = s + h cos β + p sin β, with s the tangent's distance from the centre.

    Parameters
    ----------
    height, lever, tangent : array_like [m]
        h(φ), p = h'(φ) and s = h(φ + β).
    elevation : array_like [rad]
        β.

    Returns
    -------
    ndarray [m]

    Source: statics.

    Examples
    --------
    >>> float(sheet_moment_arm(0.15, 0.0, 0.15, 0.0))  # a circle, drawn level: its diameter
    0.3
    """
    h, p, s = np.asarray(height), np.asarray(moment_arm), np.asarray(tangent)
    return np.asarray(s + h * np.cos(elevation) + p * np.sin(elevation))


def hand_pull_moment_arm(
    half_breadth: ArrayLike, height: ArrayLike, moment_arm: ArrayLike, angle: ArrayLike, elevation: ArrayLike
) -> Floats:
    """Return the lever about the contact line of hands that pull on the far shoulder and hip.

    L = (a sin φ + h) cos β + (a cos φ + p) sin β: the hands hold the end of the outline's breadth axis.

    Parameters
    ----------
    half_breadth, height, lever : array_like [m]
        a, h(φ) and p = h'(φ).
    angle, elevation : array_like [rad]

    Returns
    -------
    ndarray [m]

    Source: statics.

    Examples
    --------
    >>> float(hand_pull_moment_arm(0.2, 0.12, 0.0, 0.0, 0.0))
    0.12
    """
    a, h, p = np.asarray(half_breadth), np.asarray(height), np.asarray(moment_arm)
    return np.asarray((a * np.sin(angle) + h) * np.cos(elevation) + (a * np.cos(angle) + p) * np.sin(elevation))


def turn_by_sheet(outline: Outline, mass_kg: ArrayLike, angle: ArrayLike, hand_x: ArrayLike, hand_y: ArrayLike) -> Turn:
    """Return the pull on a sheet that passes over the patient to hands on the receiving side.

    F(φ) = m g p / (s + h cos β + p sin β), β re-solved at each angle because the body travels towards the hands.

    Parameters
    ----------
    outline : Outline, shape (...)
    mass_kg : array_like, shape (...) [kg]
        The mass that turns.
    angle : array_like, shape (angles,) [rad]
        Ascending roll angles.
    hand_x : array_like, shape (...) [m]
        From the patient's centre on the back to the hands, along the bed's breadth.
    hand_y : array_like, shape (...) [m]
        Height of the hands above the mattress.

    Returns
    -------
    Turn

    Notes
    -----
    Quasi-static, no slip, rigid outline on a flat mattress: a soft mattress spreads the contact and lowers the peak.
    Source: statics, check value C13.

    Examples
    --------
    >>> turn = turn_by_sheet(Outline.single(0.20, 0.12, 2.0), 80.0, np.radians([0.0, 37.76, 90.0]), 0.6, 0.1)
    >>> round(float(80.0 * 9.80665 * turn.gravity_moment_arm_m[1]), 2), bool(turn.force_n[2] < 1e-9)
    (62.76, True)
    """
    angle = np.asarray(angle, dtype=float)
    shaped = outline.over_angles()
    travel = roll_travel(outline, angle)
    height, p = shaped.height_and_moment_arm(angle)
    x = np.asarray(hand_x, dtype=float)[..., None] - travel
    y = np.asarray(hand_y, dtype=float)[..., None] - height
    elevation = sheet_elevation(shaped, angle, x, y)
    arm = sheet_moment_arm(height, p, shaped.height(angle + elevation), elevation)
    force = np.asarray(mass_kg, dtype=float)[..., None] * G * np.maximum(p, 0.0) / arm
    return Turn(angle, p, height, travel, elevation, arm, force)


def turn_by_hands(
    outline: Outline, mass_kg: ArrayLike, angle: ArrayLike, shoulder_x: ArrayLike, shoulder_y: ArrayLike
) -> Turn:
    """Return the pull of hands on the far shoulder and hip, towards the handlers' own shoulders.

    Parameters
    ----------
    As for `turn_by_sheet`, with the handlers' shoulders, `shoulder_x` and `shoulder_y`, in place of the hands.

    Returns
    -------
    Turn

    Notes
    -----
    Quasi-static, as `turn_by_sheet`. Source: statics.

    Examples
    --------
    >>> turn = turn_by_hands(Outline.single(0.18, 0.12, 2.8), 80.0, np.radians([0.0, 15.0, 30.0]), 0.45, 0.45)
    >>> bool(turn.force_n[1] > turn.force_n[0])
    True
    """
    angle = np.asarray(angle, dtype=float)
    shaped = outline.over_angles()
    travel = roll_travel(outline, angle)
    a = np.asarray(outline.half_breadth)[..., None]
    height, p = shaped.height_and_moment_arm(angle)
    away_x = np.asarray(shoulder_x, dtype=float)[..., None] - travel + a * np.cos(angle)
    away_y = np.asarray(shoulder_y, dtype=float)[..., None] - height - a * np.sin(angle)
    elevation = np.arctan2(away_y, away_x)
    arm = hand_pull_moment_arm(a, height, p, angle, elevation)
    force = np.asarray(mass_kg, dtype=float)[..., None] * G * np.maximum(p, 0.0) / arm
    return Turn(angle, p, height, travel, elevation, arm, force)


def counter_hold(turn: Turn, mass_kg: ArrayLike, mu: ArrayLike) -> Floats:
    """Return what the other side must hold so that the patient rolls instead of sliding.

    hold = max(0, F cos β - μ (m g - F sin β)), μ of the weakest interface under the patient.

    Parameters
    ----------
    turn : Turn
    mass_kg : array_like, shape (...) [kg]
    mu : array_like, shape (...) [-]

    Returns
    -------
    ndarray, shape (..., angles) [N]

    Source: statics.

    Examples
    --------
    >>> turn = turn_by_sheet(Outline.single(0.18, 0.12, 2.8), 80.0, np.radians([15.0]), 0.6, 0.1)
    >>> float(counter_hold(turn, 80.0, 0.43)[0]), bool(counter_hold(turn, 80.0, 0.10)[0] > 0)
    (0.0, True)
    """
    weight = np.asarray(mass_kg, dtype=float)[..., None] * G
    along, up = turn.force_n * np.cos(turn.elevation), turn.force_n * np.sin(turn.elevation)
    return np.asarray(np.maximum(0.0, along - np.asarray(mu, dtype=float)[..., None] * (weight - up)))


def brake(outline: Outline, mass_kg: ArrayLike, angle: ArrayLike) -> Turn:
    """Return the lift with which the receiving side lowers the patient past the balance point.

    F = m g |p| / (|p| + w): gravity drives the roll by |p|, hands under the leading edge bear up at w = h(φ + 90°)
    ahead of the centre.

    Parameters
    ----------
    outline : Outline, shape (...)
    mass_kg : array_like, shape (...) [kg]
    angle : array_like, shape (angles,) [rad]
        Roll angles of 90° and more.

    Returns
    -------
    Turn
        `force_n` is the braking force, straight up; zero while gravity still resists.

    Notes
    -----
    Nobody can push on a sheet, so the receiving side brakes with hands under the patient, not along the tangent.
    Source: statics.

    Examples
    --------
    >>> lowering = brake(Outline.single(0.18, 0.12, 2.8), 80.0, np.radians([90.0, 165.0]))
    >>> round(float(lowering.force_n[0]), 3), bool(lowering.force_n[1] > 100)
    (0.0, True)
    """
    angle = np.asarray(angle, dtype=float)
    shaped = outline.over_angles()
    height, p = shaped.height_and_moment_arm(angle)
    driving = np.maximum(-p, 0.0)
    ahead = shaped.height(angle + np.pi / 2.0)
    arm = driving + ahead
    force = np.asarray(mass_kg, dtype=float)[..., None] * G * driving / arm
    return Turn(angle, p, height, roll_travel(outline, angle), np.full_like(p, np.pi / 2.0), arm, force)
