"""Psychophysical limits: the pull and push that a share of people accept, by equations and by the older table."""

from __future__ import annotations

from functools import cache
from statistics import NormalDist
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ergo.evidence import row, table
from ergo.units import KGF

__all__ = [
    "accepted_pull",
    "accepted_push",
    "equation_force",
    "equation_heights",
    "frequency_factor",
    "spread_of_acceptance",
    "table_heights",
    "table_pull",
]

Floats = NDArray[np.float64]
Phase = Literal["initial", "sustained"]
Kind = Literal["pull", "push"]

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


def table_heights(sex: str) -> tuple[float, float]:
    """Return the lowest and highest handle height of the printed table [m] (snook_ciriello_1991).

    >>> table_heights("F"), table_heights("M")
    ((0.57, 1.35), (0.64, 1.44))
    """
    heights, _ = _grid(sex, "initial", 75)
    return float(heights[0]), float(heights[-1])


def table_pull(sex: str, phase: Phase, percent: int, handle_height_m: ArrayLike, minutes: ArrayLike) -> Floats:
    """Return the two-handed pull over 2.1 m that 90, 75 or 50 % of women or men accept [N] (snook_ciriello_1991).

    Linear in handle height and in the logarithm of the time between pulls; NaN outside the printed table. From memory,
    but for the men's 90 % rows.

    >>> round(float(table_pull("F", "initial", 75, 0.89, 2.0)), 1)
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


@cache
def _equation(kind: str, sex: str, phase: str) -> dict[str, float]:
    entry = row("push_pull_equations_potvin_2021", kind=kind, sex=sex, phase=phase)
    return {name: float(entry[name] or "inf") for name in _COEFFICIENTS}


_COEFFICIENTS = (
    "reference_load_kgf", "cv", "v_0", "v_1_over", "v_2_over", "d_0", "d_1_over", "d_2_over", "d_ln_over", "f_0",
    "f_ln_over", "f_ln2_over", "height_from_m", "height_to_m",
)  # fmt: skip


def equation_heights(sex: str) -> tuple[float, float]:
    """Return the lowest and highest hand height for which the equations are printed [m] (potvin_2021).

    >>> equation_heights("F"), equation_heights("M")
    ((0.58, 1.33), (0.63, 1.44))
    """
    found = _equation("pull", sex, "initial")
    return found["height_from_m"], found["height_to_m"]


def frequency_factor(kind: Kind, sex: str, phase: Phase, minutes: ArrayLike) -> Floats:
    """Return by how much the equations lower the force for one effort every so many minutes, [ln F]^2 as printed.

    >>> round(float(frequency_factor("pull", "F", "initial", 480.0)), 3)
    1.0
    """
    c, often = _equation(kind, sex, phase), np.log(1.0 / np.asarray(minutes, dtype=float))
    return np.asarray(c["f_0"] + often / c["f_ln_over"] + often**2 / c["f_ln2_over"])


def equation_force(
    kind: Kind, sex: str, phase: Phase, percent: float, hand_height_m: ArrayLike, minutes: ArrayLike
) -> Floats:
    """Return the two-handed pull or push that a percentage of women or men accept, by the equations (potvin_2021).

    F = reference · f_V(height) · f_D(2.1 m) · f_F(frequency) · (1 - z · cv), over the shortest distance printed

    >>> round(float(equation_force("push", "F", "initial", 75, 0.85, 5.0)), 1)
    246.3
    >>> bool(np.isnan(equation_force("pull", "F", "initial", 75, 0.57, 5.0)))
    True
    """
    c, v, d = _equation(kind, sex, phase), np.asarray(hand_height_m, dtype=float), _TABLE_DISTANCE_M
    every = np.asarray(minutes, dtype=float)
    by_height = c["v_0"] + v / c["v_1_over"] + v**2 / c["v_2_over"]
    by_distance = c["d_0"] + d / c["d_1_over"] + d**2 / c["d_2_over"] + np.log(d) / c["d_ln_over"]
    below_mean = 1.0 - NormalDist().inv_cdf(percent / 100) * c["cv"]
    half_accept = c["reference_load_kgf"] * KGF * by_height * by_distance * frequency_factor(kind, sex, phase, every)
    times = list(_COLUMNS.values())
    inside = (v >= c["height_from_m"]) & (v <= c["height_to_m"]) & (every >= times[0]) & (every <= times[-1])
    return np.asarray(np.where(inside, half_accept * below_mean, np.nan))


def spread_of_acceptance(kind: Kind, sex: str) -> float:
    """Return the coefficient of variation of what women or men accept at the start (potvin_2021).

    >>> 0.1 < spread_of_acceptance("pull", "F") < 0.5
    True
    """
    return _equation(kind, sex, "initial")["cv"]


def accepted_pull(sex: str, phase: Phase, percent: int, hand_height_m: ArrayLike, minutes: ArrayLike) -> Floats:
    """Return the pull that a percentage of women or men accept: the equations, and the older table only beyond them.

    Beyond the equations' heights the table counts no more than the equations at the nearest height; NaN beyond both.

    >>> low = equation_heights("F")[0]
    >>> beyond, nearest = (float(accepted_pull("F", "initial", 75, height, 2.0)) for height in (0.57, low))
    >>> beyond == nearest < float(table_pull("F", "initial", 75, 0.57, 2.0))
    True
    """
    nearest = np.clip(np.asarray(hand_height_m, dtype=float), *equation_heights(sex))
    covered = equation_force("pull", sex, phase, percent, nearest, minutes)
    printed = table_pull(sex, phase, percent, hand_height_m, minutes)
    return np.asarray(np.where(nearest == hand_height_m, covered, np.minimum(covered, printed)))


def accepted_push(sex: str, phase: Phase, percent: int, hand_height_m: ArrayLike, minutes: ArrayLike) -> Floats:
    """Return the push that a percentage of women or men accept, by the equations; NaN beyond them.

    No older table of pushes is at hand: below and above the heights the nearest value is held as far as the table of
    pulls goes.

    >>> round(float(accepted_push("F", "initial", 75, 0.85, 5.0)), 1)
    246.3
    """
    height = np.asarray(hand_height_m, dtype=float)
    low, high = table_heights(sex)
    nearest = np.clip(height, *equation_heights(sex))
    covered = equation_force("push", sex, phase, percent, nearest, minutes)
    return np.asarray(np.where((height >= low) & (height <= high) | (nearest == height), covered, np.nan))
