"""Quasi-random points: Sobol's sequence with a random digital shift.

Direction numbers of Joe and Kuo (SIAM J. Sci. Comput. 2008;30(5):2635-2654) in `sobol_directions.csv`. The points are
those of scipy.stats.qmc in another order, which the tests hold; it takes 300 ms to load, a whole `ergo team` 450 ms.
"""

from __future__ import annotations

import csv
from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

__all__ = ["MOST_DIMENSIONS", "sobol_points"]

_BITS = 30
_BLOCK_BITS = 12
MOST_DIMENSIONS = 120  # rows of the file


@cache
def _directions() -> NDArray[np.uint32]:
    """Direction numbers, shape (bits, dimensions): those given, and their recurrence over a primitive polynomial."""
    text = (resources.files(__package__) / "sobol_directions.csv").read_text(encoding="utf-8")
    found = np.empty((_BITS, MOST_DIMENSIONS), dtype=np.uint32)
    for d, entry in enumerate(csv.DictReader(text.splitlines())):
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
    """Return `count` points from the point `start` on, in natural order; shape (count, dimensions), 0 to 1 without 1.

    x_i = shift ⊕ (⊕ over the set bits k of i of v_k), in units of 2^-30; a shift of zeros is the plain sequence

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
