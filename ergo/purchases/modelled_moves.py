"""People and minutes of a move where a purchase does not state them: out of the model, for drawn patients."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from ergo.evidence import assumption
from ergo.inputs.purchase import Ranged
from ergo.inputs.unit import MINUTES_KEY
from ergo.unit.population import draw_population
from ergo.unit.team_lookup import AssessedNeed, build_team_table

__all__ = ["BASIS", "modelled_move"]

_PATIENTS, _SEED, _WOMEN = 60, 1, 0.5
BASIS = (
    f"computed, not counted: smallest teams of {_PATIENTS} drawn patients at typical values, "
    "from the lighter half of them to the heavier"
)


@lru_cache(maxsize=256)
def modelled_move(procedure: str, aid: str) -> tuple[Ranged, Ranged]:
    """Return people and minutes of one move with one aid; without an aid, those of a mechanical lift.

    People: the mean over drawn patients of their smallest teams at typical values, roles included, or of a lift where
    no team is enough; low and high are the means of the lighter and of the heavier half. Minutes: the assumptions.
    """
    lift = assumption("lift_minutes")
    if not aid:
        hands = assumption("lift_people")
        return _ranged(hands.low, hands.typical, hands.high), _ranged(lift.low, lift.typical, lift.high)
    drawn = draw_population(_PATIENTS, _WOMEN, _SEED)
    who = [("F" if w else "M", float(h)) for w, h in zip(drawn.women, drawn.stature_m, strict=True)]
    masses = (float(drawn.mass_kg.min()), float(drawn.mass_kg.max()))
    table = build_team_table(AssessedNeed(), [(procedure, aid)], who, masses, masses_kg=drawn.mass_kg.tolist())
    found = table.lookup(procedure, aid, drawn.mass_kg, drawn.women, drawn.stature_m)
    people = found.handlers + found.airway_lead
    lighter = drawn.mass_kg <= np.median(drawn.mass_kg)
    lifted = float(found.use_lift.mean())
    usual = assumption(MINUTES_KEY[procedure])
    low, typical, high = (
        (1.0 - lifted) * getattr(usual, end) + lifted * getattr(lift, end) for end in ("low", "typical", "high")
    )
    return _ranged(
        float(people[lighter].mean()), float(people.mean()), float(people[~lighter].mean())
    ), _ranged(low, typical, high)  # fmt: skip


def _ranged(low: float, typical: float, high: float) -> Ranged:
    return Ranged(typical=typical, low=min(low, typical), high=max(high, typical))
