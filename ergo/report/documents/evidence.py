"""The evidence, and the statement of what the model may be used for."""

from __future__ import annotations

from collections.abc import Iterable

from ergo.report.blocks import Block, Bullets, Document, Heading, Paragraph, Title, in_plain_words, titled
from ergo.report.tables.evidence import all_limit_rows, score_words, source_rows, validation_rows
from ergo.validation.case import ValidationCase
from ergo.validation.cases import validation_cases
from ergo.validation.credibility import Assumed, Check, Credibility, Validated
from ergo.validation.score import score_of

__all__ = ["credibility_statement", "evidence_answer"]


def evidence_answer() -> Document:
    """Return published cases beside predictions, every limit and every source."""
    cases = validation_cases()
    tables = (validation_rows(cases).without("source"), all_limit_rows().without("source"), source_rows())
    said = Paragraph(score_words(score_of(cases)))
    return Document("Evidence", (said, *titled(*tables)))


def credibility_statement(statement: Credibility) -> Document:
    """Return the statement of credibility."""
    blocks: list[Block] = [
        Title("What this model may be used for"),
        Heading("Question"),
        Paragraph(statement.question),
        Heading("Context of use"),
        Paragraph(statement.context),
        Heading("Verified: the equations are solved as meant"),
        _bullets(map(_checked, statement.verified)),
        Heading("Validated: compared with what others published"),
    ]
    for found in statement.validated:
        blocks += [Heading(found.kind.capitalize(), 3), Paragraph(_compared(found))]
        blocks += [_bullets(map(_missed, found.misses))] if found.misses else []
    if statement.not_compared:
        listed = _bullets(f"{key}: {why}" for key, why in statement.not_compared)
        blocks += [Heading("Not compared", 3), listed]
    blocks += [
        Heading("Assumed"),
        Paragraph("Limits that decide and are known from memory only:"),
        _bullets(map(_assumed, statement.from_memory)),
        Paragraph("Starting values that nobody published:"),
        _bullets(map(_assumed, statement.assumed)),
        Heading("What must not be concluded"),
        _bullets(statement.not_to_conclude),
    ]
    return Document("What this model may be used for", tuple(blocks))


def _bullets(lines: Iterable[str]) -> Bullets:
    return Bullets(tuple(lines))


def _checked(check: Check) -> str:
    said = f" ({', '.join(check.sources)})" if check.sources else ""
    return f"{check.what}: {check.how}{said}; {check.test}"


def _compared(found: Validated) -> str:
    said = score_words(found.score)
    if found.worst is not None and found.worst.error is not None:
        said += f" The largest error is {100 * found.worst.error:+.0f} %: {found.worst.id}, {found.worst.task}."
    return said


def _missed(case: ValidationCase) -> str:
    error = "" if case.error is None else f" ({100 * case.error:+.0f} %)"
    return f"{case.id}{error}, {case.task}: {case.cause}: {case.reason}"


def _assumed(entry: Assumed) -> str:
    return f"{entry.what}: {entry.value} ({in_plain_words(entry.known)}). {entry.note}"
