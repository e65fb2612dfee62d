"""Where the words and marks of a drawing stand, in pixels."""

from __future__ import annotations

from ergo.report.figures.drawing import Drawing, Label, Mark


def boxes(drawing: Drawing, wide: float) -> tuple[list[tuple[str, list[float]]], list[list[float]]]:
    """Left, right, bottom and top in pixels of all words, and of all marks."""
    x, y = drawing.x, drawing.y

    def pixel(at):
        return (at[0] - x.low) / (x.high - x.low) * wide, (at[1] - y.low) / (y.high - y.low) * (drawing.height - 80)

    words, marks = [], []
    for item in drawing.items:
        if isinstance(item, Label):
            (px, py), breadth = pixel(item.at), 0.5 * item.size * len(item.text)
            left = px + item.shift[0] - {"start": 0, "middle": breadth / 2, "end": breadth}[item.anchor]
            middle, half = py + item.shift[1], 0.5 * item.size
            words.append((item.text, [left, left + breadth, middle - half, middle + half]))
        elif isinstance(item, Mark):
            (px, py), half = pixel(item.at), item.size / 2 - 1
            marks.append([px - half, px + half, py - half, py + half])
    return words, marks


def meet(one: list[float], other: list[float]) -> bool:
    return one[0] < other[1] and other[0] < one[1] and one[2] < other[3] and other[2] < one[3]
