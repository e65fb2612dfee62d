"""Nothing that lies in the current folder is run: a case may come with a file named like a module."""

from __future__ import annotations

import os
import sys

import ergo

__all__ = ["child_command", "child_environment", "leave_current_folder_out"]


def leave_current_folder_out() -> None:
    """Load nothing more from the current folder, unless this package lives there."""
    home = os.path.dirname(os.path.dirname(os.path.abspath(ergo.__file__)))
    sys.path[:] = [path for path in sys.path if path == home or path not in ("", os.getcwd())]


def child_command(module: str) -> list[str]:
    """Return how a module of this package is started as another process."""
    return [sys.executable, "-P", "-m", module]


def child_environment() -> dict[str, str]:
    """Return an environment in which a child finds this package, and nothing beside the case."""
    home = os.path.dirname(os.path.dirname(os.path.abspath(ergo.__file__)))
    stated = os.environ.get("PYTHONPATH", "").split(os.pathsep)
    paths = dict.fromkeys([home, *(path for path in stated if os.path.isabs(path))])
    return os.environ | {"PYTHONPATH": os.pathsep.join(paths), "PYTHONSAFEPATH": "1"}
