"""Published figures and the values we assumed: data only, each with its source and how it is known.

Nothing here computes. The tables are CSV files in `tables/`; `index.csv` gives each table the source and the
mark that hold for all its rows, and a row's own `source` and `known` columns come before them.

How a figure is `known`: read, reprint, memory high / medium / fair, derived, common-practice, judgement.
"""

from __future__ import annotations

import csv
import re
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Literal

__all__ = [
    "Range",
    "Source",
    "assumption",
    "assumptions",
    "body_percentile",
    "evidence_edition",
    "row",
    "source",
    "sources",
    "table",
    "table_names",
]

Row = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Source:
    """One publication, and how far it was read."""

    key: str
    citation: str
    identifier: str
    read_as: str


@dataclass(frozen=True, slots=True)
class Range:
    """A value that is not known exactly: low, typical and high in `unit`, with source and mark."""

    key: str
    low: float
    typical: float
    high: float
    unit: str
    source: str
    known: str
    note: str


def _read(name: str) -> tuple[Row, ...]:
    path = resources.files(__package__) / "tables" / f"{name}.csv"
    return tuple(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))


@cache
def _index() -> dict[str, Row]:
    return {entry["table"]: entry for entry in _read("index")}


def table_names() -> tuple[str, ...]:
    """Return the name of every table, as listed in `index.csv`.

    Returns
    -------
    tuple of str

    Examples
    --------
    >>> "friction" in table_names(), all(len(table(name)) > 0 for name in table_names())
    (True, True)
    """
    return tuple(_index())


@cache
def table(name: str) -> tuple[Row, ...]:
    """Return the rows of one table, each completed with the table's own source and mark.

    Parameters
    ----------
    name : str
        A name out of `table_names()`.

    Returns
    -------
    tuple of mapping of column to text
        In the order of the file.

    Raises
    ------
    KeyError
        If there is no such table.

    Examples
    --------
    >>> table("endurance")[0]["region"], table("endurance")[0]["source"]
    ('shoulder', 'frey_law_avin_2010')
    """
    entry = _index()[name]
    common = {column: entry[column] for column in ("source", "known") if entry[column]}
    return tuple({**common, **{k: v for k, v in raw.items() if v or k not in common}} for raw in _read(name))


@cache
def row(name: str, **wanted: str) -> Row:
    """Return the one row of a table whose columns have the wanted values.

    Parameters
    ----------
    name : str
        A name out of `table_names()`.
    **wanted : str
        Text that each of these columns must have.

    Returns
    -------
    mapping of column to text

    Raises
    ------
    KeyError
        If there is no such table, or if no row or more than one row fits.

    Examples
    --------
    >>> row("limits", key="spine_lower_limit")["value"]
    '3400'
    """
    found = [r for r in table(name) if all(r.get(k) == v for k, v in wanted.items())]
    if len(found) != 1:
        raise KeyError(f"{name} has {len(found)} rows with {wanted}")
    return found[0]


@cache
def sources() -> dict[str, Source]:
    """Return every source by its key.

    Returns
    -------
    dict of str to Source

    Examples
    --------
    >>> known = sources()
    >>> all(entry["source"] in known for entry in table("friction"))
    True
    """
    return {r["key"]: Source(r["key"], r["citation"], r["identifier"], r["read_as"]) for r in _read("sources")}


def source(key: str) -> Source:
    """Return the source with this key.

    Parameters
    ----------
    key : str
        As in `sources.csv`.

    Returns
    -------
    Source

    Raises
    ------
    KeyError
        If there is no such source.

    Examples
    --------
    >>> source("waters_2007").identifier
    'pmid:17667392'
    """
    return sources()[key]


@cache
def assumptions() -> dict[str, Range]:
    """Return every starting value that the model assumes, by its key.

    Returns
    -------
    dict of str to Range
        Each in its own unit.

    Examples
    --------
    >>> all(value.low <= value.typical <= value.high for value in assumptions().values())
    True
    """
    return {
        r["key"]: Range(
            r["key"],
            float(r["low"]),
            float(r["typical"]),
            float(r["high"]),
            r["unit"],
            r["source"],
            r["known"],
            r["note"],
        )
        for r in _read("assumptions")
    }


def assumption(key: str) -> Range:
    """Return one assumed starting value with its range, source and mark.

    Parameters
    ----------
    key : str
        As in `assumptions.csv`.

    Returns
    -------
    Range

    Raises
    ------
    KeyError
        If there is no such value.

    Examples
    --------
    >>> assumption("breakaway_ratio").known
    'derived'
    """
    return assumptions()[key]


def body_percentile(measure: Literal["mass", "stature", "bmi"], sex: str, at: str = "p50") -> float:
    """Return a percentile of adults of the United States: mass [kg], stature [m] or body-mass index [kg/m²].

    Parameters
    ----------
    measure : str
    sex : "F" or "M"
    at : str
        "p5", "p10", "p15", "p25", "p50", "p75", "p85", "p90" or "p95"; the median where left out.

    Returns
    -------
    float

    Raises
    ------
    KeyError
        If there is no such percentile.

    Notes
    -----
    Source: fryar_2025.

    Examples
    --------
    >>> round(body_percentile("stature", "F"), 3), body_percentile("mass", "M", "p95")
    (1.612, 131.8)
    """
    column, per_si = {"mass": ("mass_kg", 1.0), "stature": ("stature_cm", 100.0), "bmi": ("bmi", 1.0)}[measure]
    return float(row("body_mass_percentiles_us", measure=column, sex=sex)[at]) / per_si


@cache
def evidence_edition() -> str:
    """Return which evidence this is: the year of the newest source and a checksum of all tables.

    >>> evidence_edition().partition(" ")[0]
    'to'
    """
    years = re.findall(r"\b(?:19|20)\d\d\b", " ".join(source.citation for source in sources().values()))
    folder = resources.files(__package__) / "tables"
    found = sorted((file.name, file.read_bytes()) for file in folder.iterdir() if file.name.endswith(".csv"))
    checksum = 0
    for name, raw in found:
        checksum = zlib.crc32(raw.replace(b"\r\n", b"\n"), zlib.crc32(name.encode(), checksum))
    return f"to {max(years)}, tables {checksum:08x}"
