"""Every limit in one place: what it covers, its value under given conditions, its source and how it is known.

To add a limit: put its figure into evidence, and add one entry to `LIMITS`. The assessment, the screens and the
tests read this registry; nothing else lists limits.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Literal

from ergo.evidence import assumption, row, table
from ergo.limits.pull_tables import acceptable_pull, fitted_pull, height_range
from ergo.people.hold import endurance_time, shoulder_action, strength
from ergo.scenario import Sex
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
class Condition:
    """What a limit may depend on, for one person in one effort. Lengths [m], times as named, mass [kg]."""

    sex: Sex
    percent: int
    minutes_between: float
    loadings_per_day: float
    hand_height_m: float
    extended_arm: float
    """Shoulder to hand in the posture found, over arm length."""
    shoulder_over_bed_m: float
    """How far the shoulder leans over the bed's edge in the posture found."""
    shoulder_moment_nm: float
    hands: Literal[1, 2]
    seconds: float
    site_limit_n: float | None = None
    elbow_moment_nm: float = 0.0


@dataclass(frozen=True, slots=True)
class Value:
    """A limit's value under the conditions, with a word where something about it must be said."""

    value: float
    note: str = ""


@dataclass(frozen=True, slots=True)
class NotApplicable:
    """Why a limit gives no value. `outside` says that the case lies outside its range, not beside its subject."""

    reason: str
    outside: bool = False


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
    value: Callable[[Condition], Value | NotApplicable]
    by_posture: bool = False


@cache
def _figure(key: str, quantity: str | None = None, who: str | None = None) -> float:
    wanted = {"key": key} | ({"quantity": quantity} if quantity else {}) | ({"who": who} if who else {})
    return float(row("limits", **wanted)["value"])


def _people(sex: Sex) -> str:
    return "women" if sex == "F" else "men"


@cache
def _accepted(sex: Sex, phase: Literal["initial", "sustained"], percent: int, height_m: float, minutes: float) -> float:
    return float(acceptable_pull(sex, phase, percent, height_m, minutes))


def _table_pull(phase: Literal["initial", "sustained"]) -> Callable[[Condition], Value | NotApplicable]:
    def value(c: Condition) -> Value | NotApplicable:
        low, high = height_range(c.sex)
        force = _accepted(c.sex, phase, c.percent, c.hand_height_m, c.minutes_between)
        if force != force:
            return NotApplicable(
                f"printed for handles at {low * 100:.0f} to {high * 100:.0f} cm and every 6 s to 8 h; "
                f"here the hands are at {c.hand_height_m * 100:.0f} cm, every {c.minutes_between:g} min",
                outside=True,
            )
        return Value(force, f"accepted by {c.percent} % of {_people(c.sex)}, every {c.minutes_between:g} min")

    return value


def _fitted_pull(phase: Literal["initial", "sustained"]) -> Callable[[Condition], Value | NotApplicable]:
    def value(c: Condition) -> Value | NotApplicable:
        low, high = height_range(c.sex)
        if not low <= c.hand_height_m <= high:
            return NotApplicable(f"fitted for handles at {low * 100:.0f} to {high * 100:.0f} cm", outside=True)
        return Value(float(fitted_pull(c.sex, phase, c.percent, c.hand_height_m, c.minutes_between)))

    return value


def _by_sex(key: str) -> Callable[[Condition], Value | NotApplicable]:
    return lambda c: Value(_figure(key, who=_people(c.sex)), "a screening figure, not a safe limit")


def _arms_extended(c: Condition) -> Value | NotApplicable:
    """Arms straight and the shoulder over the bed: nothing but arm and shoulder can pull."""
    threshold = assumption("arms_extended_span").typical
    if c.shoulder_over_bed_m <= 0:
        return NotApplicable("the posture found keeps the shoulder behind the bed's edge")
    if c.extended_arm < threshold:
        return NotApplicable(
            f"the posture found has the arm at {c.extended_arm:.0%} of its length, not {threshold:.0%}"
        )
    return Value(_figure("ccohs_arms_extended"))


@cache
def _en_1005_multipliers(long_action: bool) -> tuple[float, float, float]:
    """Frequency multipliers up to 0.2 and up to 2 a minute, and everything else: movement, hours, allowed risk."""
    rows = {
        r["condition"].split(":")[0]: r["value"] for r in table("en_1005_3_multipliers") if r["multiplier"] == "m_f"
    }
    rare, frequent = rows["action longer than 0.05 min" if long_action else "action up to 0.05 min"].split(" / ")[:2]
    moving = float(row("en_1005_3_multipliers", condition="evident movement")["value"])
    hours = float(row("en_1005_3_multipliers", multiplier="m_d")["value"].split(" / ")[0])
    allowed = float(row("en_1005_3_multipliers", multiplier="m_r")["value"].split(" / ")[0].removeprefix("<="))
    return float(rare), float(frequent), moving * hours * allowed


def _en_1005_pull(c: Condition) -> Value | NotApplicable:
    """F_B times the multipliers for evident movement, frequency and length of the action, and m_r = 0.5."""
    per_minute = 1.0 / c.minutes_between
    if per_minute > 2.0:
        return NotApplicable("read only up to two actions a minute", outside=True)
    rare, frequent, rest = _en_1005_multipliers(c.seconds > 0.05 * 60)
    by_frequency = rare if per_minute <= 0.2 else frequent
    return Value(_figure("en1005_whole_body_pull") * by_frequency * rest, "isometric force with multipliers")


def _held(key: str, hands: int) -> Callable[[Condition], Value | NotApplicable]:
    def value(c: Condition) -> Value | NotApplicable:
        longest = _figure("aorn_longest_hold")
        if c.hands != hands:
            return NotApplicable(f"for holding with {'one hand' if hands == 1 else 'two hands'}")
        if c.seconds > longest:
            return NotApplicable(f"published for up to {longest:.0f} s; here {c.seconds:.0f} s", outside=True)
        return Value(_figure(key))

    return value


def _shear(c: Condition) -> Value | NotApplicable:
    """The limit by loadings a day."""
    occasional, frequent = 100, 1000  # as the source divides them
    if c.loadings_per_day <= occasional:
        return Value(_figure("shear_occasional"), f"up to {occasional} loadings a day")
    if c.loadings_per_day <= frequent:
        return Value(_figure("shear_frequent"), f"{occasional} to {frequent} loadings a day")
    return NotApplicable(f"published for up to {frequent} loadings a day", outside=True)


def _shoulder(c: Condition) -> Value | NotApplicable:
    joint = strength(shoulder_action(c.shoulder_moment_nm), c.sex)
    return Value(float(joint.percentile(100 - c.percent)), f"strength that {c.percent} % of {_people(c.sex)} have")


def _elbow(c: Condition) -> Value | NotApplicable:
    joint = strength("elbow flexion" if c.elbow_moment_nm > 0 else "elbow extension", c.sex)
    return Value(float(joint.percentile(100 - c.percent)), f"strength that {c.percent} % of {_people(c.sex)} have")


def _endurance(c: Condition) -> Value | NotApplicable:
    """Time the median shoulder holds this moment."""
    median = strength(shoulder_action(c.shoulder_moment_nm), c.sex).p50
    fraction = abs(c.shoulder_moment_nm) / median
    found = endurance_time(fraction, "shoulder")
    if not bool(found.within_range):
        low = fraction < assumption("endurance_valid_fraction").low
        return NotApplicable(
            f"{fraction:.0%} of median strength lies outside the fit" + (", where holding is long" if low else ""),
            outside=not low,
        )
    return Value(float(found.time_s), f"at {fraction:.0%} of median shoulder strength")


def _site(c: Condition) -> Value | NotApplicable:
    return NotApplicable("the site has not set one") if c.site_limit_n is None else Value(c.site_limit_n)


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
        _table_pull("initial"),
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
        _table_pull("sustained"),
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
        _fitted_pull("initial"),
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
        _fitted_pull("sustained"),
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
        lambda c: Value(_figure("ccohs_whole_body")),
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
        _arms_extended,
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
        lambda c: Value(_figure("niosh_35lb") * G),
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
        _held("aorn_two_hands", 2),
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
        _held("aorn_one_hand", 1),
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
        _site,
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
        _by_sex("hse_start"),
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
        _by_sex("hse_keep"),
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
        _en_1005_pull,
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
        lambda c: Value(_figure("spine_action")),
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
        lambda c: Value(_figure("spine_maximum")),
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
        _shear,
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
        lambda c: Value(_figure("floor_friction_min")),
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
        _shoulder,
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
        _elbow,
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
        _endurance,
        by_posture=True,
    ),
)
