"""Whose page is worked on next: when many readers change something at once, who has had least goes first.

Pages of all readers share one interpreter. Left alone they all work at the same time, and each takes as long as all of
them together; here a page works until it has something to show and then gives way to whoever has had less since the
last change. So a first drawing never waits for somebody else's map.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

import streamlit as st

__all__ = ["LOOK_S", "Turns", "give_way", "outside", "pause", "turn"]

LOOK_S = 0.1  # how often a page that waits looks whether its reader has changed something or left
_CREDIT = 0.005  # a page that has been at it for 20 s goes before one that comes fresh and has had 0.1 s less
_LONGEST_S = 2.0  # a page that gives nobody a turn for so long is no longer waited for


@dataclass(slots=True, eq=False)
class _Run:
    """One run of a page: seconds that it has worked, since when it works, and when its reader asked for it."""

    had_s: float = 0.0
    since: float = 0.0
    asked: float = field(default_factory=time.monotonic)

    def due(self, now: float) -> float:
        """Return what the order goes by, the least first; nobody waits for ever."""
        return self.had_s - _CREDIT * (now - self.asked)


@dataclass(slots=True)
class Turns:
    """Hands out turns, one at a time, to whoever has had least.

    Examples
    --------
    >>> turns = Turns()
    >>> with turns.turn():
    ...     turns.give_way()
    >>> turns.works
    []
    """

    works: list[_Run] = field(default_factory=list)
    waits: list[_Run] = field(default_factory=list)
    _changed: threading.Condition = field(default_factory=threading.Condition)
    _own: threading.local = field(default_factory=threading.local)

    @contextmanager
    def turn(self) -> Iterator[None]:
        """Work in turns with everybody else's page."""
        run = self._own.run = _Run()
        try:
            self._wait(run)
            yield
        finally:
            self._own.run = None
            self._stop(run)

    def give_way(self) -> None:
        """Let those go first who have had less; called wherever a page has just shown something."""
        run = getattr(self._own, "run", None)
        if run is None or not self.waits:
            return
        self._stop(run)
        self._wait(run)

    @contextmanager
    def outside(self) -> Iterator[None]:
        """Do nothing for a while, and hold nobody up: wait for the browser, or for work that is done elsewhere."""
        run = getattr(self._own, "run", None)
        if run is not None:
            self._stop(run)
        yield
        if run is not None:
            self._wait(run)

    def _wait(self, run: _Run) -> None:
        with self._changed:
            self.waits.append(run)
        try:
            while True:
                with self._changed:
                    if self._changed.wait_for(lambda: self._is_next(run), LOOK_S):
                        run.since = time.monotonic()
                        self.works.append(run)
                        return
                _ = "ergo" in st.session_state  # stops this run where the reader has asked for another one
        finally:
            with self._changed:
                self.waits.remove(run)
                self._changed.notify_all()

    def _is_next(self, run: _Run) -> bool:
        now = time.monotonic()
        free = all(now - other.since > _LONGEST_S for other in self.works)
        return free and min(self.waits, key=lambda other: other.due(now)) is run

    def _stop(self, run: _Run) -> None:
        with self._changed:
            if run in self.works:
                self.works.remove(run)
                run.had_s += time.monotonic() - run.since
            self._changed.notify_all()


_TURNS = Turns()
turn, give_way, outside = _TURNS.turn, _TURNS.give_way, _TURNS.outside


def pause(seconds: float) -> None:
    """Wait until what was shown has left for the browser and is painted there."""
    with outside():
        time.sleep(seconds)
