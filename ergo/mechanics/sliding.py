"""Slides: lateral transfer, slide to the side, boost, centring."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ergo.errors import checked_numbers
from ergo.evidence import assumption
from ergo.units import G

__all__ = [
    "PEAK_ACCELERATION",
    "SlideForce",
    "body_slide_force",
    "climb_angle",
    "slide_force",
    "steady_pull",
    "usual_slide_time",
]

Floats = NDArray[np.float64]

PEAK_ACCELERATION = 10.0 / np.sqrt(3.0)
"""Peak acceleration of a minimum-jerk move over d in T, in d/T²: 10/√3 = 5.7735 (flash_hogan_1985, identity)."""


def steady_pull(
    mass_kg: ArrayLike,
    mu: ArrayLike,
    pull_rad: ArrayLike = 0.0,
    slope_rad: ArrayLike = 0.0,
    drag: ArrayLike = 0.0,
) -> Floats:
    """Return the pull [N] that keeps a mass sliding, negative where the slope alone moves it (check value C12).

    F = m g ((μ + d) cos α + sin α) / (cos θ + μ sin θ), θ the pull above the surface, α the slope, uphill positive, d
    what moving the hollow of the mattress along costs, as a part of the weight

    >>> round(float(steady_pull(80.0, 0.3, np.radians(30)) / (0.3 * 80.0 * 9.80665)), 5)
    0.98423
    """
    mass, mu = np.asarray(mass_kg, dtype=float), np.asarray(mu, dtype=float)
    along = (mu + np.asarray(drag, dtype=float)) * np.cos(slope_rad) + np.sin(slope_rad)
    return np.asarray(mass * G * along / (np.cos(pull_rad) + mu * np.sin(pull_rad)))


def usual_slide_time(distance_m: ArrayLike, time_s: ArrayLike | None = None) -> Floats:
    """Return how long one pull takes [s]: `time_s` up to the typical `slide_distance`, longer for longer ones.

    T = t √(max(d, d0) / d0): beyond d0 the peak acceleration stays the same; t is by default assumption `slide_time`.

    >>> usual_slide_time([0.1, 0.3, 1.2]).tolist()
    [1.5, 1.5, 3.0]
    """
    time = assumption("slide_time").typical if time_s is None else np.asarray(time_s, dtype=float)
    usual = assumption("slide_distance").typical
    return np.asarray(time * np.sqrt(np.maximum(distance_m, usual) / usual))


def climb_angle(rise_m: ArrayLike, ledge_m: ArrayLike, breadth_m: ArrayLike) -> Floats:
    """Return the slope [rad] that stands for a step between two surfaces: tan α = (rise + ledge) / breadth.

    A soft body crosses a step over a travel equal to its breadth and gains m g (rise + ledge) on the way.

    >>> round(float(np.degrees(climb_angle(0.02, 0.01, 0.36))), 2)
    4.76
    """
    return np.asarray(np.arctan2(np.add(rise_m, ledge_m), breadth_m))


SOURCES = ("flash_hogan_1985", "temel_2022")


@dataclass(frozen=True, slots=True)
class SlideForce:
    """Force of the whole team in one slide, with its terms.

    Attributes
    ----------
    steady_n, start_n : ndarray [N]
        To keep moving and to start; never below zero.
    breakaway_n, inertia_n : ndarray [N]
        The two ways a start can be harder; the larger one decides.
    hollow_n : ndarray [N]
        Part of the steady force that presses the mattress in ahead and is not given back behind.
    hold_back_n : ndarray [N]
        What must be held back where the slope alone would move the patient.
    centre_m : ndarray [m]
        Where along the body the resistance acts.
    sources : tuple of str
    """

    steady_n: Floats
    start_n: Floats
    breakaway_n: Floats
    inertia_n: Floats
    hollow_n: Floats
    hold_back_n: Floats
    centre_m: Floats
    sources: tuple[str, ...] = SOURCES


def slide_force(
    mass_kg: ArrayLike,
    friction: ArrayLike,
    *,
    pull_angle_rad: ArrayLike = 0.0,
    slope_rad: ArrayLike = 0.0,
    breakaway: ArrayLike | None = None,
    distance_m: ArrayLike | None = None,
    time_s: ArrayLike | None = None,
    drag: ArrayLike = 0.0,
) -> SlideForce:
    """Return the force that slides a patient, or part of one, over a surface.

    steady = m g ((μ + d) cos α + sin α) / (cos θ + μ sin θ); start = max(breakaway · steady without d + what d adds,
    steady + m · 10/√3 · length/T²).

    Parameters
    ----------
    mass_kg : array_like [kg]
        Mass that lies on the surface, 0 to 700.
    friction : array_like [-]
        μ of the layers that slide, 0 to 1.5.
    pull_angle_rad : array_like [rad]
        θ, the pull above the surface, -0.5 to 1.2.
    slope_rad : array_like [rad]
        α, the surface above the horizontal, uphill positive, -0.7 to 0.7.
    breakaway : array_like [-], optional
        Force to start over force to keep moving, 1 to 3; by default assumption `breakaway_ratio`.
    distance_m, time_s : array_like [m], [s], optional
        Length and time of one pull from rest to rest, 0.3 to 20 s; by default assumption `slide_distance`, and the time
        that a pull of this length usually takes.
    drag : array_like [-]
        d, what moving the hollow of a mattress along costs, as a part of the weight, 0 to 1; η δ0² / (2 ∫ δ dx) across
        the bed.

    Returns
    -------
    SlideForce
        Forces of the whole team [N] with their terms, of the shape that the arguments broadcast to.

    Raises
    ------
    InputError
        With every argument that is not a number, out of range or of a length that does not fit.

    Notes
    -----
    Valid while the pull does not lift the patient clear (F sin θ < m g cos α). Source: statics; start-stop move after
    flash_hogan_1985; breakaway ratio temel_2022.

    Examples
    --------
    A patient of 80 kg on a draw sheet and on a slide sheet.

    >>> force = slide_force(80.0, [0.4, 0.15], breakaway=1.3, distance_m=0.3, time_s=2.0)
    >>> force.steady_n.round(1).tolist(), force.start_n.round(1).tolist()
    ([313.8, 117.7], [408.0, 153.0])
    """
    defaults = ((breakaway, "breakaway_ratio"), (distance_m, "slide_distance"))
    ratio, length = (assumption(key).typical if value is None else value for value, key in defaults)
    mass, mu, pull, slope, ratio, length, time, hollow = np.broadcast_arrays(
        *checked_numbers(
            "slide force",
            mass_kg=(mass_kg, 0.0, 700.0, "kg"),
            friction=(friction, 0.0, 1.5, "-"),
            pull_angle_rad=(pull_angle_rad, -0.5, 1.2, "rad"),
            slope_rad=(slope_rad, -0.7, 0.7, "rad"),
            breakaway=(ratio, 1.0, 3.0, "-"),
            distance_m=(length, 0.0, 3.0, "m"),
            time_s=(1.0 if time_s is None else time_s, 0.3, 20.0, "s"),
            drag=(drag, 0.0, 1.0, "-"),
        )
    )
    if time_s is None:
        time = usual_slide_time(length)
    return body_slide_force(
        mass[..., None],
        mu[..., None],
        np.zeros(1),
        pull_rad=pull,
        slope_rad=slope,
        breakaway=ratio,
        distance_m=length,
        time_s=time,
        drag=hollow,
    )


def body_slide_force(
    mass_kg: ArrayLike,
    mu: ArrayLike,
    position_m: ArrayLike,
    *,
    pull_rad: ArrayLike,
    slope_rad: ArrayLike,
    breakaway: ArrayLike,
    distance_m: ArrayLike,
    time_s: ArrayLike,
    drag: ArrayLike = 0.0,
) -> SlideForce:
    """Return what a team must pull to slide a body whose segments, the last axis, lie on layers of their own.

    steady = Σ F_i; start = max(breakaway · steady without the hollow + the hollow, steady + Σ m_i · 10/√3 · length/T²);
    friction is larger before anything moves, the hollow is not

    >>> level = {"pull_rad": 0.0, "slope_rad": 0.0, "breakaway": 1.3, "distance_m": 0.3, "time_s": 2.0}
    >>> force = body_slide_force([50.0, 30.0], [0.4, 0.2], [0.4, 1.2], **level)
    >>> round(float(force.steady_n), 1), round(float(force.centre_m), 3)
    (255.0, 0.585)
    """
    mass, along = np.asarray(mass_kg, dtype=float), np.asarray(position_m, dtype=float)
    pull, slope, hollow = (np.asarray(v, dtype=float)[..., None] for v in (pull_rad, slope_rad, drag))
    per_segment = steady_pull(mass, mu, pull, slope, hollow)
    hollow_n = np.zeros(())
    if (hollow > 0.0).any():
        hollow_n = (per_segment - steady_pull(mass, mu, pull, slope)).sum(axis=-1)
    total, moving, resists = per_segment.sum(axis=-1), mass.sum(axis=-1), np.abs(per_segment)
    steady = np.maximum(total, 0.0)
    inertia = moving * PEAK_ACCELERATION * np.asarray(distance_m) / np.asarray(time_s) ** 2
    breakaway_n = np.maximum(steady - hollow_n, 0.0) * np.asarray(breakaway) + np.minimum(hollow_n, steady)
    weighed = np.where(resists.sum(axis=-1, keepdims=True) > 0.0, resists, mass)
    whole = weighed.sum(axis=-1)
    centre = (weighed * along).sum(axis=-1) / np.where(whole > 0.0, whole, 1.0)
    return SlideForce(
        steady_n=np.asarray(steady),
        start_n=np.asarray(np.maximum(breakaway_n, np.maximum(total + inertia, 0.0))),
        breakaway_n=np.asarray(breakaway_n),
        inertia_n=np.asarray(inertia),
        hollow_n=np.asarray(np.minimum(hollow_n, steady)),
        hold_back_n=np.asarray(np.maximum(-total, 0.0)),
        centre_m=np.asarray(centre),
    )
