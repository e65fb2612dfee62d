"""How well the model predicts, over the published cases that it could have missed on either side."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from ergo.validation.case import Cause, ValidationCase

__all__ = ["Score", "score_of"]


@dataclass(frozen=True, slots=True)
class Score:
    """Counts of the published cases, and how far off the two-sided ones are.

    `inside_band` of the `two_sided` published figures lie between the 5th and 95th percentile of the prediction;
    `median_error_factor` is the middle one of how many times too high or too low they are predicted. One-sided cases
    and those that hold by construction enter neither.
    """

    two_sided: int
    inside_band: int
    median_error_factor: float | None
    one_sided: int
    one_sided_met: int
    by_construction: int
    misses: dict[Cause, int] = field(default_factory=dict)
    """How many are missed for each cause."""


def score_of(cases: Sequence[ValidationCase]) -> Score:
    """Return the score of published cases; no middle error where none is two-sided.

    >>> case = ValidationCase(
    ...     "M", "a pull", "two-sided", 100.0, 150.0, 140.0, 160.0, 120.0, 180.0, "N", False, "physics", "", "", ""
    ... )
    >>> score_of([case]).median_error_factor
    1.5
    """
    two, one = ([c for c in cases if c.kind == kind] for kind in ("two-sided", "one-sided"))
    factors = [c.error_factor for c in two if c.error_factor is not None]
    return Score(
        two_sided=len(two),
        inside_band=sum(c.inside for c in two),
        median_error_factor=float(np.median(factors)) if factors else None,
        one_sided=len(one),
        one_sided_met=sum(c.inside for c in one),
        by_construction=len(cases) - len(two) - len(one),
        misses=dict(sorted(Counter(c.cause for c in cases if not c.inside).items())),
    )
