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
    """Return what is known of each key; `find` is asked once for all that is not.

    What is known is forgotten where it would be more than `most`. Others may use it at the same time.

    >>> roots = {4.0: 2.0}
    >>> remembered(roots, [(9.0, 9.0), (4.0, 4.0), (9.0, 9.0)], lambda asked: [x**0.5 for x in asked], 100)
    [3.0, 2.0, 3.0]
    """
    pairs = list(asked)
    found: dict[Key, Found] = {}
    unlike: dict[Key, Asked] = {}
    for key, ask in pairs:
        try:
            found[key] = known[key]
        except KeyError:
            unlike[key] = ask
    if unlike:
        new = dict(zip(unlike, find(list(unlike.values())), strict=True))
        if len(known) + len(new) > most:
            known.clear()
        known.update(new)
        found |= new
    return [found[key] for key, _ in pairs]
