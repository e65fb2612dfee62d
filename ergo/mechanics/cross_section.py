"""Cross-section of a lying patient: superellipses with closed-form support function.

A section is |x/a|^n + |y/b|^n = 1. Its support function in any direction is the dual norm, and the centre's
height over a flat mattress at a roll angle is the support function straight down, so height, gravity's moment arm
and perimeter all come from one expression.

A patient is several sections side by side on one axis, each carrying a share of the mass. The mass-weighted
mean of their support functions is again a support function, so the patient rolls as one mean outline.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "Outline",
    "exponent_from_perimeter_ratio",
    "largest_perimeter_ratio",
    "perimeter",
    "support",
]

Floats = NDArray[np.float64]

# Gauss-Legendre nodes on a quarter turn; 64 give the perimeter of any section used here to 1e-9.
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(64)
_QUARTER = (_NODES + 1.0) * np.pi / 4.0
_QUARTER_WEIGHTS = _WEIGHTS * np.pi / 4.0
_ELLIPSE, _SHARPEST = 2.0, 60.0
_MOST_STEPS, _CLOSE = 60, 1e-13  # of the perimeter


def support(a: ArrayLike, b: ArrayLike, n: ArrayLike, angle: ArrayLike) -> Floats:
    """Return the distance from the centre to the tangent whose normal is `angle` away from the depth axis.

    h(φ) = ((a |sin φ|)^q + (b |cos φ|)^q)^(1/q) with 1/n + 1/q = 1.

    Valid for a, b > 0 and n > 1. Source: the support function of a unit ball is the dual norm (identity).

    >>> float(support(0.20, 0.12, 2.0, 0.0)), float(support(0.20, 0.12, 2.0, np.pi / 2))
    (0.12, 0.2)
    """
    a, b, n = (np.asarray(v, dtype=float) for v in (a, b, n))
    return _at(a, b, n, np.sin(angle), np.cos(angle))[0]


def _at(a: Floats, b: Floats, n: Floats, sine: Floats, cosine: Floats) -> tuple[Floats, Floats]:
    """`support` and its slope from sine and cosine: h = (u + v)^(1/q) and h' = h (u c/s - v s/c) / (u + v).

    With u = (a |s|)^q, v = (b |c|)^q and u c/s = a^q |s|^(q-1) sgn(s) c, which is safe on the axes.
    """
    q = n / (n - 1.0)
    breadth, depth = np.abs(sine), np.abs(cosine)
    across, along = a**q * breadth ** (q - 1.0), b**q * depth ** (q - 1.0)
    total = across * breadth + along * depth
    height = np.asarray(total ** (1.0 / q))
    turning = across * np.copysign(cosine, sine * cosine) - along * np.copysign(sine, sine * cosine)
    return height, np.asarray(height * turning / total)


def perimeter(a: ArrayLike, b: ArrayLike, n: ArrayLike) -> Floats:
    """Return the perimeter of a section.

    P = ∫ h dφ over a full turn (Cauchy's formula for a convex outline).

    >>> round(float(perimeter(1.0, 1.0, 2.0) / np.pi), 9)
    2.0
    """
    a, b, n = (np.asarray(v, dtype=float)[..., None] for v in (a, b, n))
    # The integrand has a kink-like rise at both ends; squaring the substitution there keeps the rule exact.
    t = np.sin(_QUARTER) ** 2 * np.pi / 2.0
    jacobian = np.sin(2.0 * _QUARTER) * np.pi / 2.0
    return np.asarray(4.0 * np.sum(support(a, b, n, t) * jacobian * _QUARTER_WEIGHTS, axis=-1))


def largest_perimeter_ratio(a: ArrayLike, b: ArrayLike) -> Floats:
    """Return the largest perimeter ratio that `exponent_from_perimeter_ratio` can meet.

    >>> bool(largest_perimeter_ratio(0.4, 0.02) < 1.06 < largest_perimeter_ratio(0.2, 0.12))
    True
    """
    return np.asarray(perimeter(a, b, _SHARPEST) / perimeter(a, b, _ELLIPSE))


def exponent_from_perimeter_ratio(a: ArrayLike, b: ArrayLike, ratio: ArrayLike) -> Floats:
    """Return the superellipse exponent whose perimeter is `ratio` times that of the ellipse of the same a and b.

    >>> n = exponent_from_perimeter_ratio(0.150, 0.107, 1.061)
    >>> round(float(perimeter(0.150, 0.107, n) / perimeter(0.150, 0.107, 2.0)), 6)
    1.061
    """
    a, b, ratio = np.broadcast_arrays(*(np.asarray(v, dtype=float) for v in (a, b, ratio)))
    ellipse = perimeter(a, b, _ELLIPSE)
    largest = perimeter(a, b, _SHARPEST) / ellipse
    if np.any(ratio < 1.0) or np.any(ratio > largest * (1 + 1e-12)):
        raise ValueError("no superellipse with this breadth and depth has that perimeter ratio")
    # False position (Illinois) between ellipse and sharpest, over 1/n, in which the perimeter is nearly straight.
    low, high = np.full(a.shape, 1.0 / _ELLIPSE), np.full(a.shape, 1.0 / _SHARPEST)
    short, over, moved = 1.0 - ratio, np.maximum(largest - ratio, 0.0), np.zeros(a.shape)
    for _ in range(_MOST_STEPS):
        span = over - short
        middle = high + (low - high) * np.divide(over, span, out=np.zeros(a.shape), where=span > 0)
        miss = perimeter(a, b, 1.0 / middle) / ellipse - ratio
        if np.all(np.abs(miss) < _CLOSE):
            break
        below = miss < 0
        # an end that stays twice counts half, so that both close in
        over = np.where(below, np.where(moved < 0, over / 2, over), miss)
        short = np.where(below, miss, np.where(moved > 0, short / 2, short))
        low, high, moved = np.where(below, middle, low), np.where(below, high, middle), np.where(below, -1, 1)
    return np.asarray(1.0 / middle)


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """The mean outline of several sections on one axis, each with its share of the turned mass.

    Attributes
    ----------
    a, b, n : ndarray, shape (..., sections)
        Half-breadth [m], half-depth [m] and superellipse_exponent [-] of each section.
    weight : ndarray, shape (sections,)
        Share of mass [-] of each section.
    """

    a: Floats
    b: Floats
    n: Floats
    weight: Floats

    @classmethod
    def single(cls, a: ArrayLike, b: ArrayLike, n: ArrayLike) -> Outline:
        """Return the outline of one section.

        >>> Outline.single(0.2, 0.12, 2.0).height(0.0)
        array(0.12)
        """
        a, b, n = (np.asarray(v, dtype=float)[..., None] for v in (a, b, n))
        return cls(a, b, n, np.ones(1))

    def over_angles(self) -> Outline:
        """Return the same outline with an axis for roll angles before the sections, to broadcast with angles."""
        return Outline(self.a[..., None, :], self.b[..., None, :], self.n[..., None, :], self.weight)

    def height(self, angle: ArrayLike) -> Floats:
        """Return the support function [m] at `angle` [rad]: the centre's height at that roll angle."""
        return self.height_and_moment_arm(angle)[0]

    def moment_arm(self, angle: ArrayLike) -> Floats:
        """Return gravity's moment arm [m] about the contact line at roll angle `angle` [rad]."""
        return self.height_and_moment_arm(angle)[1]

    def height_and_moment_arm(self, angle: ArrayLike) -> tuple[Floats, Floats]:
        """Return `height` and `moment_arm` for little more than the cost of one."""
        return self.towards(np.sin(angle), np.cos(angle))

    def towards(self, sine: Floats, cosine: Floats) -> tuple[Floats, Floats]:
        """Return `height` and `moment_arm` at the angle of this sine and cosine."""
        height, moment_arm = np.zeros(()), np.zeros(())
        # One section after the other: the angles of a turn then lie side by side in memory, several times as fast.
        for i, weight in enumerate(self.weight):
            h, p = _at(self.a[..., i], self.b[..., i], self.n[..., i], sine, cosine)
            height, moment_arm = height + weight * h, moment_arm + weight * p
        return np.asarray(height), np.asarray(moment_arm)

    def picked(self, where: NDArray[np.bool_]) -> Outline:
        """Return the outlines at these places of an array that they broadcast to, side by side."""
        a, b, n = (np.broadcast_to(v, (*where.shape, v.shape[-1]))[where] for v in (self.a, self.b, self.n))
        return Outline(a, b, n, self.weight)

    @property
    def half_perimeter(self) -> Floats:
        """How far the centre travels in half a turn without slip [m]."""
        return np.asarray(np.sum(self.weight * perimeter(self.a, self.b, self.n), axis=-1) / 2.0)

    @property
    def half_breadth(self) -> Floats:
        """Half the breadth of the mean outline [m]."""
        return np.asarray(np.sum(self.weight * self.a, axis=-1))
