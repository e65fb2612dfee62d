"""What only the two pages of a report have: each reason, one fewer and one more, hardest moves, limits in short."""

from __future__ import annotations

from ergo.assessment import Assessment, LimitCheck, MoveResult
from ergo.assessment.sentences import known_words
from ergo.inputs.scenario import Side
from ergo.report.blocks import Table
from ergo.report.marks_and_amounts import limit_amount
from ergo.report.tables.case import idle_words, verdict_words
from ergo.teams.sentences import REASON_NAMES, number_of
from ergo.teams.smallest_team import FirstAnswer
from ergo.teams.this_team import BesideTeam, next_words
from ergo.units import DEFAULT_UNITS, Units, people_words

__all__ = [
    "MOST_LIMITS",
    "MOST_MOVES",
    "approval_rows",
    "exceeded_rows",
    "hardest_moves",
    "limits_in_short",
    "next_to_it",
    "people_rows",
    "side_in_short",
    "sides_with",
]

MOST_MOVES, MOST_LIMITS = 6, 4


def people_rows(answer: FirstAnswer) -> Table:
    """Return all three reasons for a number of people, also those that ask for nobody."""
    found = answer.reasons
    rows: list[tuple[str, str]] = []
    for name, words in REASON_NAMES.items():
        number = number_of(found, name)
        if name == "if one breaks off" and found.none_holds:
            said = "no team at this bed"
        elif number is None:
            said = "no team is enough" if name == "force" else "not asked here"
        else:
            said = f"{number}, counts" if name == found.counts and not found.no_room else str(number)
        rows.append((words, said))
    return Table("People, roles included", ("reason", "people"), tuple(rows))


def next_to_it(answer: FirstAnswer, beside: BesideTeam) -> tuple[str, ...]:
    """Say what one fewer and one more would mean."""
    both = (("One fewer", beside.one_fewer), ("One more", beside.one_more))
    return tuple(f"{words}, {people_words(other.people)}: {next_words(other)}" for words, other in both if other)


def hardest_moves(result: Assessment, units: Units = DEFAULT_UNITS) -> tuple[Table, int]:
    """Return the moves with the highest ratios, hardest first, and how many more there are."""
    ratio = [move.deciding.ratio or 0.0 if move.deciding else 0.0 for move in result.moves]
    over = [move.verdict == "over" for move in result.moves]
    order = sorted(range(len(ratio)), key=lambda i: (not over[i], -ratio[i], i))
    worst = tuple(_move(i, result.moves[i], units) for i in order[:MOST_MOVES])
    title = "The move" if len(ratio) == 1 else "The moves, the hardest first"
    table = Table(
        title,
        ("move", *sides_with(result), "at the head", "nearest limit", "verdict, ratio"),
        worst,
    )
    seen = any(row[3] not in ("–", "no force") for row in worst)
    return table if seen else table.without("at the head"), len(ratio) - len(worst)


def _move(i: int, move: MoveResult, units: Units) -> tuple[str, ...]:
    top = move.deciding
    ratio = f", {top.ratio:.2f}" if top and top.ratio is not None else ""
    sides = (side_in_short(move, side, units) for side in ("left", "right", None))
    return (f"{i + 1}. {move.move.name}", *sides, top.label if top else "–", verdict_words(move.verdict, ratio))


def sides_with(result: Assessment) -> tuple[str, str]:
    """Heads of the two columns of sides."""
    return f"left, {result.left}: at most", f"right, {result.right}: at most"


def side_in_short(move: MoveResult, side: Side | None, units: Units) -> str:
    """What the people of one side do in a move, how many where not all do, and the largest force at the start."""
    everyone = {load.person for result in move.efforts for load in result.loads} | set(move.idle)
    everybody = sum(person.side == side for person in everyone)
    said = []
    for result in move.efforts:
        forces = [load.start_n for load in result.loads if load.person.side == side]
        if forces:
            most = units.show_force(max(forces))
            of = "" if len(forces) == everybody else f" ({len(forces)} of {everybody})"
            said.append(f"{result.loads[0].does}{of}: {most}")
    return "; ".join([*said, *idle_words(move, side, alone=not said)]) or "–"


def _worst_of_each(result: Assessment, decides: bool) -> list[tuple[LimitCheck, str]]:
    """The highest ratio to each limit that decides, or to each that does not, and in which move."""
    worst: dict[str, tuple[LimitCheck, str]] = {}
    for move in result.moves:
        for check in move.limits:
            if check.decides != decides or check.ratio is None:
                continue
            if check.key not in worst or check.ratio > (worst[check.key][0].ratio or 0.0):
                worst[check.key] = check, move.move.name
    return sorted(worst.values(), key=lambda found: -(found[0].ratio or 0.0))


def _of(check: LimitCheck, units: Units) -> str:
    amount, limit = (limit_amount(value, check.unit, units) for value in (check.amount, check.limit))
    number, _, unit = amount.rpartition(" ")
    return f"{number if number and limit.endswith(f' {unit}') else amount} of {limit}"


def exceeded_rows(result: Assessment, units: Units = DEFAULT_UNITS) -> Table:
    """Return the limits that do not decide and are exceeded all the same."""
    rows = tuple(
        (check.label, f"{_of(check, units)} ({check.ratio:.2f})", check.person.words, move)
        for check, move in _worst_of_each(result, False)
        if check.verdict == "over"
    )
    return Table("Exceeded, though it does not decide", ("limit", "asked (ratio)", "who", "in move"), rows)


def limits_in_short(result: Assessment, units: Units = DEFAULT_UNITS) -> tuple[Table, int]:
    """Return the deciding limits nearest to being reached: whom they protect, how they are known; and how many more."""
    found = _worst_of_each(result, True)
    rows = tuple(
        (
            check.label,
            f"{_of(check, units)} ({check.ratio:.2f})",
            check.protects + (f" ({check.note_in(units)})" if check.note_in(units) else ""),
            f"{check.edition}; {known_words(check.known)}",
        )
        for check, _ in found[:MOST_LIMITS]
    )
    head = ("limit that decides", "highest (ratio)", "protects", "known")
    return Table("The limits that decide", head, rows), max(len(found) - MOST_LIMITS, 0)


def approval_rows() -> Table:
    """Return room for those who approve a sheet."""
    return Table("Approved", ("name", "role", "date", "review on"), (("",) * 4,) * 2, "to fill")
