"""Words beside marks where they cover neither a mark, nor a line, nor other words."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from ergo.report.figures.drawing import Anchor, Colour, Label, Point

__all__ = ["Room"]

_LETTER = 0.55  # of the letters' size: the breadth of a letter, on average
_HALF = 0.6  # of the letters' size: half the height of a row of words
_GAP = 4.0  # from a mark to its words
_ROW, _FURTHER = 18.0, 3  # rows of words further away, for where marks stand close

Box = tuple[float, float, float, float]


def _meet(one: Box, other: Box) -> bool:
    return one[0] < other[1] and other[0] < one[1] and one[2] < other[3] and other[2] < one[3]


@dataclass
class Room:
    """The space between the axes, as narrow as a telephone shows it; wider, things only move apart."""

    x: Point
    y: Point
    wide: float = 270.0
    high: float = 300.0
    taken: list[Box] = field(default_factory=list)

    def _pixel(self, at: Point) -> Point:
        return (
            (at[0] - self.x[0]) / (self.x[1] - self.x[0]) * self.wide,
            (at[1] - self.y[0]) / (self.y[1] - self.y[0]) * self.high,
        )

    def keep_free(self, points: Iterable[Point], size: float) -> None:
        """Leave room for marks of this size."""
        for x, y in map(self._pixel, points):
            self.taken.append((x - size / 2, x + size / 2, y - size / 2, y + size / 2))

    def keep_line(self, points: Sequence[Point], width: float = 4.0) -> None:
        """Leave room for a line through these points."""
        for (x0, y0), (x1, y1) in pairwise(points):
            length = max(abs(b - a) for a, b in zip(self._pixel((x0, y0)), self._pixel((x1, y1)), strict=True))
            steps = max(1, math.ceil(length / width))
            self.keep_free(
                (((x0 + (x1 - x0) * i / steps), y0 + (y1 - y0) * i / steps) for i in range(steps + 1)), width
            )

    def keep_words(self, label: Label) -> None:
        """Leave room for words whose place is given."""
        self.taken.append(self._box_of(label))

    def _box_of(self, label: Label) -> Box:
        return self._box(label.at, label.text, label.size, label.anchor, label.shift)

    def _box(self, at: Point, words: str, size: float, anchor: Anchor, shift: Point) -> Box:
        x, y = self._pixel(at)
        rows = words.split("\n")
        breadth, half = _LETTER * size * max(map(len, rows)), size * _HALF * len(rows)
        left = x + shift[0] - {"start": 0.0, "middle": breadth / 2, "end": breadth}[anchor]
        return left, left + breadth, y + shift[1] - half, y + shift[1] + half

    def label(self, at: Point, words: str, size: float, *, bold: bool = False, mark: float = 16.0) -> Label:
        """Return words for a mark in the first free place around it, above it where none is free."""
        return self.first_free(self.around(at, words, size, bold=bold, mark=mark))

    def around(self, at: Point, words: str, size: float, *, bold: bool = False, mark: float = 16.0) -> list[Label]:
        """Return words for a mark in every place around it, the best first; none takes its room."""
        places = _places(mark, mark / 2 + _GAP + size * _HALF)
        return [
            Label(at, words, anchor, "ink", size, bold, self._inside(at, words, size, anchor, shift), True)
            for anchor, shift in places
        ]

    def at_end(self, level: float, words: str, size: float, colour: Colour) -> Label:
        """Return the words of a level line at that end, and on that side of it, where they stand free."""
        ends: list[tuple[float, Anchor]] = [(self.x[1], "end"), (self.x[0], "start")]
        shifts = [sign * (size * _HALF + _GAP + row) for row in (0.0, _ROW) for sign in (1, -1)]
        return self.first_free(
            [
                Label((x, level), words, anchor, colour, size, True, (0.0, up), True)
                for up in shifts
                for x, anchor in ends
            ]
        )

    def first_free(self, labels: Sequence[Label]) -> Label:
        """Return the first label that stands free, or the first of all; it takes its room."""
        found = next((label for label in labels if self._is_free(self._box_of(label))), labels[0])
        self.keep_words(found)
        return found

    def takes(self, label: Label) -> bool:
        """Return whether words stand free where they are; then they take their room."""
        free = self._is_free(self._box_of(label))
        if free:
            self.keep_words(label)
        return free

    def inside(self, label: Label) -> Label:
        """Return words pushed back into the space where they would leave it at its left or right end."""
        return replace(label, shift=self._inside(label.at, label.text, label.size, label.anchor, label.shift))

    def _inside(self, at: Point, words: str, size: float, anchor: Anchor, shift: Point) -> Point:
        """Push words that would leave the space at its left or right end back into it."""
        left, right, *_ = self._box(at, words, size, anchor, shift)
        return shift[0] + max(0.0, -left) + min(0.0, self.wide - right), shift[1]

    def _is_free(self, box: Box) -> bool:
        return box[2] >= 0.0 and box[3] <= self.high and not any(_meet(box, other) for other in self.taken)

    def together(self, named: Iterable[tuple[Point, str]], size: float) -> list[tuple[Point, str]]:
        """Join the words of marks on one level that would run into each other, from left to right."""
        found: list[tuple[Point, str]] = []
        reach = -math.inf
        for at, words in sorted(named, key=lambda one: (one[0][1], one[0][0])):
            left, right, *_ = self._box(at, words, size, "middle", (0.0, 0.0))
            same_level = bool(found) and math.isclose(found[-1][0][1], at[1])
            if same_level and left < reach + size / 2:
                (x, y), before = found[-1]
                count = before.count(", ") + 1
                at, words = ((x * count + at[0]) / (count + 1), y), f"{before}, {words}"
                found[-1] = (at, words)
                right = self._box(at, words, size, "middle", (0.0, 0.0))[1]
            else:
                found.append((at, words))
            reach = right
        return found


def _places(mark: float, row: float) -> list[tuple[Anchor, Point]]:
    """The places of words around a mark, the best first."""
    found: list[tuple[Anchor, Point]] = [("middle", (0.0, row)), ("middle", (0.0, -row))]
    for up in (row, -row):
        found += [("start", (-mark / 2, up)), ("end", (mark / 2, up))]
    found += [("start", (mark / 2 + _GAP, 0.0)), ("end", (-mark / 2 - _GAP, 0.0))]
    return found + [("middle", (0.0, sign * (row + _ROW * i))) for i in range(1, _FURTHER + 1) for sign in (1, -1)]
