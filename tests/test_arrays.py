"""An array of cases gives what each case gives alone."""

from __future__ import annotations

import numpy as np
import pytest

from ergo.inputs.scenario import parse_scenario
from ergo.limits.psychophysical import accepted_pull, table_pull
from ergo.mechanics.bed_clearance import bed_clearance
from ergo.mechanics.body import LEVELS, breadths, build_body
from ergo.mechanics.case import build_case
from ergo.mechanics.cross_section import Outline, exponent_from_perimeter_ratio, perimeter, support
from ergo.mechanics.demand import critical_angles, task_of_turn, ways_of
from ergo.mechanics.procedure import plan_moves
from ergo.mechanics.rolling import brake, turn_by_hands, turn_by_sheet
from ergo.mechanics.sliding import body_slide_force


def test_outline_functions_give_an_array_the_same_as_each_scalar():
    rng = np.random.default_rng(1)
    a, b, n = rng.uniform(0.1, 0.3, 7), rng.uniform(0.08, 0.25, 7), rng.uniform(2.0, 5.0, 7)
    angle = rng.uniform(0, np.pi, 7)
    for function, args in ((support, (a, b, n, angle)), (perimeter, (a, b, n))):
        whole = function(*args)
        assert whole == pytest.approx([float(function(*(v[i] for v in args))) for i in range(7)], rel=1e-13)
    ratio = np.full(7, 1.04)
    whole = exponent_from_perimeter_ratio(a, b, ratio)
    assert whole == pytest.approx([float(exponent_from_perimeter_ratio(a[i], b[i], 1.04)) for i in range(7)])


def test_slides_give_an_array_the_same_as_each_scalar():
    rng = np.random.default_rng(2)
    mass, mu, along = rng.uniform(1, 40, (5, 3)), rng.uniform(0.1, 0.9, (5, 3)), rng.uniform(0.1, 1.6, (5, 3))
    names = ("pull_rad", "slope_rad", "breakaway", "distance_m", "time_s")
    bounds = ((0, 0.5), (-0.2, 0.2), (1.1, 1.5), (0.1, 0.6), (1, 3))
    rest = {k: rng.uniform(*v, 5) for k, v in zip(names, bounds, strict=True)}
    whole = body_slide_force(mass, mu, along, **rest)
    for i in range(5):
        one = body_slide_force(mass[i], mu[i], along[i], **{k: v[i] for k, v in rest.items()})
        for name in ("steady_n", "start_n", "breakaway_n", "inertia_n", "hold_back_n", "centre_m"):
            assert float(getattr(whole, name)[i]) == pytest.approx(float(getattr(one, name)), rel=1e-13)


@pytest.mark.parametrize("turning", [turn_by_sheet, turn_by_hands])
def test_turns_brakes_and_landings_give_an_array_the_same_as_each_scalar(turning):
    rng = np.random.default_rng(3)
    a, b = rng.uniform(0.13, 0.22, 4), rng.uniform(0.09, 0.15, 4)
    mass, x, y = rng.uniform(50, 120, 4), rng.uniform(0.5, 0.8, 4), rng.uniform(0.05, 0.5, 4)
    angle = np.radians([0.0, 10.0, 45.0, 89.0])
    whole = turning(Outline.single(a, b, 2.8), mass, angle, x, y)
    lowering = brake(Outline.single(a, b, 2.8), mass, angle + 1.5)
    hold = whole.counter_hold_n(rng.uniform(0.05, 0.2, 4))
    room = bed_clearance(Outline.single(a, b, 2.8), a, 0.9, 0.05)
    assert hold.shape == (4, 4)
    for i in range(4):
        outline = Outline.single(a[i], b[i], 2.8)
        one, low, land = (
            turning(outline, mass[i], angle, x[i], y[i]),
            brake(outline, mass[i], angle + 1.5),
            bed_clearance(outline, a[i], 0.9, 0.05),
        )
        for name in ("gravity_moment_arm_m", "height_m", "travel_m", "elevation", "pull_moment_arm_m", "force_n"):
            assert getattr(whole, name)[i] == pytest.approx(getattr(one, name), rel=1e-9, abs=1e-12)
            assert getattr(lowering, name)[i] == pytest.approx(getattr(low, name), rel=1e-9, abs=1e-12)
        for name in ("roll_m", "needed_m", "room_m", "slide_m", "counter_slide_m", "final_m", "fits"):
            assert getattr(room, name)[i] == pytest.approx(getattr(land, name), rel=1e-12)


def test_bodies_and_pull_tables_give_an_array_the_same_as_each_scalar():
    mass = np.array([45.0, 70.0, 104.0, 118.0, 190.0])
    whole = build_body("F", mass, 1.62)
    sizes = breadths("F", mass, 1.62)
    for i, m in enumerate(mass):
        one = build_body("F", float(m), 1.62)
        assert whole.mass_kg[i] == pytest.approx(one.mass_kg, rel=1e-13)
        assert float(whole.half_breadth[i]) == pytest.approx(float(one.half_breadth), rel=1e-12)
        assert float(whole.outline.half_perimeter[i]) == pytest.approx(float(one.outline.half_perimeter), rel=1e-9)
        for level_ in LEVELS:
            assert float(sizes[level_][0][i]) == pytest.approx(float(breadths("F", float(m), 1.62)[level_][0]))
    heights, minutes = np.array([0.3, 0.57, 0.7, 0.89, 1.2, 1.35, 1.5]), np.array([2.0, 0.1, 3.3, 5.0, 100, 480, 2.0])
    for function in (accepted_pull, table_pull):
        arrays = function("F", "initial", 75, heights, minutes)
        singles = [float(function("F", "initial", 75, h, t)) for h, t in zip(heights, minutes, strict=True)]
        assert arrays == pytest.approx(singles, nan_ok=True)


DRAWS = {
    "mu_0": np.array([0.2, 0.3, 0.5]),
    "linen_mu": np.array([0.4, 0.5, 0.8]),
    "breakaway": np.array([1.2, 1.3, 1.4]),
    "pull_rad": np.array([0.0, 0.2, 0.4]),
    "hand_height_m": np.array([0.05, 0.1, 0.2]),
    "slide_time_s": np.array([1.5, 2.0, 3.0]),
    "turned_fraction": np.array([0.9, 0.95, 1.0]),
    "breadth_scale": np.array([0.95, 1.0, 1.05]),
    "depth_scale": np.array([1.05, 1.0, 0.95]),
}
PARTS = ("gain", "slip", "unloading", "pull", "lift", "reach_m", "hand_height_m")


@pytest.mark.parametrize("grip", ["sheet", "hands"])
@pytest.mark.parametrize("procedure", ["prone turn", "lateral transfer", "boost", "slide to the side", "limb hold"])
def test_an_array_of_draws_gives_every_action_of_every_procedure_the_same_as_each_draw(procedure, grip):
    patient = {"sex": "F", "mass_kg": 80.0, "stature_m": 1.65, "intubated": True}
    case = {"name": "x", "procedure": procedure, "patient": patient, "handling": {"turn_grip": grip}}
    case |= {"aid": "transfer board"} if procedure == "lateral transfer" else {}
    scenario = parse_scenario(case)
    typical = build_case(scenario)
    together, apart = (build_case(scenario, DRAWS), [build_case(scenario, {k: v[i] for k, v in DRAWS.items()})
                       for i in range(3)])  # fmt: skip
    for move in plan_moves(scenario, typical):
        if move.is_turn:
            angle = critical_angles(move, typical, scenario)
            wholes, singles = ([task_of_turn(move, c, scenario, angle, every_angle=True) for c in cases]
                               for cases in ([together], apart))  # fmt: skip
            pairs = [(wholes[0], singles)]
        else:
            ways = [ways_of(move, c, scenario)[0] for c in apart]
            pairs = list(zip(ways_of(move, together, scenario)[0], zip(*ways, strict=True), strict=True))
        for whole, single in pairs:
            for i, one in enumerate(single):
                here = np.broadcast_to(whole.instants.resistance, (3, len(one.instants.angle)))[i]
                assert here == pytest.approx(one.instants.resistance, rel=2e-5, abs=1e-6), move.name
                for a, b in zip(whole.instants.actions, one.instants.actions, strict=True):
                    assert a.name == b.name
                    for name in PARTS:
                        wide = np.broadcast_to(getattr(a, name), (3, len(one.instants.angle)))[i]
                        assert wide == pytest.approx(getattr(b, name), rel=2e-5, abs=1e-6), (move.name, a.name, name)
