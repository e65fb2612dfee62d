"""Published cases, predicted: what the model says for the same mass, friction and aid, with the error stated.

Every figure is computed from the evidence tables and the model, none is written by hand.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

from ergo.evidence import table
from ergo.validation.back_loads import BACKS
from ergo.validation.case import ValidationCase
from ergo.validation.forces import FORCES, NOT_PREDICTED
from ergo.validation.headcounts import headcount

__all__ = ["NOT_PREDICTED", "ValidationCase", "validation_cases"]


def validation_cases(progress: Callable[[float], None] | None = None) -> tuple[ValidationCase, ...]:
    """Return every published case beside its prediction.

    >>> cases = {case.id: case for case in validation_cases()}
    >>> cases["M01"].kind, cases["M01"].inside
    ('two-sided', False)
    """
    count = len(FORCES) + len(BACKS) + len(table("guidance_headcounts"))
    cases = []
    for number in range(count):
        if progress is not None:
            progress(number / count)
        cases.append(_predicted(number))
    return tuple(cases)


@cache
def _predicted(number: int) -> ValidationCase:
    predict = (*FORCES, *BACKS)
    if number < len(predict):
        return predict[number]()
    i = number - len(predict)
    return headcount(i + 1, table("guidance_headcounts")[i])
