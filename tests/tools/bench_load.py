"""The page under load: `python tests/tools/bench_load.py --sessions 30 --seconds 120`.

Opens as many pages at once, each with a patient of its own; everyone changes the mass, now and then the aid or the
page, reads, and changes again. Prints what a change takes for one reader alone and for all, what went wrong, and the
server's memory. Aim: the 95th percentile for all at most 3 times that of one reader; memory bounded and given back.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import gc
import math
import random
import sys
import time
from collections.abc import Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from ergo import smallest_team
from ergo.assessment import demand_of
from ergo.errors import InputError
from ergo.inputs.examples import FIRST, shipped
from ergo.inputs.scenario import Scenario, known_aids
from ergo.report.documents.team import answer_words
from tests.tools.served import ROOT, Server, server
from tests.tools.visitors import Seen, Visitor, case_for

THINK_S = (2.0, 4.0)
PATIENCE_S = 600.0  # a change without an answer after this time is an error
KEPT_S = 120  # how long the server keeps a page whose reader left: `server.disconnectedSessionTTL`, as it is by itself
OPENING_S = 8.0  # all open and change for the first time within seconds, as a class does only once
PAGES = ("teach", "body", "compare")
VERIFIED = 12  # answers worked out again with the library


def serves(case: Scenario, aid: str) -> bool:
    """Return whether the page takes this aid for the case."""
    try:
        demand_of(case.model_copy(update={"aid": aid}))
    except InputError:
        return False
    return True


class Load:
    """Readers of one server and what they saw."""

    def __init__(self, running: Server, sessions: int, wait_for: str) -> None:
        self.running, self.wait_for = running, wait_for
        case = shipped()[FIRST]
        self.aids = [aid for aid in known_aids() if serves(case, aid)]
        self.visitors = [Visitor(running.address, n, case_for(n, case, 60.0 + n)) for n in range(sessions)]
        self.seen: list[Seen] = []
        self.dropped: list[str] = []
        self.most_mb = 0.0

    async def run(self, seconds: float) -> None:
        """Open all at once, change until the time is over, wait for what is still open, leave."""
        watch = asyncio.create_task(self._watch())
        try:
            await asyncio.gather(*(self._open(v) for v in self.visitors))
            end = time.perf_counter() + seconds
            await asyncio.gather(*(self._read_and_change(v, end) for v in self.visitors))
            self.most_mb = max(self.most_mb, self.running.memory_mb())
        finally:
            watch.cancel()
            await asyncio.gather(*(v.close() for v in self.visitors), return_exceptions=True)

    async def _watch(self) -> None:
        while True:
            self.most_mb = max(self.most_mb, self.running.memory_mb())
            await asyncio.sleep(2.0)

    async def _open(self, visitor: Visitor) -> None:
        try:
            self.seen.append(await asyncio.wait_for(visitor.open(), PATIENCE_S))
        except (OSError, TimeoutError) as error:
            self.dropped.append(f"visitor {visitor.number} opening: {error!r}")

    async def _read_and_change(self, visitor: Visitor, end: float) -> None:
        dice = random.Random(visitor.number)
        await asyncio.sleep(dice.uniform(0.0, THINK_S[1]))
        step, away = 0, False
        while time.perf_counter() < end:
            step += 1
            throw = dice.random()
            try:
                if away:
                    asked, away = visitor.go(""), False
                elif throw < 0.80:
                    asked = visitor.set_mass(60.0 + visitor.number + 0.37 * step)
                elif throw < 0.92:
                    asked = visitor.set_aid(dice.choice([a for a in self.aids if a != visitor.case.aid]))
                else:
                    asked, away = visitor.go(dice.choice(PAGES)), True
                seen = await asyncio.wait_for(asked, PATIENCE_S)
                self.seen.append(seen)
                if self.wait_for == "finished":
                    await asyncio.wait_for(seen.finished.wait(), PATIENCE_S)
            except (OSError, TimeoutError) as error:
                self.dropped.append(f"visitor {visitor.number}, change {step}: {error!r}")
                return
            await asyncio.sleep(dice.uniform(*THINK_S))

    @property
    def changes(self) -> list[Seen]:
        return [s for s in self.seen if s.kind != "open"]

    def wrong(self) -> list[str]:
        """Return everything that should not be, the answers that differ from the library's included."""
        found = [f"visitor {v.number}: {w}" for v in self.visitors for w in v.wrong] + self.dropped
        own = [s for s in self.seen if s.kind in ("open", "mass", "aid") and s.headline]
        for seen in random.Random(1).sample(own, min(VERIFIED, len(own))):
            expected = answer_words(smallest_team(seen.case, with_aids=False))[0]
            if expected != seen.headline:
                found.append(f"{seen.case.patient.mass_kg} kg, {seen.case.aid}: {seen.headline}, not {expected}")
        return found


def at(values: Sequence[float], part: float) -> float:
    """Return the value that this part of all does not exceed."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, math.ceil(part * len(ordered)) - 1)] if ordered else math.nan


def line(name: str, alone: Sequence[float], many: Sequence[float]) -> str:
    def pair(values: Sequence[float]) -> str:
        return f"{at(values, 0.5):7.2f} {at(values, 0.95):7.2f} ({len(values)})"

    return f"{name:<24} alone {pair(alone)}   all {pair(many)}   ratio of p95 {at(many, 0.95) / at(alone, 0.95):.1f}"


def times(load: Load, what: str, kind: str = "", after_s: float = 0.0) -> list[float]:
    begun = min((s.started for s in load.changes), default=0.0) + after_s
    found = [getattr(s, what) for s in load.changes if s.kind.startswith(kind) and s.started >= begun]
    return [f for f in found if f is not None]


def report(alone: Load, many: Load) -> None:
    print("seconds: median, 95th percentile (number of changes)")
    for what, name in (("chart_s", "first changed chart"), ("answer_s", "answer"), ("finished_s", "all finished")):
        print(line(name, times(alone, what), times(many, what)))
    for what, name in (("chart_s", "  chart, opening apart"), ("answer_s", "  answer, opening apart")):
        print(line(name, times(alone, what), times(many, what, after_s=OPENING_S)))
    for kind in ("mass", "aid", "page"):
        print(line(f"  answer after {kind}", times(alone, "answer_s", kind), times(many, "answer_s", kind)))
    opened = [s.answer_s for s in many.seen if s.kind == "open" and s.answer_s is not None]
    print(f"answer after opening, all at once: median {at(opened, 0.5):.1f} s, p95 {at(opened, 0.95):.1f} s")
    stopped = sum(s.finished_s is None for s in many.changes)
    print(f"changes: {len(many.changes)}, stopped by the next change: {stopped}")


def main() -> None:
    """Measure and print."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--sessions", type=int, default=30)
    ask.add_argument("--seconds", type=float, default=120.0)
    ask.add_argument("--wait-for", choices=("answer", "finished"), default="finished", help="when thinking starts")
    ask.add_argument("--kept", type=int, default=KEPT_S, help="seconds that the server keeps a page after it is left")
    options = ask.parse_args()
    with server(ROOT / "app.py", f"--server.disconnectedSessionTTL={options.kept}") as running:
        measure(running, options)
        said = running.output.read_text()
    if "visitor" in said or "Traceback" in said or "Error" in said:
        print(f"the server wrote what it should not:\n{said[-2000:]}")
    else:
        print(f"the server wrote {len(said.splitlines())} lines, nothing of the inputs in them")


def measure(running: Server, options: argparse.Namespace) -> None:
    started = running.memory_mb()
    think = f"thinks {THINK_S[0]:g} to {THINK_S[1]:g} s once the change is {options.wait_for}"
    print(f"{options.sessions} sessions, {options.seconds:g} s; everyone {think}".replace("is answer", "is answered"))
    warm = Load(running, 1, "finished")
    asyncio.run(warm.run(1.0))
    one = Load(running, 1, options.wait_for)
    asyncio.run(one.run(max(40.0, options.seconds / 2)))
    before = running.memory_mb()
    many = Load(running, options.sessions, options.wait_for)
    asyncio.run(many.run(options.seconds))
    report(one, many)
    wrong = [f"{name}: {w}" for name, load in (("alone", one), ("all", many)) for w in load.wrong()]
    print(f"errors (exceptions, faults, dropped sockets, another's case, wrong answers): {len(wrong)}")
    for fault in wrong[:10]:
        print(f"  {fault[:300]}")
    gc.collect()
    time.sleep(options.kept + 5)
    again = Load(running, 1, "answer")  # what was kept too long goes when somebody comes
    asyncio.run(again.run(1.0))
    time.sleep(5)
    after, sessions = running.memory_mb(), options.sessions
    print(
        f"memory of the server: {started:.0f} MB started, {before:.0f} MB before, at most {many.most_mb:.0f} MB with "
        f"{sessions} sessions ({(many.most_mb - before) / sessions:.1f} MB each), {after:.0f} MB after all left and "
        f"{options.kept} s passed"
    )


if __name__ == "__main__":
    with contextlib.suppress(KeyboardInterrupt):
        main()
