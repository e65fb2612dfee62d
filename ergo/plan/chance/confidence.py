"""How sure is the answer: the chance that nobody is over a limit, by Monte Carlo with quasi-random draws."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from ergo.assessment import Demand, demand_of, judge, largest_team, roles_of
from ergo.assessment.words import NO_TEAM
from ergo.evidence import assumption
from ergo.limits.policy import ENOUGH
from ergo.plan.chance.compiled import compile_demand
from ergo.plan.chance.drawn import CHUNK, DRAWS, MOST, SEED, Drawn, possible_teams, uniform_chunks
from ergo.plan.chance.inputs import UncertainInput, uncertain_inputs
from ergo.plan.chance.running import Tally
from ergo.scenario import Scenario

__all__ = ["Confidence", "Sureness", "at_confidence", "sureness"]


@dataclass(frozen=True, slots=True)
class Confidence:
    """One team: the chance that nobody is over a limit, and the spread of what decides.

    `ratio` and `force_n` are the 5th, 50th and 95th percentile of the worst ratio to a deciding limit and of the
    largest force in one pair of hands. `standard_error` is that of independent draws, sqrt(p (1 - p) / n); the
    quasi-random draws used here do better.
    """

    left: int
    right: int
    people: int
    chance: float
    standard_error: float
    ratio: tuple[float, float, float]
    force_n: tuple[float, float, float]
    convergence: tuple[tuple[int, float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Sureness:
    """The confidence of every team size, and the smallest team at the stated confidence.

    `people`, `left`, `right` are None where no team reaches it within the limits; `uncovered` where that is
    so because a deciding limit does not cover the case. `convergence` pairs numbers of draws with the chance for the
    smallest team, or for the surest where there is none. `every` holds all teams, fewest people first.
    """

    confidence: float
    people: int | None
    left: int | None
    right: int | None
    chosen: Confidence
    curve: tuple[Confidence, ...]
    every: tuple[Confidence, ...]
    convergence: tuple[tuple[int, float, float], ...]
    inputs: tuple[UncertainInput, ...]
    draws: int
    seed: int
    uncovered: bool
    why: str


def sureness(
    scenario: Scenario,
    *,
    asked: Demand | None = None,
    confidence: float | None = None,
    draws: int = DRAWS,
    seed: int = SEED,
    chunk: int = CHUNK,
    progress: Callable[[float], bool] | None = None,
    drawn: Drawn | None = None,
) -> Sureness:
    """Return how sure each team size is, and the smallest team at a stated confidence.

    Parameters
    ----------
    scenario : Scenario
    asked : Demand, optional
        The scenario's demand, where it was worked out before.
    confidence : float, optional
        Chance that nobody is over a limit at which a team counts; `confidence` in evidence when left out.
    draws : int
        A power of two keeps the quasi-random points balanced.
    seed : int
    chunk : int
        Draws held in memory at once; changes nothing in the result.
    progress : callable, optional
        Told the part done, 0 to 1; returns False to stop.
    drawn : Drawn, optional
        The usual draws, where some teams were judged in them before; no others are made then.

    Returns
    -------
    Sureness

    Raises
    ------
    InputError
        If the aid cannot serve the procedure.

    Examples
    --------
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> answer = sureness(parse_scenario({"name": "x", "procedure": "boost", "patient": patient}), draws=256)
    >>> answer.people, answer.chosen.chance >= 0.9
    (4, True)
    """
    wanted = assumption("confidence").typical if confidence is None else confidence
    asked = asked or demand_of(scenario)
    inputs = drawn.inputs if drawn else uncertain_inputs(scenario)
    teams = possible_teams(asked)
    tallies = {t: Tally(DRAWS if drawn else draws) for t in teams}
    done = 0
    for part in [drawn] if drawn else _parts(asked, inputs, draws, seed, chunk):
        for team, tally in tallies.items():
            tally.add(*part.team(*team))
        done = tallies[teams[0]].seen
        if progress is not None and not progress(done / draws):
            break
    roles = sum(r.people for r in roles_of(scenario))
    found = {t: _confidence(t, roles, tally) for t, tally in tallies.items()}
    tops = [max(t[i] for t in teams) for i in range(2)]
    even = [(min(n, tops[0]), min(n, tops[1])) for n in range(1, max(tops) + 1)]
    curve = tuple(found[t] for t in even if t in found)
    every = tuple(found[t] for t in teams)
    sure = Sureness(wanted, None, None, None, every[0], curve, every, (), inputs, done, seed, False, "")
    return at_confidence(sure, asked, wanted)


def _parts(asked: Demand, inputs: tuple[UncertainInput, ...], draws: int, seed: int, chunk: int) -> Iterator[Drawn]:
    compiled = compile_demand(asked, inputs, MOST)
    for u in uniform_chunks(len(inputs) + 2 * MOST, draws, seed, chunk):
        yield Drawn(compiled, u)


def at_confidence(sure: Sureness, asked: Demand, confidence: float) -> Sureness:
    """Return the same draws read at another confidence.

    Parameters
    ----------
    sure : Sureness
    asked : Demand
        The demand that was drawn.
    confidence : float, 0 to 1

    Returns
    -------
    Sureness
        The team with the fewest people that reaches it and is within the limits at typical values; the surest is
        chosen where there is none, the case is refused or no limit covers it.

    Examples
    --------
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 100.0, "stature_m": 1.6}
    >>> boost = parse_scenario({"name": "x", "procedure": "boost", "patient": patient})
    >>> drawn = sureness(boost, draws=256)
    >>> [at_confidence(drawn, demand_of(boost), wanted).people for wanted in (0.5, 0.9)]
    [4, 5]
    """
    enough = () if asked.refusals else tuple(c for c in sure.every if c.chance >= confidence)
    # draws count who is over a limit, and nobody is over one that says nothing: they alone would name a team
    best = next((c for c in enough if judge(asked, c.left, c.right, every_limit=False).verdict in ENOUGH), None)
    chosen = best or max(sure.every, key=lambda c: c.chance)
    gap = "" if best else _gap(asked)
    return replace(
        sure,
        confidence=confidence,
        people=best.people if best else None,
        left=best.left if best else None,
        right=best.right if best else None,
        chosen=chosen,
        convergence=chosen.convergence,
        uncovered=bool(gap),
        why=f"{NO_TEAM}. {gap}" if gap else _why(best, chosen, confidence, asked),
    )


def _confidence(team: tuple[int, int], roles: int, tally: Tally) -> Confidence:
    chance = tally.within / max(tally.seen, 1)
    error = float(np.sqrt(chance * (1.0 - chance) / max(tally.seen, 1)))
    spans = tally.ratio.spread(), tally.force.spread()
    return Confidence(*team, sum(team) + roles, chance, error, *spans, tuple(tally.convergence))


def _gap(asked: Demand) -> str:
    """Say what a deciding limit does not cover, of the largest team; empty where all of them speak."""
    shown = judge(asked, *largest_team(asked), every_limit=False)
    return shown.why if shown.verdict == "not applicable" else ""


def _why(best: Confidence | None, chosen: Confidence, wanted: float, asked: Demand) -> str:
    if asked.refusals:
        return asked.refusals[0] + " Use a mechanical lift or equipment rated for this patient."
    if best is not None:
        return (
            f"{best.people} people ({best.left} left, {best.right} right and roles) keep everybody within the limits "
            f"in {best.chance:.0%} of cases; {wanted:.0%} were asked for."
        )
    reached = f"the best reaches {chosen.chance:.0%}" if chosen.chance < wanted else "nor at typical values"
    return (
        f"No team of up to {MOST} a side keeps everybody within the limits in {wanted:.0%} of cases; {reached}. "
        "Use a mechanical lift or a better aid."
    )
