"""CSV for a spreadsheet."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import fields

from ergo.report.terminal_characters import steering_shown
from ergo.unit.plan import UnitPlan
from ergo.unit.results import Estimate, ShiftFigures

__all__ = ["safe_cell", "to_csv", "unit_csv"]

# The wide forms count where a spreadsheet is set to an East Asian language.
_STARTS_FORMULA = ("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20")
_UNSEEN = " \t\r\n\v\f\u00a0\u2028\u2029\u3000\ufeff\u2060" + "".join(map(chr, range(0x2000, 0x2010)))
# A reader that takes the semicolon for the border of cells starts a new one after it, and any reader after a line.
_BORDER = re.compile(r"([;\t\r\n][\s\ufeff\u200b-\u200f\u2060\"]*)(?=[=+\-@\uff1d\uff0b\uff0d\uff20])")
_INSIDE = "\t\r\n"  # may stand inside a cell
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?\Z")


def safe_cell(value: object) -> object:
    """Return a cell that no spreadsheet runs: what would start a formula gets an apostrophe in front.

    Also behind a semicolon or a line break, where another reader than the comma's begins a cell. Numbers stay numbers,
    also when they were written as text; what would steer a terminal is shown.

    >>> safe_cell("=1+1"), safe_cell("  @SUM(A1)"), safe_cell(-3.5), safe_cell("-3.5"), safe_cell("bed;=1+1")
    ("'=1+1", "'  @SUM(A1)", -3.5, '-3.5', "bed;'=1+1")
    """
    if value is None:
        return ""
    if not isinstance(value, str) or _NUMBER.match(value):
        return value
    # spreadsheets skip blanks before they look for a formula, so the first visible character counts
    rest = value.lstrip(_UNSEEN)
    lead = value[: len(value) - len(rest)]
    opens = lead.lstrip(" \u00a0")[:1] in ("\t", "\r", "\n")
    safe = ("'" if opens or rest.startswith(_STARTS_FORMULA) else "") + lead + _BORDER.sub(r"\1'", rest)
    return steering_shown(safe, keep=_INSIDE)


def to_csv(header: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    r"""Return rows as CSV text with every cell made safe.

    >>> to_csv(["task", "hours"], [["=boost", -1.5]])
    '"task","hours"\r\n"\'=boost",-1.5\r\n'
    """
    out = io.StringIO()
    writer = csv.writer(out, quoting=csv.QUOTE_NONNUMERIC)
    writer.writerow([safe_cell(h) for h in header])
    writer.writerows([safe_cell(v) for v in row] for row in rows)
    return out.getvalue()


_PLAIN = ("shift", "handlers", "airway_leads")
_FIGURES = tuple(f.name for f in fields(ShiftFigures) if f.name not in _PLAIN)


def unit_csv(plan: UnitPlan) -> str:
    """Return every figure of every shift with its interval; a unit's own words cannot start a formula."""
    header = ["unit", "policy", "extra_people", *_PLAIN]
    header += [f"{name}{end}" for name in _FIGURES for end in ("", "_low", "_high")]
    rows: list[list[object]] = []
    for level in plan.levels:
        for shift in level.shifts:
            row: list[object] = [plan.unit.name, level.policy, level.extra_people]
            row += [getattr(shift, name) for name in _PLAIN]
            for name in _FIGURES:
                figure: Estimate = getattr(shift, name)
                row += [figure.mean, figure.low, figure.high] if figure.runs else [None] * 3
            rows.append(row)
    return to_csv(header, rows)
