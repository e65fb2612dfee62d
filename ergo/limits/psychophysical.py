"""Psychophysical pull: the printed tables, and equations fitted to them as a second opinion."""

from __future__ import annotations

from functools import cache
from statistics import NormalDist
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ergo.evidence import row, table
from ergo.units import KGF

__all__ = ["acceptable_pull", "fitted_pull", "height_range"]

Floats = NDArray[np.float64]
Phase = Literal["initial", "sustained"]

# The table's columns, in minutes between pulls.
_COLUMNS = {
    "every_6s": 0.1,
    "every_12s": 0.2,
    "every_1min": 1.0,
    "every_2min": 2.0,
    "every_5min": 5.0,
    "every_30min": 30.0,
    "every_8h": 480.0,
}
_TABLE_DISTANCE_M = 2.1


@cache
def _grid(sex: str, phase: str, percent: int) -> tuple[Floats, Floats]:
    rows = sorted(
        (
            r
            for r in table("pull_limits_snook_1991")
            if (r["sex"], r["phase"], r["percent_accepting"]) == (sex, phase, str(percent))
        ),
        key=lambda r: float(r["handle_height_cm"]),
    )
    heights = np.array([float(r["handle_height_cm"]) / 100 for r in rows])
    forces = np.array([[float(r[c]) for c in _COLUMNS] for r in rows])
    return heights, forces * KGF


def height_range(sex: str) -> tuple[float, float]:
    """Return the lowest and highest handle height of the printed table.

    Parameters
    ----------
    sex : "F" or "M"

    Returns
    -------
    tuple of float [m]

    Raises
    ------
    IndexError
        If the table has no such sex.

    Notes
    -----
    Source: snook_ciriello_1991.

    Examples
    --------
    >>> height_range("F"), height_range("M")
    ((0.57, 1.35), (0.64, 1.44))
    """
    heights, _ = _grid(sex, "initial", 75)
    return float(heights[0]), float(heights[-1])


def acceptable_pull(sex: str, phase: Phase, percent: int, handle_height_m: ArrayLike, minutes: ArrayLike) -> Floats:
    """Return the two-handed pull that a percentage of women or men accept, from the printed table.

    Linear in handle height, linear in the logarithm of the time between pulls, no extrapolation.

    Parameters
    ----------
    sex : "F" or "M"
    phase : "initial" or "sustained"
    percent : 90, 75 or 50
    handle_height_m : array_like [m]
    minutes : array_like [min]
        Time between pulls.

    Returns
    -------
    ndarray [N]
        NaN outside the table; the caller says "not applicable".

    Notes
    -----
    For a pull over 2.1 m; the pulls of a patient move are shorter. Valid 0.57-1.35 m (women), 0.64-1.44 m (men),
    0.1-480 min. Source: snook_ciriello_1991 (from memory, a few cells confirmed in a reprint).

    Examples
    --------
    >>> round(float(acceptable_pull("F", "initial", 75, 0.89, 2.0)), 1)
    215.7
    """
    height, every = np.broadcast_arrays(np.asarray(handle_height_m, dtype=float), np.asarray(minutes, dtype=float))
    heights, forces = _grid(sex, phase, percent)
    times = np.log(list(_COLUMNS.values()))
    by_height = np.stack([np.interp(np.log(every), times, line, left=np.nan, right=np.nan) for line in forces])
    at = np.clip(np.searchsorted(heights, height, side="right") - 1, 0, len(heights) - 2)
    part = (height - heights[at]) / (heights[at + 1] - heights[at])
    low = np.take_along_axis(by_height, at[None, ...], axis=0)[0]
    high = np.take_along_axis(by_height, at[None, ...] + 1, axis=0)[0]
    inside = (height >= heights[0]) & (height <= heights[-1])
    return np.asarray(np.where(inside, low + part * (high - low), np.nan))


def fitted_pull(sex: str, phase: Phase, percent: int, handle_height_m: ArrayLike, minutes: ArrayLike) -> Floats:
    """Return the same pull from equations fitted to the tables, a second opinion.

    F = reference · f_V(height) · f_D(2.1 m) · f_F(frequency) · (1 - z · cv)

    Parameters
    ----------
    As for `acceptable_pull`; `percent` may be any number between 0 and 100.

    Returns
    -------
    ndarray [N]
        A figure at any height and time; the caller keeps to the heights of the printed table.

    Raises
    ------
    KeyError
        If there is no equation for this sex and phase.

    Notes
    -----
    Source: potvin_2021; coefficients from memory (medium), so it never decides.

    Examples
    --------
    >>> 220 < float(fitted_pull("F", "initial", 75, 0.89, 2.0)) < 245
    True
    """
    v = np.asarray(handle_height_m, dtype=float)
    per_minute = np.log(1.0 / np.asarray(minutes, dtype=float))
    entry = row("pull_equations_potvin_2021", sex=sex, phase=phase)

    def term(name: str, value: ArrayLike) -> Floats:
        return np.asarray(value, dtype=float) / float(entry[name]) if entry[name] else np.zeros(())

    d = _TABLE_DISTANCE_M
    by_height = float(entry["v_0"]) + term("v_1_over", v) + term("v_2_over", v**2)
    by_distance = float(entry["d_0"]) + term("d_1_over", d) + term("d_2_over", d**2) + term("d_ln_over", np.log(d))
    by_frequency = float(entry["f_0"]) + term("f_ln_over", per_minute) + term("f_ln2_over", per_minute**2)
    below_mean = 1.0 - NormalDist().inv_cdf(percent / 100) * float(entry["cv"])
    reference = float(entry["reference_load_kgf"]) * KGF
    return np.asarray(reference * by_height * by_distance * by_frequency * below_mean)
