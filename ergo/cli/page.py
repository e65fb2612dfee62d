"""`ergo page`: open the page on this machine."""

from __future__ import annotations

import argparse
import errno
import os
import socket
import subprocess
from pathlib import Path
from typing import Any

from ergo.cli.safe_path import child_command, child_environment
from ergo.errors import Fault, InputError

__all__ = ["register", "serve"]

_PORTS = (1, 65535)
_POSIX = os.name == "posix"


def register(commands: Any) -> None:
    """Add the command to the command line."""
    command: argparse.ArgumentParser = commands.add_parser(
        "page",
        help="serve the page to this machine",
        description="serve the page to this machine, to be opened in a browser",
    )
    command.add_argument("--port", type=int, default=8501, help="port on this machine")
    command.set_defaults(run=lambda options: serve(options.port))


def serve(port: int) -> int:
    """Run the page until it is stopped."""
    _check(port)
    server = (f"--server.port={port}", "--server.address=localhost")
    command, settings = [*child_command("ergo.web"), *server], Path(__file__).parents[1] / "web"
    if _POSIX:  # the page takes this process's place: whoever stops it leaves nothing behind
        os.chdir(settings)  # settings that lie beside a case are not the page's
        os.execve(command[0], command, child_environment())
    try:
        return subprocess.call(command, cwd=settings, env=child_environment())
    except KeyboardInterrupt:  # the page has ended by then
        return 0


def _check(port: int) -> None:
    """Refuse a port that the page could not open, before anything is started."""
    if not _PORTS[0] <= port <= _PORTS[1]:
        raise InputError("page", [Fault("port", str(port), f"{_PORTS[0]} to {_PORTS[1]}")])
    with socket.socket() as probe:
        if _POSIX:  # a port that was left a moment ago is free
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("localhost", port))
            probe.listen()
        except OSError as error:
            taken = error.errno == errno.EADDRINUSE
            why = "taken already, perhaps by a page that is still open" if taken else error.strerror
            said = f"{why or 'cannot be opened'}; --port chooses another"
            raise InputError("page", [Fault("port", str(port), said)]) from None
