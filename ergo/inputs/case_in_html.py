"""A case inside an HTML page: a block of data that a browser neither runs nor shows, and that opens the case again."""

from __future__ import annotations

import re

__all__ = ["LARGEST_PAGE", "case_as_html", "case_of_html", "is_html"]

LARGEST_PAGE = 5_000_000  # bytes; a report with all its annexes has about one million

_START, _END = '<script type="application/toml" id="case">', "</script>"
# In a string of TOML, the only place where they may stand, these have escapes; none of them can then end the block.
_ESCAPES = {ord(c): f"\\u{ord(c):04X}" for c in "<>&"}
_BLOCK = re.compile(re.escape(_START.encode()) + rb"(.*?)" + re.escape(_END.encode()), re.DOTALL)


def case_as_html(toml: str) -> str:
    r"""Return TOML text as a block of data in a page.

    >>> case_as_html('name = "</script><b>"')
    '<script type="application/toml" id="case">\nname = "\\u003C/script\\u003E\\u003Cb\\u003E"\n</script>'
    """
    return f"{_START}\n{toml.translate(_ESCAPES).strip()}\n{_END}"


def is_html(raw: bytes) -> bool:
    """Whether bytes are those of a page."""
    return raw[:200].lstrip(b"\xef\xbb\xbf \t\r\n").lower().startswith((b"<!doctype html", b"<html"))


def case_of_html(raw: bytes) -> bytes | None:
    """Return the TOML text that a page holds; None where it holds none, or more than one.

    >>> case_of_html(case_as_html('name = "<"').encode())
    b'name = "\\\\u003C"'
    """
    found = _BLOCK.findall(raw)
    return found[0].strip() if len(found) == 1 else None
