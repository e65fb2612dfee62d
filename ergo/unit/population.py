"""Patients drawn from the percentiles of a population."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator
from scipy.special import ndtri

from ergo.evidence import assumption, row
from ergo.inputs.census import MASS_KG, STATURE_M, Census

__all__ = ["PERCENTILES", "draw_population", "quantile"]

PERCENTILES = (5, 10, 15, 25, 50, 75, 85, 90, 95)
Array = NDArray[np.float64]


def quantile(measure: str, sex: str) -> Callable[[Array], Array]:
    """Return the quantile function of mass [kg] or stature [m] as a function of the standard normal score z.

    A monotone cubic (PCHIP) through the printed percentiles over z = Φ⁻¹(p): of ln(mass), and of stature
    itself. Below the 5th and above the 95th percentile it goes on straight with the slope at the end,
    that is a lognormal tail for mass and a normal one for stature: the percentiles say nothing there.

    Source: fryar_2025, adults of 20 years and over in the United States, 2021 to 2023. Patients of an intensive
    care unit are not that population; a census is better.

    >>> round(float(quantile("mass_kg", "F")(np.array(0.0))), 1)
    73.5
    """
    mass = measure == "mass_kg"
    printed = row("body_mass_percentiles_us", measure=measure if mass else "stature_cm", sex=sex)
    values = np.array([float(printed[f"p{p}"]) for p in PERCENTILES])
    values = np.log(values) if mass else values / 100.0
    score = ndtri(np.array(PERCENTILES) / 100.0)
    middle = PchipInterpolator(score, values)
    slope = middle.derivative()(score[[0, -1]])

    def at(z: Array) -> Array:
        inside = middle(np.clip(z, score[0], score[-1]))
        tail = np.minimum(z - score[0], 0.0) * slope[0] + np.maximum(z - score[-1], 0.0) * slope[1]
        found = inside + tail
        return np.asarray(np.exp(found) if mass else found, dtype=np.float64)

    return at


def draw_population(n: int, women_share: float, seed: int | np.random.SeedSequence) -> Census:
    """Draw adult patients from the population of the United States.

    Mass and stature each follow their percentiles; a Gaussian copula joins them with the correlation that
    reproduces the published percentiles of the body-mass index.

    >>> drawn = draw_population(3, 0.5, 1)
    >>> len(drawn), drawn.sources
    (3, ('fryar_2025',))
    """
    rng = np.random.default_rng(seed)
    women = rng.random(n) < women_share
    of_mass, own = rng.standard_normal((2, n))
    rank = np.where(
        women,
        assumption("mass_stature_correlation_f").typical,
        assumption("mass_stature_correlation_m").typical,
    )
    of_stature = rank * of_mass + np.sqrt(1.0 - rank**2) * own
    mass = np.where(women, quantile("mass_kg", "F")(of_mass), quantile("mass_kg", "M")(of_mass))
    stature = np.where(women, quantile("stature_m", "F")(of_stature), quantile("stature_m", "M")(of_stature))
    mass, stature = np.clip(mass, *MASS_KG), np.clip(stature, *STATURE_M)
    for array in (women, mass, stature):
        array.setflags(write=False)
    return Census(
        mass,
        women,
        stature,
        ("full",) * n,
        (None,) * n,
        "drawn from population percentiles",
        (),
        ("fryar_2025",),
    )
