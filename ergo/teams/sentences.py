"""A team answer in sentences: what it is, and what one more person or a better aid buys."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from ergo.assessment import Assessment, team_most
from ergo.assessment.sentences import NO_TEAM, short_of_covered, uncovered_share_words
from ergo.limits.guidance import Guidance
from ergo.teams.team_search import Counts, Reasons
from ergo.units import DEFAULT_UNITS, Units, people_words, percent

__all__ = ["REASON_NAMES", "WithAid", "gain_words", "number_of", "reasons_words", "why_words"]


REASON_NAMES: dict[Counts, str] = {
    "force": "by force alone",
    "if one breaks off": "to hold on if one lets go",
    "guidance": "by guidance",
}
"""What each reason for a number of people is called in a table."""


class WithAid(Protocol):
    """An aid with its smallest team, as far as a gain is told from it."""

    @property
    def aid(self) -> str:
        """Its name."""

    @property
    def people(self) -> int | None:
        """Of the smallest team; None where no team is enough."""

    @property
    def people_by_force(self) -> int | None:
        """Of the smallest team that force alone would take."""

    @property
    def needs(self) -> int | str:
        """That number of people, "lift", or "no limit" where no limit covers the case."""

    @property
    def worst_ratio(self) -> float:
        """Largest ratio of demand to a deciding limit with that team."""


_HEAD_TOO_HEAVY = (
    "No team makes the head lighter for the airway lead: let somebody else hold the tube, or let the head rest on a "
    "support and guide it."
)


def why_words(
    best: Assessment | None,
    shown: Assessment,
    probability: float,
    probability_asked: float | None,
    missing: str = "",
    units: Units = DEFAULT_UNITS,
    uncovered: float = 0.0,
    reasons: Reasons | None = None,
) -> str:
    """Say who is needed, for which reason and how sure that is, or why no team can be named."""
    if best is not None:
        roles = "".join(f", {r.people} {r.name}" for r in best.roles)
        team = f"{best.left} on the left, {best.right} on the right{roles}"
        first, others = reasons_words(reasons, team) if reasons else (f"{people_words(best.people)}: {team}", "")
        return (
            f"{first}. {others}Nobody is over a limit in {percent(probability)} of cases."
            f"{uncovered_share_words(uncovered)} {best.why_in(units)}"
        )
    if missing and not shown.refusals:
        return f"{NO_TEAM}. {missing}"
    why = shown.why_in(units)
    if shown.verdict == "not applicable":
        return f"{NO_TEAM}. {why}"
    if shown.refusals:
        return why
    if short := short_of_covered(probability, uncovered, probability_asked or 0.0):
        return f"{NO_TEAM}. {short}"
    if any(c.decides and c.verdict == "over" and c.person.role == "airway lead" for m in shown.moves for c in m.limits):
        return f"{_HEAD_TOO_HEAVY} {why}"
    where = "at typical values" if probability_asked is None else f"in {100 * probability_asked:g} % of cases"
    return (
        f"No team of up to {team_most()} a side keeps everybody within the limits {where}: "
        f"use a mechanical lift or a better aid. {why}"
    )


def reasons_words(reasons: Reasons, team: str = "") -> tuple[str, str]:
    """Return how many people, for which reason, and as which team; and then what each other reason would ask for.

    >>> from ergo.limits.guidance import Guidance
    >>> from ergo.teams.team_search import Reasons
    >>> found = Reasons(2, 2, 5, 4, 3, 5, Guidance(5, 2, "Guidance asks for 5 people."), "guidance")
    >>> reasons_words(found, "2 on the left, 2 on the right, 1 airway lead")[0]
    '5 people, because guidance asks for 5: 2 on the left, 2 on the right, 1 airway lead'
    >>> reasons_words(found)[1]
    'Force alone would take 4; to hold on if one lets go would take 3. '
    """
    if reasons.people is None:
        return NO_TEAM, ""
    number, asked, who = people_words(reasons.people), reasons.people_by_guidance, _who_asks(reasons.guidance)
    as_team = f": {team}" if team else ""
    force = reasons.people_by_force
    if reasons.none_holds:
        said = "A mechanical lift or a better aid, because no team at this bed holds the patient if one lets go"
        return said, f"Force alone would take {force}{as_team}. "
    if reasons.no_room:
        wanted = max(asked or 0, reasons.people_if_one_breaks_off or 0)
        whom = f"the {wanted} people who are asked for" if wanted > (force or 0) else "the team that is asked for"
        return (
            f"Make room at this bed for {whom}",
            f"Force alone would take {force}{as_team}. {_others(reasons, 'force')}",
        )
    because = {
        "force": f"because the force takes {force}",
        "if one breaks off": "so that the others hold on if one lets go",
        "guidance": f"because {who} asks for {asked}",
        None: "",
    }[reasons.counts]
    if reasons.people != number_of(reasons, reasons.counts):
        return f"{number}, the fewest that meet all reasons together{as_team}", _others(reasons, None)
    return f"{number}, {because}{as_team}", _others(reasons, reasons.counts)


def number_of(reasons: Reasons, counts: Counts | None) -> int | None:
    """Return how many people one reason asks for; None where it asks for nobody or no number is enough."""
    return {
        "force": reasons.people_by_force,
        "if one breaks off": reasons.people_if_one_breaks_off,
        "guidance": reasons.people_by_guidance,
    }.get(counts or "")


def _others(reasons: Reasons, counts: Counts | None) -> str:
    """What each reason that does not count would ask for."""
    holds, asked = reasons.people_if_one_breaks_off, reasons.people_by_guidance
    said = []
    if counts != "force":
        said.append(f"force alone would take {reasons.people_by_force}")
    if counts != "if one breaks off" and holds is not None:
        said.append(f"to hold on if one lets go would take {holds}")
    if counts != "guidance" and asked is not None:
        said.append(f"{_who_asks(reasons.guidance)} asks for {asked}")
    text = "; ".join(said)
    return f"{text[:1].upper()}{text[1:]}. " if said else ""


def _who_asks(guidance: Guidance) -> str:
    own = bool(guidance.standing) and not guidance.standing[0].source
    return "the unit's own rule" if own else "guidance"


def gain_words(best: Assessment | None, one_more: Assessment | None, aids: Sequence[WithAid], aid: str) -> list[str]:
    """Say what one more person and what each better aid buys."""
    said = []
    if best is not None and one_more is not None:
        who = f"One more person, on the {'left' if one_more.left > best.left else 'right'}"
        goes = _goes(best.worst_ratio, one_more.worst_ratio)
        if not goes:
            who, goes = f"{who}, changes nothing where it is hardest", f"stays at {best.worst_ratio:.2f}"
        elif one_more.worst_ratio > best.worst_ratio:
            who = f"{who}, does not ease it where it is hardest"
        else:
            who = f"{who}, where it is hardest"
        said.append(f"{who}: the load {goes} of the limit.")
    now = next((o for o in aids if o.aid == aid), None)
    for option in aids:
        if now is None or option.aid in (aid, "no aid") or option.people is None:
            continue  # working without an aid is never a gain to recommend
        if now.people is None and now.needs != "lift":
            said.append(f"With the {option.aid}: {people_words(option.people)}; with the {aid} no team can be named.")
        elif now.people is None:
            said.append(f"With the {option.aid}: {people_words(option.people)} instead of a mechanical lift.")
        elif option.people < now.people:
            said.append(f"With the {option.aid}: {people_words(option.people)} instead of {now.people}.")
        elif option.people == now.people and _fewer(option.people_by_force, now.people_by_force):
            said.append(
                f"With the {option.aid}: still {people_words(option.people)}, though force alone would take "
                f"{option.people_by_force} instead of {now.people_by_force}."
            )
        elif option.people == now.people and option.worst_ratio < now.worst_ratio:
            goes = _goes(now.worst_ratio, option.worst_ratio)
            if goes:
                where = f"where it is hardest, the load {goes} of the limit"
                said.append(f"With the {option.aid}: still {people_words(option.people)}; {where}.")
    return said


def _fewer(one: int | None, other: int | None) -> bool:
    return one is not None and other is not None and one < other


def _goes(before: float, after: float) -> str:
    """How a ratio changes, with as many digits as tell the two apart; empty where a thousandth does not.

    >>> _goes(0.92, 0.851), _goes(0.6512, 0.6488), _goes(0.6512, 0.6513)
    ('goes from 0.92 to 0.85', 'goes from 0.651 to 0.649', '')
    """
    for digits in (2, 3):
        one, other = f"{before:.{digits}f}", f"{after:.{digits}f}"
        if one != other:
            return f"goes from {one} to {other}"
    return ""
