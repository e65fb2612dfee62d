"""The value of each limit under the conditions of one person in one effort.

Each function returns the figure, or why there is none: a limit never passes in silence.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ergo.evidence import assumption, row
from ergo.handlers.strength import shoulder_action, strength
from ergo.inputs.scenario import Sex
from ergo.limits.biomechanical import guideline_force, guideline_heights, lifting_limit
from ergo.limits.psychophysical import accepted_pull, accepted_push, equation_heights, table_heights, table_pull
from ergo.units import DEFAULT_UNITS, G, Units

__all__ = [
    "HELD",
    "Condition",
    "NotApplicable",
    "Standing",
    "Value",
    "ValueOf",
    "accepted",
    "arms_extended",
    "arms_extended_force",
    "by_sex",
    "elbow_strength",
    "endurance_s",
    "figure",
    "for_hands",
    "guideline",
    "held_mass",
    "hold_endurance",
    "isometric_pull",
    "lift",
    "older_table",
    "printed",
    "shear",
    "shoulder_strength",
    "site_limit",
    "strength_that_most_have",
]


Kind = Literal["pull", "push"]


class Condition(NamedTuple):
    """What a limit may depend on, for one person in one effort: lengths [m], moments [N m], times as named.

    The examples below give the fields in this order, up to the seconds.
    """

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
    reach_m: float = 0.0
    stature_m: float = 1.6
    steepness_deg: float = 0.0
    """Of the force at the hands above the level."""
    moving: bool = True
    """Whether the hands move, as in a pull, or hold still."""
    held_share: float = 1.0
    """Of the peak force, what is held afterwards."""
    held_mass: bool = False
    """Whether a limb or the head is held, for which there are limits of their own."""
    kind: Kind = "pull"
    """Whether the hands pull or push."""
    held_head: bool = False
    """Whether it is the head."""
    own_sex: Sex | None = None
    """Of the person, whose arms the moments are; where it is not given, the sex whose figures hold."""

    @property
    def body_sex(self) -> Sex:
        """The sex of the body that bears the moments: strength of a joint goes with the length of the arm."""
        return self.own_sex or self.sex


Amounts = tuple[tuple[Literal["length", "force"], tuple[float, ...]], ...]
"""What stands in a sentence: a length or the ends of a range [m], or a force [N]."""


def lengths(*lengths_m: float) -> Amounts:
    """Return lengths as amounts of a sentence."""
    return tuple(("length", (length,)) for length in lengths_m)


def _filled(words: str, amounts: Amounts, units: Units) -> str:
    """Put amounts into their places in a sentence, in the reader's units."""
    if not amounts:
        return words
    return words.format(*(units.show_length(*v) if what == "length" else units.show_force(*v) for what, v in amounts))


@dataclass(frozen=True, slots=True)
class Standing:
    """Who published a figure and how it is known."""

    source: str
    known: str


@dataclass(frozen=True, slots=True)
class Value:
    """A limit's value under the conditions, with a word where something about it must be said.

    `standing` is set where another source than the limit's usual one gave it. The note has a place, {0} and on, for
    each of `amounts`, so that it can be said in any unit.
    """

    value: float
    note: str = ""
    standing: Standing | None = None
    amounts: Amounts = ()

    def said(self, units: Units = DEFAULT_UNITS) -> str:
        """Return the note in the reader's units."""
        return _filled(self.note, self.amounts, units)


@dataclass(frozen=True, slots=True)
class NotApplicable:
    """Why a limit gives no value. `outside` says that the case lies outside its range, not beside its subject.

    The reason has a place, {0} and on, for each of `amounts`, so that it can be said in any unit.
    """

    reason: str
    outside: bool = False
    amounts: Amounts = ()

    def said(self, units: Units = DEFAULT_UNITS) -> str:
        """Return the reason in the reader's units.

        >>> NotApplicable("here the hands are at {0}", amounts=lengths(0.89)).said(Units(length="ft-in"))
        'here the hands are at 2 ft 11 in'
        """
        return _filled(self.reason, self.amounts, units)


ValueOf = Callable[[Condition], Value | NotApplicable]
Phase = Literal["initial", "sustained"]


@cache
def figure(key: str, who: str | None = None) -> float:
    """Return a figure out of the table of limits, for women or men where it differs, in the table's unit.

    >>> figure("spine_lower_limit"), figure("hse_start", who="women")
    (3400.0, 150.0)
    """
    return float(row("limits", key=key, **({"who": who} if who else {}))["value"])


def printed(key: str) -> ValueOf:
    """Return the figure as it stands in the table of limits, which names its source, whatever the condition."""
    return lambda c: Value(figure(key))


def _people(sex: Sex) -> str:
    return "women" if sex == "F" else "men"


# The same hands meet the same figures many times over; bounded, because a height can be any number.
@lru_cache(maxsize=4096)
def _accepted(kind: Kind, sex: Sex, phase: Phase, percent: int, height_m: float, minutes: float) -> float:
    force = accepted_pull if kind == "pull" else accepted_push
    return float(force(sex, phase, percent, height_m, minutes))


@lru_cache(maxsize=4096)
def _in_table(sex: Sex, phase: Phase, percent: int, height_m: float, minutes: float) -> float:
    return float(table_pull(sex, phase, percent, height_m, minutes))


@lru_cache(maxsize=4096)
def _guideline(kind: Kind, hands: Literal[1, 2], protected: Literal[80, 50], height_m: float) -> float:
    return float(guideline_force(kind, hands, protected, height_m))


@lru_cache(maxsize=4096)
def _lifted(ahead_m: float, height_m: float, a_minute: float, hours: int) -> float:
    return float(lifting_limit(ahead_m, height_m, a_minute, hours).force_n)


def _beyond(c: Condition, low: float, high: float) -> NotApplicable:
    return NotApplicable(
        "printed for hands at {0} and every 6 s to 8 h; here the hands are at {1}, every "
        f"{c.minutes_between:g} min",
        outside=True,
        amounts=(("length", (low, high)), ("length", (c.hand_height_m,))),
    )


def accepted(phase: Phase) -> ValueOf:
    """Return the pull or push that the protected share of people accepts [N], by the equations (potvin_2021).

    The older table (snook_ciriello_1991) counts only beyond their heights, never above the nearest one, and says so.

    >>> round(accepted("initial")(Condition("F", 75, 2.0, 60, 0.89, 0.9, 0.1, 12.0, 2, 20.0)).value, 1)
    229.7
    """

    def value(c: Condition) -> Value | NotApplicable:
        force = _accepted(c.kind, c.sex, phase, c.percent, c.hand_height_m, c.minutes_between)
        (low, high), table = equation_heights(c.sex), table_heights(c.sex)
        if force != force:
            return _beyond(c, min(low, table[0]), max(high, table[1]))
        said = f"accepted by {c.percent} % of {_people(c.sex)}, every {c.minutes_between:g} min"
        if low <= c.hand_height_m <= high:
            return Value(force, said)
        if c.kind == "push":
            return Value(force, f"{said}; beyond the equations' heights: the nearest one")
        return Value(force, f"{said}; beyond the equations' heights: the older table, from memory", _OLDER)

    return value


_OLDER = Standing("snook_ciriello_1991", "memory high")


def older_table(phase: Phase) -> ValueOf:
    """Return the pull that the protected share of people accepts [N], by the table of 1991 (snook_ciriello_1991).

    >>> round(older_table("initial")(Condition("F", 75, 2.0, 60, 0.89, 0.9, 0.1, 12.0, 2, 20.0)).value, 1)
    215.7
    """

    def value(c: Condition) -> Value | NotApplicable:
        force = _in_table(c.sex, phase, c.percent, c.hand_height_m, c.minutes_between)
        if force != force:
            return _beyond(c, *table_heights(c.sex))
        return Value(force, f"accepted by {c.percent} % of {_people(c.sex)}, every {c.minutes_between:g} min")

    return value


def guideline(protected: Literal[80, 50]) -> ValueOf:
    """Return the peak pull at which the low back of 80 % or 50 % of people is protected [N] (weston_2018).

    The end values are held beyond the printed heights, and that is said.

    >>> low = Condition("F", 75, 2.0, 60, 0.60, 0.9, 0.1, 12.0, 2, 20.0)
    >>> guideline(80)(low).value, "held from 81 cm" in guideline(80)(low).said()
    (182.0, True)
    """

    def value(c: Condition) -> Value:
        low, high = guideline_heights()
        said = f"protects the low back of {protected} % of people; measured on handles, not across a bed"
        if not low <= c.hand_height_m <= high:
            end = low if c.hand_height_m < low else high
            outside = "; hands at {0} are outside, held from {1}"
            return Value(
                _guideline(c.kind, c.hands, protected, c.hand_height_m),
                said + outside,
                amounts=lengths(c.hand_height_m, end),
            )
        return Value(_guideline(c.kind, c.hands, protected, c.hand_height_m), said)

    return value


def lift(c: Condition) -> Value | NotApplicable:
    """Return what may be lifted: 35 lb for a flat pull, the lifting equation for a steep one [N] (niosh_94_110).

    From the low to the high end of `steep_lift` the two blend. The equation stands at the hands' own distance from the
    ankles and height.

    >>> near = Condition("F", 75, 2.0, 60, 0.95, 0.9, 0.1, 12.0, 2, 20.0, reach_m=0.14, steepness_deg=90.0)
    >>> round(lift(near).value), round(lift(near._replace(steepness_deg=30.0)).value)
    (176, 156)
    """
    flat, blend = figure("niosh_35lb") * G, assumption("steep_lift")
    steep = min(max((c.steepness_deg - blend.low) / (blend.high - blend.low), 0.0), 1.0)
    if steep == 0.0:
        return Value(flat, "35 lb on the upward part of a pull", Standing("waters_2007", "read"))
    if c.hands == 1:
        return NotApplicable("for lifting with two hands")
    ahead = c.reach_m + assumption("hand_ahead_of_ankles").typical * c.stature_m
    force = _lifted(ahead, c.hand_height_m, 1.0 / c.minutes_between, int(assumption("lifting_hours").typical))
    if not force > 0.0:
        return NotApplicable(
            "printed for hands up to {0} ahead of the ankles and {1} high, up to 5 lifts a minute; here {2}, {3} and "
            f"every {c.minutes_between:g} min",
            outside=True,
            amounts=lengths(0.63, 1.75, ahead, c.hand_height_m),
        )
    blended = "" if steep == 1.0 else ", blended with 35 lb for a flat pull"
    return Value(
        flat + steep * (force - flat),
        "hands {0} ahead of the ankles at {1}" + blended,
        amounts=lengths(ahead, c.hand_height_m),
    )


def for_hands(key: str, hands: int) -> ValueOf:
    """Return a figure out of the table of limits that holds for so many hands.

    >>> for_hands("care_two_hands", 2)(Condition("F", 75, 2.0, 60, 0.89, 0.9, 0.1, 12.0, 2, 20.0)).value
    245.0
    """
    said = NotApplicable(f"for {'one hand' if hands == 1 else 'two hands'}")
    return lambda c: Value(figure(key)) if c.hands == hands else said


def by_sex(key: str) -> ValueOf:
    """Return the screening figure for the sex that is held to it (hse_l23)."""
    return lambda c: Value(figure(key, who=_people(c.sex)), "a screening figure, not a safe limit")


def arms_extended(c: Condition) -> Value | NotApplicable:
    """Return the pull of arms stretched out over the bed, so that nothing else can pull [N] (ccohs_push_pull).

    225 N go over into 110 N as the shoulder leans over the edge and the arm straightens; the ends are a judgement.

    >>> far = Condition("F", 75, 2.0, 60, 0.89, 1.0, 0.10, 12.0, 2, 20.0)
    >>> arms_extended(far).value, arms_extended(far._replace(shoulder_over_bed_m=0.05)).value
    (110.0, 167.5)
    """
    lead, span = assumption("arms_extended_lead"), assumption("arms_extended_span")
    if c.kind == "push":
        return NotApplicable("for pulls; a push has the body behind it")
    if c.shoulder_over_bed_m <= lead.low:
        return NotApplicable("the posture found keeps the shoulder behind the bed's edge")
    if c.extended_arm <= span.low:
        return NotApplicable(
            f"the posture found has the arm at {100 * c.extended_arm:.0f} % of its length, below {100 * span.low:.0f} %"
        )
    force = float(arms_extended_force(c.shoulder_over_bed_m, c.extended_arm))
    return Value(force, f"the arm at {100 * c.extended_arm:.0f} % of its length")


def arms_extended_force(shoulder_over_bed_m: ArrayLike, extended_arm: ArrayLike) -> NDArray[np.float64]:
    """Return 225 N going over into 110 N as the shoulder leans over the edge and the arm straightens [N].

    >>> arms_extended_force([0.0, 0.05, 0.2], 1.0).tolist()
    [225.0, 167.5, 110.0]
    """
    lead, span = assumption("arms_extended_lead"), assumption("arms_extended_span")
    over = np.clip((np.asarray(shoulder_over_bed_m, dtype=float) - lead.low) / (lead.high - lead.low), 0.0, 1.0)
    straight = np.clip((np.asarray(extended_arm, dtype=float) - span.low) / (span.high - span.low), 0.0, 1.0)
    whole, stretched = figure("ccohs_whole_body"), figure("ccohs_arms_extended")
    return np.asarray(whole - over * straight * (whole - stretched))


@cache
def _en_1005_multipliers(long_action: bool, moving: bool) -> tuple[float, float, float]:
    """Frequency multipliers up to 0.2 and up to 2 a minute, and those of movement and hours together."""

    def multiplier(name: str, **wanted: str) -> float:
        return float(row("en_1005_3_multipliers", multiplier=name, **wanted)["value"])

    action = "long action" if long_action else "short action"
    rare, frequent = (multiplier("m_f", condition=action, up_to=often) for often in ("0.2", "2"))
    movement = multiplier("m_v", condition="evident movement" if moving else "no or very slow movement")
    return rare, frequent, movement * multiplier("m_d", up_to="1")


def isometric_pull(c: Condition) -> Value | NotApplicable:
    """Return F_B m_v m_f m_d m_r, up to an hour, at the end of the recommended zone [N] (en_1005_3).

    A standard for machines, for the 15th percentile of adults; a hold has no evident movement. NotApplicable above two
    actions a minute. The example is 145 · 0.8 · 1 · 1 · 0.5

    >>> isometric_pull(Condition("F", 75, 5.0, 60, 0.89, 0.9, 0.1, 12.0, 2, 3.0)).value
    58.0
    """
    per_minute = 1.0 / c.minutes_between
    if per_minute > 2.0:
        return NotApplicable("printed only up to two actions a minute", outside=True)
    rare, frequent, rest = _en_1005_multipliers(c.seconds > _EN_1005_SHORT_S, c.moving)
    reduced = figure("en1005_whole_body_pull") * (rare if per_minute <= 0.2 else frequent) * rest
    recommended, avoid = (
        reduced * float(row("en_1005_3_multipliers", multiplier="m_r", condition=zone)["up_to"])
        for zone in ("recommended", "not recommended")
    )
    return Value(
        recommended,
        "a standard for working at machines: the force that 85 % of adult users of both sexes reach, lowered for "
        f"{'movement, ' if c.moving else ''}repetition and comfort; recommended up to {{0}}, to be "
        "avoided above {1}; shown because it is published, not made for moving patients",
        amounts=(("force", (recommended,)), ("force", (avoid,))),
    )


_EN_1005_SHORT_S = 60.0 * float(row("en_1005_3_multipliers", multiplier="short action")["up_to"])


def held_mass(key: str, hands: int) -> ValueOf:
    """Return the mass that so many hands may hold, as long as the source speaks of (aorn_2011)."""

    def value(c: Condition) -> Value | NotApplicable:
        longest = figure("aorn_longest_hold")
        if c.hands != hands:
            return NotApplicable(f"for holding with {'one hand' if hands == 1 else 'two hands'}")
        if c.seconds > longest:
            return NotApplicable(f"published for up to {longest:.0f} s; here {c.seconds:.0f} s", outside=True)
        return Value(figure(key), ONE_HAND_FOR_THE_HEAD if c.held_head and hands == 1 else "")

    return value


ONE_HAND_FOR_THE_HEAD = (
    "the other hand holds the tube; it helps that somebody else holds the tube, or that the head rests on a support "
    "and is guided"
)


def shear(c: Condition) -> Value | NotApplicable:
    """Return the shear that the low back bears at so many loadings a day [N] (gallagher_marras_2012)."""
    occasional, frequent = 100, 1000  # as the source divides them
    if c.loadings_per_day <= occasional:
        return Value(figure("shear_occasional"), f"up to {occasional} loadings a day")
    if c.loadings_per_day <= frequent:
        return Value(figure("shear_frequent"), f"{occasional} to {frequent} loadings a day")
    return NotApplicable(f"published for up to {frequent} loadings a day", outside=True)


@cache
def _strength_of(joint: str, sex: Sex, percent: int) -> Value:
    able = float(strength(joint, sex).percentile(100 - percent))
    return Value(able, f"strength that {percent} % of {_people(sex)} have")


def shoulder_strength(c: Condition) -> Value | NotApplicable:
    """Return the shoulder strength that the protected share have, in the direction of the load [N m] (stobbe_1982)."""
    return _strength_of(shoulder_action(c.shoulder_moment_nm), c.body_sex, c.percent)


def elbow_strength(c: Condition) -> Value | NotApplicable:
    """Return the elbow strength that the protected share have, in the direction of the load [N m] (stobbe_1982)."""
    return _strength_of("elbow flexion" if c.elbow_moment_nm > 0 else "elbow extension", c.body_sex, c.percent)


def endurance_s(fraction: ArrayLike) -> NDArray[np.float64]:
    """Return how long a part of the shoulder's strength can be held [s]; below a tenth as long as at a tenth.

    >>> endurance_s([0.05, 0.1, 0.3]).round(1).tolist()
    [1004.7, 1004.7, 134.6]
    """
    fit, valid = row("endurance", region="shoulder"), assumption("endurance_valid_fraction")
    return np.asarray(float(fit["b0_s"]) * np.maximum(np.asarray(fraction), valid.low) ** float(fit["b1"]))


def strength_that_most_have(sex: Sex, percent: int, up: bool) -> float:
    """Return the shoulder strength [N m] that so many of a sex have, raising the arm or pressing it down."""
    return _strength_of(shoulder_action(1.0 if up else -1.0), sex, percent).value


def hold_endurance(c: Condition) -> Value | NotApplicable:
    """Return how long the hold can last by the shoulder that the protected share have [s] (frey_law_avin_2010).

    t = b0 (s |M| / M_p)^b1, s the part of the peak that is held and M_p the strength that `percent` of people have;
    below a tenth of it the time at a tenth. The strength is from memory, so a limb or the head that is held as long as
    the limits of held mass speak of is theirs alone.
    The example is 30 % of 37 N m.

    >>> round(hold_endurance(Condition("F", 50, 2.0, 60, 0.89, 0.9, 0.1, 11.1, 2, 20.0)).value, 1)
    134.6
    """
    longest = figure("aorn_longest_hold")
    if c.held_mass and c.seconds <= longest:
        return NotApplicable(f"a mass held for up to {longest:.0f} s has limits of its own")
    able = _strength_of(shoulder_action(c.shoulder_moment_nm), c.body_sex, c.percent).value
    fraction = c.held_share * abs(c.shoulder_moment_nm) / able
    valid = assumption("endurance_valid_fraction")
    seconds = float(endurance_s(fraction))
    said = f"at {100 * fraction:.0f} % of the shoulder strength that {c.percent} % of {_people(c.body_sex)} have"
    if fraction < valid.low:
        said += f"; as long as at {100 * valid.low:.0f} %, where the fit begins"
    return Value(seconds, said)


HELD = Standing("frey_law_avin_2010", "reprint; the strength memory fair")


def site_limit(c: Condition) -> Value | NotApplicable:
    """Return the force that the site allows [N]; its own figure, no publication."""
    return NotApplicable("the site has not set one") if c.site_limit_n is None else Value(c.site_limit_n)
