"""Every limit in one place: what it covers, its value under given conditions, its source and how it is known.

To add a limit: put its figure into evidence, and add one entry to `LIMITS`. Policies, the assessment and the screens
read this registry; nothing else lists limits.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ergo.evidence import Row, table
from ergo.limits.values import (
    HELD,
    Condition,
    NotApplicable,
    Standing,
    Value,
    ValueOf,
    accepted,
    arms_extended,
    by_sex,
    elbow_strength,
    figure,
    for_hands,
    guideline,
    held_mass,
    hold_endurance,
    isometric_pull,
    lift,
    older_table,
    printed,
    shear,
    shoulder_strength,
    site_limit,
)
from ergo.units import G

__all__ = ["LIMITS", "Condition", "Group", "Limit", "NotApplicable", "Quantity", "Standing", "Value"]

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

Group = Literal["hands", "back", "lift", "body", "site"]


@dataclass(frozen=True, slots=True)
class Limit:
    """One published limit.

    `decides` names the group of limits with which it decides, where a policy calls on that group; None shows it only.
    `by_posture` marks a limit whose demand or value follows from the posture found; the ratio of every other limit is
    proportional to the force. `task` says what was done when it was measured.
    """

    key: str
    label: str
    quantity: Quantity
    unit: str
    who: str
    task: str
    range: str
    edition: str
    standing: Standing
    value: ValueOf
    by_posture: bool = False
    decides: Group | None = None

    @property
    def source(self) -> str:
        """Key of the publication; empty where there is none."""
        return self.standing.source

    @property
    def known(self) -> str:
        """How the figure is known."""
        return self.standing.known


def _of_figure(key: str) -> Standing:
    """Return the standing of a figure in the table of limits."""
    return _standing(next(r for r in table("limits") if r["key"] == key))


def _of_table(name: str) -> Standing:
    """Return the standing of a table of its own."""
    return _standing(table(name)[0])


def _standing(entry: Row) -> Standing:
    return Standing(entry["source"], entry["known"])


_EQUATIONS = (
    "hands at 58-133 cm (women), 63-144 cm (men), beyond it the table of 1991; every 6 s to 8 h; two hands; 2.1 m, the "
    "shortest distance printed"
)

LIMITS: tuple[Limit, ...] = (
    Limit(
        key="pull_initial",
        label="pull to start that most find acceptable (accepted share of people)",
        quantity="start force",
        unit="N",
        who="the share of women or of men who accept it",
        task="people set a handle's resistance themselves, as for a day of pulling it while walking",
        range=_EQUATIONS,
        edition="2021",
        standing=_of_table("push_pull_equations_potvin_2021"),
        value=accepted("initial"),
        decides="hands",
    ),
    Limit(
        key="pull_guideline",
        label="peak pull that protects the low back, by hand height",
        quantity="hand force",
        unit="N",
        who="four fifths of people",
        task="62 people pulled handles while the load of their low back was worked out",
        range="hands at 81-122 cm, beyond it the end values; one or two hands; peak force, any distance and frequency",
        edition="2018",
        standing=_of_table("push_pull_guideline_weston_2018"),
        value=guideline(80),
        decides="back",
    ),
    Limit(
        key="pull_sustained",
        label="pull to keep moving over 2.1 m that most find acceptable (accepted share of people)",
        quantity="steady force",
        unit="N",
        who="the share of women or of men who accept it",
        task="as the pull to start; no pull of a patient is that long, so it is shown and never decides",
        range=_EQUATIONS,
        edition="2021",
        standing=_of_table("push_pull_equations_potvin_2021"),
        value=accepted("sustained"),
    ),
    Limit(
        key="pull_initial_1991",
        label="pull to start that most find acceptable (accepted share of people), older table",
        quantity="start force",
        unit="N",
        who="the share of women or of men who accept it",
        task="people set a handle's resistance themselves, as for a day of pulling it while walking",
        range="handle 57-135 cm (women), 64-144 cm (men); every 6 s to 8 h; two hands, 2.1 m",
        edition="1991",
        standing=_of_table("pull_limits_snook_1991"),
        value=older_table("initial"),
    ),
    Limit(
        key="ccohs_whole_body",
        label="horizontal force, whole body",
        quantity="hand force",
        unit="N",
        who="all",
        task="standing, the whole body pulls; a guideline figure",
        range="standing, the whole body involved",
        edition="year not noted",
        standing=_of_figure("ccohs_whole_body"),
        value=printed("ccohs_whole_body"),
        decides="hands",
    ),
    Limit(
        key="ccohs_arms_extended",
        label="horizontal force, arms extended",
        quantity="hand force",
        unit="N",
        who="all",
        task="bent over something in between, arms stretched out; a guideline figure",
        range="standing, arms fully extended, leaning over an obstacle",
        edition="year not noted",
        standing=_of_figure("ccohs_arms_extended"),
        value=arms_extended,
        by_posture=True,
        decides="hands",
    ),
    Limit(
        key="lift",
        label="lift or lowering, at the hands' distance and height",
        quantity="upward force",
        unit="N",
        who="most healthy women and men",
        task="lifting and lowering of a load with two hands; a patient on a sheet is less steady than a load",
        range="pulls steeper than 50 degrees; 35 lb on the upward part of flatter ones, a blend from 40 on; two hands",
        edition="1994",
        standing=_of_table("niosh_lifting"),
        value=lift,
        decides="lift",
    ),
    Limit(
        key="niosh_35lb",
        label="weight lifted by one person, 35 lb",
        quantity="upward force",
        unit="N",
        who="all",
        task="a cooperative patient, hands close to the body, no sudden movement",
        range="a lifting limit: only for the upward part of the force",
        edition="2007",
        standing=_of_figure("niosh_35lb"),
        value=lambda c: Value(figure("niosh_35lb") * G),
    ),
    Limit(
        key="aorn_two_hands",
        label="mass held with two hands",
        quantity="held mass",
        unit="kg",
        who="women",
        task="holding a part of a patient; worked out from strength and endurance",
        range="up to 2 min",
        edition="2011",
        standing=_of_figure("aorn_two_hands"),
        value=held_mass("aorn_two_hands", 2),
        decides="lift",
    ),
    Limit(
        key="aorn_one_hand",
        label="mass held with one hand",
        quantity="held mass",
        unit="kg",
        who="women",
        task="holding a part of a patient; worked out from strength and endurance",
        range="up to 2 min, one limb or the head",
        edition="2011",
        standing=_of_figure("aorn_one_hand"),
        value=held_mass("aorn_one_hand", 1),
        decides="lift",
    ),
    Limit(
        key="site_limit",
        label="the site's own limit",
        quantity="hand force",
        unit="N",
        who="as the site says",
        task="as the site says",
        range="as the site says",
        edition="scenario",
        standing=Standing("", "set by the site"),
        value=site_limit,
        decides="site",
    ),
    Limit(
        key="hse_start",
        label="screening: start or stop a load",
        quantity="start force",
        unit="N",
        who="women or men",
        task="pushing and pulling of loads; a screening figure",
        range="hands between knuckle and shoulder height; a screening figure",
        edition="L23",
        standing=_of_figure("hse_start"),
        value=by_sex("hse_start"),
    ),
    Limit(
        key="hse_keep",
        label="screening: keep a load moving",
        quantity="steady force",
        unit="N",
        who="women or men",
        task="pushing and pulling of loads; a screening figure",
        range="hands between knuckle and shoulder height; a screening figure",
        edition="L23",
        standing=_of_figure("hse_keep"),
        value=by_sex("hse_keep"),
    ),
    Limit(
        key="en1005_whole_body_pull",
        label="isometric pull with multipliers",
        quantity="hand force",
        unit="N",
        who="85 % of adult users of both sexes",
        task="standing at a machine",
        range="up to 2 actions a minute, up to 1 h",
        edition="2002+A1:2008",
        standing=_of_figure("en1005_whole_body_pull"),
        value=isometric_pull,
    ),
    Limit(
        key="care_two_hands",
        label="pull or push in care work, two hands",
        quantity="hand force",
        unit="N",
        who="care workers",
        task="pulling or pushing in care; agreed by employers and unions",
        range="two hands, any height and frequency",
        edition="year not noted",
        standing=_of_figure("care_two_hands"),
        value=for_hands("care_two_hands", 2),
    ),
    Limit(
        key="care_one_hand",
        label="pull or push in care work, one hand",
        quantity="hand force",
        unit="N",
        who="care workers",
        task="pulling or pushing in care; agreed by employers and unions",
        range="one hand, any height and frequency",
        edition="year not noted",
        standing=_of_figure("care_one_hand"),
        value=for_hands("care_one_hand", 1),
    ),
    Limit(
        key="spine_lower_limit",
        label="load of the lowest disc (L5/S1 compression), lower limit 3.4 kN",
        quantity="L5/S1 compression",
        unit="N",
        who="all",
        task="lifting of loads; compression worked out by a static model",
        range="static model of one plane",
        edition="1981",
        standing=_of_figure("spine_lower_limit"),
        value=printed("spine_lower_limit"),
        by_posture=True,
        decides="body",
    ),
    Limit(
        key="spine_upper_limit",
        label="load of the lowest disc (L5/S1 compression), upper limit 6.4 kN",
        quantity="L5/S1 compression",
        unit="N",
        who="all",
        task="lifting of loads; compression worked out by a static model",
        range="static model of one plane",
        edition="1981",
        standing=_of_figure("spine_upper_limit"),
        value=printed("spine_upper_limit"),
        by_posture=True,
    ),
    Limit(
        key="spine_shear",
        label="lumbar shear by loadings a day",
        quantity="L5/S1 shear",
        unit="N",
        who="all",
        task="tests of spines, by how often a load comes",
        range="up to 1000 loadings a day",
        edition="2012",
        standing=_of_figure("shear_occasional"),
        value=shear,
        by_posture=True,
        decides="body",
    ),
    Limit(
        key="floor_friction",
        label="floor friction needed",
        quantity="floor friction",
        unit="ratio",
        who="all",
        task="walking",
        range="dry floors; pushing and pulling may need more",
        edition="2001",
        standing=_of_figure("floor_friction_min"),
        value=printed("floor_friction_min"),
        by_posture=True,
        decides="body",
    ),
    Limit(
        key="shoulder_strength",
        label="shoulder moment against strength",
        quantity="shoulder moment",
        unit="N m",
        who="women or men, by the share who have the strength",
        task="greatest static effort of one joint",
        range="static strength, one arm",
        edition="1982",
        standing=_of_table("joint_strength"),
        value=shoulder_strength,
        by_posture=True,
    ),
    Limit(
        key="elbow_strength",
        label="elbow moment against strength",
        quantity="elbow moment",
        unit="N m",
        who="women or men, by the share who have the strength",
        task="greatest static effort of one joint",
        range="static strength, one arm",
        edition="1982",
        standing=_of_table("joint_strength"),
        value=elbow_strength,
        by_posture=True,
    ),
    Limit(
        key="hold_endurance",
        label="hold time against endurance",
        quantity="hold time",
        unit="s",
        who="women or men, by the share who have the strength",
        task="a steady effort held until exhaustion, many studies together",
        range="a steady effort of a tenth of strength and more; below it the time at a tenth",
        edition="2010",
        standing=HELD,
        value=hold_endurance,
        by_posture=True,
        decides="lift",
    ),
)
