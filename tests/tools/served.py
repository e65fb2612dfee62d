"""Start a page on this machine and open it in Chromium, for tests and benchmarks."""

from __future__ import annotations

import contextlib
import os
import secrets
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import Any
from urllib.request import urlopen

import pytest

ROOT = Path(__file__).resolve().parents[2]
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
needs_chromium = pytest.mark.skipif(
    (CHROMIUM is None or find_spec("playwright") is None) and os.environ.get("ERGO_BROWSER") != "required",
    reason="Chromium, or what drives it, is not installed",
)


def free_port() -> int:
    """Return a port that is free, below those that the system gives to others meanwhile."""
    while True:
        port = secrets.choice(range(20_000, 30_000))
        with socket.socket() as probe, contextlib.suppress(OSError):
            probe.bind(("localhost", port))
            return port


@dataclass(frozen=True, slots=True)
class Server:
    """A page that runs: its address, its process and the file that holds all it wrote out."""

    address: str
    pid: int
    output: Path

    def memory_mb(self) -> float:
        """Return the memory of the process and of those that it has started that lies in RAM."""
        pages = 0
        for folder in Path("/proc").glob("[0-9]*"):
            with contextlib.suppress(OSError):  # a process may end while it is looked at
                parent = int((folder / "stat").read_text().rpartition(")")[2].split()[1])
                if self.pid in (int(folder.name), parent):
                    pages += int((folder / "statm").read_text().split()[1])
        return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


@contextmanager
def server(script: Path, *options: str, settings: Path = ROOT) -> Iterator[Server]:
    """Run a Streamlit script, with the settings of a folder, and yield the server."""
    port = free_port()
    command = [sys.executable, "-m", "streamlit", "run", str(script), f"--server.port={port}", "--server.headless=true"]
    with tempfile.NamedTemporaryFile(prefix="ergo-page-", suffix=".log") as output:
        process = subprocess.Popen(
            [*command, *options],
            cwd=settings,
            stdout=output,
            stderr=subprocess.STDOUT,
            env=os.environ | {"PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1"},
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
            yield Server(address, process.pid, Path(output.name))
        finally:
            process.terminate()
            process.wait(10)


@contextmanager
def served(script: Path, settings: Path = ROOT) -> Iterator[str]:
    """Run a Streamlit script, with the settings of a folder, and yield its address."""
    with server(script, settings=settings) as running:
        yield running.address


@contextmanager
def browser(*more: str) -> Iterator[Any]:
    """Open Chromium without a window, perhaps with more flags."""
    from playwright.sync_api import sync_playwright

    flags = ["--no-sandbox", "--disable-background-networking", "--disable-component-update", "--disable-dev-shm-usage"]
    with sync_playwright() as play:
        chromium = play.chromium.launch(executable_path=CHROMIUM, args=[*flags, *more])
        yield chromium
        chromium.close()
