"""Time in the browser beside a bare page: `python tests/tools/bench_page.py`.

Prints change-to-redraw (median and 95th percentile) and first load of the Answer page and of a bare Streamlit page with
one slider and one bar chart, as Streamlit comes, in the same run. Aims: at most 3 times and at most 1.5 times the bare
page's.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from tests.tools.served import ROOT, browser, served

CHANGES, LOADS = 30, 5
BARE = """import streamlit as st
n = st.slider("n", 1, 100, 5)
st.bar_chart({"x": [n, 2 * n, 3 * n]})
"""
# Resolves at the first painted frame in which the chart differs from before the change.
REDRAWN = """async ([selector, act]) => {
  const look = () => { const e = document.querySelector(selector); if (!e) return "";
    const c = e.querySelector("canvas"); if (c) return c.toDataURL();
    return [...e.querySelectorAll("svg")].map(s => s.innerHTML).join(); };  // not the frame: it dims while it waits
  const before = look(); const start = performance.now();
  if (act === "slider") { const s = document.querySelector("[role=slider], input[type=range]"); s.focus(); }
  else { document.querySelectorAll("[data-testid=stNumberInputStepUp]")[0].click(); }
  if (act === "slider") window.__press();
  while (!look() || look() === before) { if (performance.now() - start > 20000) return -1;
    await new Promise(r => requestAnimationFrame(r)); }
  return performance.now() - start; }"""


def load(chromium: Any, address: str, chart: str, *, warm_up: bool = False) -> float:
    page = chromium.new_page()
    start = time.perf_counter()
    page.goto(address)
    page.wait_for_selector(chart, timeout=60_000)
    taken = time.perf_counter() - start
    if warm_up:  # what the first visit works out is kept, for every later one
        page.wait_for_timeout(1000)
        page.wait_for_function("() => !document.querySelector('[data-testid=stProgress]')", timeout=300_000)
    page.close()
    return taken


def changes(chromium: Any, address: str, chart: str, act: str) -> list[float]:
    page = chromium.new_page(viewport={"width": 1280, "height": 900})
    page.goto(address)
    page.wait_for_selector(chart, timeout=60_000)
    time.sleep(12 if act == "step" else 2)  # the map is worked out once; it is not part of a change
    if act == "slider":
        page.expose_function("__press", lambda: page.keyboard.press("ArrowRight"))
    found = []
    for _ in range(CHANGES):
        if act == "slider":
            page.locator("[role=slider], input[type=range]").first.focus()
        found.append(page.evaluate(REDRAWN, [chart, act]) / 1000.0)
        time.sleep(2.5 if act == "step" else 0.5)
    page.close()
    return found


def p95(values: list[float]) -> float:
    return statistics.quantiles(values, n=20)[-1]


@dataclass(frozen=True, slots=True)
class Measured:
    """Seconds: median first loads, the very first visit, and every change, of the bare page and of ours."""

    bare_load: float
    own_load: float
    cold: float
    bare: list[float]
    own: list[float]


def measured() -> Measured:
    """Run both pages side by side."""
    bare_chart, own_chart = (
        "[data-testid=stVegaLiteChart] canvas, [data-testid=stVegaLiteChart] svg",
        ".st-key-fig-curve :is(img, .main-svg):visible",
    )
    with tempfile.TemporaryDirectory() as folder:
        script = Path(folder) / "bare.py"
        script.write_text(BARE)
        with served(script, script.parent) as bare, served(ROOT / "app.py") as own, browser() as chromium:
            load(chromium, bare, bare_chart, warm_up=True)
            cold = load(chromium, own, own_chart, warm_up=True)
            loads = [(load(chromium, bare, bare_chart), load(chromium, own, own_chart)) for _ in range(LOADS)]
            b = changes(chromium, bare, "[data-testid=stVegaLiteChart]", "slider")
            o = changes(chromium, own, ".st-key-fig-curve", "step")
    first = [statistics.median(x) for x in zip(*loads, strict=True)]
    return Measured(first[0], first[1], cold, b, o)


def main() -> None:
    """Measure and print."""
    m = measured()
    ratio = m.own_load / m.bare_load
    print(f"first load, median of {LOADS}: bare {m.bare_load:.2f} s, own {m.own_load:.2f} s, ratio {ratio:.2f}")
    print(f"very first visit after a start, nothing kept yet: {m.cold:.2f} s")
    for name, values in (("bare", m.bare), ("own", m.own)):
        print(f"change to redraw, {name}: median {statistics.median(values):.3f} s, p95 {p95(values):.3f} s")
    print(f"ratio of p95: {p95(m.own) / p95(m.bare):.2f}")


if __name__ == "__main__":
    main()
