"""The team of an event, tabulated over the patient's mass so that a year of events is fast."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ergo.assessment import Demand, Person, demand_of, roles_of, why_no_team_is_possible
from ergo.errors import Fault, InputError
from ergo.evidence import assumption
from ergo.inputs.scenario import Patient, Scenario, Sex, parse_scenario, usually_intubated
from ergo.teams.team_search import SmallTeam, smallest_teams_of

__all__ = ["Ask", "AssessedNeed", "Need", "TeamNeed", "TeamTable", "Teams", "build_team_table", "stature_class"]

STATURE_STEP_M = 0.2
MASS_STEP_KG = 40.0  # two changes that cancel within one step are not seen
MASS_TOLERANCE_KG = 0.2
_TOGETHER = 100  # cases asked at once: enough to share a search, few enough to show progress
_A_LINE = 6  # about so many cases a line; only the progress rests on it
_WHOLE = 6  # the discrete columns of Teams; the others vary smoothly between two changes

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class TeamNeed:
    """What one move of one patient needs: people by duty, a lift or not, minutes, the load on each puller."""

    left: int
    right: int
    airway_lead: int = 0
    lines_and_drains: int = 0
    caller: int = 0
    use_lift: bool = False
    minutes: float | None = None
    """Minutes of the event where they differ from those the unit states, e.g. with a lift."""
    loadings: float = 0.0
    """Efforts of the most loaded person."""
    pull_n_s: float = 0.0
    """Impulse of that person's pulls, force times time [N s]."""
    ratio: float = 0.0
    """The part of what they can manage that all give with this team, where it is hardest."""

    def whole(self) -> tuple[int, int, int, int, int, int]:
        """Return what cannot change by halves: the people by duty, and the lift."""
        return (
            self.left, self.right, self.airway_lead, self.lines_and_drains, self.caller, int(self.use_lift),
        )  # fmt: skip

    def smooth(self) -> tuple[float, float, float, float]:
        """Return what varies smoothly with mass; minutes left to the unit are not a number."""
        return (np.nan if self.minutes is None else self.minutes, self.loadings, self.pull_n_s, self.ratio)


Ask = tuple[str, str, float, str, float]
Need = Callable[[str, str, float, str, float], TeamNeed]
"""need(procedure, aid, mass_kg, sex, stature_m) -> TeamNeed; with a method `many(asks)` it is asked together."""


@dataclass(frozen=True, slots=True, eq=False)
class Teams:
    """The looked-up needs of many patients: arrays of one element a patient."""

    left: NDArray[np.int64]
    right: NDArray[np.int64]
    airway_lead: NDArray[np.int64]
    lines_and_drains: NDArray[np.int64]
    caller: NDArray[np.int64]
    use_lift: NDArray[np.int64]
    minutes: Array
    loadings: Array
    pull_n_s: Array
    ratio: Array

    @property
    def handlers(self) -> NDArray[np.int64]:
        """Everybody but the airway lead."""
        return self.left + self.right + self.lines_and_drains + self.caller


@dataclass(frozen=True, slots=True, eq=False)
class _Line:
    """One case over mass: the need at each node, taken at the node above, smooth values in between."""

    mass: Array
    whole: NDArray[np.int64]
    smooth: Array

    def at(self, mass: Array) -> tuple[NDArray[np.int64], Array]:
        upper = np.clip(np.searchsorted(self.mass, mass, side="left"), 1, len(self.mass) - 1)
        lower = upper - 1
        same = np.all(self.whole[upper] == self.whole[lower], axis=1)
        share = np.clip((mass - self.mass[lower]) / (self.mass[upper] - self.mass[lower]), 0.0, 1.0)
        part = np.where(same, share, 1.0)[:, None]
        lightest = (mass <= self.mass[0])[:, None]
        whole = np.where(lightest, self.whole[0], self.whole[upper])
        # at a change the upper node holds alone: minutes that only one side states must not turn into nan
        between = self.smooth[lower] * (1.0 - part) + self.smooth[upper] * part
        smooth = np.where(part == 1.0, self.smooth[upper], between)
        return whole, np.where(lightest, self.smooth[0], smooth)


Key = tuple[str, str, str, float]


@dataclass(frozen=True, slots=True, eq=False)
class TeamTable:
    """Teams by procedure, aid, sex and stature class over a range of mass."""

    lines: Mapping[Key, _Line]
    mass_range_kg: tuple[float, float]
    calls: int

    def lookup(self, procedure: str, aid: str, mass_kg: ArrayLike, women: ArrayLike, stature_m: ArrayLike) -> Teams:
        """Return the teams of many patients."""
        mass, female, stature = np.broadcast_arrays(
            np.atleast_1d(np.asarray(mass_kg, float)), np.asarray(women, bool), np.asarray(stature_m, float)
        )
        low, high = self.mass_range_kg
        if mass.size and (mass.min() < low or mass.max() > high):
            raise ValueError(f"mass outside the tabulated {low:g} to {high:g} kg")
        classes = np.round(stature / STATURE_STEP_M).astype(np.int64)
        whole = np.zeros((mass.size, _WHOLE), dtype=np.int64)
        smooth = np.zeros((mass.size, 4))
        for woman in (True, False):
            for number in np.unique(classes[female == woman]):
                here = (female == woman) & (classes == number)
                line = self.lines[procedure, aid, "F" if woman else "M", _class(int(number))]
                whole[here], smooth[here] = line.at(mass[here])
        return Teams(*whole.T, *smooth.T)


def stature_class(stature_m: float) -> float:
    """Return the stature a table uses for this stature: rounded to 0.2 m.

    >>> stature_class(1.68)
    1.6
    """
    return _class(int(np.round(stature_m / STATURE_STEP_M)))


def _class(number: int) -> float:
    return round(number * STATURE_STEP_M, 6)


def build_team_table(
    need: Need,
    cases: Iterable[tuple[str, str]],
    patients: Sequence[tuple[str, float]],
    mass_range_kg: tuple[float, float],
    workers: int = 1,
    masses_kg: Sequence[float] | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> TeamTable:
    """Tabulate a need over mass, with every mass at which the team changes found to 200 g."""
    low, high = mass_range_kg
    classes: dict[tuple[str, float], set[float]] = {}
    for i, (sex, stature) in enumerate(patients):
        seen = classes.setdefault((sex, stature_class(stature)), set())
        if masses_kg is not None:
            seen.add(float(masses_kg[i]))
    if masses_kg is None:
        steps = max(2, 1 + int(np.ceil((high - low) / MASS_TOLERANCE_KG)))
        lattice = [float(m) for m in np.linspace(low, max(high, low + MASS_TOLERANCE_KG), steps)]
        looked_at = dict.fromkeys(classes, lattice)
    else:
        looked_at = {key: sorted(seen) for key, seen in classes.items()}
    keys: list[Key] = [(p, a, sex, h) for p, a in dict.fromkeys(cases) for sex, h in sorted(classes)]
    searches = [_Search(key, looked_at[key[2], key[3]]) for key in keys]
    if workers == 1:
        made = _lines(need, searches, progress)
    else:
        with ProcessPoolExecutor(workers) as pool:
            shares = [searches[k::workers] for k in range(workers)]
            made = [line for part in pool.map(partial(_lines, need), shares) for line in part]
        keys = [key for k in range(workers) for key in keys[k::workers]]
    lines = dict(zip(keys, made, strict=True))
    return TeamTable(lines, (low, high), sum(len(line.mass) for line in made))


class _Search:
    """Finds the masses at which the team of one case changes, out of a list of masses."""

    def __init__(self, key: Key, masses: Sequence[float]) -> None:
        self.key = key
        self.masses = masses
        self.found: dict[int, TeamNeed] = {}
        last = len(masses) - 1
        steps = max(1, math.ceil((masses[last] - masses[0]) / MASS_STEP_KG))
        ends = [masses[0] + (masses[last] - masses[0]) * k / steps for k in range(steps + 1)]
        self.wanted = sorted({min(last, bisect_left(masses, m - 1e-9)) for m in ends} | {last})
        self.spans: list[tuple[int, int, int]] = []

    def ask(self, at: int) -> Ask:
        """Return the question at one place of the list."""
        procedure, aid, sex, stature = self.key
        return procedure, aid, self.masses[at], sex, stature

    def take_answers(self, answers: Mapping[int, TeamNeed]) -> None:
        """Take what was asked, and say in `wanted` what to ask next."""
        first = not self.found
        self.found |= answers
        spans = [(i, j, 0) for i, j in pairwise(self.wanted)] if first else self.spans
        if not first:
            spans = [part for span in self.spans for part in self._halves(span)]
        self.spans = [(i, j, n) for i, j, n in spans if j - i > 1 and self._differ(i, j)]
        self.wanted = [self._between(*span) for span in self.spans]

    def _differ(self, low: int, high: int) -> bool:
        return self.found[low].whole() != self.found[high].whole()

    def _halves(self, span: tuple[int, int, int]) -> Iterator[tuple[int, int, int]]:
        low, high, tries = span
        middle = next(i for i in self.wanted if low < i < high)
        # where the lower end moved up, its ratio says anew how far that team goes
        yield low, middle, tries + 1
        yield middle, high, 0

    def _between(self, low: int, high: int, tries: int) -> int:
        """Return where to look: where the lower end's team reaches its limit if force goes with mass, or midway."""
        ratio = self.found[low].ratio
        at = (low + high) // 2
        if tries % 2 == 0 and 0.0 < ratio <= 1.0:
            at = bisect_left(self.masses, self.masses[low] / ratio) - 1
        return min(max(at, low + 1), high - 1)

    def line(self) -> _Line:
        """Return what was found."""
        nodes = [(self.masses[i], self.found[i]) for i in sorted(self.found)]
        if len(nodes) == 1:  # one mass still needs two nodes
            nodes.append((nodes[0][0] + MASS_STEP_KG, nodes[0][1]))
        return _Line(
            np.array([m for m, _ in nodes]),
            np.array([n.whole() for _, n in nodes], dtype=np.int64),
            np.array([n.smooth() for _, n in nodes], dtype=np.float64),
        )


def _lines(need: Need, searches: Sequence[_Search], progress: Callable[[int, int], None] | None = None) -> list[_Line]:
    """Tabulate several cases over mass, asking for all of them at once."""
    done = 0
    while wanted := [(search, at) for search in searches for at in search.wanted]:
        answers: list[TeamNeed] = []
        for k in range(0, len(wanted), _TOGETHER):
            answers += _ask(need, [search.ask(at) for search, at in wanted[k : k + _TOGETHER]])
            if progress:
                seen = done + len(answers)
                progress(seen, max(_A_LINE * len(searches), seen + len(wanted) - len(answers)))
        done += len(answers)
        answers_of: dict[int, dict[int, TeamNeed]] = {}
        for (search, at), answer in zip(wanted, answers, strict=True):
            answers_of.setdefault(id(search), {})[at] = answer
        for search in searches:
            if search.wanted:
                search.take_answers(answers_of[id(search)])
    return [search.line() for search in searches]


def _ask(need: Need, asks: list[Ask]) -> list[TeamNeed]:
    many: Callable[[list[Ask]], list[TeamNeed]] | None = getattr(need, "many", None)
    return many(asks) if many else [need(*ask) for ask in asks]


@dataclass(frozen=True, slots=True)
class AssessedNeed:
    """need(procedure, aid, mass_kg, sex, stature_m) by the assessment, at typical values of all inputs.

    Bed, places, sharing, policy and handling are those of a template. The team is the smallest of which every move is
    within the deciding limits; where none is, the answer is a lift with its own people and minutes. A patient who
    is turned prone counts as intubated, another one does not.

    Without a template every field of a scenario is at its default, but for the loadings a day: a unit's people are
    counted more than a hundred of them, so the lower figure of lumbar shear holds for them.

    >>> need = AssessedNeed()("boost", "slide sheet", 70.0, "F", 1.6)
    >>> need.use_lift, need.left + need.right >= 2, need.pull_n_s > 0
    (False, True, True)
    """

    template: Scenario | None = None

    def __call__(self, procedure: str, aid: str, mass_kg: float, sex: str, stature_m: float) -> TeamNeed:
        """Return the team of one move of one patient; InputError if the aid cannot serve it or a place is missing."""
        return self.many([(procedure, aid, mass_kg, sex, stature_m)])[0]

    def many(self, asks: Sequence[Ask]) -> list[TeamNeed]:
        """Return the teams of many moves; several times faster together than apart.

        >>> asks = [("boost", "slide sheet", 70.0, "F", 1.6), ("limb hold", "slide sheet", 90.0, "M", 1.8)]
        >>> AssessedNeed().many(asks) == [AssessedNeed()(*ask) for ask in asks]
        True
        """
        cases = [demand_of(self.scenario(*ask)) for ask in asks]
        teams = smallest_teams_of(cases, probability_asked=None)
        return [_need_of(demand, found) for demand, found in zip(cases, teams, strict=True)]

    def scenario(self, procedure: str, aid: str, mass_kg: float, sex: str, stature_m: float) -> Scenario:
        """Return the case of one move of one patient."""
        intubated = usually_intubated(procedure)
        patient = {"sex": sex, "mass_kg": mass_kg, "stature_m": stature_m, "intubated": intubated}
        said = {"name": f"{procedure}, {aid}", "procedure": procedure, "aid": aid, "patient": patient}
        if self.template is None:
            return parse_scenario({**said, "policy": {"loadings_per_day": assumption("loadings_per_day").high}})
        woman_or_man: Sex = "F" if sex == "F" else "M"
        own = Patient(sex=woman_or_man, mass_kg=mass_kg, stature_m=stature_m, intubated=usually_intubated(procedure))
        return self.template.model_copy(update={**said, "patient": own, "moves": ()})


def _need_of(demand: Demand, found: SmallTeam | None) -> TeamNeed:
    roles = {role.name: role.people for role in roles_of(demand.scenario)}
    airway, caller = roles.get("airway lead", 0), roles.get("caller", 0)
    lines = sum(roles.get(name, 0) for name in ("lines and drains", "tube holder", "limbs"))
    if found is None:
        if not demand.refusals and (missing := why_no_team_is_possible(demand)):
            raise InputError("unit", [Fault(demand.scenario.name, "no team", missing)])  # a lift would not mend that
        people = int(assumption("lift_people").typical)
        minutes = assumption("lift_minutes").typical
        return TeamNeed(people - people // 2, people // 2, airway, lines, caller, True, minutes)
    loadings, pull = _load(demand, found)
    return TeamNeed(found.left, found.right, airway, lines, caller, False, None, loadings, pull, found.ratio)


def _load(demand: Demand, found: SmallTeam) -> tuple[float, float]:
    """Return efforts and impulse [N s] of the most loaded person: steady force times how long it lasts.

    A turn says no time of its own; its pull counts as long as one pull of a slide.
    """
    shortest = float(demand.case.slide_time_s)
    efforts: dict[Person, int] = {}
    impulse: dict[Person, float] = {}
    for effort, load in found.done:
        if load.start_n <= 0:
            continue
        efforts[load.person] = efforts.get(load.person, 0) + 1
        lasts = max(float(effort.seconds), shortest)
        impulse[load.person] = impulse.get(load.person, 0.0) + load.steady_n * lasts
    return float(max(efforts.values(), default=0)), max(impulse.values(), default=0.0)
