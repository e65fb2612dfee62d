"""The other process of `ergo.web.jobs`: computes one thing after the other and ends with who started it."""

from __future__ import annotations

import os
import pickle
import sys
import time
from typing import BinaryIO

from ergo.web.jobs import compute

__all__ = ["serve"]

_LESS_URGENT = 10  # than who asks: who draws goes before who computes
_TELL_S = 0.1


def serve(inward: BinaryIO, outward: BinaryIO) -> None:
    """Answer each pickled (name, arguments) with any number of ("part", done), then a "result" or an "error"."""
    told = 0.0

    def send(kind: str, value: object) -> None:
        pickle.dump((kind, value), outward)
        outward.flush()

    def go_on(part: float) -> bool:
        nonlocal told
        if time.monotonic() - told > _TELL_S:
            told = time.monotonic()
            send("part", part)
        return True

    while True:
        try:
            name, arguments = pickle.load(inward)
        except EOFError:  # who asks has ended
            return
        try:
            result = compute(name, arguments, go_on)
        except Exception as error:  # who asks says it to the reader
            send("error", error)
        else:
            send("result", result)


if __name__ == "__main__":
    if hasattr(os, "nice"):
        os.nice(_LESS_URGENT)
    results = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # whatever is printed must not come between two results
    serve(sys.stdin.buffer, results)
