"""The smallest team for a scenario, the whole curve, what one more person and what a better aid buys."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ergo.assess import Assessment, Demand, LimitCheck, Role, demand_of, judge, roles_of
from ergo.assess.judge import side_verdict
from ergo.errors import InputError
from ergo.evidence import assumption
from ergo.limits.policy import Verdict
from ergo.mechanics.landing import Landing
from ergo.mechanics.layers import Aid, registry
from ergo.plan.published import PublishedHeadcount, published_headcounts
from ergo.scenario import Scenario, Side

__all__ = ["AidOption", "CurvePoint", "TeamAnswer", "compare_aids", "people_for", "smallest_team"]

_SIDES: tuple[Side, ...] = ("left", "right")
_ENOUGH: tuple[Verdict, ...] = ("within", "close")


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """One team size: `a_side` people on each side, everybody counted in `people`."""

    a_side: int
    people: int
    verdict: Verdict
    worst_ratio: float
    worst_person_force_n: float
    deciding: str
    deciding_move: str
    possible: bool
    check: LimitCheck | None = None
    """The limit that decides, with what is asked of it and by whom."""


@dataclass(frozen=True, slots=True)
class AidOption:
    """The smallest team with one aid."""

    aid: str
    people: int | None
    left: int | None
    right: int | None
    worst_ratio: float
    worst_person_force_n: float
    deciding: str
    unmeasured: bool
    note: str
    details: Aid
    """Layers with friction, cover, use and capacity."""
    landing: Landing | None


@dataclass(frozen=True, slots=True)
class TeamAnswer:
    """How many people a scenario needs, and why.

    `people`, `left` and `right` are None when a mechanical lift is the answer, or when no limit covers the case.
    """

    scenario: Scenario
    people: int | None
    left: int | None
    right: int | None
    roles: tuple[Role, ...]
    use_lift: bool
    assessment: Assessment
    curve: tuple[CurvePoint, ...]
    one_more: Assessment | None
    aids: tuple[AidOption, ...]
    published: tuple[PublishedHeadcount, ...]
    why: str
    gains: tuple[str, ...]


def smallest_team(scenario: Scenario, *, with_aids: bool = True) -> TeamAnswer:
    """Return the smallest team for which every move is within the deciding limits.

    People are fixed to a side for the whole procedure, so each side needs the most that any move asks of it; roles
    come on top. Up to `team_most` a side and no more than there are places; beyond that a mechanical lift.

    Parameters
    ----------
    scenario : Scenario
        Its own team is not used, except for roles and sharing.
    with_aids : bool
        Whether to look at every other aid too, which takes several times as long.

    Returns
    -------
    TeamAnswer

    Raises
    ------
    InputError
        If the aid cannot serve the procedure.

    Examples
    --------
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6, "intubated": True}
    >>> answer = smallest_team(parse_scenario({"name": "x", "procedure": "prone turn", "patient": patient}))
    >>> answer.use_lift, answer.people == answer.left + answer.right + 1
    (False, True)
    """
    asked = demand_of(scenario)
    best = _search(asked)
    curve = tuple(_point(asked, n) for n in range(1, _most() + 1))
    shown = best or judge(asked, *_largest(asked))
    aids = compare_aids(scenario) if with_aids else ()
    one_more = _one_more(asked, best) if best else None
    uncovered = best is None and shown.verdict == "not applicable"
    return TeamAnswer(
        scenario=scenario,
        people=best.people if best else None,
        left=best.left if best else None,
        right=best.right if best else None,
        roles=roles_of(scenario),
        use_lift=best is None and not uncovered,
        assessment=shown,
        curve=curve,
        one_more=one_more,
        aids=aids,
        published=published_headcounts(scenario),
        why=_why(best, shown, uncovered),
        gains=tuple(_gains(best, one_more, aids, scenario.aid)),
    )


def people_for(scenario: Scenario) -> int | Literal["lift", "no limit"]:
    """Return only the number of people that a scenario needs, or why there is none.

    Parameters
    ----------
    scenario : Scenario

    Returns
    -------
    int or "lift" or "no limit"

    Raises
    ------
    InputError
        If the aid cannot serve the procedure.

    Examples
    --------
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6, "intubated": True}
    >>> case = parse_scenario({"name": "x", "procedure": "prone turn", "patient": patient})
    >>> people_for(case) == smallest_team(case).people
    True
    """
    asked = demand_of(scenario)
    best = _search(asked)
    if best is not None:
        return best.people
    return "no limit" if judge(asked, *_largest(asked)).verdict == "not applicable" else "lift"


def compare_aids(scenario: Scenario) -> tuple[AidOption, ...]:
    """Return the smallest team with each aid that can serve the scenario's procedure, fewest people first.

    Parameters
    ----------
    scenario : Scenario

    Returns
    -------
    tuple of AidOption
        The scenario's own aids are among them.
    """
    options = []
    for name in [*registry(), *(own.name for own in scenario.own_aids)]:
        try:
            asked = demand_of(scenario.model_copy(update={"aid": name}))
        except InputError:  # this aid does not serve the procedure
            continue
        best = _search(asked)
        shown = best or judge(asked, *_largest(asked))
        options.append(
            AidOption(
                name,
                best.people if best else None,
                best.left if best else None,
                best.right if best else None,
                shown.worst_ratio,
                max((m.worst_person_force_n for m in shown.moves), default=0.0),
                shown.deciding.label if shown.deciding else "",
                asked.case.aid.unmeasured,
                asked.case.aid.note,
                asked.case.aid,
                asked.landing,
            )
        )
    return tuple(sorted(options, key=lambda o: (o.people is None, o.people or 0, o.worst_ratio)))


def _most() -> int:
    return int(assumption("team_most").typical)


def _largest(asked: Demand) -> tuple[int, int]:
    bed = asked.scenario.bed
    return min(bed.places_left, _most()), min(bed.places_right, _most())


def _search(asked: Demand) -> Assessment | None:
    """Return the smallest team within every limit: side by side, because neither depends on the other."""
    found = []
    for side, most in zip(_SIDES, _largest(asked), strict=True):
        enough = (n for n in range(most + 1) if side_verdict(asked, side, n) in _ENOUGH)
        people = next(enough, None)
        if people is None:
            return None
        found.append(people)
    result = judge(asked, found[0], found[1])
    return result if result.verdict in _ENOUGH else None


def _point(asked: Demand, n: int) -> CurvePoint:
    result = judge(asked, n, n)
    left_most, right_most = _largest(asked)
    deciding = result.deciding
    return CurvePoint(
        a_side=n,
        people=result.people,
        verdict=result.verdict,
        worst_ratio=result.worst_ratio,
        worst_person_force_n=max((m.worst_person_force_n for m in result.moves), default=0.0),
        deciding=deciding.label if deciding else "",
        deciding_move=result.deciding_move,
        possible=n <= left_most and n <= right_most,
        check=deciding,
    )


def _one_more(asked: Demand, best: Assessment) -> Assessment | None:
    """Return the better of the two teams with one more person, where there is a place."""
    left_most, right_most = _largest(asked)
    teams = [(best.left + 1, best.right), (best.left, best.right + 1)]
    possible = [judge(asked, *t) for t in teams if t[0] <= left_most and t[1] <= right_most]
    return min(possible, key=lambda a: (a.worst_ratio, _total_force(a)), default=None)


def _total_force(result: Assessment) -> float:
    return sum(m.worst_person_force_n for m in result.moves)


def _count(number: int, noun: str = "people") -> str:
    return f"{number} {'person' if number == 1 and noun == 'people' else noun}"


def _why(best: Assessment | None, shown: Assessment, uncovered: bool) -> str:
    if best is not None:
        roles = "".join(f", {r.people} {r.name}" for r in best.roles)
        return f"{_count(best.people)}: {best.left} on the left, {best.right} on the right{roles}. {best.why}"
    if uncovered:
        return f"No team can be named. {shown.why}"
    if shown.refusals:
        return shown.why
    return f"No team of up to {_most()} a side is within the limits: use a mechanical lift or a better aid. {shown.why}"


def _gains(best: Assessment | None, one_more: Assessment | None, aids: tuple[AidOption, ...], aid: str) -> list[str]:
    """Say what one more person and what each better aid buys."""
    said = []
    if best is not None and one_more is not None:
        said.append(
            f"One more person, on the {'left' if one_more.left > best.left else 'right'}: the highest ratio to a limit "
            f"goes from {best.worst_ratio:.2f} to {one_more.worst_ratio:.2f}."
        )
    now = next((o for o in aids if o.aid == aid), None)
    for option in aids:
        if now is None or option.aid in (aid, "no aid") or option.people is None:
            continue  # working without an aid is never a gain to recommend
        if now.people is None:
            said.append(f"With the {option.aid}: {_count(option.people)} instead of a mechanical lift.")
        elif option.people < now.people:
            said.append(f"With the {option.aid}: {_count(option.people)} instead of {now.people}.")
        elif option.people == now.people and option.worst_ratio < now.worst_ratio:
            said.append(
                f"With the {option.aid}: still {_count(option.people)}, the highest ratio to a limit goes from "
                f"{now.worst_ratio:.2f} to {option.worst_ratio:.2f}."
            )
    return said
