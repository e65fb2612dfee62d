"""CSV text that a spreadsheet opens as data, never as a formula."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence

__all__ = ["safe_cell", "to_csv"]

# The wide forms count where a spreadsheet is set to an East Asian language.
_STARTS_FORMULA = ("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20")
_UNSEEN = re.compile(r"\A[\s\ufeff\u200b-\u200f\u2060]+")
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?\Z")


def safe_cell(value: object) -> object:
    """Return a cell that no spreadsheet runs: text that would start a formula gets an apostrophe in front.

    Numbers stay numbers, also when they were written as text.

    Parameters
    ----------
    value : object

    Returns
    -------
    object
        "" for None; any other value that is not text as it is.

    Examples
    --------
    >>> safe_cell("=1+1"), safe_cell("  @SUM(A1)"), safe_cell(-3.5), safe_cell("-3.5"), safe_cell("boost")
    ("'=1+1", "'  @SUM(A1)", -3.5, '-3.5', 'boost')
    """
    if value is None:
        return ""
    if not isinstance(value, str) or _NUMBER.match(value):
        return value
    # spreadsheets skip blanks before they look for a formula, so the first visible character counts
    if value.lstrip(" \u00a0")[:1] in ("\t", "\r", "\n") or _UNSEEN.sub("", value).startswith(_STARTS_FORMULA):
        return "'" + value
    return value


def to_csv(header: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    r"""Return rows as CSV text with every cell made safe.

    Parameters
    ----------
    header : sequence of str
    rows : iterable of sequences
        Each as long as the header; None is an empty cell.

    Returns
    -------
    str
        Cells separated by commas, lines ended by CR and LF; see `safe_cell`.

    Examples
    --------
    >>> to_csv(["task", "hours"], [["=boost", -1.5]])
    "task,hours\r\n'=boost,-1.5\r\n"
    """
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow([safe_cell(h) for h in header])
    writer.writerows([safe_cell(v) for v in row] for row in rows)
    return out.getvalue()
