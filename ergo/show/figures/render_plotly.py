"""A drawing as a plotly figure: transparent, so that light and dark pages both carry it."""

from __future__ import annotations

from html import escape
from typing import Any

import plotly.graph_objects as go

from ergo.show.figures.drawing import DARK, LIGHT, Arrow, Axis, Drawing, Label, Line, Mark, Palette, Polygon

__all__ = ["plotly_figure"]

_SYMBOL = {
    "circle": "circle",
    "diamond": "diamond",
    "square": "square",
    "ring": "circle-open",
    "triangle": "triangle-up",
}
_XANCHOR = {"start": "left", "middle": "center", "end": "right"}
_CLEAR = "rgba(0,0,0,0)"


def plotly_figure(drawing: Drawing, dark: bool = False) -> go.Figure:
    """Return the drawing as a plotly figure.

    Parameters
    ----------
    drawing : Drawing
    dark : bool
        Whether the page behind it is dark.

    Returns
    -------
    plotly.graph_objects.Figure
        All text is escaped: a name out of a file cannot become markup.
    """
    palette = DARK if dark else LIGHT
    traces: list[Any] = []
    notes: list[dict[str, Any]] = []
    for item in drawing.items:
        match item:
            case Label():
                notes.append(_note(item, palette))
            case Arrow():
                notes.append(_arrow(item, palette))
                if item.hover:
                    traces.append(_hover_line(item))
            case Line() | Polygon():
                traces.append(_path(item, palette))
            case Mark():
                traces.append(_mark(item, palette))
    figure = go.Figure(data=traces)
    figure.update_layout(
        annotations=notes,
        height=drawing.height,
        margin={"l": 8, "r": 8, "t": 10, "b": 8},
        paper_bgcolor=_CLEAR,
        plot_bgcolor=_CLEAR,
        showlegend=False,
        hovermode="closest",
        dragmode=False,
        font={"size": 14, "color": palette["ink"]},
        xaxis=_axis(drawing.x, palette),
        yaxis=_axis(drawing.y, palette),
    )
    if drawing.to_scale:
        figure.update_yaxes(scaleanchor="x", scaleratio=1)
        figure.update_xaxes(constrain="domain")
    return figure


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


def _hover_line(item: Arrow) -> go.Scatter:
    return go.Scatter(
        x=[item.tail[0], item.head[0]],
        y=[item.tail[1], item.head[1]],
        mode="lines",
        line={"width": 12, "color": _CLEAR},
        hovertemplate=escape(item.hover).replace("\n", "<br>") + "<extra></extra>",
    )


def _hover(text: str) -> dict[str, Any]:
    if not text:
        return {"hoverinfo": "skip"}
    return {"hovertemplate": escape(text).replace("\n", "<br>") + "<extra></extra>"}


def _path(item: Line | Polygon, palette: Palette) -> go.Scatter:
    closed = isinstance(item, Polygon)
    points = [*item.points, item.points[0]] if closed else list(item.points)
    dash = "dash" if isinstance(item, Line) and item.dash else "solid"
    path = go.Scatter(
        x=[p[0] for p in points],
        y=[p[1] for p in points],
        mode="lines",
        line={"color": palette[item.colour], "width": item.width, "dash": dash},
    )
    if isinstance(item, Polygon):
        hover = {"hoveron": "fills", "hoverinfo": "text", "text": escape(item.hover).replace("\n", "<br>")}
        path.update(fill="toself", fillcolor=palette[item.fill], opacity=item.opacity)
        path.update(hover if item.hover else {"hoverinfo": "skip"})
    else:
        path.update(_hover(item.hover))
    return path


def _mark(item: Mark, palette: Palette) -> go.Scatter:
    return go.Scatter(
        x=[item.at[0]],
        y=[item.at[1]],
        mode="markers",
        marker={
            "symbol": _SYMBOL[item.shape],
            "color": palette[item.colour],
            "size": item.size,
            "line": {"width": 3 if item.shape == "ring" else 0, "color": palette[item.colour]},
        },
        **_hover(item.hover),
    )
