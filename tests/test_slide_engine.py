"""Sliding against a rigid-body engine: the pull at which a body on a surface breaks away.

The engine (pymunk) multiplies the friction values of the two surfaces and is exact for Coulomb sliding to 0.001 %.
"""

from __future__ import annotations

import itertools

import numpy as np
import pymunk
import pytest

from ergo.mechanics.sliding import body_slide_force, steady_pull
from ergo.units import G

FRICTION = (0.05, 0.19, 0.43, 0.90)
PULL_DEG = (-10.0, 0.0, 15.0, 30.0, 60.0)
SLOPE_DEG = (-8.0, 0.0, 3.0, 12.0)
MASS_KG = 80.0


def moves(pull_n: float, friction: float, pull_rad: float, slope_rad: float, uphill: float) -> float:
    """Return how far the engine's body has gone along the slope after a short pull, uphill positive."""
    space = pymunk.Space()
    space.gravity = (-G * np.sin(slope_rad), -G * np.cos(slope_rad))  # x runs along the surface, uphill
    space.collision_slop = 1e-4
    body = pymunk.Body(MASS_KG, float("inf"))  # it cannot tip: only sliding is asked
    body.position = (0.0, 0.0999)
    box = pymunk.Poly.create_box(body, (0.4, 0.2))
    ground = pymunk.Segment(space.static_body, (-50, -1), (50, -1), 1.0)
    box.friction, ground.friction = friction, 1.0  # the engine multiplies the two
    space.add(body, box, ground)
    for _ in range(40):
        space.step(0.002)  # it settles under its weight; no pull yet
        body.velocity = (0.0, body.velocity.y)
    start = body.position.x
    for _ in range(60):
        body.apply_force_at_local_point((uphill * pull_n * np.cos(pull_rad), pull_n * np.sin(pull_rad)), (0, 0))
        space.step(0.002)
    return float(body.position.x - start)


def breakaway_pull(friction: float, pull_rad: float, slope_rad: float) -> float:
    """Return the smallest pull that moves the engine's body uphill, by bisection to 0.01 %."""
    low, high = 0.0, 2.5 * MASS_KG * G
    while high - low > 2e-4 * high:
        middle = 0.5 * (low + high)
        if moves(middle, friction, pull_rad, slope_rad, 1.0) > 1e-6:
            high = middle
        else:
            low = middle
    return 0.5 * (low + high)


@pytest.mark.parametrize(("friction", "slope_deg"), list(itertools.product(FRICTION, SLOPE_DEG)))
def test_the_pull_to_slide_equals_the_engines_breakaway_within_half_a_percent(friction, slope_deg):
    slope = np.radians(slope_deg)
    for pull_deg in PULL_DEG:
        pull = np.radians(pull_deg)
        ours = float(steady_pull(MASS_KG, friction, pull, slope))
        if ours <= 0.0:  # the slope alone carries it down: in the engine it slides off without a pull
            assert np.tan(-slope) >= friction
            continue
        if ours * np.sin(pull) >= MASS_KG * G * np.cos(slope):
            pytest.fail("the grid must stay where the pull does not lift the body clear")
        assert breakaway_pull(friction, pull, slope) == pytest.approx(ours, rel=0.005)


def test_a_slope_steeper_than_friction_must_be_held_back_and_the_engine_slides_down_by_itself():
    friction, slope = 0.05, np.radians(-8.0)  # uphill is negative: the pull's direction is downhill
    force = body_slide_force(
        [MASS_KG], [friction], [0.8], pull_rad=0.0, slope_rad=slope, breakaway=1.3, distance_m=0.0, time_s=2.0
    )
    hold = float(force.hold_back_n)
    assert hold > 0.0
    assert float(force.steady_n) == 0.0
    assert moves(0.0, friction, 0.0, slope, 1.0) > 1e-4  # runs off downhill, towards the pull
    assert moves(1.01 * hold, friction, 0.0, slope, -1.0) < 1e-4
    assert moves(0.99 * hold, friction, 0.0, slope, -1.0) > 1e-6
