"""The one error a user sees for bad input: every fault at once, each with field, value, allowed range, unit.

The one exception: of thousands of faults the first 50 are kept, and how many there are.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from numbers import Real
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["MOST_FAULTS", "Fault", "InputError", "checked_numbers", "probability_faults"]

MOST_FAULTS = 50
_LONGEST_VALUE = 80


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with one field of a user's input."""

    field: str
    value: str
    allowed: str
    unit: str = ""

    def __str__(self) -> str:
        value = self.value if len(self.value) <= _LONGEST_VALUE else self.value[:_LONGEST_VALUE] + "…"
        unit = f" [{self.unit}]" if self.unit else ""
        return f"{self.field} = {value}: {self.allowed}{unit}"


class InputError(ValueError):
    """Bad input with its faults: all of them, or the first 50 with `total` saying how many there are.

    Examples
    --------
    >>> print(InputError("case.toml", [Fault("patient.mass_kg", "-3", "25 to 350", "kg")]))
    case.toml has 1 fault:
      patient.mass_kg = -3: 25 to 350 [kg]
    """

    def __init__(self, what: str, faults: Iterable[Fault], total: int | None = None) -> None:
        found = tuple(faults)
        self.what = what
        self.faults = found[:MOST_FAULTS]
        self.total = len(found) if total is None else total
        lines = [f"{what} has {self.total} fault{'s' if self.total != 1 else ''}:", *map(str, self.faults)]
        if self.total > len(self.faults):
            lines.append(f"… and {self.total - len(self.faults)} more")
        super().__init__("\n  ".join(lines))

    def __reduce__(self) -> tuple[type[InputError], tuple[str, tuple[Fault, ...], int]]:
        """Pass whole from one process to another."""
        return InputError, (self.what, self.faults, self.total)

    @property
    def shown(self) -> tuple[Fault, ...]:
        """The faults, and where there are more of them, how many: what a page shows."""
        more = self.total - len(self.faults)
        return (*self.faults, Fault("more faults", str(more), "not listed")) if more > 0 else self.faults


def probability_faults(name: str, value: object) -> list[Fault]:
    """Return the fault of what is no number above 0 and below 1.

    >>> [str(fault) for given in (0.9, 1.0, "x") for fault in probability_faults("probability", given)]
    ['probability = 1.0: between 0 and 1', 'probability = x: between 0 and 1']
    """
    if isinstance(value, Real) and 0.0 < float(value) < 1.0:
        return []
    return [Fault(name, str(value), "between 0 and 1")]


def checked_numbers(what: str, **given: tuple[Any, float, float, str]) -> list[NDArray[np.float64]]:
    """Return numbers or arrays of numbers as arrays; each comes with its lowest and highest value and its unit."""
    faults, arrays = [], []
    for name, (value, low, high, unit) in given.items():
        try:
            array = np.asarray(value, dtype=float)
        except (TypeError, ValueError):
            faults.append(Fault(name, str(value), "a number", unit))
            continue
        arrays.append(array)
        wrong = array[~(np.isfinite(array) & (array >= low) & (array <= high))]
        if wrong.size:
            ends = f"{low:g} to {high:g}" if math.isfinite(high) else f"{low:g} or more"
            faults.append(Fault(name, f"{wrong[0]:g}", ends if math.isfinite(low) else "a finite number", unit))
    if not faults:
        try:
            np.broadcast_shapes(*(array.shape for array in arrays))
        except ValueError:
            shapes = ", ".join(f"{name} {array.shape}" for name, array in zip(given, arrays, strict=True) if array.ndim)
            faults.append(Fault("array lengths", shapes, "lengths that fit each other"))
    if faults:
        raise InputError(what, faults)
    return arrays
