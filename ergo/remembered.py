"""What was found before is remembered; what was not is found together."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TypeVar

__all__ = ["remembered"]

Key = TypeVar("Key")
Asked = TypeVar("Asked")
Found = TypeVar("Found")


def remembered(
    known: dict[Key, Found],
    asked: Iterable[tuple[Key, Asked]],
    find: Callable[[list[Asked]], Iterable[Found]],
    most: int,
) -> list[Found]:
    """Return what is known of each key; `find` is asked once for all that is not, and of more than `most` none is kept.

    >>> roots = {4.0: 2.0}
    >>> remembered(roots, [(9.0, 9.0), (4.0, 4.0), (9.0, 9.0)], lambda asked: [x**0.5 for x in asked], 100)
    [3.0, 2.0, 3.0]
    """
    pairs = list(asked)
    unlike = {key: ask for key, ask in pairs if key not in known}
    if unlike:
        if len(known) + len(unlike) > most:
            known.clear()
            unlike = dict(pairs)
        known.update(zip(unlike, find(list(unlike.values())), strict=True))
    return [known[key] for key, _ in pairs]
