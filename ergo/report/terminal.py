"""Answers as plain text for a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ergo.assessment import CAUTIONS, Assessment, LimitCheck, MoveResult, PersonLoad
from ergo.report.number_words import MARKS, in_units, limit_amount
from ergo.report.tables.case import FITS, Table, verdict_words
from ergo.teams.smallest_team import TeamAnswer
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["assessment_text", "caution_lines", "head_lines", "team_text", "text_table", "titled_table"]


def text_table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """Return a table as lines with columns of equal width."""
    widths = [max(len(r[i]) for r in [head, *rows]) for i in range(len(head))]
    return ["  ".join(cell.ljust(width) for cell, width in zip(r, widths, strict=True)).rstrip() for r in [head, *rows]]


def titled_table(rows: Table, *, drop: Sequence[str] = ()) -> list[str]:
    """Return a table under its title as lines, with an empty line before it.

    Examples
    --------
    >>> titled_table(Table("Teams", ("people", "source"), (("4", "x"),)), drop=("source",))
    ['', 'Teams:', 'people', '4']
    """
    kept = [i for i, name in enumerate(rows.head) if name not in drop]
    body = [[row[i] for i in kept] for row in rows.rows]
    return ["", f"{rows.title}:", *text_table([rows.head[i] for i in kept], body)]


def head_lines(name: str, question: str) -> list[str]:
    """Return what is answered as lines, the question where there is one, with an empty line after them.

    Examples
    --------
    >>> head_lines("Boost", ""), head_lines("Boost", "Who?")
    (['Boost', ''], ['Boost', 'Who?', ''])
    """
    return [name, *filter(None, [question]), ""]


def caution_lines(cautions: Iterable[str] = CAUTIONS) -> list[str]:
    """Return the cautions as lines, with an empty line before them."""
    return ["", "Before you rely on this:", *(f"- {c}" for c in cautions)]


def _indent(lines: Sequence[str], by: int) -> list[str]:
    return [" " * by + line for line in lines]


def assessment_text(result: Assessment, units: Units = DEFAULT_UNITS) -> str:
    """Return an assessment as text."""
    scenario = result.scenario
    lines = [
        *head_lines(scenario.name, scenario.question),
        f"{MARKS[result.verdict]} {result.verdict.upper()}: {in_units(result.why, result.deciding, units)}",
        "",
    ]
    roles = "".join(f", {r.people} {r.name} ({r.reason})" for r in result.roles)
    lines.append(f"Team: {result.people} people: {result.left} left, {result.right} right{roles}.")
    lines.append(f"Patient: {units.show_mass(scenario.patient.mass_kg)}, {scenario.aid}. {result.direction.reason}")
    lines.append(f"Policy: {result.policy.name}. {result.policy.reason}")
    lines += _landing(result, units)
    for move in result.moves:
        lines += ["", *_move(move, units)]
    return "\n".join([*lines, *caution_lines()])


def _landing(result: Assessment, units: Units) -> list[str]:
    room = result.landing
    if room is None:
        return []
    spare = float(room.room_m)
    what = "to spare" if spare >= 0 else "missing: a counter-slide makes up for it"
    return [
        f"Room to land: the roll takes {units.show_length(float(room.roll_m))}, the bed needs "
        f"{units.show_length(float(room.needed_m))}, {units.show_length(abs(spare))} {what}."
    ]


def _move(move: MoveResult, units: Units) -> list[str]:
    force = units.show_force
    head = f"{MARKS[move.verdict]} {move.move.name} [{move.verdict}]"
    lines = [head, f"    {in_units(move.why, move.deciding, units)}"]
    team = [f"whole team {force(move.team_force_n)}", f"most loaded person {force(move.worst_person_force_n)}"]
    if move.counter_hold_n:
        team.append(f"counter-hold {force(move.counter_hold_n)}")
    if move.brake_force_n:
        team.append(f"brake {force(move.brake_force_n)}")
    lines.append("    " + ", ".join(team))
    people = [_person(load, units) for load in move.loads]
    if people:
        head_row = [
            "what",
            "who",
            "share",
            "start",
            "steady",
            "L5/S1 compression",
            "shear",
            "shoulder",
            "floor",
            "able",
        ]
        lines += _indent(text_table(head_row, people), 4)
    limits = [_limit(c, units) for c in move.limits]
    if limits:
        lines += [
            "",
            *_indent(text_table(["limit", "amount", "limit", "ratio", "verdict", "source (known)"], limits), 4),
        ]
    return lines


def _person(load: PersonLoad, units: Units) -> list[str]:
    body, force = load.body, units.show_force
    does = [load.role, load.person.words, f"{load.fraction:.0%}", force(load.start_n), force(load.steady_n)]
    if not body.can_be_held:
        return [*does, body.reason, *[""] * 4]
    return [
        *does,
        force(body.compression_n),
        force(abs(body.shear_n)),
        f"{abs(body.shoulder_moment_nm):.0f} N m",
        f"{body.floor_friction:.2f}",
        f"{body.share_strong_enough:.0%}",
    ]


def _limit(check: LimitCheck, units: Units) -> list[str]:
    ratio = "–" if check.ratio is None else f"{check.ratio:.2f}"
    verdict = verdict_words(check.verdict) + ("" if check.decides else ", shown only")
    known = f"{check.source} ({check.known})" + (f": {check.note}" if check.limit is None else "")
    amount = limit_amount(check.amount, check.unit, units)
    return [check.label, amount, limit_amount(check.limit, check.unit, units), ratio, verdict, known]


def team_text(answer: TeamAnswer, units: Units = DEFAULT_UNITS) -> str:
    """Return a team answer as text."""
    scenario = answer.scenario
    lines = head_lines(scenario.name, scenario.question)
    lines += [in_units(answer.why, answer.assessment.deciding, units), ""]
    curve = [
        [
            f"{p.a_side} a side",
            str(p.people),
            units.show_force(p.worst_person_force_n),
            f"{p.worst_ratio:.2f}",
            "–" if p.probability is None else f"{p.probability:.0%}",
            verdict_words(p.verdict) + ("" if p.possible else ", no room"),
            f"{p.deciding} in “{p.deciding_move}”",
        ]
        for p in answer.curve
    ]
    lines += text_table(["people", "with roles", "most loaded", "ratio", "nobody over", "verdict", "decided by"], curve)
    if answer.gains:
        lines += ["", "What helps:", *(f"- {g}" for g in answer.gains)]
    aids = [
        [
            o.aid,
            str(o.needs),
            f"{o.worst_ratio:.2f}",
            f"{o.probability:.0%}",
            "unmeasured" if o.unmeasured else "",
        ]
        for o in answer.aids
    ]
    lines += ["", *text_table(["aid", "people", "ratio", "nobody over", "friction"], aids)]
    if answer.published:
        rows = [
            [
                p.people,
                ", ".join(filter(None, [p.task, p.condition, p.aid])),
                FITS[p.fits_mass],
                f"{p.source} ({p.known})",
            ]
            for p in answer.published
        ]
        lines += ["", *text_table(["published", "for", "mass", "source (known)"], rows)]
    return "\n".join([*lines, *caution_lines()])
