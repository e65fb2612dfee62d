"""The normal distribution: shares below a value, and values that a share stays below.

Made here because loading the reference library for these two takes a fifth of a second, as long as a whole assessment.
The tests compare the two.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ergo.evidence import table

__all__ = ["normal_share", "normal_value"]

Floats = NDArray[np.float64]

_REGIONS = ("middle", "tail", "far tail")
_MIDDLE = 0.425  # within this of one half
_FAR = 5.0  # from here on of sqrt(-log p)
_FROM = (_MIDDLE**2, 1.6, _FAR)  # where each region's polynomials start


def normal_share(value: ArrayLike) -> Floats:
    """Return the share of a standard normal distribution that lies below a value.

    P(x) = erfc(-x / √2) / 2.

    Parameters
    ----------
    value : array_like, any shape [standard deviations]

    Returns
    -------
    ndarray, 0 to 1

    Examples
    --------
    >>> normal_share([0.0, 1.6448536269514722]).round(12).tolist()
    [0.5, 0.95]
    """
    scaled = np.asarray(value, dtype=float) / -math.sqrt(2.0)
    return np.array([math.erfc(v) for v in scaled.ravel().tolist()]).reshape(scaled.shape) / 2.0


def normal_value(share: ArrayLike) -> Floats:
    """Return the value that a share of a standard normal distribution lies below.

    Rational functions of (p - 1/2)² near the middle and of sqrt(-log p) in the tails.

    Parameters
    ----------
    share : array_like, any shape, 0 to 1

    Returns
    -------
    ndarray [standard deviations]
        -inf at 0 and inf at 1; nan outside.

    Source: wichura_1988 (AS 241, about 16 digits).

    Examples
    --------
    >>> normal_value([0.5, 0.95, 1.0]).round(9).tolist()
    [0.0, 1.644853627, inf]
    """
    p = np.asarray(share, dtype=float)
    q = p - 0.5
    found = np.asarray(_ratio("middle", _FROM[0] - q * q) * q)
    out = np.abs(q) > _MIDDLE
    if out.any():
        with np.errstate(divide="ignore", invalid="ignore"):
            far = np.sqrt(-np.log(np.minimum(p[out], 1.0 - p[out])))
            value = np.where(far > _FAR, _ratio("far tail", far - _FROM[2]), _ratio("tail", far - _FROM[1]))
        found[out] = np.copysign(np.where(np.isinf(far), far, value), q[out])
    return found


def _ratio(region: str, r: Floats) -> Floats:
    above, below = _polynomials()[region]
    return np.asarray(np.polyval(above, r) / np.polyval(below, r))


@cache
def _polynomials() -> dict[str, tuple[Floats, Floats]]:
    """Coefficients of numerator and denominator, highest power first, by region."""
    rows = sorted(table("normal_percentage_points"), key=lambda entry: -int(entry["power"]))

    def part(region: str, name: str) -> Floats:
        return np.array([float(e["coefficient"]) for e in rows if (e["region"], e["part"]) == (region, name)])

    return {region: (part(region, "numerator"), part(region, "denominator")) for region in _REGIONS}
