"""The answer of `ergo assess`: the verdict of every move, who does what, and every limit."""

from __future__ import annotations

from ergo.assessment import CAUTIONS, Assessment, LimitCheck, MoveResult, PersonLoad
from ergo.inputs.scenario import origin_of
from ergo.report.blocks import Block, Document, Group, Paragraph, Table, Title, Verdict, cautions, in_plain_words
from ergo.report.marks_and_amounts import limit_amount
from ergo.report.tables.case import bed_clearance_words, strength_words, verdict_words
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["assessment_answer"]


def assessment_answer(result: Assessment, units: Units = DEFAULT_UNITS) -> Document:
    """Return the answer for one team."""
    case, policy = result.scenario, result.policy
    roles = "".join(f", {r.people} {r.name} ({r.reason})" for r in result.roles)
    blocks: list[Block] = [
        Title(case.name, case.question, origin_of(case)),
        Verdict(result.verdict, f"{result.verdict.upper()}: {result.why_in(units)}"),
        Paragraph(f"{result.people} people: {result.left} left, {result.right} right{roles}.", "Team"),
        Paragraph(f"{units.show_mass(case.patient.mass_kg)}, {case.aid}. {result.direction.reason}", "Patient"),
        Paragraph(" ".join(filter(None, (f"{policy.name}.", policy.accepted, policy.reason))), "Policy"),
    ]
    if result.decided_by:
        blocks.insert(2, Paragraph(result.decided_by_in(units), "What decides"))
    if result.landing is not None:
        blocks.append(Paragraph(bed_clearance_words(result.landing, units), "Room for the roll"))
    blocks += [block for move in result.moves for block in _move(move, units)]
    return Document(case.name, (*blocks, *cautions(CAUTIONS)))


_PERSON = ("what", "who", "share", "start", "steady", "L5/S1 compression", "shear", "shoulder", "floor")
_LIMIT = ("limit", "asked", "limit value", "ratio", "verdict", "source (known)")


def _move(move: MoveResult, units: Units) -> tuple[Block, Block]:
    force = units.show_force
    team = [f"whole team {force(move.team_force_n)}", f"most loaded person {force(move.worst_person_force_n)}"]
    if move.counter_hold_n:
        team.append(f"counter-hold {force(move.counter_hold_n)}")
    if move.brake_force_n:
        team.append(f"brake {force(move.brake_force_n)}")
    inside: list[Block] = [Paragraph(move.why_in(units)), Paragraph(", ".join(team))]
    inside += [Paragraph(said) for said in filter(None, [strength_words(move)])]
    if move.loads:
        inside.append(Table("Each person", _PERSON, tuple(_person(load, units) for load in move.loads)))
    if move.limits:
        inside.append(Table("Limits", _LIMIT, tuple(_limit(check, units) for check in move.limits)))
    return (
        Verdict(move.verdict, f"{move.move.name} [{move.verdict}]", level=2),
        Group("indented", tuple(inside)),
    )


def _person(load: PersonLoad, units: Units) -> tuple[str, ...]:
    body, force = load.body, units.show_force
    does = (load.role, load.person.words, f"{100 * load.fraction:.0f} %", force(load.start_n), force(load.steady_n))
    if not body.can_be_held:
        return *does, body.reason, "", "", ""
    return (
        *does,
        force(body.compression_n),
        force(abs(body.shear_n)),
        f"{abs(body.shoulder_moment_nm):.0f} N m",
        f"{body.floor_friction:.2f}",
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
