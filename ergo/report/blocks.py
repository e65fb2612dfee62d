"""A document as a list of blocks, built once and rendered as HTML, as Markdown or for a terminal.

A block holds plain text; each renderer escapes it once.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal

from ergo.evidence import sources
from ergo.limits.policy import Verdict as VerdictWord
from ergo.report.figures.drawing import Drawing

__all__ = [
    "Block",
    "Bullets",
    "Document",
    "Figure",
    "Group",
    "Heading",
    "Paragraph",
    "Table",
    "Title",
    "Verdict",
    "VerdictCell",
    "cautions",
    "in_plain_words",
    "titled",
]


# Plain words at first sight, the trade's own in brackets; what programs read (JSON, CSV) keeps the short ones.
_HEADS = {
    "ratio to limit": "share of the limit (ratio)",
    "ratio": "share of the limit (ratio)",
    "median ratio": "middle share of the limit (median ratio)",
    "brake": "lowering (brake)",
    "draws": "cases tried (draws)",
    "5 to 95 % of draws": "5 to 95 % of cases tried (draws)",
    "known": "how it is known",
}
_TOLD = ("known", "unit", "does", "what", "note", "source", "sources")  # columns whose cells are such words
_KEY = re.compile(r"\b[a-z]+(?:_[a-z0-9]+)+\b")
_MEMORY = re.compile(r"(?<!from )\bmemory (high|medium|fair)\b")


def in_plain_words(said: str) -> str:
    """Return how a figure is known, its source or unit, or what somebody does, as a reader takes it in at first sight.

    >>> in_plain_words("memory high"), in_plain_words("reprint; the strength memory fair"), in_plain_words("brake")
    ('from memory (high)', 'reprint; the strength from memory (fair)', 'lowering (brake)')
    >>> in_plain_words("lower than cotton (larson_2018)"), in_plain_words("winter_2009, mcgill_kavcic_2005")
    ('lower than cotton (Larson 2018)', 'Winter 2009, McGill Kavcic 2005')
    """
    if said == "brake":
        return "lowering (brake)"
    if said == "log standard deviation":
        return "as a part of the value (log standard deviation)"
    return _KEY.sub(lambda key: _source_name(key[0]), _MEMORY.sub(r"from memory (\1)", said))


@cache
def _source_name(key: str) -> str:
    """A source by the names and the year of its key, each as its citation writes it; what is no key stays."""
    if key not in sources():
        return key
    citation = sources()[key].citation
    written = (re.search(rf"\b{part}\b", citation, re.IGNORECASE) for part in key.split("_"))
    return " ".join(at[0] if at else part for at, part in zip(written, key.split("_"), strict=True))


def _head(name: str) -> str:
    return _HEADS.get(name, name.replace("pull times time", "pull times time (impulse)"))


class VerdictCell(str):
    """The text of a table's cell, and the verdict that it stands for."""

    __slots__ = ("verdict",)
    verdict: VerdictWord

    def __new__(cls, verdict: VerdictWord, text: str) -> VerdictCell:
        """Take the verdict along with the text."""
        made = super().__new__(cls, text)
        made.verdict = verdict
        return made


@dataclass(frozen=True, slots=True)
class Table:
    """A table: its title, column heads, and rows of text.

    `look` is "facts" for rows of name and value that need no head on paper, "to fill" for a sheet with blanks.
    """

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    look: Literal["", "facts", "to fill"] = ""

    @property
    def plain(self) -> Table:
        """The table as a reader sees it.

        >>> Table("t", ("known", "ratio"), (("memory high", "0.8"),)).plain.rows[0]
        ('from memory (high)', '0.8')
        """
        told = {i for i, name in enumerate(self.head) if name in _TOLD}
        rows = tuple(tuple(in_plain_words(c) if i in told else c for i, c in enumerate(row)) for row in self.rows)
        return Table(self.title, tuple(map(_head, self.head)), rows, self.look)

    def without(self, *columns: str) -> Table:
        """Return the table without some of its columns.

        >>> Table("t", ("a", "b"), (("1", "2"),)).without("b").rows
        (('1',),)
        """
        kept = [i for i, name in enumerate(self.head) if name not in columns]
        rows = tuple(tuple(row[i] for i in kept) for row in self.rows)
        return Table(self.title, tuple(self.head[i] for i in kept), rows, self.look)


@dataclass(frozen=True, slots=True)
class Title:
    """What the document is about, the question it answers, and for whom, by whom and when it was made."""

    text: str
    question: str = ""
    origin: str = ""


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading; level 1 stands once, over all others."""

    text: str
    level: Literal[1, 2, 3] = 2


@dataclass(frozen=True, slots=True)
class Verdict:
    """A line with the mark and the colour of its verdict: the answer (level 1), or that of a part."""

    verdict: VerdictWord
    text: str
    level: Literal[1, 2, 3] = 1


@dataclass(frozen=True, slots=True)
class Paragraph:
    """One paragraph, perhaps with a label in bold; a quiet one is set back."""

    text: str
    label: str = ""
    quiet: bool = False


@dataclass(frozen=True, slots=True)
class Bullets:
    """A bullet list."""

    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing on paper, so many pixels wide; elsewhere the sentence that says its finding."""

    drawing: Drawing
    width: int = 720


@dataclass(frozen=True, slots=True)
class Group:
    """Blocks that stand together: on a sheet or page of their own, side by side, or indented in a terminal."""

    layout: Literal["sheet", "page", "dense sheet", "columns", "column", "indented"]
    blocks: tuple[Block, ...]


Block = Title | Heading | Verdict | Paragraph | Bullets | Table | Figure | Group


@dataclass(frozen=True, slots=True)
class Document:
    """Blocks in order, and the name of the whole."""

    name: str
    blocks: tuple[Block, ...]
    paper: Literal["", "A5"] = ""
    """A size of its own; else the reader's, A4 or Letter."""
    case: str = ""
    """A scenario as TOML that a page holds, so that it opens the case again; else none."""


def titled(*tables: Table, level: Literal[2, 3] = 2) -> tuple[Block, ...]:
    """Return tables under their own titles; one without rows is left out."""
    return tuple(block for table in tables if table.rows for block in (Heading(table.title, level), table))


def cautions(said: Sequence[str]) -> tuple[Block, ...]:
    """Return the cautions under their heading."""
    return Heading("Before you rely on this"), Bullets(tuple(said))
