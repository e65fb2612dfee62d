"""Blocks as Markdown to paste, with text that no user can break."""

from __future__ import annotations

import re
from collections.abc import Iterable

from ergo.report.blocks import Block, Bullets, Document, Figure, Group, Heading, Paragraph, Table, Title, Verdict
from ergo.report.marks_and_amounts import MARKS

__all__ = ["markdown_blocks", "markdown_page", "plain"]

_MARKUP = re.compile(r"([\\`*_{}\[\]#|<>~$&]|:(?=\S))")
# What would start a list or underline a heading, at the start of a line.
_START = re.compile(r"^(\d{1,9}(?=[.)](?:\s|$))|(?=[-+]\s)|(?=[-=]{2,}$))")
# Readers of Markdown make links of bare addresses even where they are escaped, but only within one run of text: one
# letter in italics parts the scheme, the host or the mail's host from the rest. \x01 holds its place.
_ADDRESS = re.compile(r"[A-Za-z0-9](?=://)|(?<=ww)w(?=\.)|(?<=@)[A-Za-z0-9]|(?<=@[-_])[A-Za-z0-9]", re.IGNORECASE)


def plain(text: str) -> str:
    r"""Return text that Markdown shows as it is, on one line: it cannot become a link, a picture, a list or a tag.

    >>> print(plain("[x](y) https://z"))
    \[x\](y) http*s*\://z
    >>> print(plain("- one\n1. two"))
    \- one 1. two
    """
    parted = _ADDRESS.sub("\x01\\g<0>\x01", " ".join(text.replace("\x01", " ").split()))
    return _START.sub(r"\1\\", _MARKUP.sub(r"\\\1", parted)).replace("\x01", "*")


def markdown_page(document: Document) -> str:
    r"""Return a document as Markdown; a figure is the sentence that says its finding."""
    return markdown_blocks(document.blocks) + "\n"


def markdown_blocks(blocks: Iterable[Block], deeper: int = 0) -> str:
    """Return blocks as Markdown, their headings so many levels deeper."""
    return "\n\n".join(said for said in (_block(block, deeper) for block in blocks) if said)


def _block(block: Block, deeper: int) -> str:
    match block:
        case Title(text, question, origin):
            return "\n\n".join(filter(None, [f"{'#' * (1 + deeper)} {plain(text)}", plain(question), plain(origin)]))
        case Heading(text, level):
            return f"{'#' * (max(level, 2) + deeper)} {plain(text)}"
        case Verdict(verdict, text, level):
            return f"{'#' * (max(level, 2) + deeper)} {MARKS[verdict]} {plain(text)}"
        case Paragraph(text, label):
            return f"**{plain(label)}.** {plain(text)}" if label else plain(text)
        case Bullets(items):
            return "\n".join(f"- {plain(item)}" for item in items)
        case Table():
            return _table(block.plain)
        case Figure(drawing):
            return plain(drawing.alt)
        case Group(_, blocks):
            return markdown_blocks(blocks, deeper)


def _table(table: Table) -> str:
    if not table.rows:
        return "None."
    head, *rows = (f"| {' | '.join(map(plain, cells))} |" for cells in (table.head, *table.rows))
    return "\n".join([head, "|" + "---|" * len(table.head), *rows])
