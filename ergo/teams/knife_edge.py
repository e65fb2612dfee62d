"""Whether a number of people lies on a knife's edge: half a kilogram, a centimetre or other draws would change it."""

from __future__ import annotations

from dataclasses import dataclass

from ergo.assessment import Demand, demand_of
from ergo.assessment.team_share import team_effort_of
from ergo.evidence import assumption
from ergo.inputs.scenario import Scenario, with_usual_people
from ergo.teams.team_search import Reasons, best_splits, reasons_of, reasons_of_many
from ergo.uncertainty.monte_carlo import SEED, Drawn
from ergo.units import DEFAULT_UNITS, INCH, Units, people_words

__all__ = ["KnifeEdge", "knife_edge", "knife_edge_headline", "knife_edge_of", "knife_edge_words"]

MASS_STEP_KG, HEIGHT_STEP_M = assumption("unnoticed_mass").typical, assumption("unnoticed_height").typical
"""What nobody notices: a scale's last figure, a hand on the bed's control."""
_NEAR = 0.03  # of the probability asked for: other draws and half a kilogram move it by less
_NEAR_EFFORT = 0.03  # of the limits, at typical values: half a kilogram moves an effort by 0.006 in the shipped cases
_OTHER_SEEDS = 2


@dataclass(frozen=True, slots=True)
class KnifeEdge:
    """The numbers of people that a case has with nearly the same inputs; `fewest` and `most` differ on a knife's edge.

    `changed_by` are the small changes that lead to another number; `lift` says that one of them leads to none.
    """

    people: int
    fewest: int
    most: int
    changed_by: tuple[str, ...] = ()
    lift: bool = False

    @property
    def sharp(self) -> bool:
        """Whether a small change leads to another number."""
        return bool(self.changed_by)


def knife_edge(scenario: Scenario, probability_asked: float | None) -> KnifeEdge | None:
    """Return the numbers of people of a case and of its nearest neighbours; None where it has no number.

    >>> from ergo.inputs import examples
    >>> knife_edge(examples.boost(60.0), 0.9).sharp
    False
    """
    demand = demand_of(with_usual_people(scenario))
    drawn = None if probability_asked is None else Drawn.usual(demand)
    return knife_edge_of(demand, reasons_of(demand, probability_asked, drawn), drawn, probability_asked)


def knife_edge_of(
    demand: Demand, reasons: Reasons, drawn: Drawn | None, probability_asked: float | None
) -> KnifeEdge | None:
    """Return the same where reasons and draws are known; neighbours are looked at only where they may matter."""
    people = reasons.people
    if people is None:
        return None
    found: dict[str, int | None] = {}
    if not _far(demand, reasons, drawn, probability_asked):
        if drawn is not None:
            for i in range(_OTHER_SEEDS):
                other = reasons_of(demand, probability_asked, drawn.another(SEED + 1 + i))
                found.setdefault("another set of draws", other.people)
                if other.people != people:
                    found["another set of draws"] = other.people
        near = _neighbours(demand.scenario)
        every = reasons_of_many([demand_of(case) for _, case in near], probability_asked)
        found |= {said: why.people for (said, _), (why, _) in zip(near, every, strict=True)}
    changed = {said: number for said, number in found.items() if number != people}
    numbers = [people, *(n for n in changed.values() if n is not None)]
    return KnifeEdge(people, min(numbers), max(numbers), tuple(changed), None in changed.values())


def _far(demand: Demand, reasons: Reasons, drawn: Drawn | None, probability_asked: float | None) -> bool:
    """Whether no team that could become the answer is near what is asked for, or another reason asks for more."""
    force, people = reasons.people_by_force, reasons.people
    if reasons.counts == "if one breaks off":
        return False
    if force is None or people is None:
        return True
    sizes = {force} if force == people else set()  # that would not be enough any more
    others = (reasons.people_by_guidance or 0, reasons.people_if_one_breaks_off or 0)
    if force == people and max(others) < people:
        sizes.add(force - 1)  # that would be enough after all
    roles = people - sum(reasons.team or ())
    for team in best_splits(demand):
        if sum(team) + roles not in sizes:
            continue
        effort = team_effort_of(demand, *team)[0]
        if abs(effort - 1.0) < _NEAR_EFFORT:
            return False
        if effort > 1.0 or drawn is None or probability_asked is None:
            continue
        if abs(drawn.probability(*team) - probability_asked) < _NEAR:
            return False
    return True


def _neighbours(scenario: Scenario) -> list[tuple[str, Scenario]]:
    mass, height = scenario.patient.mass_kg, scenario.bed.height_m
    found = []
    for sign, word in ((-1.0, "less"), (1.0, "more")):
        body = scenario.patient.model_copy(update={"mass_kg": mass + sign * MASS_STEP_KG})
        found.append((f"mass {word}", scenario.model_copy(update={"patient": body})))
    for sign, word in ((-1.0, "lower"), (1.0, "higher")):
        bed = scenario.bed.model_copy(update={"height_m": height + sign * HEIGHT_STEP_M})
        found.append((f"bed {word}", scenario.model_copy(update={"bed": bed})))
    return found


def knife_edge_words(found: KnifeEdge | None, units: Units = DEFAULT_UNITS) -> str:
    """Say between which numbers the answer lies, what changes it, and for how many to ask; "" where nothing does.

    >>> knife_edge_words(KnifeEdge(5, 5, 6, ("mass more", "bed lower")))
    '5 to 6 people: a patient heavier by 0.5 kg or a bed lower by 1 cm changes the number. Ask for 6.'
    >>> knife_edge_words(KnifeEdge(5, 5, 5))
    ''
    """
    if found is None or not found.sharp:
        return ""
    mass = units.show_mass(MASS_STEP_KG)
    height = f"{100 * HEIGHT_STEP_M:g} cm" if units.length == "cm" else f"{HEIGHT_STEP_M / INCH:.1f} in"
    words = {
        "mass less": f"a patient lighter by {mass}",
        "mass more": f"a patient heavier by {mass}",
        "bed lower": f"a bed lower by {height}",
        "bed higher": f"a bed higher by {height}",
    }
    said = [words.get(name, name) for name in found.changed_by]
    causes = " or ".join([", ".join(said[:-1]), said[-1]] if len(said) > 1 else said)
    what = "answer" if found.lift else "number"
    return f"{_numbers(found)}: {causes} changes the {what}. Ask for {_ask_for(found)}."


def knife_edge_headline(found: KnifeEdge | None) -> str:
    """Say only between which numbers the answer lies, and for how many to ask; "" where nothing changes it.

    >>> knife_edge_headline(KnifeEdge(5, 5, 6, ("mass more",)))
    '5 to 6 people: ask for 6'
    """
    return f"{_numbers(found)}: ask for {_ask_for(found)}" if found is not None and found.sharp else ""


def _numbers(found: KnifeEdge) -> str:
    number = people_words(found.people) if found.fewest == found.most else f"{found.fewest} to {found.most} people"
    return f"{number}, or a mechanical lift" if found.lift else number


def _ask_for(found: KnifeEdge) -> str:
    return "the lift" if found.lift else str(found.most)
