"""Quasi-random points against SciPy's own Sobol sequence (Joe & Kuo 2008)."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from scipy.stats import qmc

from ergo.uncertainty.monte_carlo import uniform_chunks
from ergo.uncertainty.sampling import MOST_DIMENSIONS, sobol_points


def test_every_dimension_has_the_points_of_the_reference_library_in_natural_order():
    n = 2**13
    natural = np.arange(n)
    gray = natural ^ (natural >> 1)  # the order in which SciPy visits them
    ours = sobol_points(MOST_DIMENSIONS, 0, n, np.zeros(MOST_DIMENSIONS, dtype=np.uint32))
    np.testing.assert_array_equal(ours[gray], qmc.Sobol(MOST_DIMENSIONS, scramble=False).random(n))


@pytest.mark.parametrize(("start", "count"), [(0, 1), (1, 1), (4095, 2), (4096, 4096), (5000, 10_000), (123_456, 77)])
def test_any_part_of_the_sequence_is_the_same_part(start, count):
    shift = np.random.default_rng(1).integers(2**30, size=7, dtype=np.uint32)
    whole = sobol_points(7, 0, start + count, shift)
    np.testing.assert_array_equal(sobol_points(7, start, count, shift), whole[start:])


def test_shifted_points_keep_their_evenness_and_stay_within_bounds():
    """Every one of 2^10 equal slices of every dimension holds exactly one of 2^10 points: a digital net."""
    points = np.concatenate(list(uniform_chunks(30, 1024, seed=5)))
    assert points.min() >= 0.0
    assert points.max() < 1.0
    np.testing.assert_array_equal(np.sort((points * 1024).astype(int), axis=0), np.tile(np.arange(1024)[:, None], 30))


def test_an_integral_converges_as_well_as_with_the_reference_scramble():
    """Integral of a product of 12 smooth factors, exactly 1; a plain mean of 4096 random points errs by about 0.01."""

    def error(points: np.ndarray) -> float:
        return abs(float(np.mean(np.prod(1.0 + 0.3 * (points - 0.5), axis=1))) - 1.0)

    ours = [error(np.concatenate(list(uniform_chunks(12, 4096, seed)))) for seed in range(8)]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = [error(qmc.Sobol(12, rng=seed).random(4096)) for seed in range(8)]
    assert np.sqrt(np.mean(np.square(ours))) < max(5.0 * np.sqrt(np.mean(np.square(theirs))), 5e-4)
