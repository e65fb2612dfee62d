"""How fast many patients, and one whose mass was changed, are answered: `python tests/tools/bench_tables.py`.

`smallest_teams` on one core, in patients a second of processor time, the median of some tables of random patients; what
a table of many more patients takes of memory; and how long one waits for each part of a changed case.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

os.environ["OMP_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import numpy as np
import pandas as pd

from ergo import load_scenario, smallest_teams
from ergo.inputs.scenario import Scenario, dump_scenario
from ergo.web import jobs

ROOT = Path(__file__).resolve().parents[2]
MOVES = (("boost", "slide sheet"), ("prone turn", "cotton draw sheet"))
AIMS = {("boost", None): 1000, ("boost", 0.9): 50}
"""Patients a second, at typical values and with probability."""
CHANGED = ("prone_two_layer_pad", "boost_flat")
CHANGED_AIM_S, BESIDE_AIM_S = 0.2, 2.0
_PEAK = """
import resource, sys
sys.path.insert(0, {root!r})
from ergo import smallest_teams
from tests.tools.bench_tables import patients
smallest_teams(patients("boost", "slide sheet", {number}, 1))
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""


def patients(procedure: str, aid: str, number: int, seed: int) -> pd.DataFrame:
    """Return a table of patients who differ in sex, mass and stature."""
    dice = np.random.default_rng(seed)
    return pd.DataFrame({
        "procedure": procedure, "aid": aid, "sex": dice.choice(["F", "M"], number),
        "mass_kg": dice.uniform(50, 140, number), "stature_m": dice.uniform(1.5, 1.9, number),
    })  # fmt: skip


def rate(procedure: str, aid: str, probability: float | None, number: int, times: int = 5) -> float:
    """Patients answered in a second of processor time, the median of some tables."""
    smallest_teams(patients(procedure, aid, 5, 0), probability)
    rates = []
    for seed in range(1, times + 1):
        table = patients(procedure, aid, number, seed)
        began = time.process_time()
        smallest_teams(table, probability)
        rates.append(number / (time.process_time() - began))
    return statistics.median(rates)


def peak_mib(number: int) -> float:
    """The most memory that a table of boosts takes, in a process of its own [MiB]."""
    code = _PEAK.format(root=str(ROOT), number=number)
    return float(subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True).stdout)


def changed(name: str, masses: tuple[float, ...] = (91.0, 92.0, 93.0, 94.0, 95.0)) -> dict[str, float]:
    """How long each part of the answer takes after the patient's mass was changed [s], the median."""
    case = load_scenario(ROOT / "scenarios" / f"{name}.toml")

    def text(mass_kg: float) -> str:
        other: Scenario = case.model_copy(update={"patient": case.patient.model_copy(update={"mass_kg": mass_kg})})
        return dump_scenario(other)

    def parts(asked: str) -> Iterator[tuple[str, float]]:
        began = time.perf_counter()
        jobs.curve(asked)
        yield "team at typical values", time.perf_counter() - began
        first = jobs.first(asked)
        yield "team and probability", time.perf_counter() - began
        jobs.answer(asked)
        if first.left is not None and first.right is not None:
            jobs.beside(asked)
            jobs.two_kinds(asked, first.left, first.right)
        yield "band, one fewer, one more", time.perf_counter() - began

    dict(parts(text(masses[0] - 1.0)))
    every = [dict(parts(text(mass))) for mass in masses]
    return {part: statistics.median(one[part] for one in every) for part in every[0]}


def lines(quick: bool = False) -> Iterator[tuple[str, str, str]]:
    """What was measured, the figure and the aim."""
    for procedure, aid in MOVES:
        for probability, words in ((None, ""), (0.9, ", with probability")):
            many = 250 if procedure == "boost" and probability is None else 50 if procedure == "boost" else 20
            found = rate(procedure, aid, probability, many, 3 if quick else 7)
            aim = AIMS.get((procedure, probability))
            yield f"smallest team of a table, {procedure}{words}", f"{found:.1f} a second", f"{aim:,}" if aim else ""
    few, more = peak_mib(500), peak_mib(1000 if quick else 4000)
    yield f"memory of {1000 if quick else 4000} boosts over that of 500", f"{more / few:.2f}", "flat"
    for name in CHANGED:
        for part, seconds in changed(name).items():
            aim_s = {"team and probability": CHANGED_AIM_S, "band, one fewer, one more": BESIDE_AIM_S}.get(part)
            yield f"mass changed, {name}: {part}", f"{seconds:.2f} s", f"{aim_s} s" if aim_s else ""


if __name__ == "__main__":
    for what, figure, aim in lines("--quick" in sys.argv):
        print(f"{what:<72}{figure:>18}{aim:>10}", flush=True)
