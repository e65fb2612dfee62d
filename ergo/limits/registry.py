"""Every limit in one place: what it covers, its value under given conditions, its source and how it is known.

To add a limit: put its figure into evidence, and add one entry to `LIMITS`. The assessment, the screens and the
tests read this registry; nothing else lists limits.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ergo.limits.values import (
    Condition,
    NotApplicable,
    Value,
    ValueOf,
    arms_extended,
    by_sex,
    elbow_strength,
    figure,
    fitted_second_opinion,
    held_mass,
    hold_endurance,
    isometric_pull,
    shear,
    shoulder_strength,
    site_limit,
    table_pull,
)
from ergo.units import G

__all__ = ["LIMITS", "Condition", "Limit", "NotApplicable", "Quantity", "Value"]

Quantity = Literal[
    "start force",
    "steady force",
    "hand force",
    "upward force",
    "held mass",
    "hold time",
    "L5/S1 compression",
    "L5/S1 shear",
    "shoulder moment",
    "elbow moment",
    "floor friction",
]


@dataclass(frozen=True, slots=True)
class Limit:
    """One published limit.

    `by_posture` marks a limit whose demand or value follows from the posture found; the ratio of every other limit is
    proportional to the force.
    """

    key: str
    label: str
    quantity: Quantity
    unit: str
    who: str
    range: str
    edition: str
    source: str
    known: str
    value: ValueOf
    by_posture: bool = False


LIMITS: tuple[Limit, ...] = (
    Limit(
        "pull_initial",
        "pull to start, accepted share of people",
        "start force",
        "N",
        "women or men, by the share who accept it",
        "handle 57-135 cm (women), 64-144 cm (men); every 6 s to 8 h; two hands, 2.1 m",
        "1991",
        "snook_ciriello_1991",
        "memory high",
        table_pull("initial"),
    ),
    Limit(
        "pull_sustained",
        "pull to keep moving, accepted share of people",
        "steady force",
        "N",
        "women or men, by the share who accept it",
        "handle 57-135 cm (women), 64-144 cm (men); every 6 s to 8 h; two hands, 2.1 m",
        "1991",
        "snook_ciriello_1991",
        "memory high",
        table_pull("sustained"),
    ),
    Limit(
        "pull_initial_fitted",
        "pull to start, fitted equation",
        "start force",
        "N",
        "women or men, by the share who accept it",
        "as the printed table",
        "2021",
        "potvin_2021",
        "memory medium",
        fitted_second_opinion("initial"),
    ),
    Limit(
        "pull_sustained_fitted",
        "pull to keep moving, fitted equation",
        "steady force",
        "N",
        "women or men, by the share who accept it",
        "as the printed table",
        "2021",
        "potvin_2021",
        "memory medium",
        fitted_second_opinion("sustained"),
    ),
    Limit(
        "ccohs_whole_body",
        "horizontal force, whole body",
        "hand force",
        "N",
        "all",
        "standing, the whole body involved",
        "read in a reprint",
        "ccohs_push_pull",
        "reprint",
        lambda c: Value(figure("ccohs_whole_body")),
    ),
    Limit(
        "ccohs_arms_extended",
        "horizontal force, arms extended",
        "hand force",
        "N",
        "all",
        "standing, arms fully extended, leaning over an obstacle",
        "read in a reprint",
        "ccohs_push_pull",
        "reprint",
        arms_extended,
        by_posture=True,
    ),
    Limit(
        "niosh_35lb",
        "weight lifted by one person",
        "upward force",
        "N",
        "all",
        "a lifting limit: only for the upward part of the force",
        "2007",
        "waters_2007",
        "read",
        lambda c: Value(figure("niosh_35lb") * G),
    ),
    Limit(
        "aorn_two_hands",
        "mass held with two hands",
        "held mass",
        "kg",
        "women",
        "up to 2 min",
        "2011",
        "aorn_2011",
        "reprint",
        held_mass("aorn_two_hands", 2),
    ),
    Limit(
        "aorn_one_hand",
        "mass held with one hand",
        "held mass",
        "kg",
        "women",
        "up to 2 min, one limb or the head",
        "2011",
        "aorn_2011",
        "reprint",
        held_mass("aorn_one_hand", 1),
    ),
    Limit(
        "site_limit",
        "the site's own limit",
        "hand force",
        "N",
        "as the site says",
        "as the site says",
        "scenario",
        "",
        "set by the site",
        site_limit,
    ),
    Limit(
        "hse_start",
        "screening: start or stop a load",
        "start force",
        "N",
        "women or men",
        "hands between knuckle and shoulder height; a screening figure",
        "L23",
        "hse_l23",
        "read",
        by_sex("hse_start"),
    ),
    Limit(
        "hse_keep",
        "screening: keep a load moving",
        "steady force",
        "N",
        "women or men",
        "hands between knuckle and shoulder height; a screening figure",
        "L23",
        "hse_l23",
        "read",
        by_sex("hse_keep"),
    ),
    Limit(
        "en1005_whole_body_pull",
        "isometric pull with multipliers",
        "hand force",
        "N",
        "professional use",
        "up to 2 actions a minute, up to 1 h",
        "2002+A1:2008",
        "en_1005_3",
        "memory high",
        isometric_pull,
    ),
    Limit(
        "spine_action",
        "L5/S1 compression, action level",
        "L5/S1 compression",
        "N",
        "all",
        "static model of one plane",
        "1981",
        "niosh_81_122",
        "reprint",
        lambda c: Value(figure("spine_action")),
        by_posture=True,
    ),
    Limit(
        "spine_maximum",
        "L5/S1 compression, maximum",
        "L5/S1 compression",
        "N",
        "all",
        "static model of one plane",
        "1981",
        "niosh_81_122",
        "reprint",
        lambda c: Value(figure("spine_maximum")),
        by_posture=True,
    ),
    Limit(
        "spine_shear",
        "lumbar shear by loadings a day",
        "L5/S1 shear",
        "N",
        "all",
        "up to 1000 loadings a day",
        "2012",
        "gallagher_marras_2012",
        "reprint",
        shear,
        by_posture=True,
    ),
    Limit(
        "floor_friction",
        "floor friction needed",
        "floor friction",
        "ratio",
        "all",
        "guideline figure for walking surfaces",
        "read in a reprint",
        "",
        "reprint",
        lambda c: Value(figure("floor_friction_min")),
        by_posture=True,
    ),
    Limit(
        "shoulder_strength",
        "shoulder moment against strength",
        "shoulder moment",
        "N m",
        "women or men, by the share who have the strength",
        "static strength, one arm",
        "1982",
        "stobbe_1982",
        "memory fair",
        shoulder_strength,
        by_posture=True,
    ),
    Limit(
        "elbow_strength",
        "elbow moment against strength",
        "elbow moment",
        "N m",
        "women or men, by the share who have the strength",
        "static strength, one arm",
        "1982",
        "stobbe_1982",
        "memory fair",
        elbow_strength,
        by_posture=True,
    ),
    Limit(
        "hold_endurance",
        "hold time against endurance",
        "hold time",
        "s",
        "median shoulder strength",
        "steady effort, 10 to 80 % of strength",
        "2010",
        "frey_law_avin_2010",
        "reprint",
        hold_endurance,
        by_posture=True,
    ),
)
