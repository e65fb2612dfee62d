"""Long work goes to other processes, the most urgent first, so that every page stays free to draw.

All pages share one interpreter. What a reader waits for goes before what is merely good to have, whoever asked first;
what was asked for by several is done once; what nobody waits for any more is not begun.
"""

from __future__ import annotations

import threading
from collections import OrderedDict, deque
from collections.abc import Callable, Container, Hashable, Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import count
from typing import Any

import streamlit as st

from ergo.web import _turns, tasks
from ergo.web.helper import Helper, cores

__all__ = ["AIDS", "ANSWER", "CURVE", "FIRST", "MAP", "Ask", "Workers", "ask", "asking", "has", "result", "start"]

CURVE, FIRST, ANSWER, AIDS, MAP = range(5)  # how urgent

_MOST_WORKERS = 3
_MOST_KEPT, _FEWER_KEPT = 4096, {"first": 256, "answer": 256}  # these have up to 80 kB, the others a few

Key = tuple[str, tuple[Hashable, ...]]


@dataclass(slots=True, eq=False)
class Ask:
    """One task that somebody waits for."""

    key: Key
    urgency: int
    number: int
    wanted: int = 0
    future: Future[Any] = field(default_factory=Future)

    def order(self, at_hand: Container[Hashable]) -> tuple[int, bool, int]:
        """The most urgent first, then what a process has at hand, then whose page began first.

        What is good to have counts alike: readers get done one after the other, not all at the end and all at once.
        """
        return min(self.urgency, AIDS), self.key[1][0] not in at_hand, self.number


class Workers:
    """A few processes, what they are asked for, and what they answered."""

    def __init__(self, most: int = _MOST_WORKERS) -> None:
        self._most = min(most, cores())
        self._threads: list[threading.Thread] = []
        self._changed = threading.Condition()
        self._waits: list[Ask] = []
        self._open: dict[Key, Ask] = {}
        self._kept: dict[str, OrderedDict[Key, Future[Any]]] = {name: OrderedDict() for name in tasks.__all__}
        self._numbers = count()
        self._own = threading.local()

    def start(self) -> None:
        """Start the processes, where they are not started yet: they load while the first page is drawn."""
        with self._changed:
            while len(self._threads) < self._most:
                # What is good to have never takes all of them: somebody is there at once for a reader who waits.
                takes = AIDS if self._most > 1 and not self._threads else MAP
                self._threads.append(threading.Thread(target=self._work, args=(takes,), daemon=True))
                self._threads[-1].start()

    @contextmanager
    def asking(self) -> Iterator[None]:
        """Ask within this: what was asked for and is not begun when it ends is not wanted any more."""
        self._own.asked, self._own.number = [], next(self._numbers)
        try:
            yield
        finally:
            asked, self._own.asked = self._own.asked, None
            self._own.number = None
            with self._changed:
                for one in asked:
                    one.wanted -= 1
                    if not one.wanted and one in self._waits:
                        self._waits.remove(one)
                        del self._open[one.key]

    def ask(self, urgency: int, task: Callable[..., Any], *arguments: Hashable) -> Future[Any]:
        """Ask for a task of `ergo.web.tasks`, about the case that comes first; returns at once."""
        key = task.__name__, arguments
        # All that one run of a page asks for counts from when it began: so readers get done one after the other.
        number = getattr(self._own, "number", None)
        self.start()
        with self._changed:
            number = next(self._numbers) if number is None else number
            kept = self._kept[key[0]]
            if key in kept:
                kept.move_to_end(key)
                return kept[key]
            one = self._open.get(key)
            if one is None:
                one = self._open[key] = Ask(key, urgency, number)
                self._waits.append(one)
                self._changed.notify_all()
            one.urgency, one.number = min(one.urgency, urgency), min(one.number, number)
            one.wanted += 1
            if (asked := getattr(self._own, "asked", None)) is not None:
                asked.append(one)
            return one.future

    def has(self, task: Callable[..., Any], *arguments: Hashable) -> bool:
        """Return whether the result is there already."""
        with self._changed:
            return (task.__name__, arguments) in self._kept[task.__name__]

    def _work(self, takes: int) -> None:
        helper = Helper()
        at_hand: deque[Hashable] = deque(maxlen=tasks.CASES)
        while True:
            with self._changed:
                self._changed.wait_for(lambda: any(waiting.urgency <= takes for waiting in self._waits))
                mine = (waiting for waiting in self._waits if waiting.urgency <= takes)
                one = min(mine, key=lambda waiting: waiting.order(at_hand))
                self._waits.remove(one)
            at_hand.append(one.key[1][0])
            good, found = helper.do(*one.key)
            with self._changed:
                del self._open[one.key]
                if good:
                    kept = self._kept[one.key[0]]
                    kept[one.key] = one.future
                    while len(kept) > _FEWER_KEPT.get(one.key[0], _MOST_KEPT):
                        kept.popitem(last=False)
            if good:
                one.future.set_result(found)
            else:
                one.future.set_exception(found)


_WORKERS = Workers()
start, asking, ask, has = _WORKERS.start, _WORKERS.asking, _WORKERS.ask, _WORKERS.has


def result(future: Future[Any]) -> Any:
    """Return what was asked for; meanwhile others draw, and a change on the page ends the wait."""
    if not future.done():
        with _turns.outside():
            while not future.done():
                try:
                    future.exception(_turns.LOOK_S)
                except TimeoutError:
                    _ = "ergo" in st.session_state  # stops this run where the reader has asked for another one
    return future.result()
