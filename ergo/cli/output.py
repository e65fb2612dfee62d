"""Writing a command's answer to a file."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from ergo.cli.files import save_text
from ergo.errors import Fault, InputError

__all__ = ["check_page", "write", "write_page"]

_PAGE = (".html", ".htm", ".md")


def check_page(what: str, path: Path) -> None:
    """Refuse a name that does not say whether to print or to paste, before any work is done."""
    if path.suffix.lower() not in _PAGE:
        raise InputError(what, [Fault("output", str(path), "a name that ends in .html or .md")])


def write(path: Path, text: str) -> None:
    """Write a file and say so."""
    save_text(path, text)
    print(f"Wrote {path}")


def write_page(path: Path, html: Callable[[], str], markdown: Callable[[], str]) -> None:
    """Write what the name's ending asks for: a page to print, or Markdown to paste."""
    write(path, markdown() if path.suffix.lower() == ".md" else html())
