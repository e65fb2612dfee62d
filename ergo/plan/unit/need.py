"""The team of one move out of its assessment: what the plan of a unit asks, again and again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ergo.assessment import Demand, demand_of, roles_of
from ergo.evidence import assumption
from ergo.plan.unit.team_table import Ask, TeamNeed
from ergo.plan.unit.typical_many import SmallTeam, smallest_of_many
from ergo.scenario import Patient, Scenario, Sex, parse_scenario

__all__ = ["AssessedNeed"]

_TURNS_PRONE = ("prone turn", "return to supine")


@dataclass(frozen=True, slots=True)
class AssessedNeed:
    """need(procedure, aid, mass_kg, sex, stature_m) by the assessment, at typical values of all inputs.

    Bed, places, sharing, policy and handling are those of a template. The team is the smallest of which every move is
    within the deciding limits; where none is, the answer is a lift with its own people and minutes. A patient who
    is turned prone counts as intubated, another one does not.

    Parameters
    ----------
    template : Scenario, optional
        Left out: every field of a scenario at its default.

    Examples
    --------
    >>> need = AssessedNeed()("boost", "slide sheet", 70.0, "F", 1.6)
    >>> need.use_lift, need.left + need.right >= 2, need.pull_n_s > 0
    (False, True, True)
    """

    template: Scenario | None = None

    def __call__(self, procedure: str, aid: str, mass_kg: float, sex: str, stature_m: float) -> TeamNeed:
        """Return the team of one move of one patient; InputError if the aid cannot serve the procedure."""
        return self.many([(procedure, aid, mass_kg, sex, stature_m)])[0]

    def many(self, asks: Sequence[Ask]) -> list[TeamNeed]:
        """Return the teams of many moves; several times faster together than apart.

        Examples
        --------
        >>> asks = [("boost", "slide sheet", 70.0, "F", 1.6), ("limb hold", "slide sheet", 90.0, "M", 1.8)]
        >>> AssessedNeed().many(asks) == [AssessedNeed()(*ask) for ask in asks]
        True
        """
        cases = [demand_of(self.scenario(*ask)) for ask in asks]
        return [_need(asked, found) for asked, found in zip(cases, smallest_of_many(cases), strict=True)]

    def scenario(self, procedure: str, aid: str, mass_kg: float, sex: str, stature_m: float) -> Scenario:
        """Return the case of one move of one patient."""
        patient = {"sex": sex, "mass_kg": mass_kg, "stature_m": stature_m, "intubated": procedure in _TURNS_PRONE}
        said = {"name": f"{procedure}, {aid}", "procedure": procedure, "aid": aid, "patient": patient}
        if self.template is None:
            return parse_scenario(said)
        woman_or_man: Sex = "F" if sex == "F" else "M"
        own = Patient(sex=woman_or_man, mass_kg=mass_kg, stature_m=stature_m, intubated=procedure in _TURNS_PRONE)
        return self.template.model_copy(update={**said, "patient": own, "moves": ()})


def _need(asked: Demand, found: SmallTeam | None) -> TeamNeed:
    roles = {role.name: role.people for role in roles_of(asked.scenario)}
    airway, lines, caller = (roles.get(name, 0) for name in ("airway lead", "lines and drains", "caller"))
    if found is None:
        people = int(assumption("lift_people").typical)
        minutes = assumption("lift_minutes").typical
        return TeamNeed(people - people // 2, people // 2, airway, lines, caller, True, minutes)
    loadings, pull = _load(asked, found)
    return TeamNeed(found.left, found.right, airway, lines, caller, False, None, loadings, pull, found.ratio)


def _load(asked: Demand, found: SmallTeam) -> tuple[float, float]:
    """Return efforts and impulse [N s] of the most loaded person: steady force times how long it lasts.

    A turn says no time of its own; its pull counts as long as one pull of a slide.
    """
    shortest = asked.scenario.handling.slide_time_s
    efforts: dict[str, int] = {}
    impulse: dict[str, float] = {}
    for effort, load in found.done:
        if load.start_n <= 0:
            continue
        efforts[load.who] = efforts.get(load.who, 0) + 1
        lasts = max(float(effort.seconds), shortest)
        impulse[load.who] = impulse.get(load.who, 0.0) + load.steady_n * lasts
    return float(max(efforts.values(), default=0)), max(impulse.values(), default=0.0)
