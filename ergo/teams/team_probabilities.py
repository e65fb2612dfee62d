"""How sure each team of a case is, and the smallest team at a stated probability."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ergo.assessment import (
    Assessment,
    Demand,
    demand_of,
    judge,
    largest_team,
    roles_of,
    team_most,
    why_no_team_is_possible,
)
from ergo.assessment.demand import refusal_sentences
from ergo.assessment.sentences import NO_TEAM, short_of_covered, uncovered_share_words
from ergo.errors import Fault, InputError, probability_faults
from ergo.evidence import assumption
from ergo.inputs.scenario import Scenario, with_usual_people
from ergo.teams.team_search import Reasons, best_splits, reasons_of
from ergo.uncertainty.distributions import UncertainInput, uncertain_inputs
from ergo.uncertainty.monte_carlo import CHUNK, DRAWS, SEED, Drawn, Tally, uniform_chunks, uniform_columns
from ergo.uncertainty.team_draws import build_tables
from ergo.units import DEFAULT_UNITS, Units, percent

__all__ = [
    "MOST_DRAWS",
    "Reliability",
    "TeamProbability",
    "at_probability",
    "reliability",
    "reliability_words",
    "uncovered_words",
]

MOST_DRAWS = 10_000_000  # some minutes


@dataclass(frozen=True, slots=True)
class TeamProbability:
    """One team: the probability that nobody is over a limit, and the spread of what decides.

    `ratio` and `force_n` are the 5th, 50th and 95th percentile of the worst ratio to a deciding limit and of the
    largest force in one pair of hands. `standard_error` is that of independent draws, sqrt(p (1 - p) / n); the
    quasi-random draws used here do better.
    """

    left: int
    right: int
    people: int
    probability: float
    standard_error: float
    ratio: tuple[float, float, float]
    force_n: tuple[float, float, float]
    convergence: tuple[tuple[int, float, float], ...] = ()
    uncovered: float = 0.0
    """Share of the draws in which nobody is over a limit, but one that decides does not cover where the hands are."""


@dataclass(frozen=True, slots=True)
class Reliability:
    """The probability of every team, and the smallest team at the probability asked for.

    `people`, `left`, `right` are None where no team reaches it within the limits; `uncovered` where that is
    so because a deciding limit does not cover the case. Where the case is refused or no team is possible, every
    probability is 0. `convergence` pairs numbers of draws with the probability for
    the smallest team, or for the surest where there is none. `curve` holds the split in which all work least of each
    number of people, fewest first; of the usual draws no further than one is sure and one more.
    """

    probability_asked: float
    people: int | None
    left: int | None
    right: int | None
    chosen: TeamProbability
    curve: tuple[TeamProbability, ...]
    convergence: tuple[tuple[int, float, float], ...]
    inputs: tuple[UncertainInput, ...]
    draws: int
    seed: int
    uncovered: bool
    why: str
    missing: str = ""
    """What is missing at the bed for a team of any size."""


def reliability(
    scenario: Scenario,
    *,
    demand: Demand | None = None,
    probability_asked: float | None = None,
    draws: int = DRAWS,
    seed: int = SEED,
    chunk: int = CHUNK,
    progress: Callable[[float], bool] | None = None,
    drawn: Drawn | None = None,
    asked: Reasons | None = None,
) -> Reliability:
    """Return how sure each team size is, and the smallest team at a stated probability.

    >>> from ergo.inputs import examples
    >>> answer = reliability(examples.boost(), draws=256)
    >>> answer.people, answer.chosen.probability >= 0.9
    (2, True)
    """
    least = int(assumption("draws_least").typical)
    if not isinstance(draws, int) or not least <= draws <= MOST_DRAWS:
        raise InputError("reliability", [Fault("draws", str(draws), f"{least} to {MOST_DRAWS}")])
    wanted = assumption("probability_asked").typical if probability_asked is None else probability_asked
    if faults := probability_faults("probability_asked", wanted):
        raise InputError("reliability", faults)
    scenario = with_usual_people(scenario)
    demand = demand or demand_of(scenario)
    inputs = drawn.inputs if drawn else uncertain_inputs(scenario)
    possible = best_splits(demand)
    teams = possible or (largest_team(demand),)  # something must be shown
    if possible and not demand.refusals:
        asked = asked or reasons_of(demand, wanted, drawn or Drawn.usual(demand))
        teams = tuple(_of_as_many(team, asked) for team in teams)
    can_be_done = bool(possible) and not demand.refusals
    roles = sum(r.people for r in roles_of(scenario))
    if drawn:
        named = 0 if asked is None or asked.people is None else asked.people
        found, done = _until_sure(drawn, teams, roles, can_be_done, named), DRAWS
    else:
        tallies = {t: Tally(draws) for t in teams}
        done = 0
        for part in _parts(demand, inputs, draws, seed, chunk):
            for team, tally in tallies.items():
                tally.add(*part.team(*team), can_be_done)
            done = tallies[teams[0]].seen
            if progress is not None and not progress(done / draws):
                break
        found = [_team_probability(team, roles, tally) for team, tally in tallies.items()]
    sure = Reliability(wanted, None, None, None, found[0], tuple(found), (), inputs, done, seed, False, "")
    if drawn and asked:
        return _at(sure, demand, wanted, asked)
    return at_probability(sure, demand, wanted)


def _of_as_many(team: tuple[int, int], asked: Reasons) -> tuple[int, int]:
    """The team that the answer names in place of another of as many people."""
    return team if asked.team is None or sum(asked.team) != sum(team) else asked.team


_SURE = 0.9995


def _until_sure(
    drawn: Drawn, teams: Sequence[tuple[int, int]], roles: int, can_be_done: bool, named: int
) -> list[TeamProbability]:
    """Each number of people up to those who are named, and no further than one is sure and one more."""
    found: list[TeamProbability] = []
    for team in teams:
        tally = Tally(DRAWS)
        tally.add(*drawn.team(*team), can_be_done)
        found.append(_team_probability(team, roles, tally))
        if len(found) > 1 and found[-2].probability >= _SURE and found[-1].people >= named:
            break
    return found


def _parts(demand: Demand, inputs: tuple[UncertainInput, ...], draws: int, seed: int, chunk: int) -> Iterator[Drawn]:
    tables = build_tables(demand, inputs)
    for u in uniform_chunks(uniform_columns(inputs), draws, seed, chunk):
        yield Drawn(tables, u)


def at_probability(sure: Reliability, demand: Demand, probability_asked: float) -> Reliability:
    """Return the same draws read at another probability asked for."""
    return _at(sure, demand, probability_asked, reasons_of(demand, probability_asked, _KnownProbabilities(sure)))


def _at(sure: Reliability, demand: Demand, probability_asked: float, smallest: Reasons) -> Reliability:
    best = next((c for c in sure.curve if c.people == smallest.people), None)
    chosen = best or max(sure.curve, key=lambda c: (c.probability, c.people))
    short = (
        best is None
        and not demand.refusals
        and bool(short_of_covered(chosen.probability, chosen.uncovered, probability_asked))
    )
    return replace(
        sure,
        probability_asked=probability_asked,
        people=best.people if best else None,
        left=best.left if best else None,
        right=best.right if best else None,
        chosen=chosen,
        convergence=chosen.convergence,
        uncovered=short or (best is None and _uncovered(demand) is not None),
        missing="" if demand.refusals else why_no_team_is_possible(demand),
        why=_why(best, chosen, probability_asked, demand, DEFAULT_UNITS),
    )


def reliability_words(sure: Reliability, demand: Demand, units: Units = DEFAULT_UNITS) -> str:
    """Return `sure.why` in the reader's units."""
    best = None if sure.people is None else sure.chosen
    return _why(best, sure.chosen, sure.probability_asked, demand, units)


def uncovered_words(demand: Demand, units: Units = DEFAULT_UNITS) -> str:
    """Say what a deciding limit does not cover, of the largest team; empty where all of them speak."""
    shown = _uncovered(demand)
    return shown.why_in(units) if shown else ""


class _KnownProbabilities:
    """The probabilities of all teams, where the search for the smallest one asks."""

    def __init__(self, sure: Reliability) -> None:
        self._known = {(c.left, c.right): c.probability for c in sure.curve}

    def probability(self, left: int, right: int) -> float:
        """Return what is known of a team; of one that is larger than any known, that of the largest."""
        if (left, right) in self._known:
            return self._known[left, right]
        smaller = [p for (a, b), p in self._known.items() if a <= left and b <= right]
        return max(smaller, default=0.0)


def _team_probability(team: tuple[int, int], roles: int, tally: Tally) -> TeamProbability:
    probability = tally.within / max(tally.seen, 1)
    error = float(np.sqrt(probability * (1.0 - probability) / max(tally.seen, 1)))
    spans = tally.ratio.spread(), tally.force.spread()
    return TeamProbability(
        *team,
        sum(team) + roles,
        probability,
        error,
        *spans,
        tuple(tally.convergence),
        tally.uncovered / max(tally.seen, 1),
    )


def _uncovered(demand: Demand) -> Assessment | None:
    """Return the largest team's assessment where a deciding limit does not cover it; None where all of them speak."""
    if why_no_team_is_possible(demand):
        return None
    shown = judge(demand, *largest_team(demand), every_limit=False)
    return shown if shown.verdict == "not applicable" else None


def _why(best: TeamProbability | None, chosen: TeamProbability, wanted: float, demand: Demand, units: Units) -> str:
    gap = "" if best else uncovered_words(demand, units)
    if gap := gap or ("" if best else short_of_covered(chosen.probability, chosen.uncovered, wanted)):
        return f"{NO_TEAM}. {gap}"
    if demand.refusals:
        refused = refusal_sentences(demand.scenario, demand.case.aid, demand.landing, units)
        return f"{refused[0]} Use a mechanical lift or equipment rated for this patient."
    if best is None and (missing := why_no_team_is_possible(demand)):
        return f"{NO_TEAM}. {missing}"
    if best is not None:
        return (
            f"{best.people} people ({best.left} left, {best.right} right and roles) keep everybody within the limits "
            f"in {percent(best.probability)} of cases; {100 * wanted:g} % were asked for."
            f"{uncovered_share_words(best.uncovered)}"
        )
    below = chosen.probability < wanted
    reached = f"the best reaches {percent(chosen.probability)}" if below else "nor at typical values"
    return (
        f"No team of up to {team_most()} a side keeps everybody within the limits in {100 * wanted:g} % of cases; "
        f"{reached}. "
        "Use a mechanical lift or a better aid."
    )
