"""The value of each limit under the conditions of one person in one effort.

Each function returns the figure, or why there is none: a limit never passes in silence.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Literal, NamedTuple

from ergo.evidence import assumption, row
from ergo.handlers.strength import endurance_time, shoulder_action, strength
from ergo.inputs.scenario import Sex
from ergo.limits.psychophysical import acceptable_pull, fitted_pull, height_range
from ergo.units import DEFAULT_UNITS, Units

__all__ = [
    "Condition",
    "NotApplicable",
    "Value",
    "ValueOf",
    "arms_extended",
    "by_sex",
    "elbow_strength",
    "figure",
    "fitted_second_opinion",
    "held_mass",
    "hold_endurance",
    "isometric_pull",
    "printed",
    "shear",
    "shoulder_strength",
    "site_limit",
    "table_pull",
]


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


@dataclass(frozen=True, slots=True)
class Value:
    """A limit's value under the conditions, with a word where something about it must be said."""

    value: float
    note: str = ""


@dataclass(frozen=True, slots=True)
class NotApplicable:
    """Why a limit gives no value. `outside` says that the case lies outside its range, not beside its subject.

    The reason has a place, {0} and on, for each of `lengths_m`, a length or the ends of a range, so that it can be said
    in any unit.
    """

    reason: str
    outside: bool = False
    lengths_m: tuple[tuple[float, ...], ...] = ()

    def said(self, units: Units = DEFAULT_UNITS) -> str:
        """Return the reason in the reader's units.

        >>> NotApplicable("here the hands are at {0}", lengths_m=((0.89,),)).said(Units(length="ft-in"))
        'here the hands are at 2 ft 11 in'
        """
        return self.reason.format(*(units.show_length(*ends) for ends in self.lengths_m))


ValueOf = Callable[[Condition], Value | NotApplicable]


@cache
def figure(key: str, who: str | None = None) -> float:
    """Return a figure out of the table of limits, for women or men where it differs, in the table's unit.

    Parameters
    ----------
    key : str
        In the table of limits.
    who : str, optional
        "women" or "men"; left out where the figure holds for all.

    Returns
    -------
    float

    Examples
    --------
    >>> figure("spine_lower_limit"), figure("hse_start", who="women")
    (3400.0, 150.0)
    """
    return float(row("limits", key=key, **({"who": who} if who else {}))["value"])


def printed(key: str) -> ValueOf:
    """Return the figure as it stands in the table of limits, which names its source, whatever the condition.

    Parameters
    ----------
    key : str

    Returns
    -------
    ValueOf

    >>> printed("spine_lower_limit")(Condition("F", 75, 2.0, 60, 0.89, 0.9, 0.1, 12.0, 2, 20.0)).value
    3400.0
    """
    return lambda c: Value(figure(key))


def _people(sex: Sex) -> str:
    return "women" if sex == "F" else "men"


# The same hands meet the same table many times over; bounded, because a height can be any number.
@lru_cache(maxsize=4096)
def _accepted(sex: Sex, phase: Literal["initial", "sustained"], percent: int, height_m: float, minutes: float) -> float:
    return float(acceptable_pull(sex, phase, percent, height_m, minutes))


@lru_cache(maxsize=4096)
def _fitted(sex: Sex, phase: Literal["initial", "sustained"], percent: int, height_m: float, minutes: float) -> float:
    return float(fitted_pull(sex, phase, percent, height_m, minutes))


def table_pull(phase: Literal["initial", "sustained"]) -> ValueOf:
    """Return the pull that the protected share of people accepts, out of the printed table (snook_ciriello_1991).

    Parameters
    ----------
    phase : "initial" or "sustained"

    Returns
    -------
    ValueOf
        [N], as far as the table goes in handle height and time between pulls. The example is 22 kgf.

    >>> round(table_pull("initial")(Condition("F", 75, 2.0, 60, 0.89, 0.9, 0.1, 12.0, 2, 20.0)).value, 1)
    215.7
    """

    def value(c: Condition) -> Value | NotApplicable:
        low, high = height_range(c.sex)
        force = _accepted(c.sex, phase, c.percent, c.hand_height_m, c.minutes_between)
        if force != force:
            return NotApplicable(
                "printed for handles at {0} and every 6 s to 8 h; "
                f"here the hands are at {{1}}, every {c.minutes_between:g} min",
                outside=True,
                lengths_m=((low, high), (c.hand_height_m,)),
            )
        return Value(force, f"accepted by {c.percent} % of {_people(c.sex)}, every {c.minutes_between:g} min")

    return value


def fitted_second_opinion(phase: Literal["initial", "sustained"]) -> ValueOf:
    """Return the pull that the protected share of people accepts, by the fitted equation (potvin_2021).

    Parameters
    ----------
    phase : "initial" or "sustained"

    Returns
    -------
    ValueOf
        [N], at the handle heights of the printed table.

    >>> 220 < fitted_second_opinion("initial")(Condition("F", 75, 2.0, 60, 0.89, 0.9, 0.1, 12.0, 2, 20.0)).value < 245
    True
    """

    def value(c: Condition) -> Value | NotApplicable:
        low, high = height_range(c.sex)
        if not low <= c.hand_height_m <= high:
            return NotApplicable("fitted for handles at {0}", outside=True, lengths_m=((low, high),))
        return Value(_fitted(c.sex, phase, c.percent, c.hand_height_m, c.minutes_between))

    return value


def by_sex(key: str) -> ValueOf:
    """Return the screening figure for the sex that is held to it (hse_l23).

    Parameters
    ----------
    key : "hse_start" or "hse_keep"

    Returns
    -------
    ValueOf [N]

    >>> [by_sex("hse_start")(Condition(sex, 75, 2.0, 60, 0.89, 0.9, 0.1, 12.0, 2, 20.0)).value for sex in "FM"]
    [150.0, 200.0]
    """
    return lambda c: Value(figure(key, who=_people(c.sex)), "a screening figure, not a safe limit")


def arms_extended(c: Condition) -> Value | NotApplicable:
    """Return the pull of arms that are straight over the bed, so that nothing else can pull [N] (ccohs_push_pull).

    Parameters
    ----------
    c : Condition

    Returns
    -------
    Value, or NotApplicable where the arm is bent or the shoulder behind the bed's edge

    >>> arms_extended(Condition("F", 75, 2.0, 60, 0.89, 0.97, 0.1, 12.0, 2, 20.0)).value
    110.0
    """
    threshold = assumption("arms_extended_span").typical
    if c.shoulder_over_bed_m <= 0:
        return NotApplicable("the posture found keeps the shoulder behind the bed's edge")
    if c.extended_arm < threshold:
        return NotApplicable(
            f"the posture found has the arm at {c.extended_arm:.0%} of its length, not {threshold:.0%}"
        )
    return Value(figure("ccohs_arms_extended"))


@cache
def _en_1005_multipliers(long_action: bool) -> tuple[float, float, float]:
    """Frequency multipliers up to 0.2 and up to 2 a minute, and everything else: movement, hours, allowed risk."""

    def multiplier(name: str, **wanted: str) -> float:
        return float(row("en_1005_3_multipliers", multiplier=name, **wanted)["value"])

    action = "long action" if long_action else "short action"
    rare, frequent = (multiplier("m_f", condition=action, up_to=often) for often in ("0.2", "2"))
    rest = multiplier("m_v", condition="evident movement") * multiplier("m_d", up_to="1")
    return rare, frequent, rest * multiplier("m_r", condition="recommended")


def isometric_pull(c: Condition) -> Value | NotApplicable:
    """Return F_B m_v m_f m_d m_r for evident movement, up to an hour, at the recommended risk [N] (en_1005_3).

    Parameters
    ----------
    c : Condition

    Returns
    -------
    Value, or NotApplicable above two actions a minute. The example is 145 · 0.8 · 1 · 1 · 0.5

    >>> isometric_pull(Condition("F", 75, 5.0, 60, 0.89, 0.9, 0.1, 12.0, 2, 3.0)).value
    58.0
    """
    per_minute = 1.0 / c.minutes_between
    if per_minute > 2.0:
        return NotApplicable("read only up to two actions a minute", outside=True)
    rare, frequent, rest = _en_1005_multipliers(c.seconds > 0.05 * 60)
    by_frequency = rare if per_minute <= 0.2 else frequent
    return Value(figure("en1005_whole_body_pull") * by_frequency * rest, "isometric force with multipliers")


def held_mass(key: str, hands: int) -> ValueOf:
    """Return the mass that so many hands may hold, as long as the source speaks of (aorn_2011).

    Parameters
    ----------
    key : "aorn_one_hand" or "aorn_two_hands"
    hands : int, 1 or 2

    Returns
    -------
    ValueOf [kg]

    >>> held_mass("aorn_two_hands", 2)(Condition("F", 75, 2.0, 60, 0.89, 0.9, 0.1, 12.0, 2, 120.0)).value
    10.1
    """

    def value(c: Condition) -> Value | NotApplicable:
        longest = figure("aorn_longest_hold")
        if c.hands != hands:
            return NotApplicable(f"for holding with {'one hand' if hands == 1 else 'two hands'}")
        if c.seconds > longest:
            return NotApplicable(f"published for up to {longest:.0f} s; here {c.seconds:.0f} s", outside=True)
        return Value(figure(key))

    return value


def shear(c: Condition) -> Value | NotApplicable:
    """Return the shear that the low back bears at so many loadings a day [N] (gallagher_marras_2012).

    Parameters
    ----------
    c : Condition

    Returns
    -------
    Value, or NotApplicable above 1000 loadings a day

    >>> [shear(Condition("F", 75, 2.0, a_day, 0.89, 0.9, 0.1, 12.0, 2, 20.0)).value for a_day in (100, 101)]
    [1000.0, 700.0]
    """
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
    """Return the shoulder strength that the protected share have, in the direction of the load [N m] (stobbe_1982).

    Parameters
    ----------
    c : Condition

    Returns
    -------
    Value

    >>> [shoulder_strength(Condition("F", 50, 2.0, 60, 0.89, 0.9, 0.1, m, 2, 20.0)).value for m in (12.0, -12.0)]
    [37.0, 30.0]
    """
    return _strength_of(shoulder_action(c.shoulder_moment_nm), c.sex, c.percent)


def elbow_strength(c: Condition) -> Value | NotApplicable:
    """Return the elbow strength that the protected share have, in the direction of the load [N m] (stobbe_1982).

    Parameters
    ----------
    c : Condition

    Returns
    -------
    Value

    >>> elbow_strength(Condition("F", 50, 2.0, 60, 0.89, 0.9, 0.1, 12.0, 2, 20.0, elbow_moment_nm=9.0)).value
    41.0
    """
    return _strength_of("elbow flexion" if c.elbow_moment_nm > 0 else "elbow extension", c.sex, c.percent)


def hold_endurance(c: Condition) -> Value | NotApplicable:
    """Return how long the median shoulder holds this moment, b0 (|M| / M_50)^b1 [s] (frey_law_avin_2010).

    Parameters
    ----------
    c : Condition

    Returns
    -------
    Value, or NotApplicable outside 10 to 80 % of strength. The example is 30 % of 37 N m

    >>> round(hold_endurance(Condition("F", 75, 2.0, 60, 0.89, 0.9, 0.1, 11.1, 2, 20.0)).value, 1)
    134.6
    """
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


def site_limit(c: Condition) -> Value | NotApplicable:
    """Return the force that the site allows [N]; its own figure, no publication.

    Parameters
    ----------
    c : Condition

    Returns
    -------
    Value, or NotApplicable where the site has set none

    >>> site_limit(Condition("F", 75, 2.0, 60, 0.89, 0.9, 0.1, 12.0, 2, 20.0, site_limit_n=180.0)).value
    180.0
    """
    return NotApplicable("the site has not set one") if c.site_limit_n is None else Value(c.site_limit_n)
