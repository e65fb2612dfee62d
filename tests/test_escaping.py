"""Names and notes out of a file stay text in HTML, Markdown, SVG, plotly and CSV: they add no tag, start nothing."""

from __future__ import annotations

import csv
import io
import re
import xml.etree.ElementTree as ET
from functools import cache
from html import escape, unescape
from html.parser import HTMLParser
from pathlib import Path

import pytest
from markdown_it import MarkdownIt

from ergo import Fault, InputError, smallest_team
from ergo.assessment import demand_of
from ergo.inputs.purchase import load_purchase
from ergo.inputs.scenario import parse_scenario, read_scenario
from ergo.purchases.cost_model import compare_purchase
from ergo.report.blocks import Document, Table
from ergo.report.csv_export import safe_cell, to_csv
from ergo.report.documents.case import case_report, class_sheet
from ergo.report.documents.purchase import purchase_document
from ergo.report.figures.aid_bars import aid_bars
from ergo.report.figures.bed_plan import bed_plan
from ergo.report.figures.people_curve import people_curve
from ergo.report.figures.render_plotly import plotly_spec
from ergo.report.figures.render_svg import svg
from ergo.report.html_page import html_page
from ergo.report.markdown import markdown_page, plain
from ergo.report.tables.case import aid_rows, case_rows, move_rows
from ergo.teams.smallest_team import TeamAnswer

ROOT = Path(__file__).parents[1] / "scenarios"
NASTY = (
    "<script>alert(1)</script>",
    "\"'><img src=x onerror=alert(1)>",
    "\\<img src=x onerror=alert(1) alt=y>",
    "</title></svg></td></style><b>",
    "[x](javascript:alert(1)) ![y](http://192.0.2.1/)",
    "<http://192.0.2.1/> &lt;b&gt; &#60;b&#62;",
    "https://192.0.2.1/ www.x.example $x$ `code`",
    "# big | column | *bold* _it_ ~~no~~",
    "=cmd|'/c calc'!A1",
    "--- \n# big\n\n| a | b |",
    "{{7*7}} ${7*7} %s {0}",
    "%{y} %{x:.2f} %{text}",
)
each = pytest.mark.parametrize("said", NASTY)
ITALICS = {("em", ()), ("/em", ())}


def renamed(said: str, short: str = "") -> TeamAnswer:
    """An answer with these words wherever a scenario's file holds words; the short ones where little room is."""
    short = short or said
    own = {"name": short, "measured": said, "interfaces": []}
    own["interfaces"] = [{"upper": short, "lower": short, "mu_low": 0.2, "mu": 0.3, "mu_high": 0.4}]
    patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    moves = [{"kind": "boost", "name": said}, {"kind": "side-lying turn", "name": said + " 2"}]
    case = {"name": said, "question": said, "procedure": "own sequence", "patient": patient, "moves": moves}
    return smallest_team(parse_scenario(case | {"aid": short, "own_aids": [own]}))


nasty = cache(renamed)


class Tags(HTMLParser):
    """The tags and attributes of an HTML text, in order."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, tuple[str, ...]]] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.found.append((tag, tuple(name for name, _ in attrs)))

    def handle_endtag(self, tag):
        self.found.append(("/" + tag, ()))


def tags(text: str) -> set[tuple[str, tuple[str, ...]]]:
    return set(Tags(text).found)


@each
def test_a_name_adds_no_tag_and_no_attribute_to_the_report_or_the_class_sheet(said):
    for made in (case_report, class_sheet):
        page = html_page(made(nasty(said)))
        assert tags(page) <= tags(html_page(made(nasty("plain words"))))
        assert not re.search(
            r"<script(?! type=\"application/toml\" id=\"case\">)|<img|javascript:\"|onerror=(?!alert)", page
        )


@each
def test_a_name_stays_text_in_a_drawing_that_is_well_formed(said):
    answer = nasty(said)
    demand = demand_of(answer.scenario)
    team = (answer.assessment.left, answer.assessment.right)
    drawings = [people_curve(answer.curve, answer), aid_bars(answer.aids, answer.scenario.aid)]
    drawings += [bed_plan(demand, move, team) for move in answer.assessment.moves]
    for drawing in drawings:
        root = ET.fromstring(svg(drawing))
        found = {element.tag.split("}")[-1] for element in root.iter()}
        assert found <= {"svg", "title", "path", "text", "circle"}
        assert not any(name.startswith("on") or name.endswith("href") for e in root.iter() for name in e.attrib)
        for text in strings(plotly_spec(drawing)):
            assert not re.search(r"<(?!/?b>|br>|/?extra>)", text), text


@each
def test_a_name_is_never_a_template_of_plotly(said):
    answer = nasty(said)
    demand, team = demand_of(answer.scenario), (answer.assessment.left, answer.assessment.right)
    found = 0
    for move in answer.assessment.moves:
        drawing = bed_plan(demand, move, team)
        texts = {escape(item.hover).replace("\n", "<br>") for item in drawing.items if getattr(item, "hover", "")}
        for trace in plotly_spec(drawing)["data"]:
            assert trace.get("hovertemplate", "%{text}<extra></extra>") == "%{text}<extra></extra>"
            assert "texttemplate" not in trace
            if trace.get("hoverinfo") != "skip":
                points = [trace["text"]] if isinstance(trace["text"], str) else trace["text"]
                assert set(points) <= texts
                # a template finds words only where each point has its own
                assert "hovertemplate" not in trace or len(trace["text"]) == len(trace["x"])
                found += escape(said).replace("\n", "<br>") in points
    assert found


def strings(value):
    """Every text in nested lists and dictionaries."""
    if isinstance(value, str):
        yield value
    for part in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        yield from strings(part)


def rendered(text: str) -> str:
    """Markdown as a page that allows everything would show it."""
    return MarkdownIt("commonmark", {"html": True}).enable(["table", "strikethrough"]).render(text)


@each
def test_a_name_is_shown_as_it_is_by_a_renderer_that_allows_html(said):
    html = rendered(plain(said))
    assert {tag for tag, _ in Tags(html).found} <= {"p", "/p", "em", "/em"}  # one letter of an address is in italics
    assert unescape(re.sub(r"</?(?:p|em)>", "", html)).strip() == " ".join(said.split())


@pytest.mark.parametrize(
    "said", ["- one", "+ one", "1. one", "12) one", "===", "---", "* one", "> one", "    code", "\\"]
)
def test_a_name_starts_no_list_no_heading_and_no_rule(said):
    html = rendered(f"before\n\n{plain(said)}\n\nbefore\n{plain(said)}")
    assert {tag for tag, _ in Tags(html).found} == {"p", "/p"}


@each
def test_a_name_adds_nothing_to_the_report_as_markdown(said):
    ours = tags(rendered(markdown_page(case_report(nasty(said)))))
    assert ours - ITALICS <= tags(rendered(markdown_page(case_report(nasty("plain words")))))
    assert "a" not in {tag for tag, _ in ours}


@each
def test_a_name_adds_no_column_to_a_table_of_a_plan(said):
    table = rendered(markdown_page(Document("x", (Table("x", (said, "b"), ((said, "1"), ("x", said))),))))
    assert table.count("<th>") == 2
    assert table.count("<td>") == 4
    assert {tag for tag, _ in tags(table) - ITALICS} <= {
        f"{end}{t}" for t in ("table", "thead", "tbody", "tr", "th", "td") for end in ("", "/")
    }


@each
def test_a_purchase_keeps_its_words_in_their_places(said):
    purchase = load_purchase(ROOT / "purchases" / "turning_pad.toml")
    words = {"name": said, "question": said, "use": said, "patient_safety": said, "staff_safety": said}
    words |= {"wage_basis": said, "trial_plan": (said,), "currency": said[:5]}
    options = tuple(o.model_copy(update={"name": f"{said} {i}"}) for i, o in enumerate(purchase.options))
    case = compare_purchase(purchase.model_copy(update=words | {"options": options}))
    ours, usual = (tags(rendered(markdown_page(purchase_document(c)))) for c in (case, compare_purchase(purchase)))
    assert ours - ITALICS <= usual


# What readers of Markdown that link bare addresses look for, in a run of text, after everything else has been read.
LINKED = (
    re.compile(r"(https?://|www(?=\.))[-.\w]+[^ \t\r\n]*", re.IGNORECASE),
    re.compile(r"(?<![-.\w+/])[-.\w+]+@[-\w]+(\.[-\w]+)+"),
)
ADDRESSES = (
    "http://192.0.2.1/",
    "see https://a.example/x?y=1, or HTTP://B.EXAMPLE",
    "www.a.example and WWW.b.example",
    "mail x@y.example",
    "first.last+tag@some-host.y.example; a_b@c_d.example",
    "mailto:x@y.example",
    "ftp://a.example",
    "<https://a.example>",
    "https://www.x@y.example",
)


def links(text: str) -> list[str]:
    """What a reader of Markdown makes a link of: runs of text after escapes and entities are undone."""
    found = []
    for block in MarkdownIt("commonmark").enable(["table", "strikethrough"]).parse(text):
        run = ""
        for token in [*(block.children or []), None]:
            if token is not None and token.type in ("text", "text_special"):
                run += token.content
                continue
            found += [m[0] for pattern in LINKED for m in pattern.finditer(run)]
            run = ""
            if token is not None and token.type == "link_open":
                found.append(str(token.attrs["href"]))
    return found


@pytest.mark.parametrize("said", ADDRESSES)
def test_an_address_in_a_name_is_shown_and_never_a_link(said):
    assert links(said.replace("mailto:", "").replace("ftp:", "http:"))  # it would be one as it stands
    shown = plain(said)
    for text in (shown, f"**{shown}**", f"- {shown}", f"| a |\n|---|\n| {shown} |"):
        assert links(text) == []
        assert " ".join(said.split()) in unescape(re.sub(r"<[^>]*>", "", rendered(text)))


@pytest.mark.parametrize("said", ADDRESSES)
def test_an_address_is_no_link_in_a_report_and_in_what_a_page_says_is_wrong(said):
    assert (
        links(markdown_page(case_report(nasty(said)))) == links(markdown_page(case_report(nasty("plain words")))) == []
    )
    fault = Fault("policy.minutes", said, "a number")
    assert links(f"- {plain(str(fault))}") == []


FORMULAS = (
    "=1+1",
    "+1+1",
    "-1+1",
    "@SUM(A1)",
    "\t=1",
    "\r=1",
    "\n=1",
    " =1",
    "\u00a0=1",
    "\ufeff=1",
    "\u200b=1",
    "\uff1d1+1",
)


@pytest.mark.parametrize("said", [*FORMULAS, *NASTY])
def test_no_cell_of_a_csv_starts_a_formula_and_every_cell_reads_back(said):
    rows = list(csv.reader(io.StringIO(to_csv([said, "b"], [[said, -1.5], ["x", said]]), newline="")))
    assert [len(row) for row in rows] == [2, 2, 2]
    for text in (rows[0][0], rows[1][0], rows[2][1]):
        assert text.removeprefix("'") == said
        assert re.sub(r"^[\s\ufeff\u200b]+", "", text)[:1] not in ("=", "+", "-", "@", "\uff1d")
    assert rows[1][1] == "-1.5"  # a number stays one
    assert safe_cell("-1.5") == "-1.5"


def cells(text: str, border: str) -> list[str]:
    """The cells of a CSV file for a reader who takes another sign for the border, whatever stands in quotes."""
    return [cell.strip(' "') for line in text.splitlines() for cell in re.split(border, line)]


@pytest.mark.parametrize(
    "said", ["bed;=1+1", "bed; =1+1", "a;@x;+y", "x;\t-1+1", "x\n=1+1", 'x";"=1+1', ";=1", "=1;=2"]
)
@pytest.mark.parametrize("border", [",", ";", "\t"])
def test_no_reader_of_a_csv_finds_a_formula_behind_a_border(said, border):
    text = to_csv(["name", said], [[said, -1.5], ["x", said]])
    for cell in cells(text, border):
        assert cell == "-1.5" or not cell.startswith(("=", "+", "-", "@")), cell


def test_every_text_of_a_csv_stands_in_quotes():
    assert to_csv(["a", "b"], [["x", 1.5], ["2", None]]) == '"a","b"\r\n"x",1.5\r\n"2",""\r\n'


@pytest.mark.parametrize("said", ["=cmd|'/c calc'!A1", "@x", "+x", "-x"])
def test_the_tables_of_the_page_are_safe_as_csv(said):
    answer = nasty(said)
    for rows in (case_rows(answer), move_rows(answer.assessment), aid_rows(answer)):
        for row in csv.reader(io.StringIO(to_csv(rows.head, rows.rows))):
            assert not any(text.startswith(("=", "@", "+x", "-x")) for text in row)


@pytest.mark.parametrize("code", ["\\u001b]0;title\\u0007", "\\u0000", "\\u009b31m", "\\u202egnp.exe", "\\u0008"])
@pytest.mark.parametrize("field", ["name", "question", "own_aids.0.measured"])
def test_a_text_with_characters_that_nobody_sees_is_refused_and_not_repeated(code, field):
    texts = {"name": "x", "question": "", "own_aids.0.measured": ""} | {field: code}
    raw = (
        f'name = "{texts["name"]}"\nquestion = "{texts["question"]}"\nprocedure = "boost"\n'
        '[patient]\nsex = "F"\nmass_kg = 70.0\nstature_m = 1.6\n'
        f'[[own_aids]]\nname = "own"\nmeasured = "{texts["own_aids.0.measured"]}"\n'
        '[[own_aids.interfaces]]\nupper = "a"\nlower = "b"\nmu_low = 0.1\nmu = 0.2\nmu_high = 0.3\n'
    )
    with pytest.raises(InputError, match="text without control characters") as caught:
        read_scenario(raw.encode())
    assert [fault.field for fault in caught.value.faults] == [field]
    assert str(caught.value).replace("\n", "").isprintable()


def test_letters_of_every_language_and_line_breaks_are_allowed():
    patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    for name in ("Übung für Zürich", "病棟 五階", "قسم العناية \u200f5", "line\none\ttab", "👩‍⚕️ ward"):
        assert parse_scenario({"name": name, "procedure": "boost", "patient": patient}).name == name
