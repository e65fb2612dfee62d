"""The README's pictures, taken from the running page: `python tests/tools/make_pictures.py`."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from tests.tools.served import ROOT, browser, served

PICTURES = ROOT / "ergo" / "web" / "pictures"
SHOTS = (("answer", "", 1500), ("teach", "teach", 1680))
WORKING = "() => !document.querySelector('[data-testid=stProgress], .ergo-wait')"


def main() -> None:
    """Take each picture in a light page 1280 px wide."""
    PICTURES.mkdir(exist_ok=True)
    with served(ROOT / "app.py") as address, browser() as chromium:
        for name, path, height in SHOTS:
            page = chromium.new_page(viewport={"width": 1280, "height": height})
            page.goto(f"{address}/{path}")
            page.wait_for_selector("[data-testid=stPlotlyChart] .main-svg", timeout=120_000)
            page.wait_for_function(WORKING, timeout=240_000)
            if not path:
                page.get_by_text("For the meeting").wait_for(timeout=240_000)  # what helps stands above it by then
            page.wait_for_timeout(1500)
            page.screenshot(path=PICTURES / f"{name}.png")
            page.close()


if __name__ == "__main__":
    main()
