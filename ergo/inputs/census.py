"""The patients of a unit, read from a CSV file without identifiers.

Only mass, sex, stature, dependency and procedures are ever kept. A column that looks like a name, a record number or a
birth date is refused with the reason; its values are never stored, and never repeated in an error.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ergo.errors import MOST_FAULTS, Fault, InputError
from ergo.inputs.schema import read_bytes, read_text
from ergo.units import INCH, LB

__all__ = ["MASS_KG", "STATURE_M", "Census", "Refused", "load_census", "read_census"]

MOST_ROWS = 100_000
LARGEST_FILE = 5_000_000  # bytes
LONGEST_LINE = 10_000  # characters
MOST_LINES = 100  # of one row, with line breaks in quotation marks
MOST_NAMES = 20  # of procedures of one patient
PROGRESS_EVERY = 1000  # rows
DEPENDENCY = ("full", "partial", "independent")
MASS_KG = (25.0, 350.0)  # what a scenario accepts as well
STATURE_M = (1.2, 2.3)

_TO_SI = {
    "mass": {"kg": 1.0, "lb": LB},
    "stature": {"m": 1.0, "cm": 0.01, "in": INCH},
}
_ALIASES = {
    "mass": "mass", "weight": "mass", "body mass": "mass", "body weight": "mass",
    "sex": "sex",
    "stature": "stature", "height": "stature", "body height": "stature",
    "dependency": "dependency",
    "procedures": "procedures", "procedure": "procedures",
}  # fmt: skip
_NUMBER = re.compile(r"[0-9]{1,4}(?:[.,][0-9]{1,6})?")
_UNITS = {"kg": "kg", "lb": "lb", "lbs": "lb", "m": "m", "cm": "cm", "in": "in", "inch": "in", "inches": "in"}
_SEX = {"f": "F", "female": "F", "w": "F", "woman": "F", "m": "M", "male": "M", "man": "M"}
_IDENTIFIERS = (
    (re.compile(r"\b(?:dob|born|birth|birthday|birthdate|birth date)\b"), "looks like a birth date"),
    (
        re.compile(r"\b(?:id|ids|mrn|ssn|number|no|nr|record|account|case|visit|encounter|identifier|insurance)\b"),
        "looks like a record number",
    ),
    (
        re.compile(r"\b(?:name|names|surname|forename|firstname|lastname|first|last|given|family|initials|patient)\b"),
        "looks like a name",
    ),
    (
        re.compile(r"\b(?:address|street|phone|telephone|mobile|email|e mail|postcode|zip)\b"),
        "looks like contact data",
    ),
)


@dataclass(frozen=True, slots=True)
class Refused:
    """A column that was not kept, and why."""

    column: str
    reason: str


@dataclass(frozen=True, slots=True, eq=False)
class Census:
    """Patients as read-only arrays, one element a patient; nothing in it identifies anybody.

    `procedures` holds None where the file says nothing; the unit's shares then decide.
    """

    mass_kg: NDArray[np.float64]
    women: NDArray[np.bool_]
    stature_m: NDArray[np.float64]
    dependency: tuple[str, ...]
    procedures: tuple[tuple[str, ...] | None, ...]
    origin: str
    refused: tuple[Refused, ...] = ()
    sources: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.mass_kg)


def load_census(
    path: str | Path,
    units: Mapping[str, str] | None = None,
    progress: Callable[[int, int], None] | None = None,
    known_procedures: Sequence[str] = (),
) -> Census:
    """Read a census from a CSV file; see `read_census`.

    >>> from ergo.inputs.examples import scenario_folder
    >>> found = load_census(scenario_folder() / "units" / "census_example.csv")
    >>> len(found), found.origin, found.refused
    (36, 'census_example.csv', ())
    """
    return read_census(read_bytes(path, LARGEST_FILE), Path(path).name, units, progress, known_procedures)


def read_census(
    raw: bytes,
    what: str = "census",
    units: Mapping[str, str] | None = None,
    progress: Callable[[int, int], None] | None = None,
    known_procedures: Sequence[str] = (),
) -> Census:
    """Read a census from the bytes of a CSV file: all of it, or nothing."""
    text = read_text(raw, what, LARGEST_FILE, LONGEST_LINE)
    if "\0" in text:
        raise InputError(what, [Fault("file", "NUL", "must be text")])
    rows = _rows_of(text)
    try:
        columns, column_units, refused = _header(next(rows, []), what, units or {})
        return _census(rows, text.count("\n"), columns, column_units, refused, what, progress, known_procedures)
    except csv.Error as error:
        raise InputError(what, [Fault("file", "CSV", str(error))]) from None


def _rows_of(text: str) -> Iterator[list[str]]:
    """Yield the cells of each row; one that an open quotation mark stretches over too many lines is refused."""
    lines = io.StringIO(text)
    left = 0

    def few() -> Iterator[str]:
        nonlocal left
        for line in lines:
            if not left:
                raise csv.Error(f"a row of more than {MOST_LINES} lines: a quotation mark is not closed")
            left -= 1
            yield line

    reader = csv.reader(few(), delimiter=max(";\t,", key=text.split("\n", 1)[0].count))
    while True:
        left = MOST_LINES
        try:
            yield next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            raise csv.Error(f"line {reader.line_num}: {error}") from None


def _header(
    header: list[str], what: str, units: Mapping[str, str]
) -> tuple[dict[str, int], dict[str, str], tuple[Refused, ...]]:
    """Find the known columns and their units; refuse the rest without keeping it."""
    found: dict[str, int] = {}
    column_units: dict[str, str] = {}
    refused: list[Refused] = []
    faults: list[Fault] = []
    for index, cell in enumerate(header):
        words = re.sub(r"[\s_\-\[\]().,/]+", " ", re.sub(r"(?<=[a-z])(?=[A-Z])", " ", cell)).strip().lower()
        name, _, last = words.rpartition(" ")
        unit = _UNITS.get(last, "") if name.removeprefix("patient ") in _ALIASES else ""
        known = _ALIASES.get((name if unit else words).removeprefix("patient "))
        if known is None:
            reason = next((why for pattern, why in _IDENTIFIERS if pattern.search(words)), "not used")
            refused.append(Refused(cell[:40], reason))
        elif known in found:
            faults.append(Fault(f"column {index + 1}", cell[:40], f"a second column for {known}"))
        else:
            found[known] = index
            column_units[known] = unit or units.get(known, "")
    for name in ("mass", "sex", "stature"):
        if name not in found:
            faults.append(Fault(f"column {name}", "(left out)", "must be given in the first row"))
        elif name in _TO_SI and column_units[name] not in _TO_SI[name]:
            said = column_units[name] or "(left out)"
            faults.append(Fault(f"unit of {name}", said, "one of " + ", ".join(_TO_SI[name])))
    if faults:
        raise InputError(what, faults)
    return found, column_units, tuple(refused)


class _Faults:
    """The first bad values in full and how many there are: 100,000 bad rows must not fill the memory."""

    def __init__(self) -> None:
        self.first: list[Fault] = []
        self.count = 0

    def add(self, row_number: int, column: str, value: str, rule: str, unit: str = "") -> None:
        self.count += 1
        if len(self.first) < MOST_FAULTS:
            self.first.append(Fault(f"row {row_number}, {column}", value or "(left out)", rule, unit))


def _census(
    rows: Iterator[list[str]], lines: int, columns: dict[str, int], units: dict[str, str], refused: tuple[Refused, ...],
    what: str, progress: Callable[[int, int], None] | None, known_procedures: Sequence[str],
) -> Census:  # fmt: skip
    faults = _Faults()
    mass: list[float] = []
    stature: list[float] = []
    women: list[bool] = []
    dependency: list[str] = []
    procedures: list[tuple[str, ...] | None] = []
    number = 0
    for number, cells in enumerate(rows, start=2):
        if number - 1 > MOST_ROWS:
            faults.count += 1
            faults.first.insert(0, Fault("rows", f"more than {MOST_ROWS}", f"at most {MOST_ROWS}", "rows"))
            break
        if not any(cells) or not any(map(str.strip, cells)):
            continue
        said = {name: cells[index].strip() if index < len(cells) else "" for name, index in columns.items()}
        mass.append(_quantity(said["mass"], "mass", units["mass"], MASS_KG, number, faults))
        stature.append(_quantity(said["stature"], "stature", units["stature"], STATURE_M, number, faults))
        sex = _SEX.get(said["sex"].lower(), "")
        if not sex:
            faults.add(number, "sex", said["sex"], "F or M")
        women.append(sex == "F")
        dependency.append(_dependency(said.get("dependency", ""), number, faults))
        procedures.append(_procedures(said.get("procedures", ""), known_procedures, number, faults))
        if progress and (number - 1) % PROGRESS_EVERY == 0:
            progress(number - 1, max(lines, number - 1))
    if not mass and not faults.count:
        faults.add(2, "mass", "", "at least one patient")
    if faults.count:
        raise InputError(what, faults.first, faults.count)
    if progress:
        progress(number - 1, number - 1)
    return Census(
        _fixed(np.array(mass)), _fixed(np.array(women)), _fixed(np.array(stature)), tuple(dependency),
        tuple(procedures), what, refused,
    )  # fmt: skip


def _quantity(said: str, name: str, unit: str, allowed: tuple[float, float], number: int, faults: _Faults) -> float:
    """Return one value in SI, or note the fault; the allowed range is told in the user's own unit."""
    factor = _TO_SI[name][unit]
    value = math.nan
    if _NUMBER.fullmatch(said):
        value = round(float(said.replace(",", ".")) * factor, 9)  # 165 cm is 1.65 m, not 1.6500000000000001 m
        if allowed[0] <= value <= allowed[1]:
            return value
    rule = _rule(allowed, factor)
    faults.add(number, name, said, f"a number, {rule}" if math.isnan(value) else rule, unit)
    return value


@cache
def _rule(allowed: tuple[float, float], factor: float) -> str:
    return f"{allowed[0] / factor:.4g} to {allowed[1] / factor:.4g}"


def _dependency(said: str, number: int, faults: _Faults) -> str:
    value = said.lower() or DEPENDENCY[0]
    if value not in DEPENDENCY:
        faults.add(number, "dependency", said, "one of " + ", ".join(DEPENDENCY))
    return value


def _procedures(said: str, known: Sequence[str], number: int, faults: _Faults) -> tuple[str, ...] | None:
    if not said:
        return None
    names = tuple(part.strip().lower() for part in said.split("/", MOST_NAMES) if part.strip())
    if names == ("none",):
        return ()
    if len(names) > MOST_NAMES:
        faults.add(number, "procedures", f"more than {MOST_NAMES}", f"at most {MOST_NAMES} procedures")
        return ()
    for name in names:
        if known and name not in known:
            faults.add(number, "procedures", name, "none, or out of " + " / ".join(known))
    return names


def _fixed(array: NDArray[Any]) -> NDArray[Any]:
    array.setflags(write=False)
    return array
