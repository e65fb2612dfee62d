"""A drawing as plotly takes it: transparent, so that light and dark pages both carry it."""

from __future__ import annotations

from html import escape
from typing import Any

from ergo.report.figures.drawing import DARK, LIGHT, Arrow, Axis, Drawing, Label, Line, Mark, Palette, Polygon

__all__ = ["plotly_spec"]

_SYMBOL = {
    "circle": "circle",
    "diamond": "diamond",
    "square": "square",
    "ring": "circle-open",
    "triangle": "triangle-up",
}
_XANCHOR = {"start": "left", "middle": "center", "end": "right"}
_CLEAR = "rgba(0,0,0,0)"


def plotly_spec(drawing: Drawing, dark: bool = False) -> dict[str, Any]:
    """Return the drawing as data and layout of a plotly figure."""
    palette = DARK if dark else LIGHT
    # An unseen trace keeps the axes of a drawing that has shapes and labels only.
    traces: list[dict[str, Any]] = [{"type": "scatter", "x": [drawing.x.low], "y": [drawing.y.low], "opacity": 0.0}]
    traces[0] |= {"mode": "markers", "hoverinfo": "skip"}
    notes: list[dict[str, Any]] = []
    shapes: list[dict[str, Any]] = []
    for item in drawing.items:
        match item:
            case Label():
                notes.append(_note(item, palette))
            case Arrow():
                notes.append(_arrow(item, palette))
                if item.hover:
                    traces.append(_hover_line(item))
            case Line() | Polygon():
                shapes.append(_shape(item, palette))
                if item.hover:
                    traces.append(_hover_area(item))
            case Mark():
                traces.append(_mark(item, palette))
    layout = {
        "template": {},  # none of plotly's own look
        "annotations": notes,
        "shapes": shapes,
        "height": drawing.height,
        "margin": {"l": 8, "r": 8, "t": 10, "b": 8},
        "paper_bgcolor": _CLEAR,
        "plot_bgcolor": _CLEAR,
        "showlegend": False,
        "hovermode": "closest",
        "dragmode": False,
        "font": {"size": 14, "color": palette["ink"]},
        "xaxis": _axis(drawing.x, palette) | ({"constrain": "domain"} if drawing.to_scale else {}),
        "yaxis": _axis(drawing.y, palette) | ({"scaleanchor": "x", "scaleratio": 1} if drawing.to_scale else {}),
    }
    return {"data": traces, "layout": layout}


def _axis(axis: Axis, palette: Palette) -> dict[str, Any]:
    shown = bool(axis.ticks)
    return {
        "range": [axis.low, axis.high],
        "title": {"text": escape(axis.title), "font": {"size": 14, "color": palette["ink"]}, "standoff": 8},
        "tickvals": [v for v, _ in axis.ticks],
        "ticktext": [escape(t).replace("\n", "<br>") for _, t in axis.ticks],
        "tickfont": {"size": 14, "color": palette["ink"]},
        "showticklabels": shown,
        "showgrid": axis.grid,
        "gridcolor": palette["faint"],
        "zeroline": False,
        "fixedrange": True,
        "automargin": True,
        "showline": False,
        "ticks": "",
    }


def _note(item: Label, palette: Palette) -> dict[str, Any]:
    text = escape(item.text).replace("\n", "<br>")
    return {
        "x": item.at[0],
        "y": item.at[1],
        "text": f"<b>{text}</b>" if item.bold else text,
        "showarrow": False,
        "xanchor": _XANCHOR[item.anchor],
        "yanchor": "middle",
        "xshift": item.shift[0],
        "yshift": item.shift[1],
        "align": {"start": "left", "middle": "center", "end": "right"}[item.anchor],
        "bgcolor": palette["paper"] if item.backed else _CLEAR,
        "font": {"size": item.size, "color": palette[item.colour]},
    }


def _arrow(item: Arrow, palette: Palette) -> dict[str, Any]:
    return {
        "x": item.head[0],
        "y": item.head[1],
        "ax": item.tail[0],
        "ay": item.tail[1],
        "axref": "x",
        "ayref": "y",
        "text": "",
        "showarrow": True,
        "arrowhead": 2,
        "arrowsize": 1.0,
        "arrowwidth": item.width,
        "arrowcolor": palette[item.colour],
    }


def _hover_line(item: Arrow) -> dict[str, Any]:
    return {
        "type": "scatter",
        "x": [item.tail[0], item.head[0]],
        "y": [item.tail[1], item.head[1]],
        "mode": "lines",
        "line": {"width": 12, "color": _CLEAR},
        **_hover(item.hover, 2),
    }


def _hover_area(item: Line | Polygon) -> dict[str, Any]:
    trace = {
        "type": "scatter",
        "x": [p[0] for p in item.points],
        "y": [p[1] for p in item.points],
        "mode": "lines",
        "line": {"width": 12, "color": _CLEAR},
    }
    if isinstance(item, Line):
        return trace | _hover(item.hover, len(item.points))
    text = escape(item.hover).replace("\n", "<br>")
    return trace | {"fill": "toself", "fillcolor": _CLEAR, "hoveron": "fills", "hoverinfo": "text", "text": text}


def _hover(text: str, points: int) -> dict[str, Any]:
    if not text:
        return {"hoverinfo": "skip"}
    # The words stand beside the template, not in it: a template puts figures in place of %{y} and the like.
    said = escape(text).replace("\n", "<br>")
    # A template finds words by their point, never one word for all of them.
    return {"text": [said] * points, "hovertemplate": "%{text}<extra></extra>"}


def _shape(item: Line | Polygon, palette: Palette) -> dict[str, Any]:
    path = "M" + "L".join(f"{x:.5g},{y:.5g}" for x, y in item.points)
    line = {"color": palette[item.colour], "width": item.width}
    if isinstance(item, Line):
        dash = "dash" if item.dash else "solid"
        return {"type": "path", "path": path, "layer": "between", "line": line | {"dash": dash}}
    filled = {"fillcolor": palette[item.fill], "opacity": item.opacity}
    return {"type": "path", "path": path + "Z", "layer": "between", "line": line, **filled}


def _mark(item: Mark, palette: Palette) -> dict[str, Any]:
    colour = palette[item.colour]
    return {
        "type": "scatter",
        "x": [item.at[0]],
        "y": [item.at[1]],
        "mode": "markers",
        "cliponaxis": False,
        "marker": {
            "symbol": _SYMBOL[item.shape],
            "color": colour,
            "size": item.size,
            "line": {"width": 3 if item.shape == "ring" else 0, "color": colour},
        },
        **_hover(item.hover, 1),
    }
