"""The frame around every page: its name, the list of pages, the side bar, faults."""

from __future__ import annotations

import gc
from pathlib import Path

import streamlit as st
import streamlit.components.v2 as components
from starlette.formparsers import MultiPartParser

from ergo.errors import InputError
from ergo.inputs.examples import shipped
from ergo.inputs.scenario import dump_scenario, read_scenario
from ergo.web import _shared, _state, jobs
from ergo.web._inputs import day, text

__all__ = ["run"]

_PAGES = (
    ("answer.py", "Answer", ":material/groups:"),
    ("teach.py", "Teach", ":material/school:"),
    ("body.py", "Body", ":material/accessibility_new:"),
    ("compare.py", "Compare aids", ":material/balance:"),
    ("sure.py", "How sure", ":material/percent:"),
    ("unit.py", "Unit plan", ":material/calendar_month:"),
    ("purchase.py", "Purchase", ":material/payments:"),
    ("evidence.py", "Evidence", ":material/menu_book:"),
)
_WITHOUT_CASE = ("Unit plan", "Purchase", "Evidence")
_CHOOSE = "ergo.example"
_HELD = (
    "It holds the case: title, move, patient, bed, people, policy and own aids. The unit plan, the purchase and "
    "uploaded files are not in it."
)
_FOR_OTHERS = (
    "This link opens “{name}” for whoever can reach this page at {host}. A saved file opens wherever this tool is "
    "installed."
)
_HERE_ONLY = (
    "This page serves this computer only: nobody else can open a link to it. To pass “{name}” on, save it as a file "
    "and send the file. The address below opens it again on this computer, while the page is served."
)
_UPLOAD = "ergo.upload"
_LONGEST_UPLOAD = int(st.get_option("server.maxUploadSize")) * 1024 * 1024
# An upload stays in memory: above a limit of its own the server would write it to a file first.
MultiPartParser.spool_max_size = max(MultiPartParser.spool_max_size, 2 * _LONGEST_UPLOAD)

gc.freeze()  # what is loaded by now stays, and is not looked through for garbage again


def run() -> None:
    """Show the page that the reader chose."""
    jobs.start()
    with jobs.asking():
        _run()


def _run() -> None:
    st.set_page_config(page_icon="◆", layout="wide")
    _state.begin()
    here = Path(__file__).parent
    page = st.navigation(
        [st.Page(here / file, title=title, icon=icon, default=i == 0) for i, (file, title, icon) in enumerate(_PAGES)]
    )
    _state.enter(page.url_path)
    if page.title not in _WITHOUT_CASE:  # a bookmark, and a window among others, is called after its case
        st.set_page_config(page_title=f"{_state.scenario().name} – {page.title}")
    _shared.style()
    with st.sidebar:
        _side_bar()
        _watch_theme()
    _shared.faults(_state.take_faults())
    try:
        page.run()
    except InputError as error:
        _shared.faults(error.shown)


_WATCH = """export default function ({ setTriggerValue }) {
  const theme = () => getComputedStyle(document.querySelector("[data-testid=stApp]")).colorScheme;
  let last = theme();
  const timer = setInterval(() => {
    if (theme() !== last) { last = theme(); setTriggerValue("theme", last); }
  }, 300);
  return () => clearInterval(timer);
}"""


def _watch_theme() -> None:
    """Run the page again when it turns light or dark: figures, tables and answers take their colours in a run."""
    watch = components.component("ergo_theme", js=_WATCH)
    watch(key="ergo.theme", height=1, on_theme_change=lambda: None)


def _side_bar() -> None:
    _examples()
    st.subheader("Units", anchor=False)
    mass, force, length = st.columns([4, 4, 5], gap="xsmall")
    mass.selectbox("Mass", ("kg", "lb"), key=_state.MASS)
    force.selectbox("Force", ("N", "lbf", "kgf"), key=_state.FORCE)
    length.selectbox("Length", ("cm", "ft-in"), key=_state.LENGTH)
    st.subheader("Keep and share", anchor=False)
    _title()
    case = _state.scenario()
    _shared.save(
        "Save this case (TOML)", dump_scenario(case), _shared.file_name(case.name, "toml"), "ergo.save", wide=True
    )
    _shared.open_file("Open a case (TOML) or a report (HTML)", _UPLOAD, _open, or_report=True)
    with st.popover(
        "Share link" if _state.is_reached_by_others() else "Link for this computer",
        icon=":material/link:",
        width="stretch",
    ):
        _link()


def _link() -> None:
    address = _state.link()
    if address is None:
        st.markdown("This case is too large for a link. Save it as a file and share the file.")
        return
    others = _state.is_reached_by_others()
    said, name = _FOR_OTHERS if others else _HERE_ONLY, _shared.plain(_state.scenario().name)
    st.markdown(f"{said.format(name=name, host=_shared.plain(_state.host()))} {_HELD}")
    st.code(address, language=None, wrap_lines=True)


def _title() -> None:
    """Ask for what the case is called, by whom and when: it stands on its report, in its file and in its link."""
    text("Title", "name")
    text("Question", "question")
    fold = _shared.fold("Unit, author, date, version", "names")
    if fold.open:
        with fold:
            text("Unit", "unit")
            text("Author (who made this case)", "author")
            day("Date", "date")
            text("Version", "version")
            _shared.note("Nothing here may say who the patient is.")


def _examples() -> None:
    names = {key: one.name for key, one in shipped().items()}

    def choose() -> None:
        chosen = st.session_state[_CHOOSE]
        if chosen is not None:
            _state.replace(shipped()[chosen])

    same = next((key for key, one in shipped().items() if one == _state.scenario()), None)
    if st.session_state.get(_CHOOSE) != same:
        st.session_state[_CHOOSE] = same
    st.selectbox(
        "Start from an example",
        list(names),
        format_func=lambda key: names[key],
        key=_CHOOSE,
        index=None,
        placeholder="your own case",
        on_change=choose,
    )


def _open() -> None:
    file = st.session_state[_UPLOAD]
    if file is None:
        return
    try:
        _state.replace(read_scenario(file.getvalue(), "the file", st.toast))
    except InputError as error:
        _state.tell(error)
