"""Start a page on this machine and open it in Chromium, for tests and benchmarks."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.request import urlopen

ROOT = Path(__file__).resolve().parents[1]
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("localhost", 0))
        return int(probe.getsockname()[1])


@contextmanager
def served(script: Path) -> Iterator[str]:
    """Run a Streamlit script and yield its address."""
    port = free_port()
    command = [sys.executable, "-m", "streamlit", "run", str(script), f"--server.port={port}", "--server.headless=true"]
    process = subprocess.Popen(
        [*command, "--server.fileWatcherType=none"],
        cwd=ROOT,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )
    address = f"http://localhost:{port}"
    try:
        for _ in range(300):
            try:
                with urlopen(f"{address}/_stcore/health", timeout=1) as reply:
                    if reply.status == 200:
                        break
            except OSError:
                time.sleep(0.1)
        yield address
    finally:
        process.terminate()
        process.wait(10)


@contextmanager
def browser() -> Iterator[Any]:
    """Open Chromium without a window."""
    from playwright.sync_api import sync_playwright

    flags = ["--no-sandbox", "--disable-background-networking", "--disable-component-update", "--disable-dev-shm-usage"]
    with sync_playwright() as play:
        chromium = play.chromium.launch(executable_path=CHROMIUM, args=flags)
        yield chromium
        chromium.close()
