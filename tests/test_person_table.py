"""What a force costs a person in the draws: the worst of all counts, and near hands are held alike."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from ergo.uncertainty.handler_surrogate import (
    Borne,
    PerNewton,
    PersonTable,
    PostureDraws,
    body_of,
    costs_of,
    holding,
    node_forces,
    person_ratio,
    worst_of,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from ergo import load_scenario
from ergo.assessment import demand_of
from ergo.assessment.load import bodies_of
from ergo.assessment.team import people_on_side

DRAWS = 64


def any_table(dice: np.random.Generator, nodes: int) -> PersonTable:
    """Ratios and loads that rise with the force or do not, held throughout or from some force on no more."""
    rises = np.cumsum(dice.uniform(-0.2, 1.0, (5, nodes)), axis=1)
    along = np.array([0.1, 300.0, 100.0, -40.0, -30.0])[:, None] * rises
    held = (np.arange(nodes) < dice.integers(1, 2 * nodes)).astype(float)
    per_n = dice.uniform(0.0, 0.02, 33)
    limit = float(dice.choice([3400.0, np.inf]))
    covered = tuple(np.sort(dice.uniform(-0.5, 1.5, 2)))
    return PersonTable.of(PerNewton(per_n, covered, limit), along, held)


@settings(max_examples=200, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), people=st.integers(0, 7), spread=st.sampled_from([0.05, 0.6, 1.5]))
def test_the_worst_of_several_people_is_the_largest_of_all_their_ratios(seed, people, spread):
    dice = np.random.default_rng(seed)
    softer, shorter = dice.uniform(0.0, 1.0, DRAWS), dice.uniform(-0.3, 0.4, DRAWS)
    held_so = PostureDraws.of(dice.uniform(0.0, 1.0, DRAWS), softer, shorter)
    borne = []
    for _ in range(people):
        table = any_table(dice, int(dice.integers(2, 14)))
        peak = float(dice.uniform(0.0, 1.2)) * table.forces[-1] * np.exp(spread * dice.standard_normal(DRAWS))
        borne.append(Borne(table, peak))
    each = [person_ratio(*one, held_so) for one in borne]
    expected = np.maximum.reduce([np.zeros(DRAWS), *each])
    for (low, high), peak in ((one.table.covered, one.peak_n) for one in borne):
        beyond = (peak > 0) & ((held_so.height < low) | (held_so.height > high))
        expected = np.where(beyond & (expected <= 1.0), np.nan, expected)
    np.testing.assert_array_equal(worst_of(borne, held_so), expected)


@pytest.mark.parametrize("name", ["prone_two_layer_pad", "lateral_cotton"])
def test_tabulated_bodies_are_those_of_the_assessment_with_hands_within_a_millimetre(name):
    demand = demand_of(load_scenario(f"scenarios/{name}.toml"))
    effort = next(effort for _, efforts in demand.moves for effort in efforts if effort.role == "pull")
    side = "left" if effort.side == "both" else effort.side
    for person in map(body_of, people_on_side(demand.scenario, side, 3)):
        (costs,) = costs_of(demand, [(person, holding(effort, demand.scenario), 12)])
        steps = node_forces(12)
        rows = [(effort, person, force / float(effort.start_n)) for force in steps]
        exact = bodies_of(demand.scenario, rows, ["typical"] * len(rows))
        np.testing.assert_allclose(costs[1], [body.compression_n for body in exact], rtol=0.01)
        assert costs[-1].tolist() == [float(body.can_be_held) for body in exact]


def test_postures_are_looked_for_once_for_patients_of_nearly_one_size(monkeypatch):
    searched = []
    monkeypatch.setattr(
        "ergo.uncertainty.handler_surrogate.bodies_of",
        lambda scenario, rows, how: searched.extend(rows) or bodies_of(scenario, rows, how),
    )
    case = load_scenario("scenarios/boost_flat.toml")
    person = dataclasses.replace(body_of(people_on_side(case, "left", 1)[0]), stature_m=1.6321)  # nobody else's
    for mass in (70.0, 70.05):
        demand = demand_of(case.model_copy(update={"patient": case.patient.model_copy(update={"mass_kg": mass})}))
        costs_of(demand, [(person, holding(demand.moves[0][1][0], demand.scenario), 4)])
    assert len(searched) == 8  # at 0, 2, 8 and 18 N, with the stated technique and with the best
