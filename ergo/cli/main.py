"""The command line: `ergo assess`, `team`, `cases`, `report`, `card`, `sure`, `height` and the rest of `_COMMANDS`.

Exit 0 answered, 1 the answer could not be written (full disk, closed pipe), 2 bad input, 130 interrupted.
"""

from __future__ import annotations

import argparse
import os
import signal
import sys
from collections.abc import Sequence
from contextlib import suppress
from importlib import import_module
from typing import Any, TextIO

from ergo import __version__
from ergo.cli.safe_path import leave_current_folder_out
from ergo.errors import InputError
from ergo.report.terminal_characters import plain_where_needed, visible_lines

__all__ = ["main"]

_UNWRITTEN, _BAD_INPUT, _INTERRUPTED = 1, 2, 130


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line."""
    if arguments is None:  # the process is ours
        leave_current_folder_out()
    given = list(sys.argv[1:] if arguments is None else arguments)
    for stream in (sys.stdout, sys.stderr):
        plain_where_needed(stream)
    try:
        options = _parser(given[:1]).parse_args(given)
        if arguments is None and signal.getsignal(signal.SIGINT) is not signal.SIG_IGN:
            signal.signal(signal.SIGINT, signal.default_int_handler)  # all is loaded: what is begun is tidied up
        code = int(options.run(options))
        sys.stdout.flush()
        return code
    except InputError as error:
        _tell(str(error))
        return _BAD_INPUT
    except KeyboardInterrupt:
        _abandon(sys.stdout)
        _tell("Stopped.")
        return _INTERRUPTED
    except BrokenPipeError:  # the reader closed the pipe, as `head` does
        _abandon(sys.stdout)
        return _UNWRITTEN
    except OSError as error:
        _abandon(sys.stdout)
        _tell(f"The answer could not be written: {error.strerror or error}")
        return _UNWRITTEN


def _tell(text: str) -> None:
    """Say what is wrong on the error stream, where that can be written."""
    try:
        print(visible_lines(text), file=sys.stderr, flush=True)
    except OSError:
        _abandon(sys.stderr)


def _abandon(stream: TextIO) -> None:
    """Let what a stream still holds go nowhere, so that the end of the process does not stumble over it."""
    with suppress(OSError, ValueError):  # a stream that is no file of the system needs nothing
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)


_COMMANDS = ("assess", "team", "cases", "report", "card", "sure", "height", "evidence", "unit", "purchase", "page")


class _Parser(argparse.ArgumentParser):
    """Says what is wrong with options in characters that steer no terminal."""

    def _print_message(self, message: str, file: Any = None) -> None:
        if file is sys.stdout:
            print(visible_lines(message), end="", flush=True)
        else:
            _tell(message.rstrip("\n"))


def _parser(named: list[str]) -> argparse.ArgumentParser:
    parser = _Parser(prog="ergo", description="How many people and which aid a patient move needs, and why.")
    parser.add_argument("--version", action="version", version=f"ergo {__version__}")
    commands: Any = parser.add_subparsers(required=True, metavar="COMMAND")
    # A command that is named loads alone: some plan with what takes half a second to load.
    for name in [name for name in _COMMANDS if [name] == named] or _COMMANDS:
        import_module(f"ergo.cli.{name}").register(commands)
    return parser
