"""Drawings as simple shapes: what a figure shows, apart from how it is rendered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from ergo.limits.policy import Verdict

__all__ = [
    "DARK",
    "LIGHT",
    "VERDICT_MARK",
    "Anchor",
    "Arrow",
    "Axis",
    "Colour",
    "Drawing",
    "Label",
    "Line",
    "Mark",
    "Palette",
    "Polygon",
    "Shape",
]

Colour = Literal[
    "ink",
    "quiet",
    "faint",
    "paper",
    "within",
    "close",
    "over",
    "not applicable",
    "patient",
    "layer",
    "under layer",
    "bed",
    "equipment",
    "push",
]
Shape = Literal["circle", "diamond", "square", "ring", "triangle"]
Anchor = Literal["start", "middle", "end"]
Point = tuple[float, float]
Palette = dict[Colour, str]

# Each verdict has its own colour, its own shape and its own word; none stands alone.
VERDICT_MARK: dict[Verdict, Shape] = {
    "within": "circle",
    "close": "diamond",
    "over": "square",
    "not applicable": "ring",
}

LIGHT: Palette = {
    "ink": "#17212b",
    "quiet": "#4d5a66",
    "faint": "#c9d1d8",
    "paper": "#ffffff",
    "within": "#1f5fa8",
    "close": "#a06a00",
    "over": "#8f1d1d",
    "not applicable": "#66707a",
    "patient": "#d9c3ae",
    "layer": "#9db8a8",
    "under layer": "#c9d6c0",
    "bed": "#e8ecef",
    "equipment": "#7a6f92",
    "push": "#17212b",
}
DARK: Palette = {
    "ink": "#eef2f5",
    "quiet": "#b4bfc9",
    "faint": "#46525d",
    "paper": "#12181e",
    "within": "#7ab3f0",
    "close": "#e0ab45",
    "over": "#f08a80",
    "not applicable": "#a3adb7",
    "patient": "#8c7460",
    "layer": "#4f7561",
    "under layer": "#3d5548",
    "bed": "#26313b",
    "equipment": "#a99bc8",
    "push": "#eef2f5",
}


@dataclass(frozen=True, slots=True)
class Line:
    """A line through points, dashed or not."""

    points: Sequence[Point]
    colour: Colour = "ink"
    width: float = 2.0
    dash: bool = False
    hover: str = ""


@dataclass(frozen=True, slots=True)
class Polygon:
    """A filled outline."""

    points: Sequence[Point]
    fill: Colour
    colour: Colour = "quiet"
    width: float = 1.0
    hover: str = ""
    opacity: float = 1.0


@dataclass(frozen=True, slots=True)
class Arrow:
    """An arrow from tail to head."""

    tail: Point
    head: Point
    colour: Colour = "push"
    width: float = 3.0
    hover: str = ""


@dataclass(frozen=True, slots=True)
class Mark:
    """One marker with a shape of its own."""

    at: Point
    shape: Shape = "circle"
    colour: Colour = "ink"
    size: float = 14.0
    hover: str = ""


@dataclass(frozen=True, slots=True)
class Label:
    """Text at a point; `shift` moves it by pixels, right and up."""

    at: Point
    text: str
    anchor: Anchor = "middle"
    colour: Colour = "ink"
    size: float = 14.0
    bold: bool = False
    shift: Point = (0.0, 0.0)
    backed: bool = False


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis: range, title and labelled ticks. Without ticks nothing is drawn."""

    low: float
    high: float
    title: str = ""
    ticks: Sequence[tuple[float, str]] = ()
    grid: bool = False


Item = Line | Polygon | Arrow | Mark | Label


@dataclass(frozen=True, slots=True)
class Drawing:
    """Shapes on two axes, with the sentence that says the finding to who cannot see it."""

    x: Axis
    y: Axis
    items: Sequence[Item]
    alt: str
    height: int = 380
    to_scale: bool = False
    title: str = field(default="")
