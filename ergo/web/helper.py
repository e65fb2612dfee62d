"""Another process that does what takes long, while this one goes on; where there is none, it is done here.

Light enough to be loaded before the models are, so that both processes load them at the same time.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from contextlib import suppress
from importlib import import_module
from pathlib import Path
from types import TracebackType
from typing import IO, Any

import ergo

__all__ = ["Helper", "cores"]


class Helper:
    """A process of `ergo.web.worker`, started at once, and started again where it has ended meanwhile.

    Examples
    --------
    >>> with Helper() as helper:
    ...     good, found = helper.do("curve", ("no scenario",))
    >>> good, type(found).__name__
    (False, 'InputError')
    """

    def __init__(self) -> None:
        self._ended = False
        self._process = _start()

    def __enter__(self) -> Helper:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._ended = True
        self._stop()

    def do(self, name: str, arguments: tuple[Any, ...]) -> tuple[bool, Any]:
        """Return what a task of `ergo.web.tasks` returns, or its error.

        Parameters
        ----------
        name : str
        arguments : tuple

        Returns
        -------
        bool, Any
            Whether it went well; the result or the error.
        """
        process = self._process
        if process is None and not self._ended:
            process = self._process = _start()
        if process is not None:
            inward, outward = _pipes(process)
            try:
                pickle.dump((name, arguments), inward)
                inward.flush()
                good, found = pickle.load(outward)
                return good, found
            except Exception:  # it has ended, or its package is another than ours by now
                self._stop()
        if self._ended:
            return False, RuntimeError("no helper is there")
        try:
            return True, getattr(import_module("ergo.web.tasks"), name)(*arguments)
        except Exception as error:
            return False, error

    def _stop(self) -> None:
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            process.wait()
            for pipe in _pipes(process):
                with suppress(OSError):  # what it has not read is lost
                    pipe.close()


def cores() -> int:
    """Return how many cores this process may use.

    Returns
    -------
    int

    Examples
    --------
    >>> cores() >= 1
    True
    """
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _pipes(process: subprocess.Popen[bytes]) -> tuple[IO[bytes], IO[bytes]]:
    assert process.stdin is not None
    assert process.stdout is not None
    return process.stdin, process.stdout


def _start() -> subprocess.Popen[bytes] | None:
    """Start a process that finds this package; None where the machine allows no other process."""
    home = str(Path(ergo.__file__).parents[1])
    paths = os.pathsep.join(filter(None, (home, os.environ.get("PYTHONPATH"))))
    try:
        return subprocess.Popen(
            [sys.executable, "-m", "ergo.web.worker"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env=os.environ | {"PYTHONPATH": paths},
            start_new_session=True,  # Ctrl-C is for who started it, and the end of that one is its end too
        )
    except OSError:
        return None
