"""The answer of `ergo team`: the smallest team, every other size, what helps, and what others published."""

from __future__ import annotations

from collections.abc import Sequence

from ergo.assessment import cautions_of, used_besides
from ergo.inputs.scenario import origin_of
from ergo.report.blocks import (
    Block,
    Bullets,
    Document,
    Heading,
    Paragraph,
    Table,
    Title,
    cautions,
    in_plain_words,
    titled,
)
from ergo.report.tables.case import FITS, USUAL_TITLE, deciding_words, move_rows, reason_rows, verdict_words, way_rows
from ergo.teams.knife_edge import knife_edge_words
from ergo.teams.lift_option import lift_before_hands, lift_option, lift_words
from ergo.teams.published_headcounts import PublishedHeadcount
from ergo.teams.smallest_team import FirstAnswer, TeamAnswer
from ergo.units import DEFAULT_UNITS, Units, percent

__all__ = ["answer_words", "team_answer"]


def answer_words(answer: FirstAnswer, units: Units = DEFAULT_UNITS) -> tuple[str, str]:
    """Return the answer and its reason, apart."""
    said = answer.why_in(units)
    if answer.use_lift:
        return "Use a mechanical lift", said
    what, _, why = said.partition(". ")
    return what, why


def team_answer(answer: TeamAnswer, units: Units = DEFAULT_UNITS, shift: Sequence[str] = ()) -> Document:
    """Return the smallest team with the other sizes, aids and published headcounts.

    `shift` says whether the people of the shift can do it, and stands first.
    """
    case = answer.scenario
    blocks: list[Block] = [
        Title(case.name, case.question, origin_of(case)),
        *([Paragraph(" ".join(shift), "Those on shift")] if shift else []),
        Paragraph(answer.why_in(units)),
        *_lift_first(answer, units),
        *([Paragraph(edge, "On a knife's edge")] if (edge := knife_edge_words(answer.knife_edge, units)) else []),
        *titled(
            reason_rows(answer),
            move_rows(answer.assessment, units).without("most loaded person", "deciding limit"),
            way_rows(answer),
        ),
        *titled(_sizes(answer, units)),
    ]
    if answer.assessment.decided_by:
        blocks.insert(3 if shift else 2, Paragraph(answer.assessment.decided_by_in(units), "What decides"))
    blocks += [Paragraph(said, "Used besides") for said in used_besides(case, units)]
    if answer.gains:
        blocks += [Heading("What helps"), Bullets(answer.gains)]
    blocks += [*titled(_aids(answer)), Paragraph(answer.guidance.words, "By guidance")]
    return Document(case.name, (*blocks, *titled(*_headcounts(answer)), *cautions(cautions_of(case))))


def _lift_first(answer: TeamAnswer, units: Units) -> list[Block]:
    """A lift, named before so many people at the sides that a lift by hand is advised against."""
    case = answer.scenario
    if not (said := lift_before_hands(answer.team)):
        return []
    return [Paragraph(f"{said} {lift_words(case, lift_option(case), units)}")]


def _sizes(answer: TeamAnswer, units: Units) -> Table:
    rows = tuple(
        (
            f"{p.left} + {p.right}",
            str(p.people),
            units.show_force(p.worst_person_force_n),
            f"{p.worst_ratio:.2f}",
            "–" if p.probability is None else percent(p.probability),
            verdict_words(p.verdict),
            deciding_words(p, answer, units) + (f" in “{p.deciding_move}”" if p.deciding_move else ""),
        )
        for p in answer.curve
    )
    head = ("people", "with roles", "most loaded", "ratio", "nobody over", "verdict", "decided by")
    return Table("Team sizes, by force alone", head, rows)


def _aids(answer: TeamAnswer) -> Table:
    rows = tuple(
        (
            o.aid,
            str(o.needs),
            "–" if o.people_by_force is None else str(o.people_by_force),
            f"{o.worst_ratio:.2f}",
            percent(o.probability),
            "unmeasured" if o.unmeasured else "",
        )
        for o in answer.aids
    )
    return Table("Aids side by side", ("aid", "people", "by force alone", "ratio", "nobody over", "friction"), rows)


def _headcounts(answer: TeamAnswer) -> list[Table]:
    def rows(found: Sequence[PublishedHeadcount]) -> tuple[tuple[str, ...], ...]:
        return tuple(
            (
                p.people,
                ", ".join(filter(None, [p.task, p.condition, p.aid])),
                p.made_of,
                FITS[p.fits_mass],
                f"{p.source} ({in_plain_words(p.known)})",
            )
            for p in found
        )

    tables = [
        Table(
            "Published headcounts",
            ("published", "for", "why as many", "mass", "source (known)"),
            rows(answer.published),
        )
    ]
    if answer.usual:
        tables.append(Table(USUAL_TITLE, ("usual", "for", "why as many", "mass", "source (known)"), rows(answer.usual)))
    return tables
