"""What the tool does to the machine it runs on: no network, no root, only this machine's own address, no statistics."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import threading
import tomllib
import urllib.request
from pathlib import Path

import pytest
from conftest import NetworkRefusedError

from ergo.cli import page
from ergo.cli.main import main

ROOT = Path(__file__).parents[1]
CASE = ROOT / "scenarios" / "boost_flat.toml"
CONFIG = tomllib.loads((ROOT / ".streamlit" / "config.toml").read_text("utf-8"))

# 192.0.2.0/24 and example.com are set aside for documentation (RFC 5737, RFC 2606): nobody answers there.
WAYS_OUT = {
    "connect": lambda: socket.create_connection(("192.0.2.1", 80), timeout=1),
    "connect_ex": lambda: socket.socket().connect_ex(("192.0.2.1", 80)),
    "datagram": lambda: socket.socket(type=socket.SOCK_DGRAM).sendto(b"x", ("192.0.2.1", 53)),
    "name": lambda: socket.getaddrinfo("example.com", 80),
    "url": lambda: urllib.request.urlopen("http://192.0.2.1/", timeout=1),
}


@pytest.mark.parametrize("way", WAYS_OUT)
def test_the_tests_cannot_leave_this_machine(way):
    with pytest.raises(NetworkRefusedError):
        WAYS_OUT[way]()


def test_the_tests_can_talk_to_this_machine():
    with socket.create_server(("127.0.0.1", 0)) as server:
        thread = threading.Thread(target=lambda: server.accept()[0].sendall(b"here"))
        thread.start()
        with socket.create_connection(server.getsockname(), timeout=5) as client:
            assert client.recv(4) == b"here"
        thread.join()


WATCHED = """
import sys
def refuse(event, args):
    if event.startswith("socket."):
        raise SystemExit(f"opened {event} {args}")
sys.addaudithook(refuse)
from ergo.cli.main import main
sys.exit(main(sys.argv[1:]))
"""


@pytest.mark.parametrize("command", ["assess", "team", "report"])
def test_a_command_opens_no_socket_at_all(command, tmp_path):
    out = ["-o", str(tmp_path / "out.html")] if command == "report" else []
    done = subprocess.run(
        [sys.executable, "-c", WATCHED, command, str(CASE), *out], cwd=ROOT, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout


def test_assess_loads_only_what_it_needs():
    # each of these takes as long to load as all that assess does; other commands load them when they run
    code = "import sys\nfrom ergo.cli.main import main\nmain(['assess', sys.argv[1]])\n"
    code += "print([m for m in sys.argv[2:] if m in sys.modules])"
    heavy = [
        "scipy.stats",
        "scipy.interpolate",
        "scipy.optimize",
        "pandas",
        "plotly",
        "streamlit",
        "ergo.purchases.cost_model",
    ]
    done = subprocess.run(
        [sys.executable, "-c", code, str(CASE), *heavy], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.splitlines()[-1] == "[]"


def test_the_page_asks_for_nothing_from_outside_and_sends_no_statistics():
    assert CONFIG["browser"]["gatherUsageStats"] is False
    assert CONFIG["client"]["showErrorDetails"] in ("none", False)
    assert CONFIG["server"]["enableXsrfProtection"] is True
    assert CONFIG["server"]["maxUploadSize"] <= 5  # MB


def test_the_page_listens_on_this_machine_only_unless_asked(monkeypatch):
    assert CONFIG["server"]["address"] == "localhost"
    started = []
    monkeypatch.setattr(page, "_check", lambda *_: None)  # somebody else may hold them just now
    monkeypatch.setattr(page.subprocess, "call", lambda command, **_: started.append(command) or 0)
    monkeypatch.setattr(page.os, "execve", lambda program, command, environment: started.append(command))
    monkeypatch.setattr(page.os, "chdir", lambda folder: None)
    for posix in (True, False):
        started.clear()
        monkeypatch.setattr(page, "_POSIX", posix)
        assert main(["page"]) == 0
        assert [a for a in started[0] if "address" in a] == ["--server.address=localhost"]
        assert "--server.port=8501" in started[0]
        started.clear()
        assert main(["page", "--port", "9000"]) == 0
        assert "--server.port=9000" in started[0]
        assert "--server.address=localhost" in started[0]


@pytest.mark.skipif(os.name != "posix" or os.geteuid() != 0, reason="only root can become somebody else")
def test_assess_works_as_nobody_and_writes_nothing():
    setpriv = shutil.which("setpriv")
    if setpriv is None:
        pytest.skip("no setpriv on this machine")
    # May read like root, where the interpreter lies in root's own folder, but owns nothing and may write nowhere.
    reading = "+dac_read_search"
    nobody = [setpriv, "--reuid=65534", "--regid=65534", "--clear-groups"]
    nobody += [f"--inh-caps={reading}", f"--ambient-caps={reading}"]
    code = (
        "import os, sys\nassert os.geteuid() == 65534\n"
        "def refuse(event, args):\n"
        "    if event == 'open' and isinstance(args[2], int) and args[2] & (os.O_WRONLY | os.O_RDWR | os.O_CREAT):\n"
        "        raise SystemExit(f'writes {args[0]}')\n"
        "sys.addaudithook(refuse)\nfrom ergo.cli.main import main\nsys.exit(main(sys.argv[1:]))\n"
    )
    done = subprocess.run(
        [*nobody, sys.executable, "-B", "-c", code, "assess", str(CASE)],
        cwd=ROOT,
        env=os.environ | {"HOME": "/nonexistent"},
        capture_output=True,
        text=True,
    )
    if done.returncode and "setpriv" in done.stderr:
        pytest.skip(done.stderr.strip())
    assert done.returncode == 0, done.stderr
    assert "within the limits" in done.stdout
