"""The bed height that spares the most loaded back of the smallest team and asks for no more people."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ergo.assessment import Assessment, MoveResult
from ergo.assessment.load import facing_of, hands_within_search, shifts_weight
from ergo.evidence import assumption
from ergo.handlers.reference_team import BedHeight, best_bed_height
from ergo.inputs.scenario import Scenario, Technique
from ergo.teams.smallest_team import PROBABILITY_ASKED, FirstAnswer, Needs, Search
from ergo.units import DEFAULT_UNITS, Units, people_words

__all__ = ["MoveHeight", "NoHeight", "TeamHeight", "best_height", "no_team_here_words", "team_height"]

Floats = NDArray[np.float64]

_TRIES = 4  # heights looked at, evenly from the best one back towards the present one
_ELSEWHERE = 5  # heights looked at, evenly over those of a bed, where no team can at the present one


@dataclass(frozen=True, slots=True)
class MoveHeight:
    """The best height of one effort of a move, everybody giving what the most loaded person gives."""

    move: str
    role: str
    people: int
    force_n: float
    best: BedHeight


@dataclass(frozen=True, slots=True)
class TeamHeight:
    """The best height of every effort, and one height for the whole procedure.

    `saved_n` is what the best height takes off the most loaded back against the present height. `found` is false where
    at no height everybody can hold every force; the present height then stands. `needs` is how many people are needed
    at `height_m`, or why no number is named; `team_now` is false where no team can make the moves at the present one.
    """

    moves: tuple[MoveHeight, ...]
    found: bool
    height_m: float
    present_height_m: float
    ratio: float
    present_ratio: float
    present_can_be_held: bool
    saved_n: float
    limit_n: float
    heights_m: Floats
    worst_ratio: Floats
    can_be_held: NDArray[np.bool_]
    hardest: MoveHeight
    why: str
    source: tuple[str, ...]
    needs: Needs | None = None
    team_now: bool = True


@dataclass(frozen=True, slots=True)
class NoHeight:
    """No height of the bed answers: no team can make the moves at any of them, or they ask nobody for a force."""

    answer: FirstAnswer
    """At the present height; its reason is what decides."""

    @property
    def why(self) -> str:
        """In kg, N and cm; `why_in` says the same in other units."""
        return self.why_in(DEFAULT_UNITS)

    def why_in(self, units: Units) -> str:
        """Return what decides, in the reader's units."""
        answer = self.answer
        if answer.people is not None:
            return "Any height of the bed will do: no move of this case takes a force of anybody's hands."
        if answer.missing or answer.assessment.refusals:
            return f"The height of the bed changes nothing here. {answer.why_in(units)}"
        span = assumption("bed_height_range")
        low, high = (units.show_length(end) for end in (span.low, span.high))
        lift = "" if answer.needs == "lift" else " Use a mechanical lift or a better aid."
        return f"At no height of the bed from {low} to {high} can a team make the moves. {answer.why_in(units)}{lift}"


def best_height(
    scenario: Scenario, probability_asked: float | None = PROBABILITY_ASKED, *, answer: FirstAnswer | None = None
) -> TeamHeight | NoHeight:
    """Return the bed height that spares the most loaded back of the smallest team, or what decides that none does.

    Where no team can make the moves at the present height, others are looked at, the nearest first. A back may be
    spared where another limit asks for more people. Such a height is never offered: the smallest team is looked for at
    the height too, and a height nearer to the present one is taken, or the present one stands.
    """
    now = answer or Search(scenario, probability_asked).first
    if now.people is None and (now.missing or now.assessment.refusals):
        return NoHeight(now)
    best = team_height(now.assessment)
    if best is None:
        return _elsewhere(scenario, probability_asked, now)
    if not best.found:
        return replace(best, needs=now.needs, why=_why_not_found(now))
    steps = np.linspace(best.height_m, best.present_height_m, _TRIES, endpoint=False)
    tries = dict.fromkeys(int(np.argmin(np.abs(best.heights_m - height))) for height in steps)
    for at in tries:
        height = float(best.heights_m[at])
        if not best.can_be_held[at] or (best.present_can_be_held and best.worst_ratio[at] > best.present_ratio):
            continue
        there = scenario.model_copy(update={"bed": scenario.bed.model_copy(update={"height_m": height})})
        then = Search(there, probability_asked).first
        fewer_or_as_many = then.people is not None and (now.people is None or then.people <= now.people)
        if fewer_or_as_many or (now.people is None and then.needs == now.needs):
            return replace(_at(best, height, float(best.worst_ratio[at])), needs=then.needs)
    return replace(_at(best, best.present_height_m, best.present_ratio), needs=now.needs)


def _elsewhere(scenario: Scenario, probability_asked: float | None, now: FirstAnswer) -> TeamHeight | NoHeight:
    """The best height near the nearest one at which a team can make the moves that none can at the present one."""
    nothing = NoHeight(now)
    if now.people is not None:
        return nothing
    span, present = assumption("bed_height_range"), scenario.bed.height_m
    heights = np.linspace(span.low, span.high, _ELSEWHERE).tolist()
    for height in sorted(heights, key=lambda height: abs(height - present)):
        there = scenario.model_copy(update={"bed": scenario.bed.model_copy(update={"height_m": height})})
        then = Search(there, probability_asked).first
        if then.people is None:
            continue
        best = best_height(there, probability_asked, answer=then)
        from_here = team_height(then.assessment, present)
        if isinstance(best, TeamHeight) and best.found and from_here is not None:
            there_only = replace(
                from_here, height_m=best.height_m, ratio=best.ratio, hardest=best.hardest, needs=best.needs,
                present_can_be_held=False, team_now=False, saved_n=0.0,
            )  # fmt: skip
            return replace(there_only, why=no_team_here_words(there_only))
    return nothing


def _why_not_found(now: FirstAnswer) -> str:
    if now.people is None:
        return f"{_why(False, 0.0, 0.0, 0.0, 0.0, False)} Use a mechanical lift or a better aid."
    span = assumption("bed_height_range")
    present, low, high = (f"{100 * at:.0f} cm" for at in (now.scenario.bed.height_m, span.low, span.high))
    return f"The mattress stays at {present}: at no height from {low} to {high} can everybody hold every force."


def no_team_here_words(team: TeamHeight, units: Units = DEFAULT_UNITS) -> str:
    """Say at which height a team can make the moves that none can at the present one."""
    now, there = units.show_length(team.present_height_m), units.show_length(team.height_m)
    people = people_words(team.needs) if isinstance(team.needs, int) else "a team"
    return (
        f"At {now} no team can make the moves. With the mattress at {there} {people} can, and the most loaded back is "
        f"at {100 * team.ratio:.0f} % of the lower limit."
    )


def _at(best: TeamHeight, height: float, ratio: float) -> TeamHeight:
    """The same where another height than the best for the back is taken."""
    if height == best.height_m:
        return best
    saved = (best.present_ratio - ratio) * best.limit_n
    why = _why(True, height, best.present_height_m, best.present_ratio, ratio, best.present_can_be_held)
    fewer = " A height that spares it more would ask for more people."
    return replace(best, height_m=height, ratio=ratio, saved_n=saved, why=why + fewer)


def team_height(result: Assessment, present_height_m: float | None = None) -> TeamHeight | None:
    """Return the bed height at which the most loaded back of the team carries least; None where nobody exerts a force.

    The present height is that of the case unless another one is given.

    min over height of max over efforts and people of L5/S1 compression / lower limit
    """
    present_m = result.scenario.bed.height_m if present_height_m is None else present_height_m
    found = tuple(best for move in result.moves for best in _of_move(result, move, present_m))
    if not found:
        return None
    first = found[0].best
    curve = np.max([m.best.worst_ratio for m in found], axis=0)
    able = np.all([m.best.can_be_held for m in found], axis=0)
    present = max(m.best.present_ratio for m in found)
    if able.any():
        pick = int(np.argmin(np.where(able, curve, np.inf)))
        height, ratio = float(first.heights_m[pick]), float(curve[pick])
        hardest = max(found, key=lambda m: float(m.best.worst_ratio[pick]))
    else:
        height, ratio = first.present_height_m, present
        hardest = max(found, key=lambda m: m.best.present_ratio)
    saved = (present - ratio) * first.limit_n
    held_now = all(m.best.present_can_be_held for m in found)
    return TeamHeight(
        moves=found,
        found=bool(able.any()),
        height_m=height,
        present_height_m=first.present_height_m,
        ratio=ratio,
        present_ratio=present,
        present_can_be_held=held_now,
        saved_n=saved,
        limit_n=first.limit_n,
        heights_m=first.heights_m,
        worst_ratio=curve,
        can_be_held=able,
        hardest=hardest,
        why=_why(bool(able.any()), height, first.present_height_m, present, ratio, held_now),
        source=first.source,
    )


def _of_move(result: Assessment, move: MoveResult, present_m: float) -> list[MoveHeight]:
    scenario = result.scenario
    handling = scenario.handling
    found = []
    for done in move.efforts:
        if not done.loads:
            continue
        hardest = max(done.loads, key=lambda load: load.start_n)
        team = [load.person for load in done.loads]
        technique: Technique = "best" if handling.technique == "best" else "typical"
        best = best_bed_height(
            team,
            **hands_within_search(hardest),
            hand_above_bed_m=float(done.effort.hand_height_m),
            present_height_m=present_m,
            technique=technique,
            hands=done.effort.hands,
            shoe_friction=handling.shoe_friction,
            brace=None if handling.brace == "none" else handling.brace,
            back_arm_m=handling.back_arm_m,
            facing_rad=facing_of(scenario, done.effort.along_bed, technique),
            held=bool(done.effort.hold_n > 0),
            weight_shift=shifts_weight(scenario, bool(done.effort.hold_n > 0)),
        )
        found.append(MoveHeight(move.move.name, done.effort.role, len(team), hardest.start_n, best))
    return found


def _why(found: bool, height: float, present: float, before: float, after: float, held_now: bool) -> str:
    if not found:
        return "At no bed height can everybody hold every force of this procedure."
    at, now = f"{height * 100:.0f} cm", f"{present * 100:.0f} cm"
    was, then = (f"{100 * part:.0f} %" for part in (before, after))
    if abs(height - present) * 100 < 1:
        return f"The mattress is at the best height, {at}: the most loaded back is at {then} of the lower limit."
    if not held_now:
        return (
            f"At {now} not everybody can hold the forces. With the mattress at {at} they can, and the "
            f"most loaded back is at {then} of the lower limit."
        )
    return (
        f"With the mattress at {at} in place of {now}, the most loaded back goes from {was} to {then} of the "
        "lower limit."
    )
