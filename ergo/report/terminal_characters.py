"""Characters on a terminal: what would steer it becomes visible, what its encoding lacks becomes plain."""

from __future__ import annotations

import codecs
import re
import unicodedata
from typing import TextIO

__all__ = ["plain_where_needed", "steering_shown", "visible", "visible_lines"]

# Control characters (ESC and the C1 ones among them), separators of lines, surrogates, and what turns the direction
# of writing around. Joiners and marks of direction belong to scripts and stay.
_STEERING = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
_BLANKS = re.compile(r"[ \t\r\n]*[\t\n][ \t\r\n]*")


def visible(text: str) -> str:
    """Return text on one line that cannot steer a terminal: a blank for a line break, a placeholder for the rest.

    >>> print(visible("two\\nlines, \\x1b[31mred"))
    two lines, <U+001B>[31mred
    """
    return steering_shown(_BLANKS.sub(" ", text))


def steering_shown(text: str, keep: str = "") -> str:
    """Return text with a placeholder for what steers a terminal, but for what is kept."""
    return _STEERING.sub(lambda found: found[0] if found[0] in keep else f"<U+{ord(found[0]):04X}>", text)


def visible_lines(text: str) -> str:
    """Return text with its own line breaks and nothing else that steers a terminal."""
    return "\n".join(map(visible, text.split("\n")))


_PLAIN = {
    "●": "o", "◆": "*", "■": "#", "○": "-", "–": "-", "—": "-", "−": "-", "“": '"', "”": '"', "‘": "'", "’": "'",
    "…": "...", "→": "->", "≤": "<=", "≥": ">=", "×": "x", "·": ".", "°": " deg", "±": "+-", "√": "sqrt", "Σ": "sum",
    "μ": "mu", "α": "alpha", "β": "beta", "θ": "theta", "φ": "phi", "€": "EUR", "£": "GBP",
}  # fmt: skip


def _plain(error: UnicodeError) -> tuple[str, int]:
    """Stand in for what an encoding lacks."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(map(_stand_in, error.object[error.start : error.end])), error.end


def _stand_in(letter: str) -> str:
    bare = unicodedata.normalize("NFKD", letter).encode("ascii", "ignore").decode()
    return _PLAIN.get(letter) or bare or "?"


def plain_where_needed(stream: TextIO) -> None:
    """Let a stream write in its own encoding whatever it is given."""
    codecs.register_error("ergo.plain", _plain)
    reconfigure = getattr(stream, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(errors="ergo.plain")
