"""A published finding beside the model's prediction, and whether it could have failed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["Cause", "Kind", "ValidationCase"]

Kind = Literal["two-sided", "one-sided", "by construction"]
"""Two-sided: the prediction could have been too low or too high. One-sided: only too low, or only too high. By
construction: the model's equations or inputs leave no other outcome, so it tests nothing."""

Cause = Literal["", "physics", "rule", "unknown input", "criterion"]
"""Why a case is missed: the model leaves something out; a headcount is a rule and no measurement; what was measured is
not known well enough; or the model protects other people than the publication."""


@dataclass(frozen=True, slots=True)
class ValidationCase:
    """A published finding beside the model's prediction.

    Attributes
    ----------
    id : str
        Row of measured_forces, or of guidance_headcounts as H01, H02, ...
    task : str
        What was done and what was found, in words.
    kind : Kind
    published, published_to : float or None
        The figure, or the ends of a range; None where the publication states an order or an open end.
    predicted, predicted_low, predicted_high : float or None
        None where the model gives no figure, for instance because a lift is the answer. Low and high span the people,
        masses or friction that the publication leaves open.
    low, high : float or None
        5th and 95th percentile of the prediction when the uncertain inputs are drawn; None where nothing uncertain
        enters, and for the high end of a headcount where a lift is the answer.
    unit : str
    inside : bool
        Two-sided: the published figure lies between low and high; a range that was measured contains them, a range of
        people meets them. Else: the order, direction or open end is met.
    cause : Cause
        Empty where it is inside.
    reason : str
        Why it is inside or not.
    source, known : str
    """

    id: str
    task: str
    kind: Kind
    published: float | None
    predicted: float | None
    predicted_low: float | None
    predicted_high: float | None
    low: float | None
    high: float | None
    unit: str
    inside: bool
    cause: Cause
    reason: str
    source: str
    known: str
    published_to: float | None = None

    @property
    def error(self) -> float | None:
        """Predicted over published, less 1."""
        if not self.published or self.published_to is not None or self.predicted is None:
            return None
        return self.predicted / self.published - 1.0

    @property
    def error_factor(self) -> float | None:
        """How many times too high or too low the prediction is, 1 or more; from the nearest end of a range."""
        if not self.published or self.predicted is None or self.predicted / self.published <= 0:
            return None
        nearest = min(max(self.predicted, self.published), self.published_to or self.published)
        return max(self.predicted / nearest, nearest / self.predicted)
