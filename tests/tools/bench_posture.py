"""Print what one posture costs: median ms of a single solve, µs a posture in a sweep, and a cold start.

Processor time, so that a busy machine does not count; the cold import leaves out waiting for the disk.
Run with `python tests/tools/bench_posture.py`; pytest does not collect it. Use one thread: OMP_NUM_THREADS=1.
"""

import subprocess
import sys
import time

import numpy as np

from ergo.handlers.posture import hold_posture, sweep


def _random(n: int) -> dict[str, np.ndarray]:
    rng = np.random.default_rng(1)
    bed = rng.uniform(0.55, 0.95, n)
    return {
        "stature_m": rng.uniform(1.5, 1.87, n),
        "mass_kg": rng.uniform(50, 130, n),
        "sex": rng.choice(["F", "M"], n),
        "reach_m": rng.uniform(-0.05, 0.5, n),
        "bed_height_m": bed,
        "hand_height_m": bed + rng.uniform(0, 0.3, n),
        "pull_n": rng.uniform(-150, 250, n),
        "lift_n": rng.uniform(0, 100, n),
        "technique": rng.choice(["best", "typical", "bed too low"], n),
    }


def main() -> None:
    """Time it."""
    tasks = _random(200)
    times = []
    for k in range(200):
        one = {name: (str(v[k]) if v.dtype.kind == "U" else float(v[k])) for name, v in tasks.items()}
        begin = time.process_time()
        hold_posture(**one)
        times.append(time.process_time() - begin)
    print(f"hold_posture: median {np.median(times) * 1e3:.2f} ms, fastest {min(times) * 1e3:.2f} ms")
    for n in (100, 1000, 4000, 20000):
        tasks = _random(n)
        laps = []
        for _ in range(5):
            begin = time.process_time()
            sweep(**tasks)
            laps.append(time.process_time() - begin)
        print(f"sweep of {n}: median {np.median(laps) / n * 1e6:.1f} µs, fastest {min(laps) / n * 1e6:.1f} µs")
    code = (
        "import time; a = time.process_time()\n"
        "from ergo.handlers.reference_team import mixed_team; from ergo.handlers.posture import hold_posture\n"
        "b = time.process_time()\n"
        "for h in mixed_team(20):\n"
        "    who = dict(stature_m=h.stature_m, mass_kg=h.mass_kg, sex=h.sex)\n"
        "    hold_posture(**who, reach_m=0.3, hand_height_m=0.9, bed_height_m=0.8, pull_n=100.0)\n"
        "print(f'cold: import {(b - a) * 1e3:.0f} ms, 20 persons {(time.process_time() - b) * 1e3:.0f} ms')"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


if __name__ == "__main__":
    main()
