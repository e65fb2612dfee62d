"""The formats of scenario, unit and purchase: what each changed, so that every file and link ever saved opens.

To change a format, add a step at the end of its list: it turns the data of the last format into the new one's and says
in words what it changed. Steps are never removed. What states no format is of format 1.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Literal

from ergo.errors import Fault, InputError

__all__ = ["Kind", "Tell", "newest", "upgraded"]

Kind = Literal["scenario", "unit", "purchase"]
Tell = Callable[[str], object]
"""Called with what was changed in a file of an earlier format, in words."""
_Data = dict[str, Any]


def _scenario_2(data: _Data) -> tuple[_Data, str]:
    """A member's place along the patient, `along_m`, is `position_m`."""
    team = data.get("team")
    members = team.get("members") if isinstance(team, dict) else None
    if not isinstance(team, dict) or not isinstance(members, list | tuple):
        return data, ""
    old = [isinstance(m, dict) and "along_m" in m and "position_m" not in m for m in members]
    now = [
        {"position_m" if key == "along_m" else key: value for key, value in member.items()} if renamed else member
        for member, renamed in zip(members, old, strict=True)
    ]
    said = f"along_m of {sum(old)} team member{'s' if sum(old) > 1 else ''} is now called position_m"
    return {**data, "team": {**team, "members": now}}, said if any(old) else ""


_STEPS: dict[Kind, tuple[Callable[[_Data], tuple[_Data, str]], ...]] = {
    "scenario": (_scenario_2,),
    "unit": (),
    "purchase": (),
}


def newest(kind: Kind) -> int:
    """Return the format in which files of a kind are saved today.

    >>> newest("scenario"), newest("unit")
    (2, 1)
    """
    return len(_STEPS[kind]) + 1


def upgraded(kind: Kind, data: _Data, what: str, tell: Tell | None = None) -> _Data:
    """Return data of any earlier format as today's; a later format is refused, since nobody knows what it means.

    >>> upgraded("scenario", {"team": {"members": [{"side": "left", "along_m": 0.4}]}}, "case.toml", print)
    case.toml was of format 1: along_m of 1 team member is now called position_m
    {'team': {'members': [{'side': 'left', 'position_m': 0.4}]}, 'format': 2}
    """
    stated, now = data.get("format", 1), newest(kind)
    if not isinstance(stated, int) or isinstance(stated, bool) or stated < 1:
        return data  # a fault like any other
    if stated > now:
        said = f"1 to {now}: a newer version of this program saved it, and only that one can read it"
        raise InputError(what, [Fault("format", str(stated), said)])
    for number, step in enumerate(_STEPS[kind][stated - 1 :], stated):
        data, said = step(data)
        if said and tell is not None:
            tell(f"{what} was of format {number}: {said}")
    return {**data, "format": now}
