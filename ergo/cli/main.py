"""The command line: `ergo assess`, `team`, `sure`, `height`, `unit`, `purchase`, `report`, `evidence`, `page`.

Exit 0 answered, 2 bad input.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from importlib import import_module

from ergo import __version__
from ergo.errors import InputError

__all__ = ["main"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line.

    Parameters
    ----------
    arguments : sequence of str, optional
        What stands after `ergo`; the process's own when left out.

    Returns
    -------
    int
        0 answered, 2 bad input.
    """
    given = list(sys.argv[1:] if arguments is None else arguments)
    options = _parser(given[:1]).parse_args(given)
    try:
        return int(options.run(options))
    except InputError as error:
        print(error, file=sys.stderr)
        return 2
    except BrokenPipeError:  # the reader closed the pipe, as `head` does
        sys.stderr.close()
        return 0


_COMMANDS = ("assess", "team", "report", "sure", "height", "evidence", "unit", "purchase", "page")


def _parser(named: list[str]) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="ergo", description="How many people and which aid a patient move needs, and why."
    )
    parser.add_argument("--version", action="version", version=f"ergo {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    # A command that is named loads alone: some plan with what takes half a second to load.
    for name in [name for name in _COMMANDS if [name] == named] or _COMMANDS:
        import_module(f"ergo.cli.{name}").register(commands)
    return parser
