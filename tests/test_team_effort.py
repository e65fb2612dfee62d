"""How hard a team must work: the closed solution beside a general solver, and what one more person may never do."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linprog

from ergo.handlers.team_effort import team_effort
from tests.tools.random_scenarios import many, some


class Pull:
    """A random team at one instant: directions of unit length, friction, a patient's weight, capacities."""

    def __init__(self, seed: int) -> None:
        dice = np.random.default_rng(seed)
        people, actions = int(dice.integers(1, 6)), int(dice.integers(1, 4))
        shape = people, actions
        up = dice.uniform(-0.5, 1.0, shape)
        level = np.sqrt(1.0 - up**2) * dice.choice([-1.0, 1.0], shape)
        mu = dice.uniform(0.08, 0.6)
        self.gain = dice.uniform(-0.2, 1.0, shape)
        self.unloading = mu * up
        if dice.random() < 0.6:  # hands that only hold the layer
            self.gain[-1, -1], level[-1, -1], self.unloading[-1, -1] = 0.0, -1.0, 0.0
        self.slip = level + self.unloading
        self.capacity = dice.uniform(0.0, 250.0, shape) * (dice.random(shape) < 0.9)
        self.resistance = dice.uniform(5.0, 400.0)
        self.margin = mu * dice.uniform(300.0, 1500.0) if dice.random() < 0.8 else np.inf

    def solved(self, either_way: bool) -> float:
        """The least part of capacity after scipy's simplex and interior point (HiGHS); infinite where there is none."""
        people, actions = self.gain.shape
        rows, most = [np.append(-self.gain.ravel(), 0.0)], [-self.resistance]
        if np.isfinite(self.margin):
            for slip in (self.slip, 2 * self.unloading - self.slip)[: 1 + either_way]:
                rows.append(np.append(slip.ravel(), 0.0))
                most.append(self.margin)
        able = self.capacity > 0
        for i in range(people):
            one = np.zeros((people, actions))
            one[i] = np.divide(1.0, self.capacity[i], out=np.zeros(actions), where=able[i])
            rows.append(np.append(one.ravel(), -1.0))
            most.append(0.0)
        bounds = [(0.0, None if can else 0.0) for can in able.ravel()] + [(0.0, None)]
        cost = np.append(np.zeros(people * actions), 1.0)
        found = linprog(cost, A_ub=np.array(rows), b_ub=most, bounds=bounds, method="highs")
        return float(found.fun) if found.status == 0 else np.inf

    def least(self, either_way: bool = False):
        return team_effort(
            self.resistance, self.gain, self.capacity, self.slip, self.margin,
            either_way=either_way, lift_slip=self.unloading,
        )  # fmt: skip


@many
@given(st.integers(0, 10**6))
def test_the_least_part_of_capacity_is_that_of_a_general_solver(seed):
    pull = Pull(seed)
    ours, theirs = float(pull.least().ratio), pull.solved(either_way=False)
    assert ours == pytest.approx(theirs, rel=1e-8, abs=1e-9)


@many
@given(st.integers(0, 10**6))
def test_it_is_the_solvers_too_where_a_layer_may_slip_either_way_and_the_team_can_do_it(seed):
    pull = Pull(seed)
    ours, theirs = float(pull.least(either_way=True).ratio), pull.solved(either_way=True)
    if theirs <= 1.0:
        assert ours == pytest.approx(theirs, rel=1e-8, abs=1e-9)
    else:  # both rows at once bind only where the team would carry the patient's whole weight
        assert 1.0 - 1e-9 <= ours <= theirs * (1.0 + 1e-8)


@many
@given(st.integers(0, 10**6))
def test_the_forces_overcome_the_resistance_slip_nowhere_and_ask_nobody_for_more_than_the_ratio(seed):
    pull = Pull(seed)
    found = pull.least()
    if not np.isfinite(found.ratio):
        assert not found.force_n.any()
        return
    force = found.force_n
    assert np.all(force >= 0.0)
    assert np.sum(pull.gain * force) >= pull.resistance * (1.0 - 1e-6)
    assert np.sum(pull.slip * force) <= pull.margin * (1.0 + 1e-4) + 1e-4
    share = np.divide(force, pull.capacity, out=np.zeros_like(force), where=pull.capacity > 0).sum(axis=1)
    assert np.all(share <= float(found.ratio) * (1.0 + 1e-9) + 1e-12)


@some
@given(st.integers(0, 10**6), st.floats(0.0, 250.0))
def test_one_more_person_never_raises_what_is_asked_of_anybody(seed, capacity):
    pull = Pull(seed)
    alone = float(pull.least().ratio)
    for name in ("gain", "slip", "unloading"):
        values = getattr(pull, name)
        setattr(pull, name, np.vstack([values, values[:1]]))
    pull.capacity = np.vstack([pull.capacity, np.full((1, pull.capacity.shape[1]), capacity)])
    assert float(pull.least().ratio) <= alone * (1.0 + 1e-9)


@some
@given(st.integers(0, 10**6), st.floats(0.1, 1.0))
def test_less_capacity_never_helps(seed, part):
    pull = Pull(seed)
    before = float(pull.least().ratio)
    pull.capacity = pull.capacity * part
    assert float(pull.least().ratio) >= before * (1.0 - 1e-9)


def test_many_instants_at_once_are_each_their_own():
    pulls = [Pull(seed) for seed in range(40)]
    alike = [p for p in pulls if p.gain.shape == pulls[0].gain.shape]
    together = team_effort(
        [p.resistance for p in alike], [p.gain for p in alike], [p.capacity for p in alike], [p.slip for p in alike],
        [p.margin for p in alike],
    )  # fmt: skip
    assert together.ratio.tolist() == pytest.approx([float(p.least().ratio) for p in alike], rel=1e-12)


def test_who_cannot_help_idles():
    found = team_effort(100.0, [[1.0], [-1.0]], [[200.0], [200.0]])
    assert found.force_n[:, 0].tolist() == [100.0, 0.0]
