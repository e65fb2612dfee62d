"""Tables of the page and the report in Markdown."""

from __future__ import annotations

from ergo.plan.markdown import grid, plain
from ergo.show.rows import Rows

__all__ = ["markdown_table", "plain"]


def markdown_table(rows: Rows) -> str:
    """Return a table in Markdown; nothing where it has no rows.

    Examples
    --------
    >>> print(markdown_table(Rows("t", ("a", "b"), (("1", "x|y"),))))
    | a | b |
    |---|---|
    | 1 | x\\|y |
    """
    return "\n".join(grid(rows.head, rows.rows, blank="")).rstrip()
