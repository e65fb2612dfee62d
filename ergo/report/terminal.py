"""Blocks as plain text for a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ergo.report.blocks import Block, Bullets, Document, Figure, Group, Heading, Paragraph, Table, Title, Verdict
from ergo.report.marks_and_amounts import MARKS
from ergo.report.terminal_characters import visible

__all__ = ["terminal_text"]


def terminal_text(document: Document) -> str:
    """Return a document as text, tables with columns of equal width."""
    return "\n".join(_lines(document.blocks))


def _lines(blocks: Iterable[Block]) -> list[str]:
    lines: list[str] = []
    before: Block | None = None
    for block in blocks:
        new = _block(block)
        apart = isinstance(block, Heading) or (isinstance(block, Verdict) and block.level > 1)
        apart = apart or (isinstance(block, Table) and not isinstance(before, Heading))
        if new and apart and lines and lines[-1]:
            lines.append("")
        lines += new
        before = block
    return lines


def _block(block: Block) -> list[str]:
    match block:
        case Title(text, question, origin):
            return [visible(said) for said in (text, question, origin) if said] + [""]
        case Heading(text):
            return [f"{visible(text)}:"]
        case Verdict(verdict, text, level):
            return [f"{MARKS[verdict]} {visible(text)}", *([""] if level == 1 else [])]
        case Paragraph(text, label):
            return [visible(f"{label}: {text}" if label else text)]
        case Bullets(items):
            return [f"- {visible(item)}" for item in items]
        case Table():
            shown = block.plain
            return _table([shown.head, *shown.rows])
        case Figure(drawing):
            return [visible(drawing.alt)]
        case Group("indented", blocks):
            return [f"    {line}" if line else "" for line in _lines(blocks)]
        case Group(_, blocks):
            return _lines(blocks)


def _table(rows: Sequence[Sequence[str]]) -> list[str]:
    shown = [[visible(cell) for cell in row] for row in rows]
    widths = [max(map(len, column)) for column in zip(*shown, strict=True)]
    return ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in shown]
