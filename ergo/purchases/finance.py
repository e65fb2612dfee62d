"""What a first cost and a yearly saving are worth: net present value, payback, break-even."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["break_even_events", "npv", "payback_years"]

Array = NDArray[np.float64]


def npv(first_cost: ArrayLike, yearly_saving: ArrayLike, rate: ArrayLike, years: int) -> Array:
    """Return the net present value of a first cost and a saving at the end of every year.

    NPV = -first + Σ_{t=1..n} saving / (1 + r)^t

    Source: its definition.

    >>> round(float(npv(1000.0, 300.0, 0.05, 5)), 2)
    298.84
    """
    value: Array = np.asarray(yearly_saving, float) * _annuity(rate, years) - np.asarray(first_cost, float)
    return value


def _annuity(rate: ArrayLike, years: int) -> Array:
    terms = (1.0 + np.asarray(rate, float))[..., None] ** -np.arange(1, years + 1)
    return np.asarray(terms.sum(axis=-1))


def payback_years(first_cost: ArrayLike, yearly_saving: ArrayLike) -> Array:
    """Return the years until savings equal the first cost, not discounted.

    years = first / saving; 0 if nothing is paid first and the saving is not negative, infinite if the saving never
    repays it.

    Source: its definition.

    >>> payback_years([100.0, 100.0, 0.0], [40.0, -1.0, 5.0]).tolist()
    [2.5, inf, 0.0]
    """
    first, saving = np.broadcast_arrays(np.asarray(first_cost, float), np.asarray(yearly_saving, float))
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        years = np.where(saving > 0, np.maximum(first, 0.0) / saving, np.inf)
    return np.where((first <= 0) & (saving >= 0), 0.0, years)


def break_even_events(
    first_cost: ArrayLike, fixed_yearly: ArrayLike, saving_per_event: ArrayLike, rate: ArrayLike, years: int
) -> Array:
    """Return the events a year at which the net present value is zero.

    events = (first / annuity + fixed) / saving per event, annuity = Σ_{t=1..n} 1 / (1 + r)^t; infinite if an event
    saves nothing, 0 where none is needed.

    Source: `npv` solved for the events.

    >>> break_even_events(1000.0, 50.0, 0.5, 0.0, 5).item()
    500.0
    """
    first, fixed, saving = np.broadcast_arrays(
        np.asarray(first_cost, float), np.asarray(fixed_yearly, float), np.asarray(saving_per_event, float)
    )
    needed = first / _annuity(rate, years) + fixed
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        events = np.where(saving > 0, np.maximum(needed, 0.0) / saving, np.inf)
    return np.where((needed <= 0) & (saving >= 0), 0.0, events)
