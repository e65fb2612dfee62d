"""The normal distribution over arrays: shares below a value, and values that a share stays below.

The standard library's, value by value: 8 ms for all draws of a case, where scipy.special takes 200 ms to load.
"""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["normal_share", "normal_value"]

Floats = NDArray[np.float64]

_STANDARD = NormalDist()


def normal_share(value: ArrayLike) -> Floats:
    """Return the share of a standard normal distribution that lies below a value, erfc(-x / √2) / 2.

    >>> normal_share([0.0, 1.6448536269514722]).round(12).tolist()
    [0.5, 0.95]
    """
    scaled = np.asarray(value, dtype=float) / -math.sqrt(2.0)  # erfc, since NormalDist.cdf loses the lower tail
    return np.array([math.erfc(v) for v in scaled.ravel().tolist()]).reshape(scaled.shape) / 2.0


def normal_value(share: ArrayLike) -> Floats:
    """Return the value that a share of a standard normal distribution lies below; infinite at the ends, nan beyond.

    >>> normal_value([0.5, 0.95, 1.0]).round(9).tolist()
    [0.0, 1.644853627, inf]
    """
    p = np.asarray(share, dtype=float)
    found = np.select([p == 0.0, p == 1.0], [-np.inf, np.inf], np.nan)
    inside = (p > 0.0) & (p < 1.0)
    found[inside] = list(map(_STANDARD.inv_cdf, p[inside].tolist()))
    return found
