"""Several readers of one server: each sees the own case only, also under load, and nothing of it is written anywhere.

Skipped where there is no Chromium as far as it needs one, unless ERGO_BROWSER=required.
"""

from __future__ import annotations

import asyncio
import os
import re
import resource
import socket
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from ergo import smallest_team
from ergo.plan.census import MOST_ROWS
from ergo.scenario import dump_scenario
from ergo.show.examples import FIRST, examples
from ergo.show.link import unpack_case
from ergo.show.report import answer_words
from ergo.stated import LARGEST_FILE
from tests.served import CHROMIUM, ROOT, Server, browser, server
from tests.visitors import Seen, Visitor, case_for, put_file

WAIT = 150_000  # a busy machine works out the first answer
VISITORS, LOAD_S = 8, 5.0
MEGABYTE = 1024 * 1024
LARGEST_UPLOAD = 5  # megabytes, `server.maxUploadSize`


@pytest.fixture(scope="module")
def running() -> Iterator[Server]:
    with server(ROOT / "app.py") as at:
        yield at


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    with browser() as opened:
        yield opened


def reader(chromium: Any, address: str) -> Any:
    page = chromium.new_context(viewport={"width": 1280, "height": 900}).new_page()
    page.set_default_timeout(WAIT)
    page.goto(f"{address}/teach")  # where a change is answered at once
    page.wait_for_selector("input[aria-label='Mass (kg)']")
    return page


def set_mass(page: Any, mass: str) -> None:
    box = page.get_by_label("Mass (kg)", exact=True).first
    box.fill(mass)
    box.press("Enter")


def wait_for_mass(page: Any, mass: float) -> Any:
    """Wait until the address holds a case of this mass, and return the case."""
    for _ in range(600):
        packed = re.search(r"[?&]case=([^&#]+)", page.url)
        if packed and unpack_case(packed[1]).patient.mass_kg == mass:
            return unpack_case(packed[1])
        page.wait_for_timeout(50)
    raise AssertionError(page.url)


@pytest.mark.browser
@pytest.mark.skipif(
    CHROMIUM is None and os.environ.get("ERGO_BROWSER") != "required", reason="Chromium is not installed"
)
def test_two_readers_who_take_turns_see_each_only_their_own(running: Server, chromium: Any, tmp_path: Path) -> None:
    one, other = reader(chromium, running.address), reader(chromium, running.address)
    for step in range(3):
        set_mass(one, str(70 + step))
        set_mass(other, str(120 + step))
        assert wait_for_mass(other, 120.0 + step).name == wait_for_mass(one, 70.0 + step).name
        assert one.input_value("input[aria-label='Mass (kg)']") == str(70 + step)
        assert other.input_value("input[aria-label='Mass (kg)']") == str(120 + step)
    own = case_for(1, examples()[FIRST], 96.5)
    file = tmp_path / "own.toml"
    file.write_text(dump_scenario(own))
    one.set_input_files("[data-testid=stFileUploaderDropzoneInput]", file)
    assert wait_for_mass(one, 96.5) == own
    set_mass(other, "133")
    theirs = wait_for_mass(other, 133.0)
    assert theirs.name == examples()[FIRST].name
    assert own.name not in other.content()
    assert "own.toml" not in other.content()
    assert wait_for_mass(one, 96.5) == own
    for page in (one, other):
        page.context.close()


async def _changes(visitor: Visitor, end: float) -> list[Seen]:
    seen = [await visitor.open()]
    step = 0
    while asyncio.get_running_loop().time() < end:
        step += 1
        seen.append(await visitor.set_mass(60.0 + 10 * visitor.number + step))
        await asyncio.sleep(0.2)
    await visitor.close()
    return seen


async def _load(visitors: list[Visitor]) -> list[list[Seen]]:
    end = asyncio.get_running_loop().time() + LOAD_S
    return list(await asyncio.gather(*(_changes(v, end) for v in visitors)))


def test_eight_readers_at_once_get_their_own_answers_and_nothing_is_logged(running: Server) -> None:
    cases = [case_for(n, examples()[FIRST], 60.0 + 10 * n) for n in range(VISITORS)]
    visitors = [Visitor(running.address, n, case) for n, case in enumerate(cases)]
    seen = asyncio.run(_load(visitors))
    assert [w for v in visitors for w in v.wrong] == []
    assert all(len(s) >= 2 for s in seen)
    for last in (seen[0][-1], seen[-1][-1]):
        assert last.headline == answer_words(smallest_team(last.case, with_aids=False))[0]
    said = running.output.read_text()
    assert said.strip()
    assert not re.search("visitor|of the load|Traceback|Error|case=", said)


def test_a_page_left_while_it_works_is_no_error(running: Server) -> None:
    async def leave() -> list[str]:
        visitor = Visitor(running.address, 99, case_for(99, examples()[FIRST], 101.0))
        await visitor.open()
        await visitor.close()  # other aids and the map are still being worked out
        back = Visitor(running.address, 98, case_for(98, examples()[FIRST], 55.0))
        await back.open()
        await back.go("teach")
        await back.close()
        return visitor.wrong + back.wrong

    assert asyncio.run(leave()) == []
    assert not re.search("Traceback|Error", running.output.read_text())


UPLOADS = (
    ("teach", "Open a case (TOML)", 1),
    ("unit", "Open a unit (TOML)", 1),
    ("unit", "Patients (CSV): mass, sex, stature, dependency, procedures", LARGEST_UPLOAD),
    ("purchase", "Open a purchase (TOML)", 1),
)


def test_every_place_for_files_says_its_limit_and_keeps_it(running: Server) -> None:
    too_long = b"# one line of a file that never ends\n" * (LARGEST_FILE // 37 + 1)
    too_many = b"mass_kg,sex,stature_cm\n" + b"80,F,160\n" * (MOST_ROWS + 1)

    async def open_each() -> dict[str, list[str]]:
        found: dict[str, list[str]] = {}
        visitor = Visitor(running.address, 90, case_for(90, examples()[FIRST], 77.0))
        await visitor.open()
        for page, label, most in UPLOADS:
            await visitor.go(page)
            assert visitor.uploads[label].max_upload_size_mb == most
            visitor.wrong.clear()
            csv = "CSV" in label
            await visitor.upload(label, "file.csv" if csv else "file.toml", too_many if csv else too_long)
            found[label] = list(visitor.wrong)
        await visitor.close()
        return found

    for label, faults in asyncio.run(open_each()).items():
        most = f"at most {MOST_ROWS}" if "CSV" in label else f"at most {LARGEST_FILE}"
        assert faults, label
        assert all(f.startswith("fault") and most in f for f in faults), (label, faults)


def test_the_server_refuses_what_is_too_long_and_keeps_what_it_takes_in_memory(running: Server) -> None:
    """A file that the server wrote to disk would pass the limit on its files and be refused."""
    resource.prlimit(running.pid, resource.RLIMIT_FSIZE, (MEGABYTE, MEGABYTE))
    most = LARGEST_UPLOAD * MEGABYTE

    async def put_each() -> list[int]:
        visitor = Visitor(running.address, 91, case_for(91, examples()[FIRST], 78.0))
        await visitor.open()
        stated: list[tuple[int, dict[str, bool]]] = [
            (3 * MEGABYTE, {}),
            (most + 1, {}),
            (most + MEGABYTE, {"sized": False}),
            (10, {"token": False}),
        ]
        found = []
        for size, how in stated:
            place = (await visitor.place_for("file.csv")).upload_url
            content = b"x" * size
            found.append(await asyncio.to_thread(put_file, running.address, place, "file.csv", content, **how))
        await visitor.close()
        return found

    assert asyncio.run(put_each()) == [204, 413, 413, 403]


def test_only_this_machine_is_served(running: Server) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # sends nothing: asks for the address that would be used
        except OSError:
            pytest.skip("this machine has no other address")
        outside = probe.getsockname()[0]
    port = int(running.address.rpartition(":")[2])
    with socket.create_connection(("localhost", port), 5):
        pass
    with pytest.raises(OSError, match="refused"):
        socket.create_connection((outside, port), 5)


def test_the_settings_are_the_same_however_the_page_is_started() -> None:
    beside, installed = ROOT / ".streamlit/config.toml", ROOT / "ergo/show/pages/.streamlit/config.toml"
    assert beside.read_bytes() == installed.read_bytes()
    settings = tomllib.loads(beside.read_text())
    assert settings["server"]["address"] == "localhost"
    assert settings["server"]["enableXsrfProtection"] is True
    assert settings["server"]["maxUploadSize"] == LARGEST_UPLOAD
    assert settings["client"]["showErrorDetails"] == "none"


def test_what_goes_wrong_inside_is_shown_without_its_details(tmp_path: Path) -> None:
    script = tmp_path / "broken.py"
    script.write_text('raise RuntimeError("inside detail")\n')

    async def look(address: str) -> list[str]:
        visitor = Visitor(address, 1, examples()[FIRST])
        await visitor.open()
        await visitor.close()
        return visitor.wrong

    with server(script) as broken:
        (said,) = asyncio.run(look(broken.address))
    assert said.startswith("exception")
    assert not re.search("inside|RuntimeError|broken.py|File", said), said
