"""Who is in the team when nobody says, and the bed height that suits them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ergo import evidence
from ergo.errors import Fault, InputError
from ergo.handlers.person import Person, usual_person
from ergo.handlers.posture import sweep

__all__ = ["BedHeight", "best_bed_height", "mixed_team"]

Floats = NDArray[np.float64]
_STEP_M = 0.01  # a bed control cannot be set finer


def mixed_team(number: int) -> tuple[Person, ...]:
    """Return a mixed team of usual people: women and men of median stature and BMI, one man in five.

    Valid range: adults of the United States.

    Source: fryar_2025; the order is a judgement.

    >>> [(h.sex, round(h.stature_m, 3), round(h.mass_kg, 1)) for h in mixed_team(3)]
    [('F', 1.612, 73.5), ('F', 1.612, 73.5), ('M', 1.752, 86.6)]
    """
    if isinstance(number, bool) or not isinstance(number, int | np.integer) or not 1 <= number <= 1000:
        raise InputError("team", [Fault("number", str(number), "a whole number from 1 to 1000")])
    order = evidence.table("mixed_team")
    places = (order[k % len(order)] for k in range(int(number)))
    return tuple(usual_person(place["sex"], place["percentile"]) for place in places)


@dataclass(frozen=True, slots=True)
class BedHeight:
    """The bed height with the least worst ratio of L5/S1 compression to its limit, and the whole curve.

    `worst_ratio` is over heights; a height at which somebody cannot hold the force has `can_be_held` false
    and is never chosen. Without any such height `found` is false and the present height stands.
    """

    found: bool
    reason: str
    height_m: float
    ratio: float
    present_height_m: float
    present_ratio: float
    present_can_be_held: bool
    saved_n: float
    decided_by: Person
    limit_n: float
    heights_m: Floats
    worst_ratio: Floats
    can_be_held: NDArray[np.bool_]
    source: tuple[str, ...]


def best_bed_height(
    handlers: Sequence[Person],
    *,
    pull_n: float,
    lift_n: float = 0.0,
    reach_m: float,
    hand_above_bed_m: float,
    present_height_m: float,
    technique: str = "typical",
    limit_n: float | None = None,
    **more: Any,
) -> BedHeight:
    """Find the mattress height that spares the most loaded back of a team.

    min over height of max over people of compression / limit

    Valid range: the heights of table entry bed_height_range, in steps of 1 cm.

    Source: niosh_81_122 (lower limit), the posture model.

    >>> best = best_bed_height(mixed_team(4), pull_n=100.0, lift_n=60.0, reach_m=0.3, hand_above_bed_m=0.1,
    ...                        present_height_m=0.6)
    >>> best.found, best.height_m > 0.6, best.saved_n > 0
    (True, True, True)
    """
    team = tuple(handlers)
    if not team:
        raise InputError("bed height", [Fault("handlers", "none", "one person or more")])
    limit = float(evidence.row("limits", key="spine_lower_limit")["value"]) if limit_n is None else limit_n
    if not (np.isfinite(limit) and limit > 0):
        raise InputError("bed height", [Fault("limit_n", str(limit_n), "above 0", "N")])
    span = evidence.assumption("bed_height_range")
    heights = np.append(np.arange(span.low, span.high + 0.5 * _STEP_M, _STEP_M), present_height_m)
    loads = sweep(
        stature_m=np.array([h.stature_m for h in team])[:, None],
        mass_kg=np.array([h.mass_kg for h in team])[:, None],
        sex=np.array([h.sex for h in team])[:, None],
        reach_m=reach_m,
        hand_height_m=heights + hand_above_bed_m,
        bed_height_m=heights,
        pull_n=pull_n,
        lift_n=lift_n,
        technique=technique,
        **more,
    )
    ratio = (loads.compression_n / limit).max(axis=0)
    held = np.asarray(loads.can_be_held).all(axis=0)
    heights, present, curve = heights[:-1], float(ratio[-1]), ratio[:-1]
    able: NDArray[np.bool_] = np.atleast_1d(held)[:-1]
    if able.any():
        pick = int(np.argmin(np.where(able, curve, np.inf)))
        height, best, reason = float(heights[pick]), float(curve[pick]), ""
    else:
        pick, height, best = len(heights), present_height_m, present
        reason = "at no bed height can everybody hold this force"
    return BedHeight(
        found=bool(able.any()),
        reason=reason,
        height_m=height,
        ratio=best,
        present_height_m=present_height_m,
        present_ratio=present,
        present_can_be_held=bool(np.atleast_1d(held)[-1]),
        saved_n=(present - best) * limit,
        decided_by=team[int(np.argmax(loads.compression_n[:, pick]))],
        limit_n=limit,
        heights_m=heights,
        worst_ratio=curve,
        can_be_held=able,
        source=("niosh_81_122", "fryar_2025", *loads.sources),
    )
