"""Drivers of the answer: the estimator on a textbook function, and the ranking on real cases."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import sobol_indices, uniform

from ergo import load_scenario
from ergo.uncertainty.sensitivity import drivers, variance_shares


def ishigami(u: np.ndarray) -> np.ndarray:
    """Ishigami and Homma 1990, a = 7, b = 0.1; closed-form indices, from memory (high)."""
    x = -np.pi + 2 * np.pi * u
    return np.sin(x[:, 0]) + 7 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])


def test_variance_shares_of_the_ishigami_function():
    a, b = 7.0, 0.1
    variance = a**2 / 8 + b * np.pi**4 / 5 + b**2 * np.pi**8 / 18 + 0.5
    first_1 = 0.5 * (1 + b * np.pi**4 / 5) ** 2 / variance
    first_2 = a**2 / 8 / variance
    total_3 = b**2 * np.pi**8 * (1 / 18 - 1 / 50) / variance
    first, total = variance_shares(ishigami, [[0], [1], [2]], 3, 2**14, 1)
    np.testing.assert_allclose(first, [first_1, first_2, 0.0], atol=0.015)
    np.testing.assert_allclose(total, [first_1 + total_3, first_2, total_3], atol=0.015)


def test_variance_shares_agree_with_scipy():
    first, total = variance_shares(ishigami, [[0], [1], [2]], 3, 2**14, 1)
    reference = sobol_indices(func=lambda x: ishigami(x.T), n=2**14, dists=[uniform()] * 3, rng=2)
    np.testing.assert_allclose(first, reference.first_order, atol=0.02)
    np.testing.assert_allclose(total, reference.total_order, atol=0.02)


def test_grouped_inputs_share_one_total():
    first, total = variance_shares(lambda u: u[:, 0] + u[:, 1] + u[:, 2], [[0], [1, 2]], 3, 2**12, 1)
    np.testing.assert_allclose(first, [1 / 3, 2 / 3], atol=0.01)
    np.testing.assert_allclose(total, [1 / 3, 2 / 3], atol=0.01)


def test_a_model_that_does_not_vary_has_no_drivers():
    first, total = variance_shares(lambda u: np.ones(len(u)), [[0]], 1, 64, 1)
    assert first[0] == total[0] == 0.0


@pytest.mark.parametrize(("name", "team"), [("prone_cotton_draw_sheet", (2, 4)), ("lateral_cotton", (6, 1))])
def test_ranking_names_every_assumption_that_matters(name, team):
    found = drivers(load_scenario(f"scenarios/{name}.toml"), *team, samples=256)
    totals = [d.total for d in found.ranked]
    assert totals == sorted(totals, reverse=True)
    assert sum(d.first for d in found.ranked) < 1.2
    for driver in found.ranked:
        if driver.basis == "assumption" and driver.total > 0.10:
            assert driver.label in found.why


def test_more_friction_raises_the_ratio_one_at_a_time():
    found = drivers(load_scenario("scenarios/lateral_cotton.toml"), 6, 1, samples=64)
    friction = next(d for d in found.ranked if d.name == "mu_0")
    assert friction.low_ratio < found.typical_ratio < friction.high_ratio
