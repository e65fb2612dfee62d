"""Papers for the bedside: a card for one case on one side of A5, and a unit's policy by the patient's mass."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ergo.assessment import Assessment, demand_of
from ergo.assessment.team import Person
from ergo.inputs.scenario import Scenario, origin_of
from ergo.mechanics.case import aid_of
from ergo.report.blocks import Block, Bullets, Document, Figure, Group, Heading, Paragraph, Table, Title
from ergo.report.documents.printed_by import printed_by
from ergo.report.figures.bed_plan import bed_plan
from ergo.report.tables.case import idle_word
from ergo.report.tables.paper import side_in_short, sides_with
from ergo.teams.policy_table import MassBand
from ergo.teams.sentences import reasons_words
from ergo.teams.smallest_team import TeamAnswer
from ergo.units import DEFAULT_UNITS, Units, people_words

__all__ = ["bedside_card", "policy_document"]

_STOP_WORD = "stop"
_MOST_COLUMNS, _MOST_ROWS = 6, 10
_PLAN_PX = 400, 460


def bedside_card(answer: TeamAnswer, units: Units = DEFAULT_UNITS) -> Document:
    """Return a card for one case: who stands where and does what, who says what, ready when, when to stop.

    No person's stature or mass stands on it.
    """
    case, result = answer.scenario, answer.assessment
    name = f"Card: {case.name}"
    what, others = reasons_words(answer.reasons)
    if answer.people is None or answer.reasons.no_room:  # no card for a team that one of the reasons forbids
        lift = (
            Title(case.name, origin=origin_of(case)),
            Heading(what if answer.people is not None else "Fetch the lift", 1),
            Paragraph(answer.why_in(units)),
            Paragraph(printed_by(), quiet=True),
        )
        return Document(name, lift, paper="A5")
    move = max(result.moves, key=lambda m: m.effort if m.efforts else 0.0)
    plan = bed_plan(demand_of(case), move, (result.left, result.right), units)
    said = Group(
        "column",
        (
            Heading("The lead says", 2),
            Bullets(_said(case, result)),
            Heading("Ready when", 2),
            Bullets(_ready(case, answer, units)),
        ),
    )
    blocks: list[Block] = [
        Title(case.name, origin=origin_of(case)),
        Heading(_people(result), 1),
        Paragraph(f"{what}. {others}".strip()),
        Group("columns", (Group("column", (Figure(replace(plan, height=_PLAN_PX[1]), _PLAN_PX[0]),)), said)),
        _who_does_what(result, units),
        Heading("Stop, and fetch the lift", 2),
        Bullets(_stop(answer, units)),
        Paragraph(f"Local policy and the maker's instructions come first. {printed_by()}.", quiet=True),
    ]
    return Document(name, tuple(blocks), paper="A5")


def _people(result: Assessment) -> str:
    roles = "".join(f", {role.people} {role.name}" for role in result.roles)
    sides = f"{result.left} at the patient's left, {result.right} at the patient's right"
    return f"{people_words(result.people)}: {sides}{roles}"


def _short(person: Person) -> str:
    if person.letter:
        return person.letter
    return "lead" if person.side is None else f"{person.side} {person.index + 1}"


def _who_does_what(result: Assessment, units: Units) -> Table:
    """Rows are moves, columns people, or the two sides where there are many; the force is that of the start."""
    if result.people > _MOST_COLUMNS or len(result.moves) > _MOST_COLUMNS:
        return _which_side_does_what(result, units)
    everybody = [p for m in result.moves for p in (*(load.person for load in m.loads), *m.idle)]
    people = list(dict.fromkeys(everybody))
    people.sort(key=lambda p: (p.side is None, p.side or "", p.index))
    rows = []
    for move in result.moves:
        cells = [move.move.name]
        for person in people:
            does = next((load for load in move.hardest_of_each if load.person == person), None)
            cells.append(f"{does.role}, {units.show_force(does.start_n)}" if does else idle_word(person, move))
        rows.append(tuple(cells))
    return _of_a_card(("move", *map(_short, people)), rows)


def _which_side_does_what(result: Assessment, units: Units) -> Table:
    """The same for many people, who do not all fit on a card."""
    rows = [
        (move.move.name, side_in_short(move, "left", units), side_in_short(move, "right", units))
        for move in result.moves
    ]
    head = ("move", *sides_with(result))
    return _of_a_card(head, rows)


def _of_a_card(head: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> Table:
    """A table that fits: moves that are alike once, and no more than there is room for."""
    each = tuple(dict.fromkeys(rows))
    if len(each) > _MOST_ROWS:
        more = len(each) - _MOST_ROWS + 1
        each = (*each[: _MOST_ROWS - 1], (f"and {more} more moves: see the report", *[""] * (len(head) - 1)))
    return Table("Who does what", head, each)


def _said(case: Scenario, result: Assessment) -> tuple[str, ...]:
    lead = "The airway lead" if any(role.name == "airway lead" for role in result.roles) else "One person, named before"
    names = [move.move.name for move in result.moves]
    first = f"{lead} speaks, nobody else: names the move, asks everybody in turn “ready?”, and waits for each answer."
    return (
        first,
        f"Then “on three: one, two, three”, for each of the {len(names)} moves."
        if len(names) > 1
        else "Then “on three: one, two, three”.",
        f"Anybody may say “{_STOP_WORD}”; everybody holds still.",
    )


def _ready(case: Scenario, answer: TeamAnswer, units: Units) -> tuple[str, ...]:
    bed, result = case.bed, answer.assessment
    other = " and of the stretcher" if case.procedure == "lateral transfer" else ""
    stand = " and ".join(f"at the {side}" for side, n in (("left", result.left), ("right", result.right)) if n)
    said = [
        f"brakes on, of the bed{other}; rails down only {stand}",
        f"bed at {units.show_length(bed.height_m)}, as this was worked out, or at the waist of the shortest",
        f"{case.aid} in place; the patient in the middle, the arms crossed or tucked",
    ]
    if case.procedure == "lateral transfer":
        said.append("the stretcher as high as the bed or a little lower, and no gap between them")
    if case.handling.ankle_crossed_arm_tucked and any(move.move.is_turn for move in result.moves):
        said.append("far ankle over the near one, if whoever treats hip and spine agrees")
    if bed.turn_assist_deg > 0.0 and any(move.move.from_rad > 0.0 for move in result.moves):
        said.append(f"the bed's turn assist up to {bed.turn_assist_deg:g}° first, as its maker says")
    if bed.tilt_deg < 0.0 and any(move.move.kind == "boost" for move in result.moves):
        said.append(f"head down by {-bed.tilt_deg:g}° for the boost only, if the patient bears it; level at once")
    if bed.mattress == "firm":
        said.append("mattress in firm mode for the move; back to therapy mode afterwards")
    if case.patient.intubated:
        said.append("tube depth read aloud, tube and lines free on the side the patient turns to")
    said.append(f"the word to stop is agreed: “{_STOP_WORD}”")
    return tuple(said)


def _stop(answer: TeamAnswer, units: Units) -> tuple[str, ...]:
    case = answer.scenario
    rated = [kg for kg in (case.bed.rated_capacity_kg, aid_of(case).rated_capacity_kg) if kg]
    team, mass = people_words(answer.assessment.people), units.show_mass(case.patient.mass_kg)
    said = [
        f"with fewer than {team}, or a patient heavier than {mass}",
        "if the layer does not slide, somebody's grip or footing fails, or the patient's condition changes",
    ]
    if case.policy.lift_from_kg is not None:
        said.append(f"from {units.show_mass(case.policy.lift_from_kg)} on, by the unit's policy")
    if rated:
        said.append(f"above {units.show_mass(min(rated))}, the rated capacity")
    return tuple(said)


def policy_document(name: str, bands: Sequence[MassBand], units: Units = DEFAULT_UNITS) -> Document:
    """Return a unit's policy as a table: move and aid by the patient's mass, people, and from where on a lift."""
    rows = []
    for band in bands:
        upper = "and more" if band.to_kg is None else f"to {units.show_mass(band.to_kg)}"
        mass = upper if not band.from_kg else f"above {units.show_mass(band.from_kg)} {upper}".removesuffix(" and more")
        mass = "any" if mass == "and more" else mass
        people = "lift" if band.people is None else str(band.people)
        rows.append((band.procedure, band.aid, mass, people, band.counts or "over a limit, or by policy"))
    return Document(
        f"Policy: {name}",
        (
            Title(name),
            Heading("People by move, aid and the patient's mass", 1),
            Table("Policy", ("move", "aid", "patient's mass", "people", "what counts"), tuple(rows)),
            Paragraph(
                "Everybody in the room is counted. At typical values, for women and men of median stature: whoever is "
                "broader, shorter or taller is looked up as a case of their own. A screening aid for planning: local "
                "policy, the maker's instructions and licensed professionals decide."
            ),
            Paragraph(printed_by(), quiet=True),
        ),
    )
