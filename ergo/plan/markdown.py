"""Words and tables in Markdown, with a user's text kept inside its place."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["cell", "grid"]


def cell(text: str) -> str:
    """Keep a user's words inside their place: no line break, no column, no markup.

    Examples
    --------
    >>> print(cell("one\\ntwo | <b>"))
    one two \\| \\<b\\>
    """
    flat = " ".join(text.split())
    return "".join("\\" + c if c in "|<>`[]*_#" else c for c in flat) or "not stated"


def grid(header: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """Return a table with an empty line after it; nothing without rows."""
    if not rows:
        return []
    lines = ["| " + " | ".join(header) + " |", "|" + "---|" * len(header)]
    return [*lines, *("| " + " | ".join(cell(c) for c in row) + " |" for row in rows), ""]
