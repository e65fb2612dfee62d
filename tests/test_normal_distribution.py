"""The normal distribution against SciPy's own (Cephes), and against a printed table."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import ndtr, ndtri

from ergo.handlers.normal_distribution import normal_share, normal_value

SHARES = np.concatenate([np.linspace(1e-6, 1 - 1e-6, 20_001), 10.0 ** np.linspace(-300, -1, 600)])


def test_the_value_below_which_a_share_lies_is_that_of_the_reference_library_to_fourteen_digits():
    np.testing.assert_allclose(normal_value(SHARES), ndtri(SHARES), rtol=2e-14, atol=2e-15)


def test_the_share_below_a_value_is_that_of_the_reference_library_to_twelve_digits():
    values = np.linspace(-20.0, 9.0, 20_001)
    np.testing.assert_allclose(normal_share(values), ndtr(values), rtol=1e-12)


@pytest.mark.parametrize(
    ("share", "value"), [(0.5, 0.0), (0.75, 0.6745), (0.9, 1.2816), (0.95, 1.6449), (0.99, 2.3263)]
)
def test_the_printed_quantiles_of_every_statistics_handbook(share, value):
    # from memory: the table stands in every textbook
    assert float(normal_value(share)) == pytest.approx(value, abs=5e-5)
    assert float(normal_value(1.0 - share)) == pytest.approx(-value, abs=5e-5)


def test_the_ends_are_infinite_and_beyond_them_there_is_nothing():
    assert normal_value([0.0, 1.0]).tolist() == [-np.inf, np.inf]
    assert np.isnan(normal_value([-0.1, 1.1, np.nan])).all()


@given(st.floats(-8.0, 5.0))
def test_one_undoes_the_other(value):
    assert float(normal_value(normal_share(value))) == pytest.approx(value, abs=1e-8)
