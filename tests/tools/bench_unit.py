"""Time, memory and speed-up of the unit plan: `python tests/tools/bench_unit.py`.

Prints one unit-year of 24 beds, how time goes with the number of moves, peak memory, the same queue in simpy, and
eight units on one and on two processes.
"""

from __future__ import annotations

import sys
import tempfile
import time
import tracemalloc
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np
import simpy

sys.path.insert(0, str(Path(__file__).parents[2]))

from ergo.inputs.unit import dump_unit, load_unit
from ergo.unit.batch import plan_folder
from ergo.unit.plan import patients_of, simulate, table_of
from ergo.unit.run_statistics import Job, Tally
from ergo.unit.simulation import ShiftPattern, serve
from ergo.unit.team_lookup import TeamNeed

UNITS = Path(__file__).parents[2] / "scenarios" / "units"


def participants(procedure, aid, mass_kg, sex, stature_m):
    """Two people, and two more per 60 kg; roles for the prone."""
    prone = int(procedure in ("prone turn", "return to supine"))
    pairs = 1 + int(mass_kg / 90)
    return TeamNeed(pairs, pairs, prone, prone, loadings=2.0, pull_n_s=mass_kg)


def busy_unit():
    """The example with boosts every 3 h and more calls, for about 175,000 moves a year."""
    unit = load_unit(UNITS / "example_hospital_icu.toml")
    rounds = tuple(
        r.model_copy(update={"share": 1.0, "every_h": 3.0 if r.procedure == "boost" else r.every_h})
        for r in unit.rounds
    )
    return unit.model_copy(
        update={
            "rounds": rounds,
            "beds": 24,
            "unplanned": (unit.unplanned[0].model_copy(update={"a_day": 60.0}), unit.unplanned[1]),
        }
    )


def one_year():
    unit = busy_unit()
    patients = patients_of(unit, UNITS)
    table = table_of(unit, participants, patients)
    for days in (91, 182, 365, 730):
        started = time.perf_counter()
        tally = simulate(unit, unit.policies[0], table, patients, days=days)
        took = time.perf_counter() - started
        moves = sum(tally.events)
        print(f"{days:4d} days: {moves:7d} moves, {took:5.2f} s, {1e6 * took / moves:5.1f} µs a move")
    for days in (30, 365):
        tracemalloc.start()
        simulate(unit, unit.policies[0], table, patients, days=days)
        print(f"peak memory of {days} days: {tracemalloc.get_traced_memory()[1] / 1e6:.2f} MB")
        tracemalloc.stop()


def same_queue_in_simpy(moves=20_000):
    rng = np.random.default_rng(0)
    times = np.cumsum(rng.exponential(3.0, moves)).tolist()
    minutes = rng.exponential(6.0, moves).tolist()
    teams = rng.integers(1, 5, moves).tolist()
    jobs = [Job(t, 0, m, k) for t, m, k in zip(times, minutes, teams, strict=True)]
    started = time.perf_counter()
    tally = Tally(1, 1, 0.0, 0.0)
    serve([jobs], ShiftPattern((0.0,), (12,), (0,), 0, changes=False), tally, times[-1])
    ours = time.perf_counter() - started

    env = simpy.Environment()
    staff = simpy.PriorityResource(env, 12)
    waits = []

    def move(arrival, length, people, order):
        asked = [staff.request(priority=order) for _ in range(people)]
        yield simpy.AllOf(env, asked)
        waits.append(env.now - arrival)
        yield env.timeout(length)
        for one in asked:
            staff.release(one)

    def source():
        now = 0.0
        for order, (arrival, length, people) in enumerate(zip(times, minutes, teams, strict=True)):
            yield env.timeout(arrival - now)
            now = arrival
            env.process(move(arrival, length, people, order))

    started = time.perf_counter()
    env.process(source())
    env.run()
    theirs = time.perf_counter() - started
    print(f"{moves} moves of 1 to 4 people: our loop {ours:.2f} s, simpy {theirs:.2f} s: {theirs / ours:.1f} times")
    print(f"  total wait {tally.wait_total[0]:.1f} and {sum(waits):.1f} min")


def speed_up():
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "census_example.csv").write_bytes((UNITS / "census_example.csv").read_bytes())
        unit = busy_unit().model_copy(update={"days": 7, "replications": 2})
        for i in range(8):
            (folder / f"unit_{i}.toml").write_text(dump_unit(unit.model_copy(update={"name": f"unit {i}"})))
        for what, run in (
            ("8 units", lambda workers: plan_folder(folder, participants, workers)),
            ("a bare loop, what the machine gives at this moment", spin),
        ):
            times = []
            for workers in (1, 2):
                started = time.perf_counter()
                run(workers)
                times.append(time.perf_counter() - started)
            print(f"{what}: {times[0]:.1f} s on one process, {times[1]:.1f} s on two: {times[0] / times[1]:.2f} times")


def count(n):
    total = 0
    for i in range(n):
        total += i * i % 7
    return total


def spin(workers):
    """Do the same amount of bare work on one or two processes."""
    with ProcessPoolExecutor(workers) as pool:
        list(pool.map(count, [6_000_000] * 8))


if __name__ == "__main__":
    one_year()
    same_queue_in_simpy()
    speed_up()
