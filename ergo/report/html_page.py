"""Blocks as one HTML file for paper, A4 or Letter, that asks for nothing from outside."""

from __future__ import annotations

import re
from collections.abc import Iterable
from html import escape

from ergo.inputs.case_in_html import case_as_html
from ergo.report.blocks import Block, Bullets, Document, Figure, Group, Heading, Paragraph, Table, Title, Verdict
from ergo.report.figures.drawing import LIGHT
from ergo.report.figures.render_svg import svg
from ergo.report.marks_and_amounts import MARKS

__all__ = ["html_page"]

# One sheet of the answer fits A4 (297 mm high) and Letter (279 mm high) with these margins.
_STYLE = f"""
@page {{ margin: 11mm 12mm }}
* {{ box-sizing: border-box }}
body {{ font: 10.5pt/1.35 system-ui, "Segoe UI", "DejaVu Sans", sans-serif; color: {LIGHT["ink"]}; margin: 0 auto;
  max-width: 186mm; padding: 6mm 0; background: #fff }}
.sheet {{ break-after: page; margin-bottom: 12mm }}
.sheet:last-child {{ break-after: auto }}
h1 {{ font-size: 19pt; line-height: 1.15; margin: 2mm 0 }}
h2 {{ font-size: 12pt; margin: 4mm 0 1mm; break-after: avoid }}
h3 {{ font-size: 10.5pt; margin: 2mm 0 1mm; break-after: avoid }}
.case {{ font-weight: 600; margin: 0 }} .quiet {{ margin: 0; color: {LIGHT["quiet"]} }} h1 + p {{ margin: 0 }}
.figure svg {{ width: 100%; height: auto; max-height: 105mm }}
.two {{ display: grid; grid-template-columns: 1fr 1fr; gap: 6mm }} .two h2:first-child {{ margin-top: 0 }}
table {{ border-collapse: collapse; width: 100%; font-size: 8.5pt; margin: 1mm 0 3mm }}
th, td {{ text-align: left; vertical-align: top; border-bottom: 0.3mm solid {LIGHT["faint"]}; padding: .7mm 1.4mm }}
tr {{ break-inside: avoid }} ul {{ margin: 0; padding-left: 4.5mm }} .blank {{ height: 9mm; width: 32% }}
.v-within {{ color: {LIGHT["within"]} }} .v-close {{ color: {LIGHT["close"]} }} .v-over {{ color: {LIGHT["over"]} }}
.dense {{ font-size: 9pt; line-height: 1.25 }} .dense table {{ font-size: 7.6pt; margin: .5mm 0 1mm }}
.dense h1 {{ font-size: 15pt }} .dense h2 {{ font-size: 10pt; margin: 2mm 0 .5mm }}
.dense th, .dense td {{ padding: .4mm 1.2mm }} .dense p {{ margin: 0 }}
.page {{ font-size: 9.5pt; line-height: 1.22 }} .page p {{ margin: .8mm 0 }}
.page table {{ font-size: 9pt; margin: .5mm 0 1mm }}
.page h1 {{ font-size: 13pt; margin: 1mm 0; font-weight: 600 }} .page h1 b {{ font-size: 21pt }}
.page h2 {{ font-size: 10.5pt; margin: 2mm 0 .5mm }} .page th, .page td {{ padding: .4mm 1.2mm }}
.page .two {{ gap: 4mm; margin-top: 1mm }}
.page .two:has(.figure) {{ grid-template-columns: 120mm 1fr }} .page .figure svg {{ max-height: none }}
.page .quiet {{ font-size: 9pt }} .page .blank {{ height: 7.5mm; width: 25% }}
@media print {{ body {{ padding: 0; max-width: none }} .sheet {{ margin-bottom: 0 }} }}
"""


_PAPER = {
    "": "",
    "A5": "@page { size: A5; margin: 6mm 7mm } body { font-size: 9pt; line-height: 1.12; max-width: 134mm } "
    "h1 { font-size: 12pt; margin: 1mm 0 } h2 { font-size: 9.5pt; margin: 1.2mm 0 .4mm } p { margin: .6mm 0 } "
    "table { font-size: 8pt; margin: .5mm 0 1mm } th, td { padding: .25mm 1mm } .figure svg { max-height: none } "
    ".two { grid-template-columns: 55mm 1fr; gap: 3mm } .quiet { font-size: 8pt }",
}


def html_page(document: Document) -> str:
    """Return a document as a whole HTML file; every text is escaped.

    >>> html_page(Document("a < b", (Paragraph("1 < 2"),))).partition("<main>")[2]
    '<p>1 &lt; 2</p></main></body></html>'
    """
    inside = case_as_html(document.case) if document.case else ""
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">"
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(document.name)}</title><style>{_STYLE}{_PAPER[document.paper]}</style></head>"
        f"<body><main>{_all(document.blocks)}</main>{inside}</body></html>"
    )


def _all(blocks: Iterable[Block]) -> str:
    return "".join(map(_html, blocks))


def _html(block: Block) -> str:
    match block:
        case Title(text, question, origin):
            quiet = (f'<p class="quiet">{escape(said)}</p>' for said in (question, origin) if said)
            return f'<p class="case">{escape(text)}</p>{"".join(quiet)}'
        case Heading(text, level):
            return f"<h{level}>{escape(text)}</h{level}>"
        case Verdict(verdict, text, level):
            kind = verdict.replace(" ", "-")
            number = _PEOPLE.match(text) if level == 1 else None
            first = number.group() if number else ""
            large = f"<b>{escape(first)}</b>" if first else ""
            return f'<h{level} class="v-{kind}">{MARKS[verdict]} {large}{escape(text[len(first) :])}</h{level}>'
        case Paragraph(text, label, quiet):
            start = '<p class="quiet">' if quiet else "<p>"
            return f"{start}{f'<b>{escape(label)}.</b> ' if label else ''}{escape(text)}</p>"
        case Bullets(items):
            return f"<ul>{''.join(f'<li>{escape(item)}</li>' for item in items)}</ul>"
        case Table():
            return _table(block.plain)
        case Figure(drawing, width):
            return f'<div class="figure">{svg(drawing, width)}</div>'
        case Group(layout, blocks):
            return f"{_OPENING[layout]}{_all(blocks)}</{'section' if layout in _SECTIONS else 'div'}>"


_OPENING = {
    "sheet": '<section class="sheet">',
    "page": '<section class="sheet page">',
    "dense sheet": '<section class="sheet dense">',
    "columns": '<div class="two">',
    "column": "<div>",
    "indented": "<div>",
}


_SECTIONS = ("sheet", "page", "dense sheet")
_PEOPLE = re.compile(r"(?:\d+ to )?\d+ (?:people|person)\b")  # of an answer stands large


def _table(table: Table) -> str:
    if not table.rows:
        return "<p>None.</p>"
    head = "".join(f'<th scope="col">{escape(name)}</th>' for name in table.head)
    fill = '<td class="blank"></td>' if table.look == "to fill" else "<td></td>"
    body = "".join(
        f"<tr>{''.join(f'<td>{escape(cell)}</td>' if cell else fill for cell in row)}</tr>" for row in table.rows
    )
    over = "" if table.look == "facts" else f"<thead><tr>{head}</tr></thead>"
    return f"<table>{over}<tbody>{body}</tbody></table>"
