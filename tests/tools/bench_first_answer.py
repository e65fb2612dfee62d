"""From opening the page to a first own answer, as a stranger: `python tests/tools/bench_first_answer.py`.

Sets move, mass and aid of three cases with pauses as a person makes them (judgement: 2 s to find a field, 0.2 s a key),
reads until the answer stands, and prints the actions, the seconds in all and those spent waiting. Aim: at most 60 s.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from tests.tools.served import ROOT, browser, served

FIND_S, KEY_MS = 2.0, 200
CASES = (
    ("Prone turn", "82", "slide sheet"),
    ("Boost", "141", "cotton draw sheet"),
    ("Lateral transfer", "100", "doubled slide sheet"),
)
ANSWERED = """() => { const answer = document.querySelector('.ergo-answer');
  return answer && !document.querySelector('.ergo-wait') && !answer.closest('[data-stale=true]'); }"""


def first_answer(chromium: Any, address: str, move: str, mass: str, aid: str) -> tuple[int, float, float, str]:
    """Return the actions, the seconds in all, the seconds of waiting, and the answer."""
    page, actions, waited = chromium.new_page(viewport={"width": 1280, "height": 900}), 1, 0.0
    start = time.perf_counter()

    def wait() -> None:
        nonlocal waited
        at = time.perf_counter()
        page.wait_for_timeout(300)  # until the page has heard of the change
        page.wait_for_function(ANSWERED, timeout=120_000)
        waited += time.perf_counter() - at

    def choose(label: str, option: str) -> None:
        nonlocal actions
        time.sleep(FIND_S)
        box = page.locator("[data-testid=stMain] [data-testid=stSelectbox]").filter(has_text=label).locator("input")
        box.first.click()
        time.sleep(FIND_S)
        page.get_by_role("option", name=option, exact=True).click()
        actions += 2
        wait()

    page.goto(address)
    page.wait_for_selector(".ergo-answer", timeout=120_000)
    waited += time.perf_counter() - start
    choose("Move", move)
    time.sleep(FIND_S)
    field = page.get_by_label("Mass (kg)")
    field.click()
    field.press("Control+a")
    field.press_sequentially(mass, delay=KEY_MS)
    field.press("Enter")
    actions += 3
    wait()
    choose("Aid", aid)
    said = page.locator(".ergo-answer .what").inner_text()
    taken = time.perf_counter() - start
    page.close()
    return actions, taken, waited, said


def main() -> None:
    """Measure and print."""
    with served(ROOT / "app.py") as address, browser() as chromium:
        for case in CASES:
            actions, taken, waited, said = first_answer(chromium, address, *case)
            print(f"{', '.join(case)}: {actions} actions, {taken:.1f} s, {waited:.1f} s of them waiting: {said}")


if __name__ == "__main__":
    main()
