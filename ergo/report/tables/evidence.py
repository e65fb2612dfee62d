"""The evidence as tables of text, and a search over them."""

from __future__ import annotations

from collections.abc import Sequence

from ergo.evidence import assumptions, sources, table
from ergo.limits.policy import POLICIES
from ergo.limits.registry import LIMITS
from ergo.report.blocks import Table
from ergo.report.tables.case import citation, verdict_words
from ergo.validation.case import ValidationCase

__all__ = [
    "all_limit_rows",
    "assumption_rows",
    "filtered",
    "known_words",
    "source_rows",
    "table_rows",
    "validation_rows",
]


def all_limit_rows() -> Table:
    """Return every limit of the registry with range, edition, source and the policies it decides under."""
    head = ("limit", "judges", "unit", "for", "range", "edition", "source", "known", "decides under")
    rows = [
        (
            limit.label,
            limit.quantity,
            limit.unit,
            limit.who,
            limit.range,
            limit.edition,
            citation(limit.source),
            limit.known,
            ", ".join(name for name, policy in POLICIES.items() if limit.key in policy.deciding) or "none: shown only",
        )
        for limit in LIMITS
    ]
    return Table("Limits", head, tuple(rows))


def assumption_rows() -> Table:
    """Return every starting value that somebody chose."""
    head = ("value", "low", "typical", "high", "unit", "source", "known", "note")
    rows = [
        (
            entry.key.replace("_", " "),
            f"{entry.low:g}",
            f"{entry.typical:g}",
            f"{entry.high:g}",
            entry.unit,
            citation(entry.source) if entry.source else "none",
            entry.known,
            entry.note,
        )
        for entry in assumptions().values()
    ]
    return Table("Starting values", head, tuple(rows))


def source_rows() -> Table:
    """Return every source and how far it was read."""
    rows = [(s.key, s.citation, s.identifier, s.read_as) for s in sources().values()]
    return Table("Sources", ("key", "citation", "identifier", "known"), tuple(rows))


def table_rows(name: str) -> Table:
    """Return one table of the evidence as it stands."""
    entries = table(name)
    head = tuple(dict.fromkeys(column for entry in entries for column in entry))
    rows = tuple(tuple(str(entry.get(column) or "") for column in head) for entry in entries)
    return Table(name.replace("_", " ").capitalize(), head, rows)


def known_words(rows: Table) -> tuple[str, ...]:
    """Return the ways in which a table's figures are known."""
    if "known" not in rows.head:
        return ()
    at = rows.head.index("known")
    return tuple(sorted({row[at] for row in rows.rows if row[at]}))


def filtered(rows: Table, text: str, kinds: Sequence[str]) -> Table:
    """Return the rows that hold every word of `text` and are known in one of `kinds`.

    >>> rows = Table("t", ("what", "known"), (("pull", "read"), ("push", "judgement")))
    >>> filtered(rows, "PU", ["read"]).rows
    (('pull', 'read'),)
    """
    words = text.casefold().split()
    at = rows.head.index("known") if "known" in rows.head else -1
    found = tuple(
        row
        for row in rows.rows
        if all(word in " ".join(row).casefold() for word in words) and (not kinds or (at >= 0 and row[at] in kinds))
    )
    return Table(rows.title, rows.head, found)


def validation_rows(cases: Sequence[ValidationCase]) -> Table:
    """Return published cases beside their predictions, with the band, the error and a plain word."""

    def figure(value: float | None) -> str:
        return "–" if value is None else f"{value:.3g}" if abs(value) < 10 else f"{value:.0f}"

    rows = [
        (
            c.id,
            c.task,
            figure(c.published),
            figure(c.predicted),
            f"{figure(c.predicted_low)} to {figure(c.predicted_high)}",
            f"{figure(c.band_low)} to {figure(c.band_high)}",
            c.unit,
            "–" if c.error is None or c.unit == "r" else f"{c.error:+.0%}",
            verdict_words("within", word="agrees") if c.agrees else verdict_words("over", word="misses"),
            c.word,
            citation(c.source),
            c.known,
        )
        for c in cases
    ]
    head = (
        "case",
        "what",
        "published",
        "predicted",
        "over what is left open",
        "5 to 95 % of draws",
        "unit",
        "error",
        "verdict",
        "in words",
        "source",
        "known",
    )
    return Table("Published cases", head, tuple(rows))
