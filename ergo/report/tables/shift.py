"""Tables of a stated team: who is on shift, where each stands, and what each does in each move."""

from __future__ import annotations

from ergo.inputs.scenario import Member
from ergo.report.blocks import Table
from ergo.report.tables.case import idle_word
from ergo.teams.this_team import Place, ThisTeam
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["does_rows", "member_words", "shift_rows"]

_ROLES = {
    "airway": "leads at the head",
    "lines": "minds lines and drains",
    "limbs": "holds a limb",
    "hands": "works with the hands",
    None: "stands by",
}


def member_words(member: Member, units: Units = DEFAULT_UNITS) -> str:
    """Return what is stated of somebody's body and restriction.

    >>> member_words(Member(size="small", most_lift_kg=5.0))
    'small, lifts at most 5.0 kg'
    """
    body = [
        member.size or "",
        {"F": "woman", "M": "man", None: ""}[member.sex],
        "" if member.stature_m is None else units.show_length(member.stature_m),
        "" if member.mass_kg is None else units.show_mass(member.mass_kg),
    ]
    said = ", ".join(filter(None, body)) or "medium"
    if member.restricted and member.most_lift_kg is not None:
        said += f", lifts at most {units.show_mass(member.most_lift_kg)}"
    if member.restricted and member.most_force_n is not None:
        said += f", pulls at most {units.show_force(member.most_force_n)}"
    return said


def shift_rows(found: ThisTeam, units: Units = DEFAULT_UNITS) -> Table:
    """Return one row a person of the shift: who they are, where they stand, what they are there for."""
    rows = tuple(
        (place.member, member_words(member, units), _where(found, place), _ROLES[place.role])
        for place, member in zip(found.places, found.scenario.team.members, strict=True)
    )
    return Table("Who is on shift", ("who", "stated", "stands", "is there for"), rows)


def _where(found: ThisTeam, place: Place) -> str:
    if place.side is None:
        return "at the head" if place.role == "airway" else "–"
    people = [load.person for move in found.assessment.moves for load in move.loads]
    people += [person for move in found.assessment.moves for person in move.idle]
    station = next((p.station for p in people if p.letter == place.member), None)
    return f"{place.side} side" + (f", at the {station}" if station else "")


def does_rows(found: ThisTeam, units: Units = DEFAULT_UNITS) -> Table:
    """Return what each person of the shift does in each move, with the force at the start."""
    letters = [place.member for place in found.places if place.side is not None or place.role == "airway"]
    rows = []
    for move in found.assessment.moves:
        said = []
        for letter in letters:
            own = [load for load in move.loads if load.person.letter == letter]
            idle = next((idle_word(p, move) for p in move.idle if p.letter == letter), "–")
            said.append("; ".join(f"{load.does} {units.show_force(load.start_n)}" for load in own) or idle)
        rows.append((move.move.name, *said))
    return Table("Who does what", ("move", *letters), tuple(rows))
