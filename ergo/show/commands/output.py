"""Writing a command's answer to a file."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from ergo.errors import Fault, InputError
from ergo.show.save import save_text

__all__ = ["check_suffix", "write"]


def check_suffix(what: str, path: Path, endings: Mapping[str, object] | tuple[str, ...]) -> None:
    """Refuse a name that does not say what to write, before any work is done."""
    if path.suffix.lower() not in endings:
        raise InputError(what, [Fault("output", str(path), "a name that ends in " + " or ".join(endings))])


def write(what: str, path: Path, writers: Mapping[str, Callable[[], str]]) -> None:
    """Write what the name's ending asks for."""
    check_suffix(what, path, writers)
    save_text(path, writers[path.suffix.lower()]())
    print(f"Wrote {path}")
