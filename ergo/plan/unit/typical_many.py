"""The smallest teams of many cases at once: what a unit's table of teams asks.

All bodies of one team size are found in one search, whatever case they belong to, and only the limits that decide
are looked at. The answer is that of `typical.smallest_typical`, several times faster.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from ergo.assessment import Demand, PersonLoad, largest_team, roles_of
from ergo.assessment.check import checks
from ergo.assessment.crew import Person, airway_lead, crew_of
from ergo.assessment.load import shared
from ergo.limits.policy import ENOUGH, verdict_of
from ergo.mechanics.demand import Effort
from ergo.scenario import Side

__all__ = ["SmallTeam", "smallest_of_many"]

_SIDES: tuple[Side, Side] = ("left", "right")
_Place = Literal["left", "right", "airway"]
_Done = tuple[Effort, PersonLoad]


@dataclass(frozen=True, slots=True)
class SmallTeam:
    """The smallest team of one case: people on each side, what each person does, the largest ratio to a limit."""

    left: int
    right: int
    done: tuple[_Done, ...]
    ratio: float


@dataclass(slots=True)
class _Part:
    """What one crew does: whether that is within the deciding limits, and in which moves a limit spoke at all."""

    enough: bool = True
    ratio: float = 0.0
    done: list[_Done] = field(default_factory=list)
    judged: set[int] = field(default_factory=set)

    def add(self, asked: Demand, move: int, effort: Effort, loads: Sequence[PersonLoad]) -> None:
        self.done += [(effort, load) for load in loads]
        for load in loads:
            if not load.body.can_be_held:
                self.enough = False
            if not self.enough:  # one person over is enough to know
                return
            for check in checks(asked, effort, load, asked.policy.limits):
                if check.ratio is None and not check.outside:
                    continue
                self.judged.add(move)
                if check.ratio is None or verdict_of(check.ratio) not in ENOUGH:
                    self.enough = False
                    return
                self.ratio = max(self.ratio, check.ratio)


def _tasks(asked: Demand, place: _Place) -> list[tuple[int, Effort]]:
    """Return the efforts that fall to one place, with the number of their move."""
    return [(m, effort) for m, (_, efforts) in enumerate(asked.moves) for effort in efforts if effort.falls_to(place)]


def _parts(crews: Sequence[tuple[Demand, _Place, tuple[Person, ...]]]) -> list[_Part]:
    """Work out several crews of several cases together; the cases share bed, handling and sharing."""
    work = [(k, m, effort) for k, (asked, place, _) in enumerate(crews) for m, effort in _tasks(asked, place)]
    parts = [_Part() for _ in crews]
    if not work:
        return parts
    tasks = [(effort, crews[k][2], effort.part) for k, _, effort in work]
    for (k, move, effort), loads in zip(work, shared(crews[0][0], tasks), strict=True):
        parts[k].add(crews[k][0], move, effort, loads)
    return parts


def smallest_of_many(cases: Sequence[Demand]) -> list[SmallTeam | None]:
    """Return the smallest team of each case of which every move is within the deciding limits at typical values.

    Neither side depends on the other's number, so each is made as small as it can be.

    Parameters
    ----------
    cases : sequence of Demand
        That differ in procedure, aid and patient; bed, handling and sharing are those of the first.

    Returns
    -------
    list of SmallTeam or None
        None where no team is enough, or where the case is refused.

    Examples
    --------
    >>> from ergo.assessment import demand_of
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> found = smallest_of_many([demand_of(parse_scenario({"name": "x", "procedure": "boost", "patient": patient}))])
    >>> found[0].left, found[0].right
    (2, 2)
    """
    airway = _airways(cases)
    chosen: dict[tuple[int, Side], tuple[int, _Part]] = {}
    open_sides: list[tuple[int, Side]] = []
    for k, asked in enumerate(cases):
        for side in _SIDES:
            if not _tasks(asked, side) and side not in asked.guarded:
                chosen[k, side] = (0, _Part())
            elif airway[k].enough:
                open_sides.append((k, side))
    people = 0
    while open_sides:
        people += 1
        crews = [(cases[k], side, crew_of(cases[k].scenario, side, people)) for k, side in open_sides]
        for key, part in zip(open_sides, _parts(crews), strict=True):
            if part.enough:
                chosen[key] = (people, part)
        room = {(k, side) for k, side in open_sides if people < largest_team(cases[k])[_SIDES.index(side)]}
        lost = {key[0] for key in open_sides if key not in chosen and key not in room}  # one side is: all is
        open_sides = [key for key in open_sides if key not in chosen and key[0] not in lost]
    return [_team(k, asked, airway[k], chosen) for k, asked in enumerate(cases)]


def _airways(cases: Sequence[Demand]) -> list[_Part]:
    """Say whether whoever holds the head can; where nobody does and somebody must, no team is enough."""
    parts = _parts([(asked, "airway", (airway_lead(),)) for asked in cases])
    for asked, part in zip(cases, parts, strict=True):
        somebody = any(role.name == "airway lead" for role in roles_of(asked.scenario))
        part.enough = part.enough and not asked.refusals and (somebody or not _tasks(asked, "airway"))
    return parts


def _team(k: int, asked: Demand, airway: _Part, chosen: dict[tuple[int, Side], tuple[int, _Part]]) -> SmallTeam | None:
    found = [chosen.get((k, side)) for side in _SIDES]
    if found[0] is None or found[1] is None or not airway.enough:
        return None
    (left, on_left), (right, on_right) = found[0], found[1]
    parts = (on_left, on_right, airway)
    judged = set[int]().union(*(part.judged for part in parts))
    if any(efforts and m not in judged for m, (_, efforts) in enumerate(asked.moves)):
        return None  # a move that no limit covers is no pass
    done = tuple(one for part in parts for one in part.done)
    # with nothing to do on either side somebody is there all the same
    return SmallTeam(left, right or int(left == 0), done, max(part.ratio for part in parts))
