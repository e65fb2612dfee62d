"""Published cases, predicted: what the model says for the same mass, friction and aid, with the error stated.

Every figure is computed from the evidence tables and the model, none is written by hand.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from functools import cache
from importlib import resources
from pathlib import Path

from ergo.evidence import table
from ergo.validation.back_loads import BACKS
from ergo.validation.case import ValidationCase
from ergo.validation.forces import FORCES, NOT_PREDICTED
from ergo.validation.headcounts import headcount

__all__ = ["NOT_PREDICTED", "ValidationCase", "predicted_cases", "validation_cases"]


_FILE = "cases.json"


@cache
def validation_cases() -> tuple[ValidationCase, ...]:
    """Return every published case beside its prediction, as `python -m ergo.validation.cases` last wrote them.

    To predict them all takes twenty seconds; a test holds these against all predicted anew.

    >>> cases = {case.id: case for case in validation_cases()}
    >>> cases["M01"].kind, cases["M01"].inside
    ('two-sided', False)
    """
    stored = json.loads((resources.files("ergo.validation") / _FILE).read_text(encoding="utf-8"))
    return tuple(ValidationCase(**case) for case in stored)


def predicted_cases() -> tuple[ValidationCase, ...]:
    """Predict every published case anew."""
    return tuple(_predicted(number) for number in range(len(FORCES) + len(BACKS) + len(table("guidance_headcounts"))))


@cache
def _predicted(number: int) -> ValidationCase:
    predict = (*FORCES, *BACKS)
    if number < len(predict):
        return predict[number]()
    i = number - len(predict)
    return headcount(i + 1, table("guidance_headcounts")[i])


if __name__ == "__main__":
    now = json.dumps([asdict(case) for case in predicted_cases()], indent=1)
    Path(__file__).with_name(_FILE).write_text(f"{now}\n", encoding="utf-8")
