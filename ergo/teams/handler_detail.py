"""One person of an assessment as a whole body: the posture, what it costs, and every limit on it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ergo.assessment import Demand, LimitCheck, MoveResult, PersonLoad
from ergo.assessment.capacity import Hands, capacities
from ergo.assessment.check import checks
from ergo.assessment.load import facing_of, hands_within_search, loads_of, shifts_weight
from ergo.handlers.posture import Posture, hold_posture
from ergo.inputs.scenario import Sex
from ergo.limits.policy import Verdict, severity, verdict_of
from ergo.mechanics.demand import Effort

__all__ = ["HandlerDetail", "actions_of", "handler_detail", "people_of"]

_BODY = ("L5/S1 compression", "L5/S1 shear", "shoulder moment", "elbow moment", "floor friction", "hold time")


@dataclass(frozen=True, slots=True)
class HandlerDetail:
    """One person in one action.

    `load` carries the figures that the assessment judges, `posture` the same body drawn and worked out term by term;
    `limits` are those on the body, `deciding` the highest of them that decides under the policy.
    """

    effort: Effort
    load: PersonLoad
    posture: Posture
    limits: tuple[LimitCheck, ...]
    deciding: LimitCheck | None
    verdict: Verdict


def people_of(move: MoveResult) -> tuple[tuple[Effort, PersonLoad], ...]:
    """Return everybody who exerts a force in a move, the most loaded back first."""
    pairs = [(result.effort, load) for result in move.efforts for load in result.loads]
    return tuple(sorted(pairs, key=lambda pair: -pair[1].body.compression_n))


def actions_of(move: MoveResult) -> tuple[tuple[tuple[Effort, PersonLoad], ...], ...]:
    """Return the actions of each person who exerts a force in a move; the most loaded back first, person and action.

    >>> from ergo.assessment import assess
    >>> from ergo.inputs import examples
    >>> first, *others = actions_of(assess(examples.boost()).moves[0])
    >>> [load.role for _, load in first], len(others)
    (['pulls the sheet'], 3)
    """
    found: dict[tuple[object, ...], list[tuple[Effort, PersonLoad]]] = {}
    for effort, load in people_of(move):
        found.setdefault((load.person.role, load.person.side, load.person.index), []).append((effort, load))
    return tuple(map(tuple, found.values()))


def handler_detail(
    demand: Demand,
    effort: Effort,
    load: PersonLoad,
    *,
    stature_m: float | None = None,
    mass_kg: float | None = None,
    sex: Sex | None = None,
    reach_m: float | None = None,
) -> HandlerDetail:
    """Return one person's body in an action, or that of another person in the same place under the same force."""
    scenario = demand.scenario
    handling = scenario.handling
    own = load.person
    person = replace(
        own,
        sex=own.sex if sex is None else sex,
        stature_m=own.stature_m if stature_m is None else stature_m,
        mass_kg=own.mass_kg if mass_kg is None else mass_kg,
    )
    if reach_m is not None:
        effort = replace(effort, reach_m=np.asarray(reach_m))
    (found,) = loads_of(scenario, [(effort, person, load.fraction)])
    same = person == own and reach_m is None
    found = replace(found, capacity_n=load.capacity_n if same else _capacity_n(demand, effort, found))
    posture = hold_posture(
        stature_m=person.stature_m,
        mass_kg=person.mass_kg,
        sex=person.sex,
        hand_height_m=found.hand_height_m,
        bed_height_m=scenario.bed.height_m,
        **hands_within_search(found),
        technique=handling.technique,
        hands=effort.hands,
        shoe_friction=handling.shoe_friction,
        brace=None if handling.brace == "none" else handling.brace,
        back_arm_m=handling.back_arm_m,
        facing_rad=facing_of(scenario, effort.along_bed, handling.technique),
        held=bool(effort.hold_n > 0),
        weight_shift=shifts_weight(scenario, bool(effort.hold_n > 0)),
    )
    limits = tuple(c for c in checks(demand, effort, found) if c.quantity in _BODY or c.key == "ccohs_arms_extended")
    top = max((c for c in limits if c.decides and c.ratio is not None), key=lambda c: severity(c.ratio), default=None)
    verdict: Verdict = verdict_of(top.ratio or 0.0) if top else "not applicable"
    return HandlerDetail(effort, found, posture, limits, top, verdict if found.body.can_be_held else "over")


def _capacity_n(demand: Demand, effort: Effort, load: PersonLoad) -> float:
    """What somebody can manage in the place and the direction of an effort [N]."""
    held, up = bool(np.max(effort.held_kg) > 0.0), float(effort.elevation)
    hands = Hands(
        load.person, float(np.cos(up)), float(np.sin(up)), load.reach_m, float(effort.hand_height_m),
        effort.seconds if float(effort.hold_n) > 0.0 else 0.0, effort.hands, held,
    )  # fmt: skip
    (found,) = capacities([(demand.scenario, hands)])
    return found.force_n
