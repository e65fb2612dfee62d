"""A drawing as inline SVG: opens without a network and prints sharp."""

from __future__ import annotations

from html import escape

from ergo.report.figures.drawing import LIGHT, Arrow, Drawing, Label, Line, Mark, Palette, Point, Polygon

__all__ = ["svg"]

_LEFT, _RIGHT, _TOP, _BOTTOM = 64.0, 16.0, 12.0, 52.0
_HEAD = 9.0


class _Frame:
    """The map from a drawing's coordinates to pixels."""

    def __init__(self, drawing: Drawing, width: float) -> None:
        x, y = drawing.x, drawing.y
        longest = max((len(line) for _, said in y.ticks for line in said.split("\n")), default=0)
        self.left = max(_LEFT, 7.5 * longest + 12) if y.ticks or y.title else _RIGHT
        bottom = _BOTTOM if x.ticks or x.title else _TOP
        room = width - self.left - _RIGHT, drawing.height - _TOP - bottom
        self.sx, self.sy = room[0] / (x.high - x.low), room[1] / (y.high - y.low)
        if drawing.to_scale:
            scale = min(abs(self.sx), abs(self.sy))
            self.sx, self.sy = (scale if self.sx > 0 else -scale), (scale if self.sy > 0 else -scale)
        self.x0, self.y0 = x.low, y.low
        self.floor = _TOP + abs(self.sy * (y.high - y.low))
        self.wide = abs(self.sx * (x.high - x.low))
        self.height = self.floor + bottom

    def __call__(self, point: Point) -> Point:
        return self.left + (point[0] - self.x0) * self.sx, self.floor - (point[1] - self.y0) * self.sy


def svg(drawing: Drawing, width: float = 700.0, palette: Palette = LIGHT) -> str:
    """Return the drawing as one SVG element."""
    at = _Frame(drawing, width)
    parts = [*_axes(drawing, at, palette)]
    for item in drawing.items:
        match item:
            case Polygon():
                parts.append(_polygon(item, at, palette))
            case Line():
                parts.append(_line(item, at, palette))
            case Arrow():
                parts.append(_arrow(item, at, palette))
            case Mark():
                parts.append(_mark(item, at, palette))
            case Label():
                parts.append(_label(item, at, palette))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {at.height:.0f}" role="img" '
        f'font-family="system-ui, sans-serif"><title>{escape(drawing.alt)}</title>{"".join(parts)}</svg>'
    )


def _path(points: list[Point]) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)


def _text(x: float, y: float, said: str, anchor: str, size: float, fill: str, extra: str = "") -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="{size:g}" fill="{fill}"{extra}>'
        f"{escape(said)}</text>"
    )


def _axes(drawing: Drawing, at: _Frame, palette: Palette) -> list[str]:
    parts = []
    x, y = drawing.x, drawing.y
    ink, faint = palette["ink"], palette["faint"]
    for value, said in y.ticks:
        left, level = at((x.low, value))
        if y.grid:
            parts.append(f'<path d="{_path([(left, level), (left + at.wide, level)])}" stroke="{faint}"/>')
        lines = said.split("\n")
        for i, line in enumerate(lines):
            parts.append(_text(left - 6, level + 4 + 15 * (i - (len(lines) - 1) / 2), line, "end", 13, ink))
    for value, said in x.ticks:
        middle, floor = at((value, y.low))
        if x.grid:
            parts.append(f'<path d="{_path([(middle, floor), (middle, _TOP)])}" stroke="{faint}"/>')
        parts.append(_text(middle, floor + 18, said, "middle", 13, ink))
    if x.title:
        parts.append(_text(at.left + at.wide / 2, at.floor + 42, x.title, "middle", 13, ink))
    if y.title:
        middle = _TOP + (at.floor - _TOP) / 2
        parts.append(_text(14, middle, y.title, "middle", 13, ink, f' transform="rotate(-90 14 {middle:.1f})"'))
    return parts


def _polygon(item: Polygon, at: _Frame, palette: Palette) -> str:
    return (
        f'<path d="{_path([at(p) for p in item.points])}Z" fill="{palette[item.fill]}" '
        f'stroke="{palette[item.colour]}" stroke-width="{item.width:g}" opacity="{item.opacity:g}"/>'
    )


def _line(item: Line, at: _Frame, palette: Palette) -> str:
    dash = ' stroke-dasharray="7 5"' if item.dash else ""
    return (
        f'<path d="{_path([at(p) for p in item.points])}" fill="none" stroke="{palette[item.colour]}" '
        f'stroke-width="{item.width:g}"{dash}/>'
    )


def _arrow(item: Arrow, at: _Frame, palette: Palette) -> str:
    (x0, y0), (x1, y1) = at(item.tail), at(item.head)
    length = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5 or 1.0
    ux, uy = (x1 - x0) / length, (y1 - y0) / length
    back = x1 - ux * _HEAD, y1 - uy * _HEAD
    side = _HEAD / 2
    tip = [(x1, y1), (back[0] - uy * side, back[1] + ux * side), (back[0] + uy * side, back[1] - ux * side)]
    colour = palette[item.colour]
    return (
        f'<path d="{_path([(x0, y0), back])}" stroke="{colour}" stroke-width="{item.width:g}"/>'
        f'<path d="{_path(tip)}Z" fill="{colour}"/>'
    )


def _mark(item: Mark, at: _Frame, palette: Palette) -> str:
    x, y = at(item.at)
    r, colour = item.size / 2, palette[item.colour]
    if item.shape == "circle":
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{r:g}" fill="{colour}"/>'
    if item.shape == "ring":
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{r:g}" fill="none" stroke="{colour}" stroke-width="3"/>'
    corners = {
        "square": [(-r, -r), (r, -r), (r, r), (-r, r)],
        "diamond": [(0, -r * 1.3), (r * 1.3, 0), (0, r * 1.3), (-r * 1.3, 0)],
        "triangle": [(0, -r), (r, r), (-r, r)],
    }[item.shape]
    return f'<path d="{_path([(x + dx, y + dy) for dx, dy in corners])}Z" fill="{colour}"/>'


def _label(item: Label, at: _Frame, palette: Palette) -> str:
    x, y = at(item.at)
    lines = item.text.split("\n")
    step = item.size * 1.25
    top = y - item.shift[1] + item.size * 0.35 - step * (len(lines) - 1) / 2
    extra = ' font-weight="700"' if item.bold else ""
    if item.backed:
        extra += f' paint-order="stroke" stroke="{palette["paper"]}" stroke-width="4"'
    colour = palette[item.colour]
    return "".join(
        _text(x + item.shift[0], top + i * step, line, item.anchor, item.size, colour, extra)
        for i, line in enumerate(lines)
    )
