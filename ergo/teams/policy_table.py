"""A unit's policy by the patient's mass: people for each move and aid, and from where on a lift."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, product

import numpy as np

from ergo.assessment import demand_of
from ergo.evidence import assumption, body_percentile
from ergo.inputs.scenario import Scenario
from ergo.teams.team_search import Counts, smallest_teams_of

__all__ = ["MassBand", "policy_bands"]


@dataclass(frozen=True, slots=True)
class MassBand:
    """One move with one aid over a band of mass: so many people, or a lift where `people` is None.

    The band reaches from above `from_kg` to `to_kg`; the last has no upper end and `to_kg` is None.
    """

    procedure: str
    aid: str
    from_kg: float
    to_kg: float | None
    people: int | None
    counts: Counts | None


def policy_bands(templates: Sequence[Scenario]) -> tuple[MassBand, ...]:
    """Return the people for each template's move and aid over the patient's mass, at typical values.

    Each step of mass counts as its upper end, women and men of median stature alike: the larger number holds. From
    `policy.lift_from_kg` on it is a lift, whatever hands could do.

    >>> from ergo.inputs import examples
    >>> bands = policy_bands([examples.boost(aid="slide sheet")])
    >>> bands[0].from_kg, bands[0].people <= (bands[-1].people or 99)
    (0.0, True)
    """
    lightest, heaviest = assumption("policy_mass_from").typical, assumption("policy_mass_to").typical
    steps = [float(mass) for mass in np.arange(lightest, heaviest + 1.0, assumption("policy_mass_step").typical)]
    cases = [_of_mass(template, mass, sex) for template in templates for mass, sex in product(steps, ("F", "M"))]
    found = iter(smallest_teams_of([demand_of(case) for case in cases]))
    bands: list[MassBand] = []
    for template in templates:
        rows: list[tuple[float, int | None, Counts | None]] = []
        for mass in steps:
            both = [next(found), next(found)]
            lift = any(one is None for one in both) or template.policy.asks_for_lift(mass)
            more = max((one.reasons for one in both if one), key=lambda r: r.people or 0, default=None)
            people, counts = (None, None) if lift or more is None else (more.people, more.counts)
            # with more mass never fewer: a band that a broader body alone would break is closed
            if rows and people is not None and rows[-1][1] is not None and people < rows[-1][1]:
                people, counts = rows[-1][1:]
            rows.append((mass, None if rows and rows[-1][1] is None else people, counts))
        start = 0.0
        alike = [list(same) for _, same in groupby(rows, key=lambda row: row[1])]
        for i, same in enumerate(alike):
            last = i == len(alike) - 1
            bands.append(
                MassBand(template.procedure, template.aid, start, None if last else same[-1][0], *same[-1][1:])
            )
            start = same[-1][0]
    return tuple(bands)


def _of_mass(template: Scenario, mass_kg: float, sex: str) -> Scenario:
    tall = body_percentile("stature", sex)
    own = template.patient.model_copy(
        update={
            "sex": sex, "mass_kg": mass_kg, "stature_m": tall, "chest_breadth_m": None, "chest_depth_m": None,
            "waist_breadth_m": None, "waist_depth_m": None, "hip_breadth_m": None, "hip_depth_m": None,
        }
    )  # fmt: skip
    return template.model_copy(update={"patient": own})
