"""Whether the bed is wide enough for a half turn, and how far the patient must be drawn back if not."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ergo.mechanics.cross_section import Outline

__all__ = ["BedClearance", "bed_clearance"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class BedClearance:
    """Room on the bed for a half turn.

    Attributes
    ----------
    roll_m : ndarray [m]
        How far the centre moves in half a turn.
    needed_m : ndarray [m]
        Bed width for the roll from one edge: half-perimeter + 2a + two margins.
    room_m : ndarray [m]
        Bed width less what is needed; negative: the patient must be drawn back.
    slide_m : ndarray [m]
        Slide to the far side before the turn, from the middle of the bed.
    counter_slide_m : ndarray [m]
        What the under-layer or the patient must be drawn back during the turn.
    final_m : ndarray [m]
        Where the centre lies after the turn, from the middle of the bed, towards the receiving side.
    fits : ndarray of bool
        Whether the patient can be turned on this bed at all.
    """

    roll_m: Floats
    needed_m: Floats
    room_m: Floats
    slide_m: Floats
    counter_slide_m: Floats
    final_m: Floats
    fits: NDArray[np.bool_]


def bed_clearance(
    outline: Outline, half_breadth_m: ArrayLike, bed_width_m: ArrayLike, margin_m: ArrayLike
) -> BedClearance:
    """Return the room left on the bed by a half turn without slip, and the slides it needs.

    The centre rolls by half the perimeter. From the middle the patient may first slide until the margin to the far
    edge is left; for what is still missing the patient is drawn back during the turn.

    It fits when the patient lies flat within the margins, and when the second quarter of the roll, begun at the far
    edge on the side, still ends within them. Source: geometry.

    >>> room = bed_clearance(Outline.single(0.18, 0.12, 2.8), 0.18, 0.90, 0.05)
    >>> round(float(room.slide_m), 2), bool(room.fits), bool(room.counter_slide_m > 0)
    (0.22, True, True)
    """
    a, width, margin = (np.asarray(v, dtype=float) for v in (half_breadth_m, bed_width_m, margin_m))
    roll = outline.half_perimeter
    edge = width / 2.0 - a - margin  # farthest the centre may lie from the middle when flat
    missing = np.maximum(roll - edge, 0.0)
    slide = np.minimum(missing, np.maximum(edge, 0.0))
    counter = missing - slide
    on_side = width / 2.0 - outline.height(0.0) - margin
    fits = (edge >= 0.0) & (roll / 2.0 - on_side <= edge)
    return BedClearance(
        roll_m=roll,
        needed_m=roll + 2.0 * a + 2.0 * margin,
        room_m=width - roll - 2.0 * a - 2.0 * margin,
        slide_m=slide,
        counter_slide_m=counter,
        final_m=roll - slide - counter,
        fits=np.asarray(fits),
    )
