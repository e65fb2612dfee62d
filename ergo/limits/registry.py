"""Every limit in one place: what it covers, its value under given conditions, its source and how it is known.

To add a limit: put its figure into evidence, and add one entry to `LIMITS`. The assessment, the screens and the
tests read this registry; nothing else lists limits.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from ergo.evidence import assumption, row, table
from ergo.limits.pull_tables import acceptable_pull, fitted_pull, height_range
from ergo.scenario import Sex
from ergo.units import G

__all__ = ["LIMITS", "Condition", "Limit", "NotApplicable", "Quantity", "Value"]

Quantity = Literal["start force", "steady force", "hand force", "upward force", "held mass"]


@dataclass(frozen=True, slots=True)
class Condition:
    """What a limit may depend on, for one person in one effort. Lengths [m], times as named, mass [kg]."""

    sex: Sex
    percent: int
    minutes_between: float
    hand_height_m: float
    reach_of_arm: float
    """Distance from the bed's edge to the hands, over arm length."""
    hands: Literal[1, 2]
    seconds: float
    site_limit_n: float | None = None


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

    `screening` marks a figure that its publisher calls a filter, not a limit; `second_opinion` one that repeats
    another by other means. Neither decides under the policies here.
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


def _figure(key: str, quantity: str | None = None, who: str | None = None) -> float:
    wanted = {"key": key} | ({"quantity": quantity} if quantity else {}) | ({"who": who} if who else {})
    return float(row("limits", **wanted)["value"])


def _people(sex: Sex) -> str:
    return "women" if sex == "F" else "men"


def _table_pull(phase: Literal["initial", "sustained"]) -> Callable[[Condition], Value | NotApplicable]:
    def value(c: Condition) -> Value | NotApplicable:
        low, high = height_range(c.sex)
        force = float(acceptable_pull(c.sex, phase, c.percent, c.hand_height_m, c.minutes_between))
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
    threshold = assumption("reach_threshold").typical
    if c.reach_of_arm < threshold:
        return NotApplicable(f"the hands are {c.reach_of_arm:.0%} of arm length away; it holds from {threshold:.0%}")
    return Value(_figure("ccohs_arms_extended"))


def _en_1005_pull(c: Condition) -> Value | NotApplicable:
    """F_B times the multipliers for evident movement, frequency and length of the action, and m_r = 0.5."""
    per_minute = 1.0 / c.minutes_between
    if per_minute > 2.0:
        return NotApplicable("read only up to two actions a minute", outside=True)
    moving = float(row("en_1005_3_multipliers", condition="evident movement")["value"])
    rows = {
        r["condition"].split(":")[0]: r["value"] for r in table("en_1005_3_multipliers") if r["multiplier"] == "m_f"
    }
    long_action = c.seconds > 0.05 * 60
    line = rows["action longer than 0.05 min" if long_action else "action up to 0.05 min"].split(" / ")
    frequency = float(line[0] if per_minute <= 0.2 else line[1])
    hours = float(row("en_1005_3_multipliers", multiplier="m_d")["value"].split(" / ")[0])
    allowed = float(row("en_1005_3_multipliers", multiplier="m_r")["value"].split(" / ")[0].removeprefix("<="))
    return Value(
        _figure("en1005_whole_body_pull") * moving * frequency * hours * allowed, "isometric force with multipliers"
    )


def _held(key: str, hands: int) -> Callable[[Condition], Value | NotApplicable]:
    def value(c: Condition) -> Value | NotApplicable:
        longest = _figure("aorn_longest_hold")
        if c.hands != hands:
            return NotApplicable(f"for holding with {'one hand' if hands == 1 else 'two hands'}")
        if c.seconds > longest:
            return NotApplicable(f"published for up to {longest:.0f} s; here {c.seconds:.0f} s", outside=True)
        return Value(_figure(key))

    return value


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
)
