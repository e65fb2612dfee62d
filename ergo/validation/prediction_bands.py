"""Bands of the published cases: a prediction's 5th and 95th percentile when the uncertain inputs are drawn."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from ergo.assessment import demand_of, possible_teams, roles_of, team_most
from ergo.inputs.scenario import Scenario, read_scenario
from ergo.uncertainty.demand_surrogate import build_demand_surrogate, team_forces
from ergo.uncertainty.distributions import UncertainInput, uncertain_inputs
from ergo.uncertainty.monte_carlo import SEED, draw, evaluate, uniform_chunks, uniform_columns

__all__ = ["DRAWS", "band", "drawn_forces", "drawn_heads", "spread"]

Floats = NDArray[np.float64]

DRAWS = 512
_LOW, _HIGH = 5, 95  # percent


def band(values: Floats) -> tuple[float, float]:
    """Return the 5th and the 95th percentile.

    >>> [round(v, 2) for v in band(np.linspace(0.0, 1.0, 101))]
    [0.05, 0.95]
    """
    low, high = np.percentile(values, [_LOW, _HIGH])
    return float(low), float(high)


def spread(name: str, low: float, typical: float, high: float, column: int) -> Floats:
    """Return draws of one triangular input, one column of the same points for each column number.

    >>> friction = spread("friction", 0.2, 0.3, 0.5, 0)
    >>> friction.shape, round(float(friction.mean()), 3)  # the mean of a triangle: (0.2 + 0.3 + 0.5) / 3
    ((512,), 0.333)
    """
    points = np.concatenate(list(uniform_chunks(column + 1, DRAWS, SEED)))
    return UncertainInput(name, name, "triangular", low, typical, high, "-", "", "judgement").at(points[:, column])


def drawn_forces(scenario: Scenario) -> tuple[Floats, dict[str, Floats]]:
    """Return the whole team's peak force in the effort of a scenario that asks most, in every draw, and the draws.

    The effort that asks most is the one with the highest median over the draws.

    >>> from ergo.inputs import examples
    >>> forces, values = drawn_forces(examples.boost())
    >>> forces.shape, bool(np.corrcoef(forces, values["mu_0"])[0, 1] > 0.5)  # more friction, more force
    ((512,), True)
    """
    demand = demand_of(scenario)
    inputs = uncertain_inputs(scenario)
    surrogate = build_demand_surrogate(demand, inputs, 1)
    u = np.concatenate(list(uniform_chunks(uniform_columns(inputs), DRAWS, SEED)))
    values, _ = draw(inputs, u, demand.direction.receiving)
    forces = team_forces(surrogate, values)
    return max((start for start, _ in forces.values()), key=lambda start: float(np.median(start))), values


@cache
def drawn_heads(text: str) -> Floats:
    """Return the smallest team of a scenario, given as TOML, in every draw; infinite where no team is enough."""
    scenario = read_scenario(text.encode())
    demand, inputs = demand_of(scenario), uncertain_inputs(scenario)
    surrogate = build_demand_surrogate(demand, inputs, team_most())
    u = np.concatenate(list(uniform_chunks(uniform_columns(inputs), DRAWS, SEED)))
    teams = possible_teams(demand)
    ratios, _ = evaluate(surrogate, u, teams)
    roles = sum(role.people for role in roles_of(scenario))
    found = np.full(DRAWS, np.inf)
    for team in teams:
        found = np.where(ratios[team] <= 1.0, np.minimum(found, sum(team) + roles), found)
    return found
