"""Running counts of many draws in flat memory."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["Histogram", "Tally"]

Floats = NDArray[np.float64]

_FIRST = 32  # draws at the first point of the convergence
_RATIO_TOP, _FORCE_TOP = 4.0, 4000.0  # above this the last bin counts; a ratio of 4 and 4 kN are far beyond any answer
_BINS = 8000


class Histogram:
    """Counts of values from 0 to `top` in even bins, the last one open.

    Examples
    --------
    >>> counted = Histogram(1.0)
    >>> counted.add(np.linspace(0.0, 1.0, 1001))
    >>> round(counted.spread()[1], 3)
    0.5
    """

    def __init__(self, top: float) -> None:
        self._top = top
        self._counts = np.zeros(_BINS, dtype=np.int64)

    def add(self, values: Floats) -> None:
        """Count more values."""
        index = np.minimum((values * (_BINS / self._top)).astype(np.intp), _BINS - 1)
        self._counts += np.bincount(index, minlength=_BINS)

    def spread(self) -> tuple[float, float, float]:
        """Return the 5th, 50th and 95th percentile, to half a bin."""
        total = np.cumsum(self._counts)
        low, middle, high = (
            (int(np.searchsorted(total, q * total[-1])) + 0.5) * self._top / _BINS for q in (0.05, 0.5, 0.95)
        )
        return low, middle, high


class Tally:
    """What is kept of one team's draws.

    Examples
    --------
    >>> tally = Tally(64)
    >>> tally.add(np.full(40, 0.5), np.full(40, 100.0))
    >>> tally.add(np.full(24, 1.5), np.full(24, 200.0))
    >>> tally.seen, tally.within, [n for n, _, _ in tally.convergence]
    (64, 40, [32, 64])
    """

    def __init__(self, draws: int) -> None:
        self.seen = 0
        self.within = 0
        self.ratio = Histogram(_RATIO_TOP)
        self.force = Histogram(_FORCE_TOP)
        self.convergence: list[tuple[int, float, float]] = []
        points = [_FIRST * 2**k for k in range(32) if _FIRST * 2**k <= draws]
        self._points = points or [draws]

    def add(self, ratio: Floats, force: Floats) -> None:
        """Count more draws of one team: worst ratio and largest force of each."""
        passed = ratio <= 1.0
        for point in (p for p in self._points if self.seen < p <= self.seen + len(ratio)):
            chance = (self.within + int(np.sum(passed[: point - self.seen]))) / point
            self.convergence.append((point, chance, float(np.sqrt(chance * (1.0 - chance) / point))))
        self.seen += len(ratio)
        self.within += int(np.sum(passed))
        self.ratio.add(ratio)
        self.force.add(force)
