"""Markdown: text that no user can break, tables, lists."""

from __future__ import annotations

import re
from collections.abc import Sequence

from ergo.report.tables.case import Table

__all__ = ["cell", "grid", "markdown_table", "plain"]

# A colon before a word would make an address a link; a backslash left alone would undo the next one.
_MARKUP = re.compile(r"([\\`*_{}\[\]#|<>~$&]|:(?=\S))")
# What would start a list or underline a heading, at the start of a line.
_START = re.compile(r"^(\d{1,9}(?=[.)](?:\s|$))|(?=[-+]\s)|(?=[-=]{2,}$))")


def plain(text: str) -> str:
    r"""Return text that Markdown shows as it is, on one line: it cannot become a link, a picture, a list or a tag.

    Parameters
    ----------
    text : str
        Any, also from a user.

    Returns
    -------
    str

    Examples
    --------
    >>> print(plain("[x](y) https://z"))
    \[x\](y) https\://z
    >>> print(plain("- one\n1. two"))
    \- one 1. two
    """
    return _START.sub(r"\1\\", _MARKUP.sub(r"\\\1", " ".join(text.split())))


def cell(text: str) -> str:
    """Keep a user's words inside their place: no line break, no column, no markup; "not stated" where there are none.

    Parameters
    ----------
    text : str

    Returns
    -------
    str

    Examples
    --------
    >>> print(cell("one\\ntwo | <b>"))
    one two \\| \\<b\\>
    """
    return plain(text) or "not stated"


def grid(header: Sequence[str], rows: Sequence[Sequence[str]], blank: str = "not stated") -> list[str]:
    """Return a table with an empty line after it, `blank` in its empty cells; nothing without rows.

    Parameters
    ----------
    header : sequence of str
    rows : sequence of sequences of str
        Each as long as the header; made `plain`.
    blank : str
        Markdown, shown as it is.

    Returns
    -------
    list of str
        One a line.

    Examples
    --------
    >>> grid(["a"], [["x|y"], [""]])
    ['| a |', '|---|', '| x\\\\|y |', '| not stated |', '']
    """
    if not rows:
        return []

    def line(cells: Sequence[str]) -> str:
        return "| " + " | ".join(plain(c) or blank for c in cells) + " |"

    return [line(header), "|" + "---|" * len(header), *map(line, rows), ""]


def markdown_table(rows: Table) -> str:
    """Return a table in Markdown; nothing where it has no rows.

    Examples
    --------
    >>> print(markdown_table(Table("t", ("a", "b"), (("1", "x|y"),))))
    | a | b |
    |---|---|
    | 1 | x\\|y |
    """
    return "\n".join(grid(rows.head, rows.rows, blank="")).rstrip()
