"""Quasi-random points: Sobol's sequence with a random digital shift.

The same points as the reference library's, in another order; made here because loading that library takes longer than
a whole answer. The tests compare the two.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from ergo.evidence import table

__all__ = ["MOST_DIMENSIONS", "sobol_points"]

_BITS = 30
_BLOCK_BITS = 12
MOST_DIMENSIONS = len(table("sobol_directions"))


@cache
def _directions() -> NDArray[np.uint32]:
    """Direction numbers, shape (bits, dimensions): those given, and their recurrence over a primitive polynomial."""
    found = np.empty((_BITS, MOST_DIMENSIONS), dtype=np.uint32)
    for d, entry in enumerate(table("sobol_directions")):
        if d == 0:
            numbers = [1] * _BITS
        else:
            polynomial, numbers = int(entry["polynomial"]), [int(n) for n in entry["first_numbers"].split()]
            degree = len(numbers)
            for k in range(degree, _BITS):
                new = numbers[k - degree]
                for j in range(1, degree + 1):
                    if polynomial >> (degree - j) & 1:
                        new ^= numbers[k - j] << j
                numbers.append(new)
        found[:, d] = [n << (_BITS - 1 - k) for k, n in enumerate(numbers)]
    return found


def sobol_points(dimensions: int, start: int, count: int, shift: NDArray[np.uint32]) -> NDArray[np.float64]:
    """Return some points of the sequence, in its natural order.

    x_i = shift ⊕ (⊕ over the set bits k of i of v_k), in units of 2^-30

    Parameters
    ----------
    dimensions : int
        1 to `MOST_DIMENSIONS`.
    start, count : int
        The first point and how many.
    shift : ndarray of uint32, shape (dimensions,)
        Below 2^30; zeros for the plain sequence.

    Returns
    -------
    ndarray, shape (count, dimensions), 0 to 1 without 1

    Source: joe_kuo_2008.

    Examples
    --------
    >>> sobol_points(2, 0, 4, np.zeros(2, dtype=np.uint32)).tolist()
    [[0.0, 0.0], [0.5, 0.5], [0.25, 0.75], [0.75, 0.25]]
    """
    directions = _directions()[:, :dimensions]
    block = np.zeros((1, dimensions), dtype=np.uint32)
    for k in range(_BLOCK_BITS):  # each direction doubles what is there
        block = np.concatenate([block, block ^ directions[k]])
    found = []
    for at in range(start >> _BLOCK_BITS, (start + count - 1 >> _BLOCK_BITS) + 1):
        moved = shift.astype(np.uint32)
        for k in range(at.bit_length()):
            if at >> k & 1:
                moved = moved ^ directions[_BLOCK_BITS + k]
        found.append(block ^ moved)
    first = start - (start >> _BLOCK_BITS << _BLOCK_BITS)
    return np.concatenate(found)[first : first + count] * 2.0**-_BITS
