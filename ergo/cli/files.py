"""Saving that never destroys: the old file stays whole until the new one is."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from ergo.errors import Fault, InputError

__all__ = ["save_text"]


def save_text(path: str | Path, text: str) -> None:
    """Write text to a file: to a temporary one beside it, synced to the disk, then renamed over it.

    Parameters
    ----------
    path : str or Path
    text : str

    Raises
    ------
    InputError
        If the folder does not exist or cannot be written to; the old file is then as it was.
    """
    path = Path(path)
    beside = None
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        beside = Path(name)
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        beside.chmod(0o666 & ~_umask())
        os.replace(beside, path)
    except OSError as error:
        if beside is not None:
            beside.unlink(missing_ok=True)
        raise InputError(str(path), [Fault("file", path.name, error.strerror or "cannot be written")]) from None


def _umask() -> int:
    """The permissions a new file of this process leaves out; a temporary file leaves out more."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
