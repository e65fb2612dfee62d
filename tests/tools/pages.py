"""A page opened without a browser, its words, and that it shows no error."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from ergo.inputs.scenario import Scenario
from ergo.web import _frame
from ergo.web._state import LINK
from ergo.web.link import pack_case

ROOT = Path(__file__).resolve().parents[2]


def opened(scenario: Scenario | None = None, page: str = "answer", *unfolded: str) -> AppTest:
    app = AppTest.from_file(str(ROOT / "app.py"), default_timeout=120)
    for fold in unfolded:
        app.session_state[f"fold.{fold}"] = True
    if scenario is not None:
        app.query_params[LINK] = pack_case(scenario)
    app.run()
    if page != "answer":
        app.switch_page(f"ergo/web/{page}.py").run()
    return app


def words(app: AppTest) -> str:
    """Everything the page says in its own HTML and markdown; a number that stands large is part of its sentence."""
    said = [re.sub("</?b>", "", e.proto.body) for e in app.get("html")]
    return " ".join(said + [m.value for m in app.markdown])


def calm(app: AppTest) -> None:
    assert not app.exception, app.exception
    assert not app.error, [e.value for e in app.error]


def opened_alone(scenario: Scenario, page: str, monkeypatch: pytest.MonkeyPatch) -> AppTest:
    """Open one page as the first, so that no other has to be worked out."""
    pages = sorted(_frame._PAGES, key=lambda p: p[0] != f"{page}.py")
    monkeypatch.setattr(_frame, "_PAGES", tuple(pages))
    app = AppTest.from_file(str(ROOT / "app.py"), default_timeout=60)
    app.query_params[LINK] = pack_case(scenario)
    app.run()
    calm(app)
    return app
