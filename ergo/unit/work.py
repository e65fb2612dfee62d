"""How long work goes on: progress that may say stop."""

from __future__ import annotations

from collections.abc import Callable

__all__ = ["Progress", "StoppedError", "tell"]

Progress = Callable[[float], bool | None]
"""progress(part done, 0 to 1): False stops the work, anything else lets it go on."""


class StoppedError(Exception):
    """The work was stopped before its end; nothing of it is kept."""


def tell(progress: Progress | None, part: float) -> None:
    """Say how much is done, and stop where the answer is False."""
    if progress is not None and progress(min(part, 1.0)) is False:
        raise StoppedError
