"""Slides: lateral transfer, slide to the side, boost, centring."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ergo.units import G

__all__ = ["PEAK_ACCELERATION", "SlideForce", "climb_angle", "slide_force", "steady_pull"]

Floats = NDArray[np.float64]

PEAK_ACCELERATION = 10.0 / np.sqrt(3.0)
"""Peak acceleration of a minimum-jerk move over d in T, in d/T²: 10/√3 = 5.7735 (flash_hogan_1985, identity)."""


def steady_pull(mass_kg: ArrayLike, mu: ArrayLike, pull_rad: ArrayLike = 0.0, slope_rad: ArrayLike = 0.0) -> Floats:
    """Return the pull that keeps a mass sliding.

    F = m g (μ cos α + sin α) / (cos θ + μ sin θ); least at tan θ = μ on the flat. Negative where the slope alone
    moves the mass: then it must be held back.

    Parameters
    ----------
    mass_kg : array_like [kg]
    mu : array_like [-]
    pull_rad : array_like [rad]
        θ, the pull's angle above the surface.
    slope_rad : array_like [rad]
        α, uphill positive.

    Returns
    -------
    ndarray [N]

    Notes
    -----
    Valid while the pull does not lift the mass clear (F sin θ < m g cos α). Source: statics, check value C12.

    Examples
    --------
    >>> round(float(steady_pull(80.0, 0.3, np.radians(30)) / (0.3 * 80.0 * 9.80665)), 5)
    0.98423
    """
    mass, mu = np.asarray(mass_kg, dtype=float), np.asarray(mu, dtype=float)
    along = mu * np.cos(slope_rad) + np.sin(slope_rad)
    return np.asarray(mass * G * along / (np.cos(pull_rad) + mu * np.sin(pull_rad)))


def climb_angle(rise_m: ArrayLike, ledge_m: ArrayLike, breadth_m: ArrayLike) -> Floats:
    """Return the slope that stands for a step between two surfaces.

    tan α = (rise + ledge) / breadth: a soft body of even breadth crosses a step over a travel equal to its breadth,
    and gains m g (rise + ledge) on the way.

    Parameters
    ----------
    rise_m : array_like [m]
        Height of the surface the patient goes to above the one they leave; may be negative.
    ledge_m : array_like [m]
        Height of a lip between them.
    breadth_m : array_like [m]
        Breadth of the patient.

    Returns
    -------
    ndarray [rad]

    Source: energy balance.

    Examples
    --------
    >>> round(float(np.degrees(climb_angle(0.02, 0.01, 0.36))), 2)
    4.76
    """
    return np.asarray(np.arctan2(np.add(rise_m, ledge_m), breadth_m))


@dataclass(frozen=True, slots=True)
class SlideForce:
    """Force of the whole team in one slide, with its terms.

    Attributes
    ----------
    steady_n, start_n : ndarray [N]
        To keep moving and to start; never below zero.
    breakaway_n, inertia_n : ndarray [N]
        The two ways a start can be harder; the larger one decides.
    hold_back_n : ndarray [N]
        What must be held back where the slope alone would move the patient.
    centre_m : ndarray [m]
        Where along the body the resistance acts.
    """

    steady_n: Floats
    start_n: Floats
    breakaway_n: Floats
    inertia_n: Floats
    hold_back_n: Floats
    centre_m: Floats


def slide_force(
    mass_kg: ArrayLike,
    mu: ArrayLike,
    position_m: ArrayLike,
    *,
    pull_rad: ArrayLike,
    slope_rad: ArrayLike,
    breakaway: ArrayLike,
    distance_m: ArrayLike,
    time_s: ArrayLike,
) -> SlideForce:
    """Return what a team must pull to slide a body whose segments lie on layers of their own.

    steady = Σ F_i; start = max(steady · breakaway, steady + Σ m_i · 5.7735 d/T²).

    Parameters
    ----------
    mass_kg, mu, position_m : array_like, shape (..., segments)
        Mass [kg], friction [-] and place along the body [m] of each segment that slides.
    pull_rad, slope_rad, breakaway, distance_m, time_s : array_like, shape (...)
        Pull angle and slope [rad], breakaway ratio [-], length [m] and time [s] of the pull.

    Returns
    -------
    SlideForce

    Notes
    -----
    Source: statics per segment; start-stop move after flash_hogan_1985; breakaway ratio temel_2022 and others (T09).

    Examples
    --------
    >>> level = {"pull_rad": 0.0, "slope_rad": 0.0, "breakaway": 1.3, "distance_m": 0.3, "time_s": 2.0}
    >>> force = slide_force([80.0], [0.4], [0.8], **level)
    >>> round(float(force.steady_n), 1), round(float(force.start_n), 1)
    (313.8, 408.0)
    """
    mass, along = np.asarray(mass_kg, dtype=float), np.asarray(position_m, dtype=float)
    per_segment = steady_pull(mass, mu, np.asarray(pull_rad)[..., None], np.asarray(slope_rad)[..., None])
    total = np.sum(per_segment, axis=-1)
    steady = np.maximum(total, 0.0)
    moving = np.sum(mass, axis=-1)
    inertia = moving * PEAK_ACCELERATION * np.asarray(distance_m) / np.asarray(time_s) ** 2
    breakaway_n = steady * np.asarray(breakaway)
    weighted = np.abs(per_segment)
    resisting = np.sum(weighted, axis=-1)
    centre = np.sum(weighted * along, axis=-1) / np.where(resisting > 0, resisting, 1.0)
    centre = np.where(resisting > 0, centre, np.sum(mass * along, axis=-1) / np.where(moving > 0, moving, 1.0))
    return SlideForce(
        steady_n=np.asarray(steady),
        start_n=np.asarray(np.maximum(breakaway_n, np.maximum(total + inertia, 0.0))),
        breakaway_n=np.asarray(breakaway_n),
        inertia_n=np.asarray(inertia),
        hold_back_n=np.asarray(np.maximum(-total, 0.0)),
        centre_m=np.asarray(centre),
    )
