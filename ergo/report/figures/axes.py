"""Round tick marks, and labels in lines."""

from __future__ import annotations

import math

__all__ = ["round_ticks", "wrapped"]


def round_ticks(low: float, high: float, about: int = 5) -> list[tuple[float, str]]:
    """Return ticks at round numbers between two ends.

    >>> round_ticks(0.0, 430.0)
    [(0.0, '0'), (100.0, '100'), (200.0, '200'), (300.0, '300'), (400.0, '400')]
    >>> round_ticks(1.0, 1.0)
    [(1.0, '1')]
    """
    if high <= low:
        return [(low, f"{low:g}")]
    raw = (high - low) / about
    size = 10.0 ** math.floor(math.log10(raw))
    step = next(s * size for s in (1, 2, 2.5, 5, 10) if s * size >= raw)
    first = math.ceil(low / step - 1e-9)
    count = math.floor(high / step + 1e-9) - first + 1
    return [((first + i) * step, f"{(first + i) * step:g}") for i in range(count)]


def wrapped(text: str, width: int) -> str:
    r"""Return text with line breaks between words.

    >>> wrapped("pull to keep moving", 10)
    'pull to\nkeep\nmoving'
    """
    lines = [""]
    for word in text.split():
        if lines[-1] and len(lines[-1]) + 1 + len(word) > width:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    return "\n".join(lines)
