"""A process that helps another: takes one task after the other, hands back each result, ends with the other.

Started by `ergo.web.helper` as `python -m ergo.web.worker`; nobody else speaks to it.
"""

from __future__ import annotations

import os
import pickle
import sys
from typing import BinaryIO

from ergo.web import tasks

__all__ = ["serve"]

_LESS_URGENT = 10  # than who is helped: who draws goes before who computes


def serve(inward: BinaryIO, outward: BinaryIO) -> None:
    """Do every task that comes in, until nothing more can come.

    Parameters
    ----------
    inward, outward : binary file
        Tasks as pickled (name, arguments); results as pickled (whether it went well, result or error).
    """
    while True:
        try:
            name, arguments = pickle.load(inward)
        except EOFError:  # who is helped has ended
            return
        try:
            done: tuple[bool, object] = True, getattr(tasks, name)(*arguments)
        except Exception as error:  # who is helped says it to the reader
            done = False, error
        pickle.dump(done, outward)
        outward.flush()


if __name__ == "__main__":
    if hasattr(os, "nice"):
        os.nice(_LESS_URGENT)
    results = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # whatever is printed must not come between two results
    serve(sys.stdin.buffer, results)
