"""Markdown that shows text as it is."""

from __future__ import annotations

from collections.abc import Sequence

from ergo.plan.markdown import plain
from ergo.show.rows import Rows

__all__ = ["markdown_table", "plain"]


def markdown_table(rows: Rows) -> str:
    """Return a table in Markdown.

    Examples
    --------
    >>> print(markdown_table(Rows("t", ("a", "b"), (("1", "x|y"),))))
    | a | b |
    | --- | --- |
    | 1 | x\\|y |
    """

    def line(cells: Sequence[str]) -> str:
        return "| " + " | ".join(plain(c) for c in cells) + " |"

    return "\n".join([line(rows.head), line_of_dashes(len(rows.head)), *(line(row) for row in rows.rows)])


def line_of_dashes(columns: int) -> str:
    """Return the line under a table's head."""
    return "| " + " | ".join(["---"] * columns) + " |"
