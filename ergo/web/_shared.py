"""Parts that several pages show: tables with a download, figures with their finding, sources, faults, cautions."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from html import escape
from typing import TYPE_CHECKING

import streamlit as st

from ergo.assessment import Assessment, LimitCheck, MoveResult, cautions_of
from ergo.errors import Fault
from ergo.evidence import Range
from ergo.inputs.case_in_html import LARGEST_PAGE
from ergo.inputs.schema import LARGEST_FILE
from ergo.limits.policy import Verdict
from ergo.report.blocks import Document, Table, VerdictCell, in_plain_words
from ergo.report.csv_export import to_csv
from ergo.report.figures.drawing import DARK, LIGHT, Drawing, Palette
from ergo.report.figures.render_plotly import plotly_spec
from ergo.report.figures.render_svg import svg
from ergo.report.html_page import html_page
from ergo.report.markdown import markdown_page, plain
from ergo.report.marks_and_amounts import MARKS, limit_amount
from ergo.report.tables.case import citation
from ergo.units import Units
from ergo.web import _state

if TYPE_CHECKING:
    from streamlit.elements.lib.mutable_expander_container import ExpanderContainer

__all__ = [
    "Chart",
    "cautions",
    "choose_move",
    "faults",
    "figure",
    "file_name",
    "fold",
    "headline",
    "is_dark",
    "note",
    "open_file",
    "plain",
    "save",
    "save_document",
    "style",
    "table",
    "where",
]


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
        # beside an open side bar a small window leaves too little for columns: they go on in the next row
        "[data-testid=stMain]{container:ergo-main/inline-size}"
        "@container ergo-main (max-width:46rem){[data-testid=stHorizontalBlock]{flex-wrap:wrap}"
        "[data-testid=stHorizontalBlock]>[data-testid=stColumn]{min-width:min(15rem,100%)}"
        # a figure's words need more
        "[data-testid=stHorizontalBlock]>[data-testid=stColumn]:has([data-testid=stPlotlyChart])"
        "{min-width:min(24rem,100%)}}"
        f"button[kind^=primary] p{{color:{p['paper']}}}"
        f"[data-testid=stCaptionContainer]{{opacity:1;color:{p['quiet']}}}"
        f"[data-testid=stCaptionContainer] p{{color:{p['quiet']}}}"
        f".ergo-note{{color:{p['quiet']};font-size:.9rem;margin:0}}"
        f".ergo-answer{{border-left:.5rem solid var(--mark);padding:.4rem 0 .4rem 1rem;color:{p['ink']}}}"
        f".ergo-wait{{color:{p['quiet']};font-size:1.1rem;min-height:6.5rem;margin:0}}"
        ".ergo-answer .what{font-size:1.9rem;line-height:1.2;font-weight:700;margin:0}"
        ".ergo-answer .why{font-size:1.1rem;margin:.4rem 0 0}"
        ".ergo-answer .mark{color:var(--mark)}"
        ".ergo-answer .what.number{font-size:1.35rem}"
        ".ergo-answer .what.number b{font-size:2.6rem;line-height:1}"
        ".ergo-answer ul.ergo-reasons{display:flex;flex-wrap:wrap;gap:.3rem 1.6rem;list-style:none;"
        "margin:.6rem 0 0;padding:0!important}"
        f".ergo-answer .ergo-reasons li{{color:{p['quiet']};font-size:.95rem;margin:0}}"
        f".ergo-answer .ergo-reasons li.counts{{color:{p['ink']};font-weight:700}}"
        ".ergo-reasons b{font-size:1.15rem}"
        f".ergo-scroll{{overflow-x:auto;color:{p['ink']}}}"
        ".ergo-scroll table{border-collapse:collapse;width:100%;font-size:.9rem}"
        f".ergo-scroll th{{text-align:left;border-bottom:2px solid {p['quiet']};padding:.35rem .6rem;"
        "vertical-align:bottom;font-weight:600}"
        f".ergo-scroll td{{border-bottom:1px solid {p['faint']};padding:.35rem .5rem;vertical-align:top;"
        "min-width:3.6rem}"
        ".ergo-scroll .short{white-space:nowrap}"
        ".ergo-scroll td.long{min-width:8.5rem}"
        f".ergo-scroll td.longer{{min-width:{_ROOM['longer']}rem}}"
        ".ergo-scroll td.long:first-child{min-width:9rem}"
        f".ergo-within{{color:{p['within']};font-weight:600;white-space:nowrap}}"
        f".ergo-close{{color:{p['close']};font-weight:600;white-space:nowrap}}"
        f".ergo-over{{color:{p['over']};font-weight:600;white-space:nowrap}}"
        f".ergo-not-applicable{{color:{p['not applicable']}}}"
        "[class*=st-key-fig-]:has(.main-svg) [class*=st-key-still-]{display:none}"
        "[class*=st-key-fig-]:has([class*=st-key-still-] img):not(:has(.main-svg)) [data-testid=stSkeleton]"
        "{display:none}"
        f"{_folded()}"
        "</style>"
    )


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


def _cell(text: str, width: str, head: str) -> str:
    kind = f"ergo-{text.verdict.replace(' ', '-')}" if isinstance(text, VerdictCell) else width
    named = f' class="{kind}"' if kind else ""
    return f'<td role="cell" data-head="{escape(head)}"{named}>{escape(text)}</td>'


def _folded() -> str:
    """Style of a table that is wider than its place: each row a block, each figure with its name before it."""
    block, cell = ".ergo-scroll.folds-{0}", ".ergo-scroll.folds-{0} td"
    said = (
        f"{block} :is(table,tbody){{{{display:block}}}} {block} thead{{{{position:absolute;left:-999rem}}}}"
        f"{block} tr{{{{display:grid;grid-template-columns:repeat(auto-fill,minmax(8.5rem,1fr));gap:.1rem .8rem;"
        f"border-bottom:1px solid color-mix(in srgb,currentColor 30%,transparent);padding:.5rem 0}}}}"
        f"{cell}{{{{border:0;padding:.1rem 0;min-width:0!important;white-space:normal!important}}}}"
        f"{cell}.longer{{{{grid-column:span 2}}}}"
        f"{cell}:first-child{{{{grid-column:1/-1;font-weight:600}}}}"
        f"{cell}:not(:first-child)::before{{{{content:attr(data-head);display:block;font-size:.8em;font-weight:400;"
        f"opacity:.85}}}}"
    )
    return ".ergo-fits{container-type:inline-size}" + "".join(
        f"@container (max-width:{at}rem){{{said.format(at)}}}" for at in _FOLDS
    )


# The room that a column takes by its width [rem], and the widths of a place under which a table folds.
_ROOM = {"short": 4.2, "": 5.2, "long": 7.8, "longer": 15.0}
_FOLDS = tuple(range(18, 84, 3))


def table(rows: Table, key: str, *, download: bool = True) -> None:
    """Show a table, with its CSV file."""
    shown = rows.plain
    kinds = ["short" if len(name) <= _SHORT else "" for name in shown.head]
    head = "".join(
        f'<th scope="col" role="columnheader" class="{kind}">{escape(name)}</th>'
        for name, kind in zip(shown.head, kinds, strict=True)
    )
    widths = [_width([row[i] for row in shown.rows]) for i in range(len(shown.head))]
    body = "".join(
        f'<tr role="row">{"".join(_cell(*one) for one in zip(row, widths, shown.head, strict=True))}</tr>'
        for row in shown.rows
    )
    needs = sum(_ROOM[width] for width in widths)
    folds = next((at for at in _FOLDS if at >= needs), _FOLDS[-1])
    st.html(
        f'<div class="ergo-fits"><div class="ergo-scroll folds-{folds}" role="region" tabindex="0" '
        f'aria-label="{escape(rows.title)}"><table role="table"><thead role="rowgroup">'
        f'<tr role="row">{head}</tr></thead><tbody role="rowgroup">{body}</tbody></table></div></div>'
    )
    if download:
        save(
            f"{plain(rows.title)} (CSV)",
            to_csv(rows.head, rows.rows),
            file_name(rows.title, "csv"),
            f"csv.{key}",
            quiet=True,
        )


_FILES = {
    "csv": ("text/csv", "download"),
    "html": ("text/html", "print"),
    "md": ("text/markdown", "content_paste"),
    "toml": ("application/toml", "save"),
}


_LONGEST_NAME = 80


def file_name(title: str, ending: str) -> str:
    """Return the name of a file that is called after what it holds: letters and figures of any script, and hyphens.

    >>> file_name("Prone turn, 82.5 kg, slide sheet", "toml"), file_name("…", "md")
    ('prone-turn-82-5-kg-slide-sheet.toml', 'case.md')
    """
    words = re.findall(r"\w+", title.lower())
    return f"{'-'.join(words)[:_LONGEST_NAME].strip('-') or 'case'}.{ending}"


def save(
    label: str, content: str | Callable[[], str], file_name: str, key: str, *, wide: bool = False, quiet: bool = False
) -> None:
    """Show a button that saves a file, with the type and the icon of its ending.

    Content given as a function is made when the button is pressed; the page is not run again.
    """
    mime, icon = _FILES[file_name.rpartition(".")[2]]
    st.download_button(
        label,
        content,
        file_name=file_name,
        mime=mime,
        key=key,
        on_click="ignore",
        type="tertiary" if quiet else "secondary",
        icon=f":material/{icon}:",
        width="stretch" if wide else "content",
    )


def save_document(label: str, make: Callable[[], Document], file_name: str, key: str) -> None:
    """Show a button that saves a document, to print or to paste by the file's ending; made when it is pressed."""
    render = html_page if file_name.endswith(".html") else markdown_page
    save(label, lambda: render(make()), file_name, key, wide=True)


def open_file(label: str, key: str, on_change: Callable[[], None], *, or_report: bool = False) -> None:
    """Ask for a file that states a case, a unit or a purchase, no larger than its reader takes, in whole MB.

    A case may also be inside a report.
    """
    most = -(-(LARGEST_PAGE if or_report else LARGEST_FILE) // 1_000_000)
    st.file_uploader(
        label, type=["toml", "html"] if or_report else "toml", max_upload_size=most, key=key, on_change=on_change
    )


def choose_move(label: str, result: Assessment, key: str) -> MoveResult:
    """Return the move that the reader chooses to look at, at first the hardest."""
    names = [f"{i}. {m.move.name}" for i, m in enumerate(result.moves, 1)]
    hardest = next(i for i, move in enumerate(result.moves) if move is result.hardest_move)
    at = st.selectbox(
        label,
        range(len(names)),
        index=hardest,
        format_func=lambda i: names[i] + (" (hardest)" if i == hardest else ""),
        key=f"{key}.{len(names)}.{hardest}",
    )
    return result.moves[at]


def fold(label: str, key: str) -> ExpanderContainer:
    """Return a part that is folded away; fill it only while it is `open`: a page is as quick as what it shows."""
    return st.expander(label, key=f"fold.{key}", on_change="rerun")


def figure(drawing: Drawing, key: str | None = None) -> None:
    """Show a figure; who cannot see it hears its finding."""
    st.plotly_chart(
        plotly_spec(drawing, is_dark()),
        key=key,
        alt=drawing.alt,
        width="stretch",
        theme=None,
        config={"displayModeBar": False, "scrollZoom": False},
    )


_PAINTED_S = 1.6  # from when a browser is told of a picture until it is painted, on a slow laptop


class Chart:
    """A figure that a page opens with. What draws the live figure takes a browser a second to load, so the first one
    of a visit is a still picture, there at once, that makes way for the live one.
    """

    def __init__(self, name: str) -> None:
        with st.container(key=f"fig.{name}"):
            with st.container(key=f"still.{name}"):
                self._still = st.empty()
            self._live = st.empty()
        self._opening = not _state.opened(name)
        self._name = name
        self._drawing: Drawing | None = None

    def draw(self, drawing: Drawing) -> None:
        """Draw or redraw it."""
        self._drawing = drawing
        if self._opening:
            self._still.image(svg(drawing, 520, palette()), alt=drawing.alt, width="stretch")
        else:
            with self._live:
                figure(drawing)

    def settle(self) -> None:
        """Bring the live figure where the still one was, when everything that is read first is there and painted."""
        if self._opening and self._drawing is not None:
            _state.pause(_PAINTED_S)
            with self._live:
                figure(self._drawing)
            _state.keep_opened(self._name)


_NUMBER = re.compile(r"\d+ (people|person)")


def headline(verdict: Verdict, what: str, why: str, reasons: Table | None = None) -> None:
    """Show the answer: mark, sentence, reason; a number of people stands large, and each reason for it small beside it.

    `reasons` are rows of what asks, how many people, and whether that counts.
    """
    colour, number = palette()[verdict], _NUMBER.match(what)
    first = number.group() if number else ""
    said = f"<b>{escape(first)}</b>{escape(what[len(first) :])}" if number else escape(what)
    small = "".join(
        f"<li{' class=counts' if counts else ''}><b>{escape(people)}</b> {escape(', '.join(filter(None, said)))}</li>"
        for reason, people, counts in (reasons.rows if reasons else ())
        for said in [(reason, counts)]
    )
    under = f'<ul class="ergo-reasons" aria-label="{escape(reasons.title)}">{small}</ul>' if reasons and small else ""
    st.html(
        f'<div class="ergo-answer" role="status" style="--mark:{colour}">'
        f'<p class="what{" number" if number else ""}">'
        f'<span class="mark" aria-hidden="true">{MARKS[verdict]}</span> {said}</p>'
        f'<p class="why">{escape(why)}</p>{under}</div>'
    )


def faults(found: Sequence[Fault]) -> None:
    """Show what is wrong with an input: every fault with field, value, allowed range and unit."""
    if found:
        lines = "\n".join(f"- {plain(str(fault))}" for fault in found)
        st.error(f"This cannot be used:\n\n{lines}", icon=":material/error:")


def cautions(every: Sequence[str] = ()) -> None:
    """Show the cautions where a decision is made: those of the case unless they are named."""
    said = "\n".join(f"- {c}" for c in every or cautions_of(_state.scenario()))
    st.warning(f"**Before you rely on this**\n\n{said}", icon=":material/warning:")


def where(key: str, checks: Sequence[LimitCheck], ranges: Sequence[Range], units: Units, note: str = "") -> None:
    """Open where numbers come from: source, how it is known, and range."""
    with st.popover(
        "Where does this number come from?", type="tertiary", icon=":material/menu_book:", key=f"where.{key}"
    ):
        # what scrolls must hold something that the keyboard reaches
        st.html('<p class="ergo-note" role="note" tabindex="0">Each figure, its source, and how it is known.</p>')
        if note:
            st.markdown(note)
        for check in checks:
            st.markdown(
                f"**{plain(check.label)}**: {plain(limit_amount(check.limit, check.unit, units))}  \n"
                f"Source: {plain(citation(check.source))}  \n"
                f"How it is known: {plain(in_plain_words(check.known))}  \n"
                f"Range: {plain(check.range)}. Edition: {plain(check.edition)}"
            )
        for entry in ranges:
            st.markdown(
                f"**{plain(entry.key.replace('_', ' '))}**: {entry.typical:g} {plain(in_plain_words(entry.unit))}, "
                f"range {entry.low:g} to {entry.high:g}  \n"
                f"Source: {plain(citation(entry.source)) if entry.source else 'none; chosen by us'}  \n"
                f"How it is known: {plain(in_plain_words(entry.known))}. {plain(entry.note)}"
            )
