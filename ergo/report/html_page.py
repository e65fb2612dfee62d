"""HTML for paper: one style for A4 and Letter, tables, lists."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from ergo.report.figures.drawing import LIGHT
from ergo.report.tables.case import Table

__all__ = ["bullet_list", "html_table", "page"]

# One sheet of the answer fits A4 (297 mm high) and Letter (279 mm high) with these margins.
_STYLE = f"""
@page {{ margin: 12mm }}
* {{ box-sizing: border-box }}
body {{ font: 10.5pt/1.35 system-ui, "Segoe UI", "DejaVu Sans", sans-serif; color: {LIGHT["ink"]}; margin: 0 auto;
  max-width: 186mm; padding: 6mm 0; background: #fff }}
.sheet {{ break-after: page; margin-bottom: 12mm }}
.sheet:last-child {{ break-after: auto }}
h1 {{ font-size: 19pt; line-height: 1.15; margin: 2mm 0 }}
h2 {{ font-size: 12pt; margin: 4mm 0 1mm; break-after: avoid }}
h3 {{ font-size: 10.5pt; margin: 2mm 0 1mm; break-after: avoid }}
.case {{ font-weight: 600; margin: 0 }} .question {{ margin: 0; color: {LIGHT["quiet"]} }} .why {{ margin: 0 }}
.figure svg {{ width: 100%; height: auto; max-height: 105mm }}
.two {{ display: grid; grid-template-columns: 1fr 1fr; gap: 6mm }} .two h2:first-child {{ margin-top: 0 }}
table {{ border-collapse: collapse; width: 100%; font-size: 8.5pt; margin: 1mm 0 3mm }}
th, td {{ text-align: left; vertical-align: top; border-bottom: 0.3mm solid {LIGHT["faint"]}; padding: .7mm 1.4mm }}
tr {{ break-inside: avoid }} ul {{ margin: 0; padding-left: 4.5mm }} .blank {{ height: 9mm; width: 32% }}
.v-within {{ color: {LIGHT["within"]} }} .v-close {{ color: {LIGHT["close"]} }} .v-over {{ color: {LIGHT["over"]} }}
.dense {{ font-size: 9pt; line-height: 1.25 }} .dense table {{ font-size: 7.6pt; margin: .5mm 0 1mm }}
.dense h1 {{ font-size: 15pt }} .dense h2 {{ font-size: 10pt; margin: 2mm 0 .5mm }}
.dense th, .dense td {{ padding: .4mm 1.2mm }} .dense p {{ margin: 0 }}
@media print {{ body {{ padding: 0; max-width: none }} .sheet {{ margin-bottom: 0 }} }}
"""


def html_table(rows: Table, *, head: bool = True, drop: Sequence[str] = ()) -> str:
    """Return a table as HTML, with every cell escaped.

    Examples
    --------
    >>> html_table(Table("t", ("a",), (("<b>",),)), head=False)
    '<table><tbody><tr><td>&lt;b&gt;</td></tr></tbody></table>'
    """
    if not rows.rows:
        return "<p>None.</p>"
    kept = [i for i, name in enumerate(rows.head) if name not in drop]
    top = "".join(f'<th scope="col">{escape(rows.head[i])}</th>' for i in kept)
    body = "".join(f"<tr>{''.join(f'<td>{escape(row[i])}</td>' for i in kept)}</tr>" for row in rows.rows)
    return f"<table>{f'<thead><tr>{top}</tr></thead>' if head else ''}<tbody>{body}</tbody></table>"


def bullet_list(lines: Iterable[str]) -> str:
    """Return lines as a list, escaped."""
    return f"<ul>{''.join(f'<li>{escape(line)}</li>' for line in lines)}</ul>"


def page(title: str, body: str) -> str:
    """Return a whole HTML file that asks for nothing from outside."""
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">"
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title)}</title><style>{_STYLE}</style></head><body><main>{body}</main></body></html>"
    )
