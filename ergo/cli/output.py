"""Writing a command's answer: to the terminal, as JSON, or to a file."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

from ergo.cli.files import save_text
from ergo.errors import Fault, InputError
from ergo.report.blocks import Document
from ergo.report.json_export import to_json
from ergo.report.terminal import terminal_text
from ergo.report.terminal_characters import visible

__all__ = ["check_page", "show", "show_json", "write", "write_page"]

_PAGE = (".html", ".htm", ".md")


def show(document: Document) -> None:
    """Print a document."""
    print(terminal_text(document))


def show_json(result: Any) -> None:
    """Print a result as JSON."""
    print(to_json(result))


def check_page(what: str, path: Path) -> None:
    """Refuse a name that does not say whether to print or to paste, before any work is done."""
    if path.suffix.lower() not in _PAGE:
        raise InputError(what, [Fault("output", str(path), "a name that ends in .html or .md")])


def write(path: Path, text: str, *, quiet: bool = False) -> None:
    """Write a file and say so: beside JSON on the error stream, which leaves the JSON whole."""
    save_text(path, text)
    led = f", a link to {visible(str(path.resolve()))}" if path.is_symlink() else ""
    print(f"Wrote {visible(str(path))}{led}", file=sys.stderr if quiet else sys.stdout)


def write_page(path: Path, document: Document, *, quiet: bool = False) -> None:
    """Write what the name's ending asks for: a page to print, or Markdown to paste."""
    if path.suffix.lower() == ".md":
        from ergo.report.markdown import markdown_page as page
    else:
        from ergo.report.html_page import html_page as page
    write(path, page(document), quiet=quiet)
