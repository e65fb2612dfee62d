"""No test reaches the network: sockets other than loopback and of this machine's own files are refused."""

from __future__ import annotations

import ipaddress
import os
import socket
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import settings

# As the program sets it: before numpy is loaded, and for the workers of a parallel run, which share the cores.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# The same random inputs on every machine, and no test fails because the machine was busy.
settings.register_profile("ergo", derandomize=True, deadline=None)
settings.load_profile("ergo")

collect_ignore_glob = ["tools/*"]  # what the tests share, and scripts run by hand


class NetworkRefusedError(RuntimeError):
    """A test tried to leave this machine."""


def _stays_here(address: Any) -> bool:
    """Whether an address is a file of this machine or a loopback address."""
    if not isinstance(address, tuple):
        return True
    host = str(address[0])
    if host in ("localhost", ""):
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _guarded(real: Any, place: int) -> Any:
    """Wrap a method of a socket whose address stands at `place` among its arguments, the last where -1."""

    def call(self: socket.socket, *args: Any) -> Any:
        if not _stays_here(args[place]):
            raise NetworkRefusedError(f"no test may reach {args[place]}")
        return real(self, *args)

    return call


@pytest.fixture(autouse=True, scope="session")
def no_network() -> Iterator[None]:
    """Refuse every way out, names included, for the whole session."""
    real_lookup = socket.getaddrinfo

    def lookup(host: Any, *args: Any, **options: Any) -> Any:
        host_name = host.decode() if isinstance(host, bytes) else host
        if host_name is not None and not _stays_here((host_name,)):
            raise NetworkRefusedError(f"no test may look up {host_name}")
        return real_lookup(host, *args, **options)

    with pytest.MonkeyPatch.context() as patch:
        for name, place in (("connect", 0), ("connect_ex", 0), ("sendto", -1)):
            patch.setattr(socket.socket, name, _guarded(getattr(socket.socket, name), place), raising=True)
        patch.setattr(socket, "getaddrinfo", lookup)
        yield


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    """A browser without a window, for one module: its loop runs in the test's own thread."""
    from tests.tools.served import browser  # what needs no browser runs from anywhere

    with browser() as opened:
        yield opened
