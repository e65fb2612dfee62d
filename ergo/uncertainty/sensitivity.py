"""What drives the answer: one input at a time, and each input's share of the variance."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ergo.assessment import demand_of
from ergo.inputs.scenario import Scenario, with_usual_people
from ergo.uncertainty.distributions import UncertainInput, uncertain_inputs
from ergo.uncertainty.monte_carlo import SEED, evaluate, uniform_chunks, uniform_columns
from ergo.uncertainty.team_draws import build_tables

__all__ = ["Driver", "Drivers", "drivers", "variance_shares"]

Floats = NDArray[np.float64]

_SHARING = "sharing"
_SAMPLES = 1024
_NOTABLE = 0.10  # an assumption that drives more of the variance than this is named


@dataclass(frozen=True, slots=True)
class Driver:
    """One input and what it does to the worst ratio to a limit.

    `low_ratio` and `high_ratio` are the worst ratio with this input at its 5th and 95th percentile and all others
    typical; `first` and `total` the shares of the variance by itself and with its interactions.
    """

    name: str
    label: str
    low_ratio: float
    high_ratio: float
    first: float
    total: float
    basis: str
    source: str
    known: str


@dataclass(frozen=True, slots=True)
class Drivers:
    """Every input, the strongest first, and a sentence."""

    left: int
    right: int
    typical_ratio: float
    ranked: tuple[Driver, ...]
    why: str


def variance_shares(
    model: Callable[[Floats], Floats], groups: Sequence[Sequence[int]], dimensions: int, samples: int, seed: int
) -> tuple[Floats, Floats]:
    """Return first-order and total shares of variance of groups of inputs.

    S_i = mean(f_B (f_ABi - f_A)) / V (Saltelli 2010), T_i = mean((f_A - f_ABi)²) / (2 V) (Jansen 1999), where ABi is A
    with the columns of group i from B.

    Source: from memory (high), as in scipy.stats.sobol_indices, with which the tests compare.

    >>> first, total = variance_shares(lambda u: 3 * u[:, 0] + u[:, 1], [[0], [1]], 2, 1024, 1)
    >>> [round(float(s), 1) for s in first]
    [0.9, 0.1]
    """
    points = np.concatenate(list(uniform_chunks(2 * dimensions, samples, seed)))
    a, b = points[:, :dimensions], points[:, dimensions:]
    f_a, f_b = model(a), model(b)
    variance = float(np.var(np.concatenate([f_a, f_b])))
    first, total = np.zeros(len(groups)), np.zeros(len(groups))
    if variance <= 0.0:
        return first, total
    middle = float(np.mean(np.concatenate([f_a, f_b])))
    for i, columns in enumerate(groups):
        mixed = a.copy()
        mixed[:, columns] = b[:, columns]
        f_mixed = model(mixed)
        first[i] = np.mean((f_b - middle) * (f_mixed - f_a)) / variance
        total[i] = np.mean((f_a - f_mixed) ** 2) / (2.0 * variance)
    return first, total


def drivers(scenario: Scenario, left: int, right: int, *, samples: int = _SAMPLES, seed: int = SEED) -> Drivers:
    """Return what drives the worst ratio to a limit for one team.

    >>> from ergo.inputs import examples
    >>> found = drivers(examples.boost(), 2, 2, samples=128)
    >>> found.ranked[0].total >= found.ranked[-1].total
    True
    """
    scenario = with_usual_people(scenario)
    demand = demand_of(scenario)
    inputs = uncertain_inputs(scenario)
    tables = build_tables(demand, inputs)
    dimensions = uniform_columns(inputs)
    team = (left, right)

    def model(u: Floats) -> Floats:
        ratio = evaluate(tables, u, [team])[0][team]
        uncovered = np.isnan(ratio)  # what no limit covers says nothing of what drives a ratio
        return np.where(uncovered, np.mean(ratio[~uncovered]) if not uncovered.all() else 0.0, ratio)

    groups = [[i] for i in range(len(inputs))] + [list(range(len(inputs), dimensions))]
    first, total = variance_shares(model, groups, dimensions, samples, seed)
    ends = _one_at_a_time(model, inputs, dimensions)
    found = [
        Driver(x.name, x.label, *ends[i + 1], float(first[i]), float(total[i]), x.basis, x.source, x.known)
        for i, x in enumerate(inputs)
    ]
    found.append(
        Driver(
            _SHARING,
            "how evenly the team shares the force",
            *_sharing_ends(model, inputs, dimensions),
            float(first[-1]),
            float(total[-1]),
            "assumption",
            "dennis_barrett_2003",
            "judgement",
        )
    )
    ranked = tuple(sorted(found, key=lambda d: -d.total))
    return Drivers(left, right, ends[0][0], ranked, _why(ranked))


def _middle(inputs: Sequence[UncertainInput], dimensions: int) -> Floats:
    """The uniform numbers at which every input takes its typical value."""
    u = np.full(dimensions, 0.5)
    for i, x in enumerate(inputs):
        if x.kind == "triangular" and x.high > x.low:
            u[i] = (x.typical - x.low) / (x.high - x.low)  # the triangle's cumulative probability at its peak
    return u


def _one_at_a_time(
    model: Callable[[Floats], Floats], inputs: Sequence[UncertainInput], dimensions: int
) -> list[tuple[float, float]]:
    middle = _middle(inputs, dimensions)
    rows = [middle]
    for i in range(len(inputs)):
        for end in (0.05, 0.95):
            one = middle.copy()
            one[i] = end
            rows.append(one)
    ratios = model(np.array(rows))
    pairs = [(float(ratios[1 + 2 * i]), float(ratios[2 + 2 * i])) for i in range(len(inputs))]
    return [(float(ratios[0]), float(ratios[0])), *pairs]


def _sharing_ends(
    model: Callable[[Floats], Floats], inputs: Sequence[UncertainInput], dimensions: int, draws: int = 512
) -> tuple[float, float]:
    """5th and 95th percentile of the ratio when only the sharing varies."""
    u = np.tile(_middle(inputs, dimensions), (draws, 1))
    u[:, len(inputs) :] = np.concatenate(list(uniform_chunks(dimensions - len(inputs), draws, SEED)))
    low, high = np.quantile(model(u), [0.05, 0.95])
    return float(low), float(high)


def _why(ranked: Sequence[Driver]) -> str:
    """Name the strongest driver, what to do about it, and every assumption that matters."""
    top = ranked[0]
    if top.total <= 0:
        return "Nothing that is uncertain changes the answer."
    how = "most of it" if top.total > 0.5 else f"the largest part ({100 * top.total:.0f} %)"
    said = f"{top.label[0].upper()}{top.label[1:]} is {how}"
    if top.name.startswith("mu_") or top.name == "linen_mu":
        said += ": measure it with a luggage scale, pulling one patient on the flat sheet, level and slowly, five times"
    elif top.name == _SHARING:
        said += ": nobody has measured how a team shares one sheet, so count aloud and pull together"
    assumed = [d.label for d in ranked if d.basis == "assumption" and d.total > _NOTABLE]
    if assumed:
        said += f". Assumed, not measured: {', '.join(assumed)}"
    return said + "."
