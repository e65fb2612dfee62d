"""Writing a command's answer to a file."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from ergo.errors import Fault, InputError

__all__ = ["check_suffix", "write"]


def check_suffix(what: str, path: Path, endings: Mapping[str, object] | tuple[str, ...]) -> None:
    """Refuse a name that does not say what to write, before any work is done."""
    if path.suffix.lower() not in endings:
        raise InputError(what, [Fault("output", str(path), "a name that ends in " + " or ".join(endings))])


def write(what: str, path: Path, writers: Mapping[str, Callable[[], str]]) -> None:
    """Write what the name's ending asks for; InputError if it cannot be written."""
    check_suffix(what, path, writers)
    text = writers[path.suffix.lower()]()
    try:
        with path.open("w", encoding="utf-8", newline="") as file:
            file.write(text)
    except OSError as error:
        raise InputError(what, [Fault("output", str(path), error.strerror or "cannot be written")]) from None
    print(f"Wrote {path}")
