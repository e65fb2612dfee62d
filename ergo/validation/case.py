"""A published finding beside the model's prediction."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["ValidationCase"]


@dataclass(frozen=True, slots=True)
class ValidationCase:
    """A published finding beside the model's prediction.

    Attributes
    ----------
    id : str
        Row of measured_forces, or of guidance_headcounts as H01, H02, ...
    task : str
        What was done and what was found, in words.
    published : float or None
        None where the publication states an order or an open range, not a figure.
    predicted, predicted_low, predicted_high : float or None
        None where the model gives no figure, for instance because a lift is the answer. Low and high span the people,
        masses or friction that the publication leaves open.
    band_low, band_high : float or None
        5th and 95th percentile of the prediction when the uncertain inputs are drawn; None where nothing uncertain
        enters, and for the high end of a headcount where a lift is the answer.
    unit : str
    error : float or None
        Predicted over published, less 1.
    agrees : bool
        The typical prediction lies within one standard deviation of the people measured, where one is printed; else
        the published figure lies in the predicted range, or the order or direction is the same.
    word : str
        Why it agrees or not.
    source, known : str
    """

    id: str
    task: str
    published: float | None
    predicted: float | None
    predicted_low: float | None
    predicted_high: float | None
    unit: str
    error: float | None
    agrees: bool
    word: str
    source: str
    known: str
    band_low: float | None = None
    band_high: float | None = None
