"""Opening what a command reads, and saving that never destroys: the old file stays whole until the new one is."""

from __future__ import annotations

import os
import stat
import sys
import tempfile
from pathlib import Path

from ergo.errors import Fault, InputError

__all__ = ["check_output", "note", "save_text"]


def note(said: str) -> None:
    """Tell what was changed in a file of an earlier format, beside the answer."""
    print(f"Note: {said}", file=sys.stderr)


def check_output(path: Path, *read: Path) -> None:
    """Refuse to write over a file that the command reads, under whatever name, before any work is done.

    A folder, a device or a pipe is refused as well; so is a file that is write-protected or another user's.
    """
    if any(one.exists() and path.exists() and path.samefile(one) for one in read):
        raise _refused(path, "another file: this one is read, and would be lost")
    _to_replace(path)


def save_text(path: str | Path, text: str) -> None:
    """Write text to a file: to a temporary one beside it, synced to the disk, then renamed over it.

    A symbolic link stays one: the file that it leads to is written. A file that exists keeps its permissions and owner.
    """
    path = Path(path)
    beside = None
    try:
        old = _to_replace(path)
        target = path.resolve()
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name[:40]}.")
        beside = Path(name)
        with os.fdopen(handle, "w", encoding="utf-8", errors="backslashreplace", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        if old is not None and hasattr(os, "chown"):
            os.chown(beside, old.st_uid, old.st_gid)
        beside.chmod(0o666 & ~_umask() if old is None else stat.S_IMODE(old.st_mode))
        os.replace(beside, target)
    except OSError as error:
        raise _refused(path, error.strerror or "cannot be written") from None
    finally:  # an interrupt leaves nothing behind either; after the renaming there is nothing left of that name
        if beside is not None:
            beside.unlink(missing_ok=True)


def _to_replace(path: Path) -> os.stat_result | None:
    """Return what is known of the file that stands there, None where there is none; refuse what cannot be replaced."""
    try:
        old = path.stat()
    except FileNotFoundError:
        folder = path.resolve().parent
        if not folder.is_dir():
            raise _refused(path, f"a folder that exists: there is no {folder.name}") from None
        if not os.access(folder, os.W_OK):
            raise _refused(path, "another folder: this one is write-protected") from None
        return None
    except OSError as error:
        raise _refused(path, error.strerror or "cannot be written") from None
    if stat.S_ISDIR(old.st_mode):
        raise _refused(path, "the name of a file: there is a folder of this name")
    if not stat.S_ISREG(old.st_mode):
        raise _refused(path, "a file, not a device or pipe")
    if not os.access(path, os.W_OK):
        raise _refused(path, "another name: this file is write-protected")
    if hasattr(os, "geteuid") and os.geteuid() not in (0, old.st_uid):
        raise _refused(path, "another name: this file belongs to another user")
    return old


def _refused(path: Path, allowed: str) -> InputError:
    return InputError(str(path), [Fault("file", path.name, allowed)])


def _umask() -> int:
    """The permissions a new file of this process leaves out; a temporary file leaves out more."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
