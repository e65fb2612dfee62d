"""Luck and ignorance apart: the probability of a team, and how far it may move for want of measurements.

What is the same in every move of a unit and measured by nobody (friction of the class, moment arm of the back, how
evenly people work) is drawn first. What changes from move to move (the pull, the crew, the patient's shape) is drawn
again and again for each of those.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ergo.assessment import Demand, team_most
from ergo.evidence import assumption
from ergo.handlers.normal_distribution import normal_value
from ergo.limits.psychophysical import accepted_pull, spread_of_acceptance
from ergo.uncertainty.distributions import UncertainInput, triangle_value, uncertain_inputs
from ergo.uncertainty.monte_carlo import SEED, Drawn, uniform_chunks, uniform_columns
from ergo.uncertainty.team_draws import TeamTables, build_tables
from ergo.units import percent

__all__ = [
    "ProbabilityBand",
    "Unmeasured",
    "own_acceptance",
    "probability_band",
    "same_everywhere",
    "unmeasured_words",
]

Floats = NDArray[np.float64]

OUTER, INNER = 256, 64
_ENDS = 0.05, 0.95
_BINS = 16  # of an input, within which its mean probability is taken
_SHARING = "how evenly the team works"


@dataclass(frozen=True, slots=True)
class Unmeasured:
    """One thing that nobody measured, and its share of the variance of the probability over all of them."""

    name: str
    label: str
    share: float


@dataclass(frozen=True, slots=True)
class ProbabilityBand:
    """The probability that nobody is over a limit, and how far it may move.

    `probability_low` and `probability_high` are the 5th and 95th percentile over what is the same everywhere and
    measured by nobody; `unmeasured` are those things, the one whose measurement narrows it most first.
    """

    left: int
    right: int
    probability: float
    probability_low: float
    probability_high: float
    unmeasured: tuple[Unmeasured, ...]
    outer: int
    inner: int


def same_everywhere(spread: UncertainInput) -> bool:
    """Whether an input is the same for every move of a unit, and measured by nobody; else it changes from move to move.

    What was measured on site varies from pull to pull.
    """
    of_the_unit = spread.name.startswith("mu_") or spread.name in (
        "linen_mu",
        "back_arm_m",
        "immersion_m",
        "mattress_loss",
    )
    return of_the_unit and spread.high > spread.low and spread.known != "site measurement"


def nested_points(inputs: tuple[UncertainInput, ...], outer: int, inner: int, seed: int) -> tuple[Floats, Floats]:
    """Return uniform numbers, `inner` draws for each of `outer` in turn, and where each outer draw has its sharing.

    One sequence runs through all of them: the same inner points for every outer draw would move all probabilities by
    what these few points have in common.
    """
    columns = uniform_columns(inputs)
    fixed = [i for i, spread in enumerate(inputs) if same_everywhere(spread)]
    (outside,) = uniform_chunks(len(fixed) + 1, outer, seed)
    (u,) = uniform_chunks(columns, outer * inner, seed + 1)
    u[:, fixed] = np.repeat(outside[:, :-1], inner, axis=0)
    return u, outside[:, -1]


def probability_band(
    demand: Demand,
    left: int,
    right: int,
    *,
    tables: TeamTables | None = None,
    outer: int = OUTER,
    inner: int = INNER,
    seed: int = SEED,
) -> ProbabilityBand:
    """Return how sure a team is, and how far that may move for want of measurements.

    >>> from ergo.assessment import demand_of
    >>> from ergo.inputs import examples
    >>> band = probability_band(demand_of(examples.boost(90.0)), 1, 1, outer=32)
    >>> 0.0 <= band.probability_low <= band.probability <= band.probability_high <= 1.0
    True
    """
    inputs = uncertain_inputs(demand.scenario)
    found = tables or build_tables(demand, inputs)
    u, sharing = nested_points(inputs, outer, inner, seed)
    spread = assumption("share_spread")
    sigma = triangle_value(sharing, spread.low, spread.typical, spread.high)
    ratio, _ = Drawn(found, u, sigma=np.repeat(sigma, inner)).team(left, right)
    each = np.mean((ratio <= 1.0).reshape(outer, inner), axis=1)
    drawn = {x.name: (x.label, u[::inner, i]) for i, x in enumerate(inputs) if same_everywhere(x)}
    drawn["sharing"] = _SHARING, sharing
    shares = [Unmeasured(name, label, _share(each, at)) for name, (label, at) in drawn.items()]
    low, high = np.quantile(each, _ENDS)
    return ProbabilityBand(
        left, right, float(np.mean(each)), float(low), float(high), tuple(sorted(shares, key=lambda s: -s.share)),
        outer, inner,
    )  # fmt: skip


def own_acceptance(demand: Demand, drawn: Drawn, left: int, right: int) -> float:
    """Return the probability that nobody is asked more than they themselves accept, everybody's acceptance drawn.

    What somebody accepts over the policy's limit: A_50 (1 + z cv) / A_policy of the own sex, at the usual height of the
    hands; at the limit that 75 % of women accept, six women all accept in 0.75^6 = 18 %. Source: potvin_2021.

    >>> from ergo.assessment import demand_of
    >>> from ergo.inputs import examples
    >>> demand = demand_of(examples.boost())
    >>> own_acceptance(demand, Drawn.usual(demand), 3, 3) > own_acceptance(demand, Drawn.usual(demand), 1, 1)
    True
    """
    if demand.refusals:
        return 0.0
    scenario, policy = demand.scenario, demand.policy
    height = scenario.bed.height_m + scenario.handling.hand_height_m
    every = scenario.policy.minutes_between_efforts
    size = len(drawn.team(left, right)[0])
    (u,) = uniform_chunks(2 * team_most(), size, SEED + 2)
    z = normal_value(np.clip(u.T, 1e-12, 1.0 - 1e-12))
    own = []
    for sex in ("F", "M"):
        middle = float(accepted_pull(sex, "initial", 50, height, every))
        limit = float(accepted_pull(policy.sex or sex, "initial", policy.percent, height, every))
        own.append(np.maximum(middle / limit * (1.0 + z * spread_of_acceptance("pull", sex)), 0.0))
    return drawn.own_acceptance(left, right, np.nan_to_num(np.array(own), nan=0.0))


def _share(each: Floats, at: Floats) -> float:
    """The variance of the mean probability over an input, over the whole variance."""
    whole = float(np.var(each))
    if whole <= 0.0:
        return 0.0
    bins = np.minimum((at * _BINS).astype(int), _BINS - 1)
    counts = np.bincount(bins, minlength=_BINS)
    means = np.bincount(bins, weights=each, minlength=_BINS) / np.maximum(counts, 1)
    return min(1.0, float(np.sum(counts * (means - np.mean(each)) ** 2) / len(each)) / whole)


def unmeasured_words(band: ProbabilityBand) -> str:
    """Say how far the probability may move for want of measurements, and which of them narrows it most.

    >>> from ergo.assessment import demand_of
    >>> from ergo.inputs import examples
    >>> unmeasured_words(probability_band(demand_of(examples.boost(90.0)), 3, 3, outer=32))
    'What nobody measured does not move the probability.'
    """
    if band.probability_high - band.probability_low < 0.01 or not band.unmeasured:
        return "What nobody measured does not move the probability."
    low, high = percent(band.probability_low), percent(band.probability_high)
    first = band.unmeasured[0].label
    what = first if first.startswith("how ") else f"the {first}"
    return f"That may be {low} to {high} of moves, because nobody measured {what}; measuring that narrows it most."
