"""What a case uses besides people and aid, in words, and the cautions that its answer carries."""

from __future__ import annotations

from ergo.evidence import assumption
from ergo.inputs.scenario import MoveKind, Scenario
from ergo.mechanics.case import build_case, turns_over
from ergo.units import DEFAULT_UNITS, Units

__all__ = ["CAUTIONS", "assumed_besides", "cautions_of", "used_besides"]

CAUTIONS = (
    "A screening aid for planning: not a clinical order and not a guarantee of a safe load.",
    "Manual handling is the last resort. Over a limit the answer is a mechanical lift or a better aid.",
    "What a person can manage differs with injury, fatigue, pregnancy and height: reassess each time.",
    "The patient's condition, airway and lines come first. Local policy, the maker's instructions and licensed "
    "professionals decide.",
)

_TURNS: tuple[MoveKind, ...] = ("side-lying turn", "stop on the side", "prone turn", "return to supine")


def _tilts(scenario: Scenario) -> bool:
    return scenario.bed.tilt_deg != 0.0 and scenario.makes("boost")


def _lays_over(scenario: Scenario) -> bool:
    return scenario.handling.ankle_crossed_arm_tucked and scenario.makes(*_TURNS)


def _assists(scenario: Scenario) -> bool:
    """Nobody is rolled by the bed from face down."""
    turns = scenario.procedure == "prone turn" or scenario.makes("side-lying turn")
    return scenario.bed.turn_assist_deg > 0.0 and turns


def used_besides(scenario: Scenario, units: Units = DEFAULT_UNITS) -> tuple[str, ...]:
    """Return what a case uses besides people and aid, and what that changes; each is off unless the case says so.

    >>> from ergo.inputs import examples
    >>> used_besides(examples.boost()), len(used_besides(examples.boost(bed={"tilt_deg": -10.0})))
    ((), 1)
    """
    said = []
    if _tilts(scenario):
        tilt = scenario.bed.tilt_deg
        way, hill = ("down", "downhill") if tilt < 0.0 else ("up", "uphill")
        said.append(f"the bed's head {way} by {abs(tilt):g}°: a boost goes {hill}")
    if _lays_over(scenario):
        aside = units.show_length(float(build_case(scenario).limbs_over_m))
        said.append(
            f"ankle crossed and arm tucked: the centre of mass lies {aside} nearer to the receiving side until the "
            "patient lies on the side; not in small rolls"
        )
    if _assists(scenario):
        said.append(
            f"the bed's turn assist: it rolls the patient by {scenario.bed.turn_assist_deg:g}° before hands turn on; "
            "what it carries beyond that is not counted"
        )
    if scenario.handling.weight_shift:
        stance = assumption("long_stance").typical
        said.append(
            f"weight shift: who pulls or pushes may stand with the ankles {stance:g} of their stature apart; taken "
            "where it holds more or asks less, and the shoes hold no more for it"
        )
    return tuple(said)


def assumed_besides(scenario: Scenario) -> tuple[str, ...]:
    """Return which assumptions of the evidence stand behind what a case uses besides.

    >>> from ergo.inputs import examples
    >>> assumed_besides(examples.boost(handling={"weight_shift": True}))
    ('long_stance',)
    """
    over = ("ankles_apart",) if _lays_over(scenario) else ()
    tucked = ("arm_under_hip",) if over and turns_over(scenario) else ()
    return (*over, *tucked, *(("long_stance",) if scenario.handling.weight_shift else ()))


def cautions_of(scenario: Scenario) -> tuple[str, ...]:
    """Return the cautions for a case: those of what it uses besides, then those of every answer (common practice).

    >>> from ergo.inputs import examples
    >>> cautions_of(examples.boost()) == CAUTIONS
    True
    >>> cautions_of(examples.boost(bed={"tilt_deg": -10.0}))[0][:15]
    'Head down only '
    """
    said = []
    if _tilts(scenario) and scenario.bed.tilt_deg < 0.0:
        said.append(
            "Head down only for the boost itself, and not with raised pressure in the head, a risk of reflux or "
            "aspiration, or breath that fails lying flat: then level, with more people or a better aid."
        )
    if _lays_over(scenario):
        spine = scenario.patient.spinal_precautions != "none"
        said.append(
            ("Spinal precautions are stated: keep the legs in line, unless whoever set them allows. " if spine else "")
            + "No ankle is crossed and no arm tucked with an injury or an operation of hip, knee, shoulder or spine, "
            "or where a line lies there, until whoever treats it agrees."
        )
    if _assists(scenario):
        said.append(
            "Turn assist only as the bed's maker says (patient's mass, rails, lines), with somebody on the side that "
            "the patient rolls to, and not with an unstable spine or traction."
        )
    if scenario.handling.weight_shift:
        said.append("To shift weight takes a dry, free floor for a long step behind each person, and shoes that hold.")
    return (*said, *CAUTIONS)
