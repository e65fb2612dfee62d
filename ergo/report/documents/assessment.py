"""The answer of `ergo assess`: the verdict of every move, who does what, and every limit."""

from __future__ import annotations

from collections.abc import Sequence

from ergo.assessment import Assessment, LimitCheck, MoveResult, cautions_of, used_besides
from ergo.inputs.scenario import origin_of
from ergo.limits.guidance import guidance_of
from ergo.report.blocks import Block, Document, Group, Paragraph, Table, Title, Verdict, cautions, in_plain_words
from ergo.report.marks_and_amounts import limit_amount
from ergo.report.tables.case import bed_clearance_words, load_rows, strength_words, verdict_words
from ergo.units import DEFAULT_UNITS, Units, people_words

__all__ = ["assessment_answer"]


def assessment_answer(result: Assessment, units: Units = DEFAULT_UNITS, can_they: Sequence[str] = ()) -> Document:
    """Return the answer for one team; `can_they` says whether these can do it, with one fewer and one more."""
    case, policy = result.scenario, result.policy
    roles = "".join(f", {r.people} {r.name} ({r.reason})" for r in result.roles)
    blocks: list[Block] = [
        Title(case.name, case.question, origin_of(case)),
        Verdict(result.verdict, f"{result.verdict.upper()}: {result.why_in(units)}"),
        *(Paragraph(words) for words in can_they),
        Paragraph(f"{people_words(result.people)}: {result.left} left, {result.right} right{roles}.", "Team"),
        Paragraph(f"{units.show_mass(case.patient.mass_kg)}, {case.aid}. {result.direction.reason}", "Patient"),
        Paragraph(" ".join(filter(None, (f"{policy.name}.", policy.accepted, policy.reason))), "Policy"),
    ]
    guidance = guidance_of(case)
    if guidance.people is not None:
        short = guidance.people - result.people
        said = f" This team has {short} fewer." if short > 0 else ""
        blocks.insert(3, Paragraph(guidance.words + said, "By guidance"))
    if result.decided_by:
        blocks.insert(2, Paragraph(result.decided_by_in(units), "What decides"))
    if result.landing is not None:
        blocks.append(Paragraph(bed_clearance_words(result.landing, units), "Room for the roll"))
    blocks += [Paragraph(said, "Used besides") for said in used_besides(case, units)]
    blocks += [block for move in result.moves for block in _move(move, units)]
    return Document(case.name, (*blocks, *cautions(cautions_of(case))))


_LIMIT = ("limit", "asked", "limit value", "ratio", "verdict", "source (known)")


def _move(move: MoveResult, units: Units) -> tuple[Block, Block]:
    inside: list[Block] = [Paragraph(move.why_in(units))]
    inside += [Paragraph(said) for said in filter(None, [strength_words(move)])]
    if move.loads:
        inside.append(load_rows(move, units))
    if move.limits:
        inside.append(Table("Limits", _LIMIT, tuple(_limit(check, units) for check in move.limits)))
    return (
        Verdict(move.verdict, f"{move.move.name} [{move.verdict}]", level=2),
        Group("indented", tuple(inside)),
    )


def _limit(check: LimitCheck, units: Units) -> tuple[str, ...]:
    return (
        check.label,
        limit_amount(check.amount, check.unit, units),
        limit_amount(check.limit, check.unit, units),
        "–" if check.ratio is None else f"{check.ratio:.2f}",
        verdict_words(check.verdict, "" if check.decides else ", shown only"),
        f"{check.source} ({in_plain_words(check.known)})"
        + (f": {check.note_in(units)}" if check.limit is None else ""),
    )
