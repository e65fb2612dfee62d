"""Parts that several pages show: tables with a download, figures with their finding, sources, faults, cautions."""

from __future__ import annotations

import re
from collections.abc import Sequence
from html import escape

import streamlit as st

from ergo.assessment import CAUTIONS, LimitCheck
from ergo.errors import Fault
from ergo.evidence import Range
from ergo.limits.policy import Verdict
from ergo.limits.registry import LIMITS
from ergo.plan.export import to_csv
from ergo.show.figures.drawing import DARK, LIGHT, Drawing, Palette
from ergo.show.figures.render_plotly import plotly_figure
from ergo.show.markdown import plain
from ergo.show.rows import Rows, citation
from ergo.show.text import MARKS, limit_amount
from ergo.units import Units

__all__ = ["cautions", "faults", "figure", "headline", "is_dark", "note", "plain", "style", "table", "where"]


def is_dark() -> bool:
    """Return whether the reader's page is dark."""
    return st.context.theme.type == "dark"


def palette() -> Palette:
    """Return the colours for the reader's page."""
    return DARK if is_dark() else LIGHT


def style() -> None:
    """Own style of tables and of the answer."""
    p = palette()
    st.html(
        "<style>"
        "[data-testid=stMainBlockContainer]{padding-top:3.2rem;padding-bottom:3rem;max-width:82rem}"
        f"button[kind^=primary] p{{color:{p['paper']}}}"
        f"[data-testid=stCaptionContainer]{{opacity:1;color:{p['quiet']}}}"
        f"[data-testid=stCaptionContainer] p{{color:{p['quiet']}}}"
        f".ergo-note{{color:{p['quiet']};font-size:.9rem;margin:0}}"
        f".ergo-answer{{border-left:.5rem solid var(--mark);padding:.4rem 0 .4rem 1rem;color:{p['ink']}}}"
        f".ergo-wait{{color:{p['quiet']};font-size:1.1rem;min-height:6.5rem;margin:0}}"
        ".ergo-answer .what{font-size:1.9rem;line-height:1.2;font-weight:700;margin:0}"
        ".ergo-answer .why{font-size:1.1rem;margin:.4rem 0 0}"
        ".ergo-answer .mark{color:var(--mark)}"
        f".ergo-scroll{{overflow-x:auto;color:{p['ink']}}}"
        ".ergo-scroll table{border-collapse:collapse;width:100%;font-size:.9rem}"
        f".ergo-scroll th{{text-align:left;border-bottom:2px solid {p['quiet']};padding:.35rem .6rem;"
        "vertical-align:bottom;font-weight:600}"
        f".ergo-scroll td{{border-bottom:1px solid {p['faint']};padding:.35rem .5rem;vertical-align:top;"
        "min-width:3.6rem}"
        ".ergo-scroll td.short{white-space:nowrap}"
        ".ergo-scroll td.long{min-width:8.5rem}"
        ".ergo-scroll td.longer{min-width:20rem}"
        ".ergo-scroll td.long:first-child{min-width:9rem}"
        f".ergo-within{{color:{p['within']};font-weight:600;white-space:nowrap}}"
        f".ergo-close{{color:{p['close']};font-weight:600;white-space:nowrap}}"
        f".ergo-over{{color:{p['over']};font-weight:600;white-space:nowrap}}"
        f".ergo-na{{color:{p['not applicable']}}}"
        "</style>"
    )


_CLASS = {"●": "within", "◆": "close", "■": "over", "○": "na"}


# Letters up to which a column of figures stays on one line, and from which phrases and whole sentences need room.
_SHORT, _LONG, _LONGER = 10, 24, 90


def _width(cells: Sequence[str]) -> str:
    """The class of a column by the most letters that a cell of it holds."""
    most = max(map(len, cells), default=0)
    if most <= _SHORT and all(re.match(r"[−-]?\d", cell) or len(cell) < 2 for cell in cells):
        return "short"
    return "longer" if most > _LONGER else "long" if most > _LONG else ""


def note(text: str) -> None:
    """Show a remark in small print that still has enough contrast."""
    st.html(f'<p class="ergo-note">{escape(text)}</p>')


def _cell(text: str, width: str) -> str:
    kind = f"ergo-{_CLASS[text[0]]}" if text[:1] in _CLASS else width
    return f'<td class="{kind}">{escape(text)}</td>' if kind else f"<td>{escape(text)}</td>"


def table(rows: Rows, key: str, *, download: bool = True) -> None:
    """Show a table, with its CSV file."""
    head = "".join(f'<th scope="col">{escape(h)}</th>' for h in rows.head)
    widths = [_width([row[i] for row in rows.rows]) for i in range(len(rows.head))]
    body = "".join(
        f"<tr>{''.join(_cell(c, wide) for c, wide in zip(row, widths, strict=True))}</tr>" for row in rows.rows
    )
    st.html(
        f'<div class="ergo-scroll" role="region" tabindex="0" aria-label="{escape(rows.title)}">'
        f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>"
    )
    if download:
        st.download_button(
            f"{plain(rows.title)} (CSV)",
            to_csv(rows.head, rows.rows),
            file_name=f"{re.sub('[^a-z0-9]+', '-', rows.title.lower()).strip('-')}.csv",
            mime="text/csv",
            key=f"csv.{key}",
            on_click="ignore",
            type="tertiary",
            icon=":material/download:",
        )


def figure(drawing: Drawing, key: str | None = None) -> None:
    """Show a figure; who cannot see it hears its finding."""
    st.plotly_chart(
        plotly_figure(drawing, is_dark()),
        key=key,
        alt=drawing.alt,
        width="stretch",
        theme=None,
        config={"displayModeBar": False, "scrollZoom": False},
    )


def headline(verdict: Verdict, what: str, why: str) -> None:
    """Show the answer: mark, sentence, reason."""
    colour = palette()[verdict]
    st.html(
        f'<div class="ergo-answer" role="status" style="--mark:{colour}">'
        f'<p class="what"><span class="mark" aria-hidden="true">{MARKS[verdict]}</span> {escape(what)}</p>'
        f'<p class="why">{escape(why)}</p></div>'
    )


def faults(found: Sequence[Fault]) -> None:
    """Show what is wrong with an input: every fault with field, value, allowed range and unit."""
    if found:
        lines = "\n".join(f"- {plain(str(fault))}" for fault in found)
        st.error(f"This cannot be used:\n\n{lines}", icon=":material/error:")


def cautions() -> None:
    """Show the cautions where a decision is made."""
    st.warning("**Before you rely on this**\n\n" + "\n".join(f"- {c}" for c in CAUTIONS), icon=":material/warning:")


def where(key: str, checks: Sequence[LimitCheck], ranges: Sequence[Range], units: Units, note: str = "") -> None:
    """Open where numbers come from: source, how it is known, and range."""
    known = {limit.key: limit for limit in LIMITS}
    with st.popover("Where does this come from?", type="tertiary", icon=":material/menu_book:", key=f"where.{key}"):
        # what scrolls must hold something that the keyboard reaches
        st.html('<p class="ergo-note" role="note" tabindex="0">Each figure, its source, and how it is known.</p>')
        if note:
            st.markdown(note)
        for check in checks:
            limit = known.get(check.key)
            st.markdown(
                f"**{plain(check.label)}**: {plain(limit_amount(check.limit, check.unit, units))}  \n"
                f"Source: {plain(citation(check.source))}  \n"
                f"How it is known: {plain(check.known)}  \n"
                + (f"Range: {plain(limit.range)}. Edition: {plain(limit.edition)}" if limit else "")
            )
        for entry in ranges:
            st.markdown(
                f"**{plain(entry.key.replace('_', ' '))}**: {entry.typical:g} {plain(entry.unit)}, "
                f"range {entry.low:g} to {entry.high:g}  \n"
                f"Source: {plain(citation(entry.source)) if entry.source else 'none; chosen by us'}  \n"
                f"How it is known: {plain(entry.known)}. {plain(entry.note)}"
            )
