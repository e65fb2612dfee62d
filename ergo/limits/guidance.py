"""How many people guidance asks for in a move, apart from force: for control of head, limbs and lines.

The numbers stand in the table `people_by_guidance`. Nothing here enters a force, and no force enters here.
"""

from __future__ import annotations

from dataclasses import dataclass

from ergo.evidence import Row, assumption, table
from ergo.inputs.scenario import Patient, Scenario, has_airway_lead, has_tube_holder, line_minders
from ergo.limits.values import Standing
from ergo.units import LB, people_words

__all__ = ["Guidance", "guidance_of"]

_REPOSITIONING = {"counter-slide": "slide to the side", "centring": "slide to the side"}


@dataclass(frozen=True, slots=True)
class Guidance:
    """How many people guidance asks for, with the reason and what was not counted.

    Attributes
    ----------
    people : int or None
        Everybody in the room, with airway lead, lines and caller; None where guidance asks for nobody in particular.
    each_side : int or None
        Least number of people on each side of the bed, where guidance names one.
    words : str
        One sentence, and what the publication adds.
    standing : tuple of Standing
        Who published the number, and how it is known; empty where nobody did.
    left_out : tuple of str
        What was not counted, and why.
    """

    people: int | None
    each_side: int | None
    words: str
    standing: tuple[Standing, ...] = ()
    left_out: tuple[str, ...] = ()


def guidance_of(scenario: Scenario) -> Guidance:
    """Return how many people guidance asks for in a scenario's procedure, whatever the force.

    people = what the publication asks for + lines and drains + caller (+ the airway lead where it does not count them
    in); where several rows fit, the one that asks for most; at least the unit's own `policy.least_people`.

    Source: each row of `people_by_guidance` names its own.

    >>> from ergo.inputs import examples
    >>> prone = guidance_of(examples.prone_turn(team={"lines_and_drains": 1}))
    >>> prone.people, prone.each_side, prone.standing[0].source
    (6, 2, 'ics_ficm_2019')
    >>> prone.words.partition(".")[0]
    'Guidance asks for 6 people: an airway lead and two people on each side, and 1 for lines and drains'
    """
    done = _procedures(scenario)
    row = max((r for r in table("people_by_guidance") if _fits(r, scenario, done)), key=_order, default=None)
    extra = _besides(row, scenario)
    asked = None if row is None else _number(row) + sum(number for number, _ in extra)
    left_out, least = _left_out(row, scenario), scenario.policy.least_people
    if asked is not None and not scenario.policy.count_guidance:
        left_out = (f"the policy does not count guidance, which asks for {people_words(asked)}", *left_out)
        row = asked = None
    each = int(row["each_side"]) if row is not None and row["each_side"] else None
    if least > (asked or 0):
        less = "" if asked is None else f"; guidance asks for {asked}"
        return Guidance(least, each, f"The unit's own rule asks for {people_words(least)}{less}.", (_OWN,), left_out)
    if row is None or asked is None:
        why = left_out[0] if left_out else "it names none for this move and patient"
        return Guidance(None, None, f"Guidance names no number here: {why}.", (), left_out)
    made_of = [row["crew"] or row["people"], *(words for _, words in extra)]
    said = f"Guidance asks for {people_words(asked)}" + (f": {', and '.join(made_of)}" if row["crew"] or extra else "")
    return Guidance(asked, each, f"{said}. {row['note']}.", (Standing(row["source"], row["known"]),), left_out)


_OWN = Standing("", "set by the site")


def _number(row: Row) -> int:
    return int(row["people"])


def _order(row: Row) -> tuple[int, float]:
    """The row with most people counts; of equals, the one that speaks of the heavier patient."""
    return _number(row), float(row["mass_from_lb"] or 0.0)


def _fits(row: Row, scenario: Scenario, procedures: set[str]) -> bool:
    patient = scenario.patient
    return (
        not procedures.isdisjoint(row["procedures"].split("|"))
        and _adult(patient)
        and (row["patient"] != "ventilated" or patient.intubated)
        and (row["patient"] not in ("cervical", "thoracolumbar") or row["patient"] == patient.spinal_precautions)
        and row["can_help"] in ("", "yes" if patient.can_help else "no")
        and row["choice"] in ("", scenario.policy.transfer_guidance)
        and patient.mass_kg >= float(row["mass_from_lb"] or 0.0) * LB
    )


def _adult(patient: Patient) -> bool:
    return patient.stature_m >= assumption("adult_stature").typical


def _procedures(scenario: Scenario) -> set[str]:
    """The procedures that guidance may speak of: the scenario's own, or what its own sequence is made of."""
    if scenario.procedure != "own sequence":
        return {scenario.procedure}
    return {_REPOSITIONING.get(move.kind, move.kind) for move in scenario.moves}


def _besides(row: Row | None, scenario: Scenario) -> list[tuple[int, str]]:
    """Return who comes on top of the number that was published, and in words."""
    team = scenario.team
    lead = row is not None and row["airway_lead"] == "besides" and has_airway_lead(scenario)
    lines = line_minders(scenario)
    found = [
        (int(lead), "the airway lead"),
        (int(has_tube_holder(scenario)), "one who holds the tube"),
        (lines, f"{lines} for lines and drains"),
        (int(team.separate_caller), "a caller"),
    ]
    return [entry for entry in found if entry[0]]


def _left_out(row: Row | None, scenario: Scenario) -> tuple[str, ...]:
    """Say which facts of the case guidance might speak of and does not."""
    patient, procedures = scenario.patient, _procedures(scenario)
    over = bool(procedures & {"prone turn", "return to supine"})
    said = []
    if not _adult(patient):
        said.append("the patient may be a child, and it was written for adults")
    elif over and not patient.intubated:
        said.append("for turning somebody over it speaks of ventilated patients")
    elif "lateral transfer" in procedures and patient.can_help:
        said.append("for a transfer it speaks of patients who cannot help")
    if patient.spinal_precautions != "none" and "side-lying turn" not in procedures:
        said.append("with spinal precautions it speaks of a log roll only: whoever leads this move decides")
    if row is not None and over and not line_minders(scenario):
        said.append("nobody is stated for lines and drains, who would come on top")
    return tuple(said)
