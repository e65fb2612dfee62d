"""The other process of `ergo.web.jobs`: computes one thing after the other and ends with who started it."""

from __future__ import annotations

import _thread
import gc
import os
import pickle
import signal
import sys
import threading
import time
from queue import SimpleQueue
from typing import Any, BinaryIO

from ergo.web.jobs import compute, forget

__all__ = ["serve"]

_LESS_URGENT = 10  # than who asks: who draws goes before who computes
_TELL_S = 0.1
_SELDOM = 200_000  # objects: looking through two dozen kept cases for garbage took a third of an answer


class _LeftError(BaseException):
    """Nobody waits for what is computed any more."""


def serve(inward: BinaryIO, outward: BinaryIO) -> None:
    """Answer each pickled ("ask", number, name, arguments).

    The answer is any number of ("part", done), then a "result", an "error", or "left" where ("leave", number) came
    before it was done: so this process goes on with the next question, and need not be started again.
    """
    asked: SimpleQueue[tuple[int, str, tuple[Any, ...]]] = SimpleQueue()
    left: set[int] = set()
    computing: int | None = None
    told = 0.0

    def listen() -> None:
        while True:
            try:
                kind, number, *question = pickle.load(inward)
            except EOFError:  # who asks has ended
                os._exit(0)
            if kind == "ask":
                asked.put((number, *question))
            else:
                left.add(number)
                _thread.interrupt_main()

    def interrupted(*_: object) -> None:
        if computing in left:
            raise _LeftError

    def send(kind: str, value: object) -> None:
        pickle.dump((kind, value), outward)
        outward.flush()

    def go_on(part: float) -> bool:
        nonlocal computing, told
        if time.monotonic() - told > _TELL_S:
            told = time.monotonic()
            now, computing = computing, None  # not left in the middle of a message
            send("part", part)
            computing = now
            interrupted()
        return True

    signal.signal(signal.SIGINT, interrupted)
    threading.Thread(target=listen, daemon=True).start()
    while True:
        number, name, arguments = asked.get()
        found: object
        try:
            computing = number
            interrupted()  # it may have been left before it was begun
            try:
                kind, found = "result", compute(name, arguments, go_on)
            except Exception as error:  # who asks says it to the reader
                kind, found = "error", error
            computing = None
        except _LeftError:
            computing, kind, found = None, "left", None
            forget()
        left.discard(number)
        send(kind, found)


if __name__ == "__main__":
    if hasattr(os, "nice"):
        os.nice(_LESS_URGENT)
    gc.freeze()
    gc.set_threshold(_SELDOM)
    results = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # whatever is printed must not come between two results
    serve(sys.stdin.buffer, results)
