"""The page under an address of an intranet: `ergo page --address`, served for others with a base path, in a browser."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.request import urlopen

import pytest
from streamlit import net_util

from ergo.cli import page
from ergo.cli.main import main
from ergo.errors import InputError
from ergo.inputs.examples import boost
from ergo.inputs.scenario import dump_scenario
from ergo.web.link import pack_case
from tests.tools.served import ROOT, browser, free_port, needs_chromium

HOST = "intranet.example"


@contextmanager
def served_under(path: str, said: Path) -> Iterator[int]:
    """Serve as the command does; yield the port that a proxy would pass on to."""
    port = free_port()
    command = [sys.executable, "-m", "ergo", "page", "--port", str(port), "--address", f"http://{HOST}{path}"]
    with said.open("w") as output, subprocess.Popen(command, cwd=ROOT, stdout=output, stderr=output) as running:
        try:
            for _ in range(300):
                try:
                    with urlopen(f"http://localhost:{port}{path}/_stcore/health", timeout=1) as reply:
                        if reply.status == 200:
                            break
                except OSError:
                    time.sleep(0.1)
            yield port
        finally:
            running.terminate()


def ready(opened: Any) -> None:
    opened.wait_for_selector("h1")
    opened.wait_for_timeout(300)
    opened.wait_for_function(
        """() => document.querySelector("[data-testid=stApp]").dataset.testScriptState === "notRunning" """
    )


@pytest.mark.browser
@needs_chromium
def test_a_page_under_an_address_with_a_path_opens_links_and_files_and_its_link_opens_for_others(
    tmp_path: Path,
) -> None:
    case = boost(mass_kg=91.0, name="Bay 3")
    said = tmp_path / "said"
    with served_under("/ergo", said) as port, browser(f"--host-resolver-rules=MAP {HOST}:80 127.0.0.1:{port}") as b:
        opened = b.new_page()
        opened.set_default_timeout(60_000)
        opened.goto(f"http://{HOST}/ergo/evidence")
        ready(opened)
        opened.set_input_files(
            "[data-testid=stFileUploaderDropzoneInput]",
            {"name": "case.toml", "mimeType": "application/toml", "buffer": dump_scenario(case).encode()},
        )
        opened.wait_for_function("() => location.search.includes('case=')")
        ready(opened)
        opened.get_by_text("Share link").click()
        words = opened.inner_text("[data-testid=stPopoverBody]")
        link = opened.inner_text("[data-testid=stPopoverBody] code")
        assert f"opens “Bay 3” for whoever can reach this page at {HOST}" in words
        assert link == f"http://{HOST}/ergo/evidence?case={pack_case(case)}"
        other = b.new_context().new_page()  # somebody else
        other.goto(link)
        ready(other)
        other.wait_for_function("() => document.querySelector('input[aria-label=Title]')?.value === 'Bay 3'")
        assert "no log-in" in said.read_text()
        assert f"http://localhost:{port}/ergo" in said.read_text()
        here = b.new_page()  # the same page by the name that means another one on every computer
        here.goto(f"http://localhost:{port}/ergo/evidence")
        ready(here)
        assert here.get_by_text("Share link").count() == 0
        here.get_by_text("Link for this computer").click()
        assert "save it as a file" in here.inner_text("[data-testid=stPopoverBody]")


@pytest.mark.parametrize(
    ("address", "settings"),
    [
        ("https://intranet.example/ergo", ["--server.corsAllowedOrigins=https://intranet.example", "ergo"]),
        (
            "https://intranet.example:8443/a/b-2/",
            ["--server.corsAllowedOrigins=https://intranet.example:8443", "a/b-2"],
        ),
        ("http://10.1.2.3", ["--server.corsAllowedOrigins=http://10.1.2.3"]),
        ("http://[fd00::1]/ergo", ["--server.corsAllowedOrigins=http://[fd00::1]", "ergo"]),
    ],
)
def test_an_address_is_served_with_its_origin_and_its_path(address: str, settings: list[str]) -> None:
    origin, *path = settings
    assert page._under(address, "localhost") == (origin, *[f"--server.baseUrlPath={p}" for p in path])


@pytest.mark.parametrize(
    "address",
    [
        *("intranet.example/ergo", "ftp://intranet.example", "https://", "https:///ergo", "https://u:p@x.example", ""),
        *("https://x.example/?case=1", "https://x.example/#a", "https://x.example/../a", "https://x.example/a b"),
        *("https://x.example:99999", "https://[x", "https://x.example/_stcore", "https://x.example//a"),
    ],
)
def test_what_is_no_address_is_refused_before_anything_starts(address: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["page", "--address", address]) == 2
    assert "http:// or https://, a host" in capsys.readouterr().err


def test_another_machine_is_let_in_only_together_with_an_address() -> None:
    with pytest.raises(InputError, match="only with --address"):
        page._under(None, "0.0.0.0")
    assert page._under("http://x.example", "0.0.0.0") == ("--server.corsAllowedOrigins=http://x.example",)
    with pytest.raises(InputError, match="listen = 192\\.0\\.2\\.1: an address of this machine"):
        page._check(free_port(), "192.0.2.1")


def test_the_server_never_asks_the_internet_for_its_own_address() -> None:
    """It would, when a page of another origin calls it, before it refuses."""
    code = (
        "import runpy, sys\n"
        "from streamlit.web import cli\n"
        "cli.main = lambda **_: None\n"
        "sys.argv = ['x']\n"
        "runpy.run_module('ergo.web', run_name='__main__')\n"
        "from streamlit import net_util\n"
        "net_util._make_blocking_http_get = lambda *_, **__: print('asked')\n"
        "from streamlit.web.server.server_util import is_url_from_allowed_origins as allowed\n"
        "print(allowed('http://elsewhere.example'))\n"
        "import os; sys.stdout.flush(); os._exit(0)\n"
    )
    assert hasattr(net_util, "_make_blocking_http_get")
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True)
    assert done.stdout == "False\n", done.stderr
