"""Can these do it: a stated team judged, one fewer and one more beside it, and what would help."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from ergo.assessment import (
    Assessment,
    Demand,
    demand_of,
    judge,
    largest_team,
    place_people,
    possible_teams,
    stands_where_needed,
)
from ergo.assessment.sentences import within_sentence
from ergo.assessment.team import letters_of, member_person, people_on_side
from ergo.assessment.team_share import team_effort_of
from ergo.assessment.verdict import judge_teams
from ergo.errors import InputError
from ergo.evidence import assumption
from ergo.handlers.team_effort import FULL_EFFORT
from ergo.inputs.scenario import SIDES, UNSTATED_SHEET, Duty, Member, Scenario, Side, Size, with_usual_people
from ergo.limits.policy import ENOUGH
from ergo.teams.smallest_team import PROBABILITY_ASKED, FirstAnswer, aid_names
from ergo.teams.team_search import Reasons, easiest_first, one_more_teams, reasons_of
from ergo.uncertainty.monte_carlo import Drawn
from ergo.uncertainty.two_kinds import ProbabilityBand, own_acceptance, probability_band, unmeasured_words
from ergo.units import DEFAULT_UNITS, INCH, Units, people_words, percent

__all__ = [
    "BesideTeam",
    "Neighbour",
    "Place",
    "ThisTeam",
    "beside_team",
    "helps",
    "most_loaded_words",
    "next_words",
    "this_team",
    "this_team_words",
]

_EXTRA = Member(size="medium")
"""Who comes when one more comes."""
_SIZES: tuple[Size, ...] = ("medium", "tall", "small")
_SIZE_WORDS: dict[Size, str] = {"medium": "of medium size", "tall": "who is tall", "small": "who is small"}
_HEIGHT_STEP_M = {"cm": 0.05, "ft-in": 2 * INCH}
"""Between two heights of the bed that are tried, so that each is a whole number in the reader's units."""
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Place:
    """Where one person of the shift stands, or what else they do; `side` None for who stands at no side."""

    member: str
    role: Duty | None
    side: Side | None
    position_m: float | None


@dataclass(frozen=True, slots=True)
class Neighbour:
    """The team with one fewer or one more: how sure it is, and the first thing that fails."""

    people: int
    left: int
    right: int
    probability: float
    enough: bool
    fails: str
    short_of: tuple[str, ...] = ()
    """What other reasons than force it falls short of."""


@dataclass(frozen=True, slots=True)
class ThisTeam:
    """A stated team: whether it is enough, how sure, who stands where, and its neighbours.

    `enough` says that every move is within the limits at typical values and nobody is over one in at least
    `probability_asked` of the draws; `short_of` are the other reasons that ask for more people.
    """

    scenario: Scenario
    people: int
    left: int
    right: int
    enough: bool
    probability: float
    probability_asked: float
    own_acceptance: float
    """That nobody is asked more than they themselves accept."""
    band: ProbabilityBand | None
    fails: str
    short_of: tuple[str, ...]
    places: tuple[Place, ...]
    assessment: Assessment
    reasons: Reasons
    one_fewer: Neighbour | None
    one_more: Neighbour | None


def this_team(
    scenario: Scenario,
    probability_asked: float = PROBABILITY_ASKED,
    *,
    with_band: bool = True,
    units: Units = DEFAULT_UNITS,
) -> ThisTeam:
    """Return whether the team of a scenario is enough: its people where they fit best, or so many on each side.

    Parameters
    ----------
    scenario : Scenario
        With `team.members`, or the numbers on the left and on the right.
    probability_asked : float
        That nobody is over a limit, 0 to 1.
    with_band : bool
        Whether to look how far the probability may move for want of measurements.
    units : Units
        In which `fails` is said, kg, N and cm where left out.

    Returns
    -------
    ThisTeam

    Raises
    ------
    InputError
        If the aid cannot serve the procedure, or nobody may do what a role asks for.

    Examples
    --------
    >>> from ergo.inputs import examples
    >>> found = this_team(examples.prone_turn(team={"left": 1, "right": 2}), with_band=False)
    >>> found.people, found.one_fewer.people, found.one_more.people
    (4, 3, 5)
    """
    placed = place_people(scenario)
    demand = demand_of(placed)
    left, right = placed.team.left, placed.team.right
    drawn = Drawn.usual(demand, (member_person(_EXTRA),))
    own = _judged(demand, drawn, left, right, probability_asked, units)
    usual = Drawn.usual(_with_team(demand, with_usual_people(placed))) if placed.team.members else drawn
    reasons = reasons_of(demand, probability_asked, usual)
    result = judge(demand, left, right)
    one_fewer, one_more = _neighbours(demand, drawn, left, right, probability_asked, units, reasons)
    return ThisTeam(
        scenario=placed,
        people=result.people,
        left=left,
        right=right,
        enough=own.enough,
        probability=own.probability,
        probability_asked=probability_asked,
        own_acceptance=own_acceptance(demand, drawn, left, right),
        band=probability_band(demand, left, right, tables=drawn.tables)
        if with_band and own.probability > 0.0
        else None,
        fails=own.fails,
        short_of=_short_of(result.people, reasons),
        places=_places(placed),
        assessment=result,
        reasons=reasons,
        one_fewer=one_fewer,
        one_more=one_more,
    )


def _with_team(demand: Demand, scenario: Scenario) -> Demand:
    """What a scenario asks does not change with the people; what they can manage does."""
    return replace(demand, scenario=scenario, capacities={})


def _judged(demand: Demand, drawn: Drawn, left: int, right: int, asked: float, units: Units) -> Neighbour:
    result = judge(demand, left, right, every_limit=False)
    probability = 0.0 if demand.refusals else drawn.probability(left, right)
    able = result.verdict in ENOUGH and not demand.refusals
    enough = able and probability >= asked
    fails = ""
    if not able:
        fails = _nobody_may(demand.scenario) or result.why_in(units)
    elif not enough:
        fails = _fails_in_draws(demand, drawn, left, right)
    return Neighbour(result.people, left, right, probability, enough, fails)


def _fails_in_draws(demand: Demand, drawn: Drawn, left: int, right: int) -> str:
    """Say what keeps a team from being sure enough that is within the limits at typical values, the commoner first."""
    uncovered = drawn.uncovered(left, right)
    over = 1.0 - drawn.probability(left, right) - uncovered
    said = []
    if uncovered > 0.0:
        said.append((uncovered, "a limit that decides does not cover where the hands are, which is no pass"))
    if over > 0.0 and (move := drawn.hardest_move(left, right)) is not None:
        where = demand.moves[move][0].name
        said.append((over, f"somebody is over a limit, most often in “{where}”"))
    return "; ".join(f"in {percent(part)} of cases {words}" for part, words in sorted(said, reverse=True))


def _nobody_may(scenario: Scenario) -> str:
    """Say so where nobody on shift may use their hands; empty where somebody may, or nobody is stated."""
    members = scenario.team.members
    if not members or _with_hands(members):
        return ""
    return (
        "nobody on shift may use their hands for this move, because of what is stated for them "
        f"(0 of {people_words(len(members))} may). Other people or a mechanical lift must do it."
    )


def _with_hands(members: Sequence[Member]) -> int:
    """How many may use their hands."""
    return sum("hands" in m.duties or m.side is not None for m in members)


def _neighbours(
    demand: Demand, drawn: Drawn, left: int, right: int, asked: float, units: Units, reasons: Reasons
) -> tuple[Neighbour | None, Neighbour | None]:
    """The team with one fewer and the one with one more, each with what else than force it falls short of."""
    both = (find(demand, drawn, left, right, asked, units) for find in (_fewer, _more))
    one_fewer, one_more = (_with_short(found, reasons) for found in both)
    return one_fewer, one_more


def _with_short(found: Neighbour | None, reasons: Reasons) -> Neighbour | None:
    return found and replace(found, short_of=_short_of(found.people, reasons))


def _short_of(people: int, reasons: Reasons) -> tuple[str, ...]:
    said = []
    breaks, guidance = reasons.people_if_one_breaks_off, reasons.people_by_guidance
    if breaks is not None and people < breaks:
        said.append(f"{breaks} would be needed for the others to hold the patient if one must let go")
    if guidance is not None and people < guidance:
        said.append(f"guidance asks for {guidance}")
    return tuple(said)


def _fewer(demand: Demand, drawn: Drawn, left: int, right: int, asked: float, units: Units) -> Neighbour | None:
    scenario = demand.scenario
    if not scenario.team.members:
        teams = [team for team in ((left - 1, right), (left, right - 1)) if min(team) >= 0 and any(team)]
        if not teams:
            return None
        teams = [team for team in teams if team in possible_teams(demand)] or teams
        return _judged(demand, drawn, *easiest_first(demand, teams)[0], asked, units)
    working = [i for i, m in enumerate(scenario.team.members) if m.side is not None]
    best: Neighbour | None = None
    for gone in working:
        found = _of_members(demand, drawn, [m for i, m in enumerate(scenario.team.members) if i != gone], asked, units)
        if found is not None and (best is None or found.probability > best.probability):
            best = found
    return best


def _more(demand: Demand, drawn: Drawn, left: int, right: int, asked: float, units: Units) -> Neighbour | None:
    scenario = demand.scenario
    if scenario.team.members:
        return _of_members(demand, drawn, [*scenario.team.members, _EXTRA], asked, units)
    teams = one_more_teams(demand, left, right)
    return _judged(demand, drawn, *teams[0], asked, units) if teams else None


def _of_members(demand: Demand, drawn: Drawn, members: list[Member], asked: float, units: Units) -> Neighbour | None:
    """The same move with other people of the shift, placed anew on the sides; None where they find no place."""
    free = tuple(
        m.model_copy(update={"side": None}) if m.role == "hands" and m.position_m is None else m for m in members
    )
    if not any(m.role in (None, "hands") for m in free):
        return None
    team = demand.scenario.team.model_copy(update={"members": free})
    try:
        placed = place_people(demand.scenario.model_copy(update={"team": team}))
    except InputError:
        return None
    if not placed.team.left + placed.team.right:
        return None
    other = _with_team(demand, placed)
    return _judged(other, drawn.with_people_of(other), placed.team.left, placed.team.right, asked, units)


def _places(scenario: Scenario) -> tuple[Place, ...]:
    """Each person of the shift in the order in which they are stated."""
    letters = letters_of(scenario.team)
    at = {
        person.letter: person.position_m
        for side in SIDES
        for person in people_on_side(scenario, side, getattr(scenario.team, side))
    }
    return tuple(
        Place(letter, member.role, member.side, at.get(letter))
        for letter, member in zip(letters, scenario.team.members, strict=True)
    )


def most_loaded_words(found: ThisTeam, units: Units = DEFAULT_UNITS) -> str:
    """Say who is loaded most, where, by what, and how near to what they can manage.

    >>> from ergo.inputs import examples
    >>> most_loaded_words(this_team(examples.boost(team={"left": 2, "right": 2}), with_band=False)).partition(":")[0]
    'Most loaded'
    """
    loads = [(move, load) for move in found.assessment.moves for load in move.loads if load.capacity_n > 0.0]
    if not loads:
        return ""
    move, load = max(loads, key=lambda one: one[1].start_n / one[1].capacity_n)
    part = 100.0 * load.start_n / load.capacity_n
    return (
        f"Most loaded: {load.person.words}, who {load.does} in “{move.move.name}” with "
        f"{units.show_force(load.start_n)}, {part:.0f} % of what they can manage there."
    )


def this_team_words(found: ThisTeam, units: Units = DEFAULT_UNITS) -> tuple[str, ...]:
    """Say whether these can do it, by which margin, who is loaded most, and what one fewer and one more would change.

    >>> from ergo.inputs import examples
    >>> words = this_team_words(this_team(examples.boost(team={"left": 2, "right": 2}), with_band=False))
    >>> words[0].partition(",")[0], words[-1].partition(":")[0]
    ('Yes: 4 people', 'One more, 5 people (2 + 3)')
    """
    asked = f"{100 * found.probability_asked:g} % were asked for"
    who = f"{people_words(found.people)}, {found.left} on the left and {found.right} on the right"
    members, short = found.scenario.team.members, found.short_of
    if found.enough:
        yes, but = ("By force yes", f"; but {' and '.join(short)}") if short else ("Yes", "")
        said = [
            f"{yes}: {who}, keep everybody within the limits in {percent(found.probability)} of moves; {asked}{but}."
        ]
        short = ()
    elif _nobody_may(found.scenario):
        said = [f"No: {found.fails}"]
    else:
        said = [f"No: with {who}, {within_sentence(found.fails).rstrip('.')}; {asked}."]
        if (may := _with_hands(members)) < len(members):
            said.append(
                f"{may} of {people_words(len(members))} may use their hands for this move; the others may not, because "
                "of what is stated for them."
            )
    if found.band is not None:
        said.append(unmeasured_words(found.band))
    if found.own_acceptance > 0.0:
        said.append(f"In {percent(found.own_acceptance)} of moves nobody is asked more than they themselves accept.")
    said += [f"{words[:1].upper()}{words[1:]}." for words in short]
    result = found.assessment
    if not result.refusals and not any(move.unmet for move in result.moves):
        said += filter(None, [most_loaded_words(found, units)])
    for name, other in (("One fewer", found.one_fewer), ("One more", found.one_more)):
        if other is not None:
            at = f"{people_words(other.people)} ({other.left} + {other.right})"
            said.append(f"{name}, {at}: {next_words(other)}")
    return tuple(said)


def helps(found: ThisTeam, units: Units = DEFAULT_UNITS) -> tuple[str, ...]:
    """Say what would make a team enough: other people, another height of the bed, another aid, the mattress made firm,
    and always the lift.

    Empty where the team is enough.

    >>> from ergo.inputs import examples
    >>> short = this_team(examples.boost(66.0, bed={"height_m": 1.2}, team={"left": 1, "right": 1}), with_band=False)
    >>> helps(short)
    ('the bed at 105 cm', 'a mechanical lift')
    """
    if found.enough:
        return ()
    case = found.scenario
    demand = demand_of(case)
    said = list(_other_people(found, demand))
    if (height := _height_that_helps(found, demand, units)) is not None:
        said.append(f"the bed at {units.show_length(height)}")
    for name in aid_names(case):
        if name not in (case.aid, UNSTATED_SHEET) and _enough_with(found, case.model_copy(update={"aid": name})):
            said.append(f"the {name} in place of the {case.aid}")
    if (
        case.bed.mattress != "firm"
        and case.bed.immersion_m is None
        and _enough_with(found, _bed(case, mattress="firm"))
    ):
        said.append("the mattress in firm mode for the move, and back to therapy mode afterwards")
    return (*said, "a mechanical lift")


def _other_people(found: ThisTeam, demand: Demand) -> tuple[str, ...]:
    """One more person and of what kind, else the smallest number of people who are enough, where there is one."""
    if found.scenario.team.members:
        return _more_members(found, demand)
    said, now = [], (found.left, found.right)
    alike = easiest_first(demand, [team for team in possible_teams(demand) if sum(team) == sum(now) and team != now])
    if alike and _enough_in(found, demand, alike[0]):
        said.append(f"the same people: {_sides_words(*alike[0])}")
    if found.one_more is not None and found.one_more.enough:
        said.append(_joined_words("one more person", found.one_more))
    elif found.reasons.team is not None and found.reasons.people is not None and found.reasons.people > found.people:
        more = found.reasons.people - found.people
        said.append(f"{more} more people: {_sides_words(*found.reasons.team)}")
    return tuple(said)


def _more_members(found: ThisTeam, demand: Demand) -> tuple[str, ...]:
    """The same for stated people: one more of medium size, else of another size, else more than one of medium size."""
    members = list(found.scenario.team.members)
    if demand.refusals:
        return ()
    extras = {size: Member(size=size) for size in _SIZES}
    drawn = Drawn.usual(demand, tuple(member_person(extra) for extra in extras.values()))

    def with_more(size: Size, number: int) -> Neighbour | None:
        more = [*members, *[extras[size]] * number]
        return _with_short(_of_members(demand, drawn, more, found.probability_asked, DEFAULT_UNITS), found.reasons)

    for size in _SIZES:
        one = found.one_more if size == _EXTRA.size else with_more(size, 1)
        if one is not None and one.enough:
            return (_joined_words(f"one more person, {_SIZE_WORDS[size]}", one),)
    for number in range(2, sum(largest_team(demand)) - found.left - found.right + 1):
        several = with_more("medium", number)
        if several is not None and several.enough:
            return (_joined_words(f"{number} more people {_SIZE_WORDS['medium']}", several),)
    return ()


def _joined_words(who: str, team: Neighbour) -> str:
    but = f" (but {' and '.join(team.short_of)})" if team.short_of else ""
    return f"{who}: {_sides_words(team.left, team.right)}{but}"


def _sides_words(left: int, right: int) -> str:
    return f"{left} on the left, {right} on the right"


def _height_that_helps(found: ThisTeam, demand: Demand, units: Units) -> float | None:
    """The bed height nearest to the present one at which the same team is enough [m]; None where there is none."""
    if not _can_be_tried(demand, found.left, found.right):
        return None
    case, span, step = found.scenario, assumption("bed_height_range"), _HEIGHT_STEP_M[units.length]
    first, last = math.ceil(span.low / step - _ROUNDING), math.floor(span.high / step + _ROUNDING)
    heights = sorted((step * k for k in range(first, last + 1)), key=lambda height: abs(height - case.bed.height_m))
    every = [demand_of(_bed(case, height_m=height)) for height in heights]
    judged = judge_teams([(there, found.left, found.right) for there in every], every_limit=False)
    able = (there for there, result in zip(every, judged, strict=True) if result.verdict in ENOUGH)
    return next((there.scenario.bed.height_m for there in able if _enough_in(found, there)), None)


def _can_be_tried(demand: Demand, left: int, right: int) -> bool:
    """Whether nothing is refused and somebody stands wherever a move needs somebody."""
    return not demand.refusals and stands_where_needed(demand, left, right)


def _bed(case: Scenario, **changed: object) -> Scenario:
    return case.model_copy(update={"bed": case.bed.model_copy(update=changed)})


def _enough_with(found: ThisTeam, scenario: Scenario) -> bool:
    """Whether the same team is enough in a changed case; no where the aid cannot serve it."""
    try:
        demand = demand_of(scenario)
    except InputError:
        return False
    return _enough_in(found, demand)


def _enough_in(found: ThisTeam, demand: Demand, team: tuple[int, int] | None = None) -> bool:
    """Whether the same team, or another one, is enough for what is asked; drawn only where it may be."""
    left, right = team or (found.left, found.right)
    if not _can_be_tried(demand, left, right) or team_effort_of(demand, left, right)[0] > FULL_EFFORT:
        return False
    return _judged(demand, Drawn.usual(demand), left, right, found.probability_asked, DEFAULT_UNITS).enough


@dataclass(frozen=True, slots=True)
class BesideTeam:
    """What stands beside a smallest team on paper: what nobody measured, one fewer and one more."""

    band: ProbabilityBand | None
    one_fewer: Neighbour | None
    one_more: Neighbour | None


def beside_team(answer: FirstAnswer, units: Units = DEFAULT_UNITS) -> BesideTeam:
    """Return what stands beside the smallest team of a case; nothing where no team is the answer.

    >>> from ergo.inputs import examples
    >>> from ergo.teams.smallest_team import smallest_team
    >>> found = beside_team(smallest_team(examples.boost(), with_aids=False))
    >>> found.one_fewer.people + 1 == found.one_more.people - 1, found.one_fewer.enough
    (True, False)
    """
    if answer.team is None:
        return BesideTeam(None, None, None)
    asked = PROBABILITY_ASKED if answer.probability_asked is None else answer.probability_asked
    demand = demand_of(with_usual_people(answer.scenario))
    drawn = Drawn.usual(demand)
    return BesideTeam(
        probability_band(demand, *answer.team, tables=drawn.tables) if answer.probability > 0.0 else None,
        *_neighbours(demand, drawn, *answer.team, asked, units, answer.reasons),
    )


def next_words(other: Neighbour) -> str:
    """Say whether one fewer or one more is enough, how sure that is, and what it falls short of."""
    short = [*([other.fails.rstrip(".")] if other.fails else ()), *other.short_of]
    verdict = "enough by force alone" if other.enough and short else "enough" if other.enough else "not enough"
    sure = f", within the limits in {percent(other.probability)} of moves" if other.probability > 0.0 else ""
    because = f": {within_sentence('; '.join(short))}" if short else ""
    return f"{verdict}{sure}{because}."
