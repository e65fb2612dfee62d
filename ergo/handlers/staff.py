"""Who stands at the bed when nobody says: bodies of women and men, drawn by their shares of the staff."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ergo.evidence import assumption, table
from ergo.handlers.person import Person, usual_person

__all__ = ["staff_types", "type_at"]


@cache
def staff_types() -> tuple[Person, ...]:
    """Return the bodies among which unstated people are drawn.

    Source: fryar_2025.

    >>> [(p.sex, round(p.stature_m, 2), round(p.mass_kg)) for p in staff_types()[:3]]
    [('F', 1.5, 63), ('F', 1.61, 58), ('F', 1.61, 100)]
    """
    return tuple(usual_person(entry["sex"], entry["stature"], entry["bmi"]) for entry in table("staff_types"))


@cache
def _shares() -> NDArray[np.float64]:
    women = assumption("staff_women_share").typical
    weights = np.array([float(e["weight"]) * (women if e["sex"] == "F" else 1.0 - women) for e in table("staff_types")])
    return np.cumsum(weights / weights.sum())


def type_at(u: ArrayLike) -> NDArray[np.intp]:
    """Return the number of the body below which a fraction `u` of the staff lies, in the order of `staff_types`.

    >>> type_at([0.0, 0.5, 0.999]).tolist()
    [0, 2, 7]
    """
    return np.minimum(np.searchsorted(_shares(), np.asarray(u), side="right"), len(_shares()) - 1)
