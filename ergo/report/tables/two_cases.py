"""Two cases side by side: every input that differs, and both answers."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel

from ergo.report.blocks import Table
from ergo.report.marks_and_amounts import needs_words
from ergo.report.tables.case import verdict_words
from ergo.teams.sentences import REASON_NAMES, number_of
from ergo.teams.smallest_team import TeamAnswer
from ergo.units import DEFAULT_UNITS, INCH, Units, percent

__all__ = ["two_case_rows"]

_ENDING = re.compile(r"_(kg|m|n|s|deg)$")  # the unit stands beside the value
_CM_PER_M = 100.0


@dataclass(frozen=True, slots=True)
class _Amount:
    """A figure in the reader's unit."""

    value: float
    unit: str

    def __str__(self) -> str:
        return f"{self.value:.4g} {self.unit}".strip()


def two_case_rows(one: TeamAnswer, other: TeamAnswer, units: Units = DEFAULT_UNITS) -> Table:
    """Return the answers of two cases, then every input in which they differ, with the difference.

    >>> from ergo.inputs import examples
    >>> from ergo.teams.smallest_team import smallest_team
    >>> cases = examples.boost(), examples.boost(mass_kg=95.0)
    >>> found = two_case_rows(*(smallest_team(case, with_aids=False) for case in cases))
    >>> [row for row in found.rows if row[0] == "patient, mass"]
    [('patient, mass', '70 kg', '95 kg', '+25 kg')]
    """
    rows = [_row(name, a, b) for (name, a), (_, b) in zip(_answer(one, units), _answer(other, units), strict=True)]
    rows += [_row(*found) for found in _different(one.scenario, other.scenario, units)]
    return Table("Two cases side by side", ("what", "this case", "second case", "difference"), tuple(rows))


def _row(name: str, one: Any, other: Any) -> tuple[str, ...]:
    return name, _said(one), _said(other), _difference(one, other)


def _said(value: Any) -> str:
    return value if isinstance(value, str) else "left out" if value is None else str(value)


def _difference(one: Any, other: Any) -> str:
    if one == other:
        return "same"
    if isinstance(one, _Amount) and isinstance(other, _Amount) and one.unit == other.unit:
        change = other.value - one.value
        return f"{'+' if change > 0 else '−'}{_Amount(abs(change), one.unit)}" if f"{change:.4g}" != "0" else "same"
    return "differs"


def _answer(answer: TeamAnswer, units: Units) -> list[tuple[str, Any]]:
    result = answer.assessment
    people = None if answer.people is None else _Amount(answer.people, "people")
    return [
        ("title", answer.scenario.name),
        ("people needed", people or needs_words(answer.needs)),
        *((words, _number(number_of(answer.reasons, name))) for name, words in REASON_NAMES.items()),
        ("sides", "–" if answer.people is None else f"{answer.left} left, {answer.right} right"),
        ("verdict", verdict_words(result.verdict)),
        ("probability that nobody is over a limit", percent(answer.probability) if answer.people else "–"),
        ("deciding limit", result.deciding.label if result.deciding else "–"),
        ("ratio to limit", _Amount(round(result.worst_ratio, 2), "") if result.deciding else "–"),
        ("largest force of one person", _Amount(round(units.force_value(result.worst_person_force_n)), units.force)),
    ]


def _number(people: int | None) -> Any:
    return "–" if people is None else _Amount(people, "people")


def _different(one: BaseModel, other: BaseModel, units: Units, where: str = "") -> Iterator[tuple[str, Any, Any]]:
    """Yield the name and both values of every field in which two of a kind differ."""
    for name, field in type(one).model_fields.items():
        a, b = getattr(one, name), getattr(other, name)
        if a == b or (not where and name == "name"):
            continue
        if isinstance(a, BaseModel) and isinstance(b, BaseModel):
            yield from _different(a, b, units, f"{name}, ")
            continue
        extra = field.json_schema_extra
        unit = str(extra.get("unit", "")) if isinstance(extra, dict) else ""
        label = f"{where}{_ENDING.sub('', name).replace('_', ' ')}"
        yield label, _shown(a, unit, units), _shown(b, unit, units)


def _shown(value: Any, unit: str, units: Units) -> Any:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return "; ".join(_item(item) for item in value) or "none"
    if isinstance(value, int | float):
        return _amount(float(value), unit, units)
    return "left out" if value in ("", None) else str(value)


def _amount(value: float, unit: str, units: Units) -> _Amount:
    match unit:
        case "kg":
            return _Amount(units.mass_value(value), units.mass)
        case "N":
            return _Amount(units.force_value(value), units.force)
        case "m":
            inches = units.length == "ft-in"
            return _Amount(value / INCH, "in") if inches else _Amount(value * _CM_PER_M, "cm")
    return _Amount(value, {"-": "", "deg": "°"}.get(unit, unit))


def _item(item: Any) -> str:
    """A move, an own aid or a member of the team in a few words: all that is stated of it."""
    stated = item.model_dump(exclude_defaults=True, exclude_none=True)
    return " ".join(str(v) if not isinstance(v, list | tuple | dict) else f"({len(v)})" for v in stated.values())
