"""`python -m ergo` is the command line, which loads where an interrupt is already answered."""

import os
import signal
import sys
from contextlib import suppress
from typing import Any

__all__ = ["run"]


def _stop(*_: Any) -> None:
    """End at once: while the program loads nothing is begun, and what is loading may swallow an exception."""
    with suppress(OSError):
        os.write(2, b"Stopped.\n")
    os._exit(130)


def run() -> int:
    """Run the command line."""
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:  # a background job hears no interrupt
        signal.signal(signal.SIGINT, _stop)
    try:
        from ergo.cli.main import main

        return main()
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(run())
