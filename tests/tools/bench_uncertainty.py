"""Prints draws a second, linearity and memory of the Monte Carlo, and the same roll timed against a rigid-body engine.

Run: python tests/tools/bench_uncertainty.py
"""

from __future__ import annotations

import os
import resource
import time

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # as the program sets it: processor time would count a second core that waits

import mujoco
import numpy as np

from ergo import load_scenario
from ergo.assessment import demand_of
from ergo.mechanics.cross_section import Outline
from ergo.mechanics.rolling import turn_by_sheet
from ergo.teams.team_probabilities import reliability
from ergo.uncertainty.distributions import uncertain_inputs
from ergo.uncertainty.monte_carlo import evaluate, uniform_chunks, uniform_columns
from ergo.uncertainty.team_draws import build_tables, solve_tables
from ergo.units import G

CASES = {
    "one move: bed to stretcher, 3 and 1": ("lateral_slide_sheet", (3, 1)),
    "one move: side-lying turn": ("side_turn_slide_sheet", (2, 2)),
    "prone turn, cotton draw sheet": ("prone_cotton_draw_sheet", (2, 4)),
    "prone turn, two-layer pad": ("prone_two_layer_pad", (2, 3)),
}


def rate(name: str, team: tuple[int, int], draws: int) -> float:
    """Draws a second, with sampling, without the tables that are built once."""
    one = load_scenario(f"scenarios/{name}.toml")
    inputs = uncertain_inputs(one)
    tables = build_tables(demand_of(one), inputs)
    solve_tables([tables])
    best = 0.0
    for seed in range(3):
        start = time.process_time()
        for u in uniform_chunks(uniform_columns(inputs), draws, seed):
            evaluate(tables, u, [team])
        best = max(best, draws / (time.process_time() - start))
    return best


ROLL = """
<mujoco><option timestep="0.001" integrator="implicitfast" cone="elliptic" noslip_iterations="3" tolerance="1e-12"/>
<worldbody><geom type="plane" size="5 5 .1" friction="2 0 0"/>
<body pos="0 0 {z}"><joint type="slide" axis="1 0 0"/><joint type="slide" axis="0 0 1"/>
<joint name="roll" type="hinge" axis="0 1 0" damping="0"/>
<inertial pos="0 0 0" mass="{m}" diaginertia="1 1 1"/>
<geom type="ellipsoid" size="{a} 0.9 {b}" friction="2 0 0" solref="0.005 1"/></body></worldbody>
<actuator><velocity joint="roll" kv="20000"/></actuator></mujoco>
"""


def engine_roll(a: float, b: float, mass: float, degrees: float) -> tuple[float, float]:
    """Turn an ellipse slowly to 90°; return seconds of processor time and the torque at `degrees` [N m]."""
    model = mujoco.MjModel.from_xml_string(ROLL.format(a=a, b=b, m=mass, z=b))
    data = mujoco.MjData(model)
    speed = 0.05
    data.ctrl[0] = speed
    torque, start = [], time.process_time()
    while data.qpos[2] < np.pi / 2:
        mujoco.mj_step(model, data)
        if abs(np.degrees(data.qpos[2]) - degrees) < 0.5:
            torque.append(data.actuator_force[0])
    return time.process_time() - start, float(np.mean(torque))


def main() -> None:
    """Print everything in one table."""
    print(f"{'draws a second (processor time, one core)':<48}{'rate':>12}")
    for label, (name, team) in CASES.items():
        print(f"{label:<48}{rate(name, team, 2**17):>12,.0f}")

    one = load_scenario("scenarios/boost_flat.toml")
    reliability(one, draws=128)
    for draws in (2**15, 2**17, 2**19):
        start = time.process_time()
        reliability(one, draws=draws)
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"reliability, {draws:>7,} draws: {time.process_time() - start:6.2f} s, peak memory {peak:5.0f} MiB")

    a, b, mass, at = 0.20, 0.12, 80.0, 30.0
    outline = Outline.single(np.full(2000, a), np.full(2000, b), np.full(2000, 2.0))
    angles = np.radians(np.linspace(0.0, 90.0, 91))
    start = time.process_time()
    moment_arm = outline.over_angles().moment_arm(angles)
    same = (time.process_time() - start) / 2000
    start = time.process_time()
    turn_by_sheet(outline, np.full(2000, mass), angles, np.full(2000, 0.6), np.full(2000, 0.1))
    more = (time.process_time() - start) / 2000
    exact = mass * G * float(moment_arm[0, 30])
    theirs, torque = engine_roll(a, b, mass, at)
    print(f"torque of one roll, 91 angles: {same * 1e6:.1f} µs here, {theirs:.2f} s there: {theirs / same:,.0f} times")
    print(
        f"with sheet, travel and pull, which the engine was not asked: {more * 1e6:.0f} µs, {theirs / more:,.0f} times"
    )
    print(f"torque at {at:.0f}°: {exact:.2f} N m here, {torque:.2f} in the engine, {abs(torque / exact - 1):.2%} apart")


if __name__ == "__main__":
    main()
