"""`ergo page`: serve the page to this machine, or under an address of the intranet."""

from __future__ import annotations

import argparse
import errno
import os
import re
import socket
import subprocess
import sys
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

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
        description="serve the page to this machine, to be opened in a browser; with --address to an intranet",
    )
    command.add_argument("--port", type=int, default=8501, help="port on this machine")
    command.add_argument(
        "--address",
        help="where others open the page, such as https://intranet.example/ergo; a proxy of yours passes it on",
    )
    command.add_argument(
        "--listen",
        metavar="HOST",
        default="localhost",
        help="with --address: this machine as a proxy on another machine reaches it",
    )
    command.set_defaults(run=lambda options: serve(options.port, options.address, options.listen))


def serve(port: int, address: str | None = None, listen: str = "localhost") -> int:
    """Run the page until it is stopped."""
    under = _under(address, listen)
    _check(port, listen)
    server = (f"--server.port={port}", f"--server.address={listen}", *under)
    command, settings = [*child_command("ergo.web"), *server], Path(__file__).parents[1] / "web"
    if address is not None:
        print(_risk(address, listen, port), file=sys.stderr, flush=True)
    if _POSIX:  # the page takes this process's place: whoever stops it leaves nothing behind
        os.chdir(settings)  # settings that lie beside a case are not the page's
        os.execve(command[0], command, child_environment())
    try:
        return subprocess.call(command, cwd=settings, env=child_environment())
    except KeyboardInterrupt:  # the page has ended by then
        return 0


_PATH = re.compile(r"(?:/[A-Za-z0-9][A-Za-z0-9._~-]*)*/?")


def _under(address: str | None, listen: str) -> tuple[str, ...]:
    """Return the settings of a page that others open under an address; refuse what is none."""
    if address is None:
        if listen != "localhost":
            raise InputError("page", [Fault("listen", listen, "only with --address")])
        return ()
    parts, said = urlsplit(""), "http:// or https://, a host, perhaps a port and a path of letters and figures"
    try:
        parts = urlsplit(address)
        named = parts.scheme in ("http", "https") and bool(parts.hostname) and parts.port != 0
    except ValueError:
        named = False
    plain = not (parts.query or parts.fragment or "@" in parts.netloc or re.search(r"[\s\\]", address))
    if not (named and plain and _PATH.fullmatch(parts.path)):
        raise InputError("page", [Fault("address", address, said)])
    origin, path = f"{parts.scheme}://{parts.netloc}", parts.path.strip("/")
    return (f"--server.corsAllowedOrigins={origin}", *([f"--server.baseUrlPath={path}"] if path else []))


def _risk(address: str, listen: str, port: int) -> str:
    """Say what the proxy has to do, and what whoever opens a page to others takes on."""
    here = f"http://{f'[{listen}]' if ':' in listen else listen}:{port}{urlsplit(address).path.rstrip('/')}"
    return (
        f"Others open the page at {address}\n"
        f"Your proxy passes that on to {here}, path, Host and WebSocket included.\n"
        "There is no log-in: whoever can reach the page can use it. It stores nothing that is typed or uploaded and\n"
        "shows nobody what others do, but an address in a browser holds its case, and a proxy may log addresses.\n"
        "Who may reach the page, and that the way to it is encrypted, is up to your proxy.\n"
    )


def _check(port: int, listen: str = "localhost") -> None:
    """Refuse a port that the page could not open, before anything is started."""
    if not _PORTS[0] <= port <= _PORTS[1]:
        raise InputError("page", [Fault("port", str(port), f"{_PORTS[0]} to {_PORTS[1]}")])
    family = socket.AF_INET6 if ":" in listen else socket.AF_INET
    with socket.socket(family) as probe:
        if _POSIX:  # a port that was left a moment ago is free
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((listen, port))
            probe.listen()
        except OSError as error:
            taken = error.errno == errno.EADDRINUSE
            why = "taken already, perhaps by a page that is still open" if taken else error.strerror
            if listen != "localhost" and not taken:
                said = "an address of this machine"
                raise InputError("page", [Fault("listen", listen, said)]) from None
            said = f"{why or 'cannot be opened'}; --port chooses another"
            raise InputError("page", [Fault("port", str(port), said)]) from None
