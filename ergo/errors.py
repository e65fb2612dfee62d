"""The one error a user sees for bad input: every fault at once, each with field, value, allowed range, unit."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

__all__ = ["Fault", "InputError"]

_SHOWN = 50
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
    """Bad input, with all its faults; `total` says how many there are where only the first were kept.

    Examples
    --------
    >>> print(InputError("case.toml", [Fault("patient.mass_kg", "-3", "25 to 350", "kg")]))
    case.toml has 1 fault:
      patient.mass_kg = -3: 25 to 350 [kg]
    """

    def __init__(self, what: str, faults: Iterable[Fault], total: int | None = None) -> None:
        self.what = what
        self.faults = tuple(faults)
        self.total = count = len(self.faults) if total is None else total
        lines = [f"{what} has {count} fault{'s' if count != 1 else ''}:"]
        lines += [f"  {fault}" for fault in self.faults[:_SHOWN]]
        if count > len(lines) - 1:
            lines.append(f"  … and {count - (len(lines) - 1)} more")
        super().__init__("\n".join(lines))

    def __reduce__(self) -> tuple[type[InputError], tuple[str, tuple[Fault, ...], int]]:
        """Pass whole from one process to another."""
        return InputError, (self.what, self.faults, self.total)
