"""Luck and ignorance apart: nested draws against plain ones, the band against brute force, and calibration."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from ergo.assessment import Demand, demand_of, team_most
from ergo.evidence import assumption
from ergo.inputs import examples
from ergo.limits.psychophysical import accepted_pull, spread_of_acceptance
from ergo.uncertainty.distributions import triangle_value, uncertain_inputs
from ergo.uncertainty.monte_carlo import Drawn, uniform_chunks, uniform_columns
from ergo.uncertainty.team_draws import TeamTables, build_tables
from ergo.uncertainty.two_kinds import probability_band, same_everywhere, unmeasured_words

CASES = {  # between 0.3 and 0.95, and the ends of the band not at 0 or 1, where it would cover more
    "boost": (examples.boost, 86.0, (1, 1)),
    "transfer": (examples.lateral_transfer, 73.0, (2, 1)),
    "slide": (lambda mass: examples.boost(mass, procedure="slide to the side"), 102.0, (2, 1)),
}


@cache
def case(name: str) -> tuple[Demand, TeamTables, tuple[int, int]]:
    make, mass, team = CASES[name]
    demand = demand_of(make(mass))
    return demand, build_tables(demand, uncertain_inputs(demand.scenario)), team


def sigma_of(u: np.ndarray) -> np.ndarray:
    spread = assumption("share_spread")
    return triangle_value(u, spread.low, spread.typical, spread.high)


def wards(tables: TeamTables, team: tuple[int, int], outside: np.ndarray, draws: int, seed: int) -> np.ndarray:
    """The probability in each of some wards, whose friction and the rest are what they are."""
    inputs = tables.inputs
    (u,) = uniform_chunks(uniform_columns(inputs), len(outside) * draws, seed, chunk=2**30)
    fixed = [i for i, spread in enumerate(inputs) if same_everywhere(spread)]
    u[:, fixed] = np.repeat(outside[:, :-1], draws, axis=0)
    sigma = np.repeat(sigma_of(outside[:, -1]), draws)
    found = [
        Drawn(tables, u[at : at + 32_768], sigma=sigma[at : at + 32_768]).team(*team)[0] <= 1.0
        for at in range(0, len(u), 32_768)
    ]
    return np.mean(np.concatenate(found).reshape(len(outside), draws), axis=1)


def outer(tables: TeamTables, number: int, seed: int) -> np.ndarray:
    fixed = sum(same_everywhere(spread) for spread in tables.inputs)
    return np.random.default_rng(seed).random((number, fixed + 1))


@pytest.mark.parametrize("name", CASES)
def test_the_mean_of_nested_draws_is_that_of_plain_monte_carlo(name):
    demand, tables, team = case(name)
    band = probability_band(demand, *team, tables=tables)
    rng = np.random.default_rng(1)
    u = rng.random((40_000, uniform_columns(tables.inputs)))
    sigma = sigma_of(rng.random(len(u)))
    plain = float(np.mean(Drawn(tables, u, sigma=sigma).team(*team)[0] <= 1.0))
    assert 0.3 < plain < 0.95
    assert band.probability == pytest.approx(plain, abs=0.02)


@pytest.mark.parametrize("name", ["boost", "transfer"])
def test_the_band_is_that_of_brute_force_over_the_outer_draws(name):
    demand, tables, team = case(name)
    band = probability_band(demand, *team, tables=tables)
    each = wards(tables, team, outer(tables, 96, 6), 4096, 77)
    low, high = np.quantile(each, [0.05, 0.95])
    assert band.probability_low == pytest.approx(low, abs=0.08)  # the end of 96 wards is itself known to about 0.05
    assert band.probability_high == pytest.approx(high, abs=0.08)


@pytest.mark.parametrize("name", CASES)
def test_the_band_covers_nine_wards_in_ten_whose_true_friction_nobody_knows(name):
    demand, tables, team = case(name)
    band = probability_band(demand, *team, tables=tables)
    true = wards(tables, team, outer(tables, 400, 2), 512, 5)
    inside = np.mean((band.probability_low <= true) & (true <= band.probability_high))
    assert 0.85 <= inside <= 0.95


def test_what_nobody_measured_most_of_all_is_the_friction_of_the_sheet():
    demand, tables, team = case("transfer")
    band = probability_band(demand, *team, tables=tables)
    assert band.unmeasured[0].name.startswith("mu_")
    assert 0.0 <= band.unmeasured[-1].share <= band.unmeasured[0].share <= 1.0
    assert "narrows it most" in unmeasured_words(band)


def test_friction_measured_on_site_is_no_longer_the_same_everywhere_and_the_band_is_narrower():
    own = {"name": "own sheet", "measured": "ten pulls on the ward", "interfaces": [
        {"upper": "own sheet", "lower": "bed linen", "mu_low": 0.36, "mu": 0.38, "mu_high": 0.40}]}  # fmt: skip
    measured = demand_of(examples.lateral_transfer(80.0, aid="own sheet", own_aids=[own]))
    demand, tables, team = case("transfer")
    wide = probability_band(demand, *team, tables=tables)
    narrow = probability_band(measured, *team)
    assert narrow.probability_high - narrow.probability_low < wide.probability_high - wide.probability_low


def test_of_six_women_at_the_limit_that_three_in_four_accept_all_accept_in_the_sixth_power():
    height, minutes = 0.9, 2.0
    middle, limit = (float(accepted_pull("F", "initial", percent, height, minutes)) for percent in (50, 75))
    z = np.random.default_rng(3).standard_normal((6, 200_000))
    own = middle / limit * (1.0 + z * spread_of_acceptance("pull", "F"))
    assert np.mean(np.all(own >= 1.0, axis=0)) == pytest.approx(0.75**6, abs=0.004)


def test_own_acceptance_of_a_team_asked_for_all_that_the_limit_allows_is_the_same_power():
    """Everybody at the ratio 1, a full share each: the drawn teams replaced by six women at the limit."""
    women = [{"sex": "F", "stature_m": 1.61, "mass_kg": 73.5, "side": side} for side in ("left", "right")] * 3
    demand = demand_of(examples.boost(team={"members": women}))
    drawn = Drawn.usual(demand)
    size = len(drawn.team(3, 3)[0])
    one = np.ones(size)
    drawn._teams[3, 3] = one, one
    values, everybody = drawn._draws
    drawn._draws = values, {side: [w._replace(gives=one) for w in people] for side, people in everybody.items()}
    policy, scenario = demand.policy, demand.scenario
    height = scenario.bed.height_m + scenario.handling.hand_height_m
    every = scenario.policy.minutes_between_efforts
    middle, limit = (float(accepted_pull("F", "initial", p, height, every)) for p in (50, policy.percent))
    rng = np.random.default_rng(4)
    drawn_own = (
        middle / limit * (1.0 + rng.standard_normal((2, 2 * team_most(), size)) * spread_of_acceptance("pull", "F"))
    )
    assert drawn.own_acceptance(3, 3, drawn_own) == pytest.approx(0.75**6, abs=0.02)
