"""Every performance figure of the project in one table, with ratios: `python tests/tools/bench_all.py [--quick]`.

Processor time where it says so, so that a busy machine does not count. What is compared is run in turn, pair by pair.
"""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

os.environ["OMP_NUM_THREADS"] = "1"
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import numpy as np

from ergo import load_scenario, smallest_team
from ergo.assessment import assess
from ergo.handlers.posture import hold_posture, sweep
from ergo.inputs.unit import load_unit
from ergo.mechanics.cross_section import Outline
from ergo.mechanics.rolling import turn_by_sheet
from ergo.report.documents.case import case_report
from ergo.report.html_page import html_page
from ergo.teams.team_probabilities import reliability
from ergo.unit.plan import patients_of, simulate, table_of
from ergo.unit.team_lookup import AssessedNeed
from tests.tools import bench_page, bench_posture, bench_tables, bench_uncertainty, bench_unit
from tests.tools.served import CHROMIUM

ROOT = Path(__file__).resolve().parents[2]
CASES = ROOT / "scenarios"
PRONE = CASES / "prone_cotton_draw_sheet.toml"
QUICK = "--quick" in sys.argv
PAIRS = 3 if QUICK else 7
HERE = [sys.executable, "-c"]


def waited_s(command: list[str]) -> float:
    """How long somebody waits for a command [s]."""
    began = time.perf_counter()
    subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - began


def in_pairs(ours: list[str], theirs: list[str]) -> tuple[float, float, float]:
    """Median wait for each, and the median of the ratios of the pairs."""
    for command in (ours, theirs):
        waited_s(command)  # the first run compiles and reads the disk
    pairs = [(waited_s(ours), waited_s(theirs)) for _ in range(PAIRS)]
    return (
        statistics.median(a for a, _ in pairs),
        statistics.median(b for _, b in pairs),
        statistics.median(a / b for a, b in pairs),
    )


def median_ms(run: Callable[[], object], times: int = PAIRS) -> float:
    """Median processor time [ms], after one run that fills the caches."""
    run()
    taken = []
    for _ in range(times):
        began = time.process_time()
        run()
        taken.append(time.process_time() - began)
    return 1e3 * statistics.median(taken)


def line(what: str, figure: str, aim: str = "", ratio: str = "") -> None:
    print(f"{what:<68}{figure:>14}{aim:>16}  {ratio:>20}", flush=True)


def cold_starts() -> None:
    bare = [*HERE, "import numpy, scipy.optimize"]
    for what, command, aim in (
        ("import ergo, cold", [*HERE, "import ergo"], ""),
        ("ergo assess, cold", [sys.executable, "-m", "ergo", "assess", str(PRONE)], "at most 1.5"),
        ("ergo team, cold", [sys.executable, "-m", "ergo", "team", str(PRONE)], "under 1 s"),
    ):
        ours, theirs, ratio = in_pairs(command, bare)
        line(what, f"{ours:.2f} s", aim, f"{ratio:.2f} x {theirs:.2f} s")


def single_answers() -> None:
    case = load_scenario(PRONE)
    line("assess, warm, prone turn", f"{median_ms(lambda: assess(case)):.0f} ms")
    alone = median_ms(lambda: smallest_team(case, with_aids=False))
    line("smallest team with probability, warm", f"{alone:.0f} ms")
    every = median_ms(lambda: smallest_team(case), 3)
    line("the same with every other aid", f"{every:.0f} ms", "", f"{every / alone:.1f} x alone")
    answer = smallest_team(case)
    line("report as HTML", f"{median_ms(lambda: html_page(case_report(answer)), 3):.0f} ms")


def postures() -> None:
    one = {"stature_m": 1.61, "mass_kg": 74.0, "sex": "F", "reach_m": 0.3, "hand_height_m": 0.9, "bed_height_m": 0.8}
    single = median_ms(lambda: hold_posture(**one, pull_n=100.0), 21)
    line("one posture, all starts", f"{single:.2f} ms")
    n = 1000 if QUICK else 4000
    tasks = bench_posture._random(n)
    each = median_ms(lambda: sweep(**tasks), 3) / n
    line(f"one of {n} postures in a sweep", f"{1e3 * each:.1f} µs", "", f"{single / each:.0f} x faster")


def draws() -> None:
    n = 2**15 if QUICK else 2**17
    for label, (name, team) in bench_uncertainty.CASES.items():
        line(f"draws a second, {label}", f"{bench_uncertainty.rate(name, team, n):,.0f}", "100,000")
    boost = load_scenario(CASES / "boost_flat.toml")
    small, large = (median_ms(lambda d=d: reliability(boost, draws=d), 1) for d in (n // 4, n))
    line(f"time of {n:,} draws over that of a quarter", f"{large / small:.2f}", "at most 4")


def tables() -> None:
    for what, figure, aim in bench_tables.lines(QUICK):
        line(what, figure, aim)


def engine() -> None:
    outline = Outline.single(np.full(2000, 0.20), np.full(2000, 0.12), np.full(2000, 2.0))
    angles = np.radians(np.linspace(0.0, 90.0, 91))
    mass, x, y = np.full(2000, 80.0), np.full(2000, 0.6), np.full(2000, 0.1)
    ours = median_ms(lambda: turn_by_sheet(outline, mass, angles, x, y), 3) / 2000
    theirs, _ = bench_uncertainty.engine_roll(0.20, 0.12, 80.0, 30.0)
    line("one roll of 91 angles", f"{1e3 * ours:.0f} µs", "", f"engine {1e3 * theirs / ours:,.0f} x")


def units() -> None:
    unit = bench_unit.busy_unit()
    patients = patients_of(unit, bench_unit.UNITS)
    table = table_of(unit, bench_unit.participants, patients)
    rates = []
    for days in (30, 120) if QUICK else (91, 365):
        began = time.process_time()
        moves = sum(simulate(unit, unit.policies[0], table, patients, days=days).events)
        rates.append(1e6 * (time.process_time() - began) / moves)
    line(f"one move of a unit, {moves:,} moves", f"{rates[1]:.1f} µs", "", f"{rates[1] / rates[0]:.2f} x a quarter")
    example = load_unit(bench_unit.UNITS / "example_hospital_icu.toml")
    own = patients_of(example, bench_unit.UNITS)
    began = time.process_time()
    table_of(example, AssessedNeed(), own)
    line("team table of the example unit, from physics", f"{time.process_time() - began:.1f} s")


def pages() -> None:
    if CHROMIUM is None:
        line("the page in a browser", "no Chromium")
        return
    m = bench_page.measured()
    line("first load of the page", f"{m.own_load:.2f} s", "at most 1.5", f"{m.own_load / m.bare_load:.2f} x a bare one")
    own, bare = bench_page.p95(m.own), bench_page.p95(m.bare)
    line("change to redraw, 95th percentile", f"{own:.2f} s", "at most 3", f"{own / bare:.2f} x a bare one")


def main() -> None:
    """Print the table; the page under load, with lines of its own, comes last and not with --quick."""
    line("figure", "measured", "aim", "ratio")
    for part in (cold_starts, single_answers, postures, draws, tables, engine, units, pages):
        part()
    line("peak memory of this table", f"{resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MiB")
    if not QUICK:
        subprocess.run([sys.executable, str(ROOT / "tests" / "tools" / "bench_load.py")], cwd=ROOT, check=True)


if __name__ == "__main__":
    main()
