"""Bands of the published cases: a prediction's 5th and 95th percentile when the uncertain inputs are drawn."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

import numpy as np
from numpy.typing import NDArray

from ergo.assessment import demand_of, possible_teams, roles_of
from ergo.inputs.scenario import Scenario, read_scenario
from ergo.mechanics.case import build_case
from ergo.mechanics.demand import ways_of
from ergo.mechanics.procedure import plan_moves
from ergo.uncertainty.distributions import UncertainInput, uncertain_inputs
from ergo.uncertainty.monte_carlo import SEED, Drawn, draw, uniform_chunks, uniform_columns
from ergo.uncertainty.team_draws import build_tables

__all__ = ["DRAWS", "band", "drawn_hands", "drawn_heads", "drawn_slide", "slide_force", "spread"]

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


def slide_force(scenario: Scenario, draws: Mapping[str, Floats] | None = None) -> Floats:
    """Return the whole start force of the first move of a scenario, a slide in one go by those who draw it [N].

    What resists a level pull over what one newton of their pull is worth.

    >>> from ergo.inputs import examples
    >>> slides = slide_force(examples.boost(aid="slide sheet")), slide_force(examples.boost())
    >>> bool(slides[0] < slides[1])
    True
    """
    case = build_case(scenario, draws)
    task = ways_of(plan_moves(scenario, case)[0], case, scenario)[0][0]
    pull = next(action for action in task.instants.actions if action.name == "pulls the sheet")
    return np.asarray((task.instants.resistance / pull.gain)[..., 0])


def drawn_slide(scenario: Scenario, **instead: Floats) -> Floats:
    """Return the whole start force of a slide in every draw [N]; `instead` names draws of one's own, as mu_0.

    >>> from ergo.inputs import examples
    >>> low, high = band(drawn_slide(examples.boost()))
    >>> bool(low < slide_force(examples.boost()) < high)
    True
    """
    inputs = uncertain_inputs(scenario)
    values, _ = draw(inputs, _points(inputs))
    return slide_force(scenario, {**values, "pull_rad": np.radians(values["pull_deg"]), **instead})


def drawn_hands(scenario: Scenario, left: int, right: int) -> Floats:
    """Return the largest force in one pair of hands of a team in every draw [N]; infinite where the team cannot.

    >>> from ergo.inputs import examples
    >>> bool(np.median(drawn_hands(examples.boost(), 2, 2)) < np.median(drawn_hands(examples.boost(), 1, 1)))
    True
    """
    return _drawn(scenario).team(left, right)[1]


def _points(inputs: tuple[UncertainInput, ...]) -> Floats:
    return np.concatenate(list(uniform_chunks(uniform_columns(inputs), DRAWS, SEED)))


def _drawn(scenario: Scenario) -> Drawn:
    inputs = uncertain_inputs(scenario)
    return Drawn(build_tables(demand_of(scenario), inputs), _points(inputs))


@cache
def drawn_heads(text: str) -> Floats:
    """Return the smallest team by force of a scenario, given as TOML, in every draw; infinite where none is enough."""
    scenario = read_scenario(text.encode())
    drawn = _drawn(scenario)
    roles = sum(role.people for role in roles_of(scenario))
    found = np.full(DRAWS, np.inf)
    for team in possible_teams(demand_of(scenario)):
        found = np.where(drawn.team(*team)[0] <= 1.0, np.minimum(found, sum(team) + roles), found)
    return found
