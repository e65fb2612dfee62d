"""A reader of the page without a browser: speaks the page's own websocket protocol, light enough for dozens."""

from __future__ import annotations

import asyncio
import contextlib
import re
import time
from collections.abc import Iterable
from dataclasses import dataclass, field
from html import unescape
from http.client import HTTPConnection
from http.cookies import SimpleCookie
from typing import Any
from urllib.parse import parse_qs

from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.Common_pb2 import FileUploaderState
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from websockets.asyncio.client import connect
from websockets.typing import Origin, Subprotocol

from ergo.inputs.scenario import Scenario
from ergo.web.link import pack_case, unpack_case

__all__ = ["Seen", "Visitor", "case_for", "put_file"]

_NAME = re.compile(rb"visitor (\d+) of the load")
_HEADLINE = re.compile(r'<p class="what[^"]*">.*?</span> (.*?)</p>')


def case_for(number: int, case: Scenario, mass_kg: float, aid: str | None = None) -> Scenario:
    """Return a case that nobody but one visitor has: by its name and by its mass."""
    patient = case.patient.model_copy(update={"mass_kg": mass_kg})
    update = {"name": f"visitor {number} of the load", "patient": patient, "aid": aid or case.aid}
    return case.model_copy(update=update)


def put_file(address: str, place: str, name: str, content: bytes, *, token: bool = True, sized: bool = True) -> int:
    """Put a file where the page said; return the status. `sized` says beforehand how long it is."""
    edge = "edge-of-a-part"
    head = f'--{edge}\r\nContent-Disposition: form-data; name="{name}"; filename="{name}"\r\n\r\n'
    body = head.encode() + content + f"\r\n--{edge}--\r\n".encode()
    line = HTTPConnection(address.removeprefix("http://"), timeout=60)
    try:
        line.request("GET", "/_stcore/health")
        reply = line.getresponse()
        cookie = SimpleCookie(reply.headers.get("Set-Cookie", ""))
        reply.read()
        headers = {"Content-Type": f"multipart/form-data; boundary={edge}"}
        if token:
            one = cookie["_streamlit_xsrf"].value
            headers |= {"X-Xsrftoken": one, "Cookie": f"_streamlit_xsrf={one}"}
        parts = iter([body[i : i + 65536] for i in range(0, len(body), 65536)])
        with contextlib.suppress(ConnectionError):  # the server need not read on to refuse
            line.request("PUT", place, body if sized else parts, headers)
        return int(line.getresponse().status)
    finally:
        line.close()


@dataclass(slots=True)
class Seen:
    """What one change brought: seconds to the first changed chart, to the answer, to the end of the run.

    No end means that the next change came first and stopped the run, as it should.
    """

    kind: str
    case: Scenario
    started: float = field(default_factory=time.perf_counter)
    chart_s: float | None = None
    answer_s: float | None = None
    finished_s: float | None = None
    headline: str = ""
    answered: asyncio.Event = field(default_factory=asyncio.Event)
    finished: asyncio.Event = field(default_factory=asyncio.Event)


@dataclass(slots=True)
class Visitor:
    """One open page with a case of its own."""

    address: str
    number: int
    case: Scenario
    wrong: list[str] = field(default_factory=list)
    pages: dict[str, str] = field(default_factory=dict)
    _socket: Any = None
    _reader: Any = None
    _now: Seen | None = None
    _begun: bool = False  # the server works on what was asked last, no longer on what was asked before
    _session: str = ""
    _urls: asyncio.Queue[Any] = field(default_factory=asyncio.Queue)  # where files may be put
    _files: dict[str, Any] = field(default_factory=dict)  # what is open in each place for files
    uploads: dict[str, Any] = field(default_factory=dict)  # places for files, by label
    _query: str = ""
    _page: str = ""
    _main: str = ""
    _widgets: dict[str, Any] = field(default_factory=dict)  # by label
    _values: dict[str, Any] = field(default_factory=dict)  # by widget
    _frame: set[str] = field(default_factory=set)  # widgets around the page, which stay when the page changes
    _drawn_now: set[str] = field(default_factory=set)
    _charts: dict[tuple[int, ...], str] = field(default_factory=dict)
    _kept: dict[str, Any] = field(default_factory=dict)  # messages that the server may name instead of sending again

    async def open(self) -> Seen:
        """Open the page by a link that holds the case; wait for the answer."""
        self._query = f"case={pack_case(self.case)}"
        socket = f"{self.address.replace('http', 'ws', 1)}/_stcore/stream"
        self._socket = await connect(
            socket,
            origin=Origin(self.address),
            subprotocols=[Subprotocol("streamlit")],
            max_size=None,
            compression=None,
            ping_timeout=None,
            open_timeout=60,
        )
        self._reader = asyncio.create_task(self._read())
        return await self._run("open")

    async def close(self) -> None:
        """Leave the page."""
        if self._reader is not None:
            self._reader.cancel()
            await asyncio.gather(self._reader, return_exceptions=True)
        if self._socket is not None:
            await self._socket.close()

    async def set_mass(self, mass_kg: float) -> Seen:
        """Type another mass; wait for the answer."""
        place = await self._input("Mass (kg)")
        self.case = case_for(self.number, self.case, mass_kg)
        self._values[place] = mass_kg
        return await self._run("mass")

    async def type_fast(self, masses_kg: Iterable[float]) -> None:
        """Type one mass after another, 0 to 24 ms apart, and wait for no answer."""
        place = await self._input("Mass (kg)")
        for number, mass_kg in enumerate(masses_kg):
            self._values[place] = mass_kg
            self._begun = False
            await self._socket.send(self._asked().SerializeToString())
            await asyncio.sleep(0.003 * (number % 9))

    async def set_aid(self, aid: str) -> Seen:
        """Choose another aid; wait for the answer."""
        place = await self._input("Aid")
        self.case = case_for(self.number, self.case, self.case.patient.mass_kg, aid)
        self._values[place] = aid
        return await self._run("aid")

    async def _input(self, label: str) -> str:
        """Wait until the page shows an input: the answer may stand above it before it is there."""
        async with asyncio.timeout(60):
            while label not in self._widgets or self._widgets[label].id not in self._values:
                await asyncio.sleep(0.02)
        return str(self._widgets[label].id)

    async def go(self, page: str) -> Seen:
        """Go to another page, by the last part of its address; empty is the first page."""
        self._page = self.pages[page]
        self._values = {key: value for key, value in self._values.items() if key in self._frame}
        return await self._run(f"page {page or 'answer'}")

    async def upload(self, label: str, name: str, content: bytes) -> Seen:
        """Open a file; wait for what the page makes of it."""
        urls = await self.place_for(name)
        status = await asyncio.to_thread(put_file, self.address, urls.upload_url, name, content)
        if status != 204:
            raise ConnectionError(f"the file was refused with status {status}")
        state = self._files[self.uploads[label].id] = FileUploaderState()
        state.uploaded_file_info.add(file_id=urls.file_id, name=name, size=len(content), file_urls=urls)
        seen = await self._run("upload")
        del self._files[self.uploads[label].id]
        return seen

    async def place_for(self, name: str) -> Any:
        """Return the address to which this visitor may put one file."""
        asked = BackMsg()
        asked.file_urls_request.request_id, asked.file_urls_request.session_id = name, self._session
        asked.file_urls_request.file_names.append(name)
        await self._socket.send(asked.SerializeToString())
        return await asyncio.wait_for(self._urls.get(), 60)

    async def _run(self, kind: str) -> Seen:
        """Ask for a run; the reader goes on reading while the answer is looked at."""
        asked = self._asked().SerializeToString()
        seen = self._now = Seen(kind, self.case)
        self._begun = False
        await self._socket.send(asked)
        waiting = asyncio.create_task(seen.answered.wait())
        await asyncio.wait({waiting, self._reader}, return_when=asyncio.FIRST_COMPLETED)
        if self._reader.done():
            waiting.cancel()
            raise ConnectionError("the page closed the connection") from self._reader.exception()
        return seen

    async def _read(self) -> None:
        async for raw in self._socket:
            self._other_in(raw)
            message = ForwardMsg.FromString(raw)
            if message.WhichOneof("type") == "ref_hash":
                whole = ForwardMsg()
                whole.CopyFrom(self._kept[message.ref_hash])
                whole.metadata.CopyFrom(message.metadata)
                message = whole
            elif message.metadata.cacheable:
                self._kept[message.hash] = message
            self._take(message)

    def _take(self, message: ForwardMsg) -> None:
        seen, what = self._now, message.WhichOneof("type")
        assert seen is not None
        if what == "new_session":
            self._begun, self._drawn_now = True, set()
            self._session = message.new_session.initialize.session_id
            self._page, self._main = message.new_session.page_script_hash, message.new_session.main_script_hash
        elif what == "navigation":
            pages = message.navigation.app_pages
            self.pages = {"" if p.is_default else p.url_pathname: p.page_script_hash for p in pages}
        elif what == "page_info_changed":
            self._query = message.page_info_changed.query_string
        elif what == "file_urls_response":
            self._urls.put_nowait(message.file_urls_response.file_urls[0])
        elif what == "delta" and self._begun:
            self._drawn(message, seen)
        elif what == "script_finished" and self._begun:
            self._ended(message.script_finished, seen)

    def _ended(self, status: int, seen: Seen) -> None:
        if status == ForwardMsg.FINISHED_EARLY_FOR_RERUN:  # the page itself asks for another run
            return
        if status != ForwardMsg.FINISHED_SUCCESSFULLY:
            self.wrong.append(f"the run ended with status {status}")
        seen.finished_s = time.perf_counter() - seen.started
        self._values = {key: value for key, value in self._values.items() if key in self._drawn_now}
        self._check(seen.case)
        seen.answered.set()
        seen.finished.set()

    def _asked(self) -> BackMsg:
        asked = BackMsg()
        run = asked.rerun_script
        run.query_string = self._query
        run.page_script_hash = self._page
        run.context_info.url = self.address
        run.context_info.timezone, run.context_info.locale = "UTC", "en"
        run.context_info.color_scheme = "light"
        run.cached_message_hashes.extend(self._kept)
        for key, value in self._values.items():
            state = run.widget_states.widgets.add(id=key)
            if isinstance(value, str):
                state.string_value = value
            elif value is not None:
                state.double_value = value
        for key, files in self._files.items():
            run.widget_states.widgets.add(id=key).file_uploader_state_value.CopyFrom(files)
        return asked

    def _drawn(self, message: ForwardMsg, seen: Seen) -> None:
        if message.delta.WhichOneof("type") != "new_element":
            return
        element = message.delta.new_element
        what, taken = element.WhichOneof("type"), time.perf_counter() - seen.started
        if what in ("plotly_chart", "imgs"):  # a first look may be a still picture of the chart
            path = tuple(message.metadata.delta_path)
            if self._charts.get(path) != message.hash and seen.chart_s is None:
                seen.chart_s = taken
            self._charts[path] = message.hash
        elif what == "html":
            found = _HEADLINE.search(element.html.body)
            if found and seen.answer_s is None:
                seen.answer_s, seen.headline = taken, unescape(re.sub("</?b>", "", found[1]))
                seen.answered.set()
        elif what == "number_input":
            one = element.number_input
            holds = "value" if one.set_value else "default"
            self._widget(message, one, getattr(one, holds) if one.HasField(holds) else None)
        elif what == "selectbox":
            box = element.selectbox
            first = box.options[box.default] if box.HasField("default") and box.options else None
            self._widget(message, box, box.raw_value if box.set_value and box.HasField("raw_value") else first)
        elif what == "file_uploader":
            self.uploads[element.file_uploader.label] = element.file_uploader
        elif what == "exception":
            self.wrong.append(
                f"exception: {element.exception.type} {element.exception.message} {list(element.exception.stack_trace)}"
            )
        elif what == "alert" and "This cannot be used" in element.alert.body:
            self.wrong.append(f"fault: {element.alert.body}")

    def _widget(self, message: ForwardMsg, widget: Any, value: Any) -> None:
        self._widgets[widget.label] = widget
        self._drawn_now.add(widget.id)
        if message.metadata.active_script_hash == self._main:
            self._frame.add(widget.id)
        if widget.set_value or widget.id not in self._values:
            self._values[widget.id] = value

    def _other_in(self, raw: bytes) -> None:
        others = {int(n) for n in _NAME.findall(raw)} - {self.number}
        if others:
            self.wrong.append(f"sees what belongs to {sorted(others)}")

    def _check(self, case: Scenario) -> None:
        """The case in the address and the mass in its input are this visitor's."""
        shown = unpack_case(parse_qs(self._query)["case"][0])
        if shown != case:
            self.wrong.append(f"the address holds {shown}, not {case}")
        mass = self._widgets.get("Mass (kg)")
        if mass is not None and mass.id in self._values and abs(self._values[mass.id] - case.patient.mass_kg) > 1e-6:
            self.wrong.append(f"the input holds {self._values[mass.id]} kg, not {case.patient.mass_kg}")
