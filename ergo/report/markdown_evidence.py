"""The statement of credibility as Markdown."""

from __future__ import annotations

from collections.abc import Iterable

from ergo.validation.case import ValidationCase
from ergo.validation.credibility import Assumed, Check, Credibility, Validated

__all__ = ["credibility_markdown"]


def credibility_markdown(statement: Credibility) -> str:
    """Return the statement of credibility as Markdown."""
    parts = [
        "# What this model may be used for",
        "## Question",
        statement.question,
        "## Context of use",
        statement.context,
    ]
    parts += ["## Verified: the equations are solved as meant", _bullets(_checked(c) for c in statement.verified)]
    parts += ["## Validated: compared with what others published"]
    for found in statement.validated:
        parts += [f"### {found.kind.capitalize()}", _compared(found), _bullets(_missed(c) for c in found.misses)]
    if statement.not_compared:
        parts += ["### Not compared", _bullets(f"{key}: {why}" for key, why in statement.not_compared)]
    parts += ["## Assumed", "Limits that decide and are known from memory only:"]
    parts += [_bullets(_assumed(a) for a in statement.from_memory)]
    parts += ["Starting values that nobody published:", _bullets(_assumed(a) for a in statement.assumed)]
    parts += ["## What must not be concluded", _bullets(statement.not_to_conclude)]
    return "\n\n".join(part for part in parts if part) + "\n"


def _bullets(lines: Iterable[str]) -> str:
    return "\n".join(f"- {line}" for line in lines)


def _checked(check: Check) -> str:
    said = f" ({', '.join(check.sources)})" if check.sources else ""
    return f"{check.what}: {check.how}{said}; `{check.test}`"


def _compared(found: Validated) -> str:
    said = f"{found.agree} of {found.agree + found.miss} agree, {found.miss} miss."
    if found.worst is not None and found.worst.error is not None:
        said += f" The largest error is {found.worst.error:+.0%}: {found.worst.id}, {found.worst.task}."
    return said


def _missed(case: ValidationCase) -> str:
    error = "" if case.error is None else f" ({case.error:+.0%})"
    return f"{case.id}{error}, {case.task}: {case.word}"


def _assumed(entry: Assumed) -> str:
    return f"{entry.what}: {entry.value} ({entry.known}). {entry.note}"
