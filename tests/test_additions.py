"""A limit and an aid take two files each, as DEVELOPERS.md says: in a copy of the package they show everywhere."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[1]
BOOST = "boost_flat.toml"
PAGE = """
import json, sys
from pathlib import Path
from streamlit.testing.v1 import AppTest
import ergo.web as pages
from ergo.inputs.scenario import load_scenario
from ergo.web.link import pack_case
from ergo.web import _mass_aid_map as _map
from ergo.web._state import LINK
_map._BMI = (25,)
app = AppTest.from_file(str(Path(pages.__file__).with_name("start.py")), default_timeout=120)
app.query_params[LINK] = pack_case(load_scenario(sys.argv[1]))
shown = {}
for page in ("answer", "compare", "evidence"):
    app.run() if page == "answer" else app.switch_page(str(Path(pages.__file__).with_name(page + ".py"))).run()
    assert not app.exception and not app.error, page
    shown[page] = " ".join(e.proto.body for e in app.get("html"))
print(json.dumps(shown))
"""

LIMIT = {
    "evidence/tables/limits.csv": "silk_pull,force on silk,all,a limit of a test,100,N,hse_l23,read\n",
    "limits/registry.py": """    Limit(
        key="silk_pull",
        label="pull on silk",
        quantity="hand force",
        unit="N",
        who="all",
        task="pulling silk",
        range="on silk",
        edition="first",
        standing=_of_figure("silk_pull"),
        value=printed("silk_pull"),
        decides="hands",
    ),
)
""",
}
AID = {
    "evidence/tables/aids.csv": "silk_sheet,silk sheet,trunk arms thighs,reusable,,slide turn,both sides,yes,,"
    "0.3,0.4,0.5,judgement,woven\n",
    "evidence/tables/aid_interfaces.csv": "silk_sheet,1,silk,bed linen,0.2,0.25,0.3,,,hse_l23,judgement,between two\n",
}


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the package with one more limit and one more aid."""
    folder = tmp_path_factory.mktemp("added")
    shutil.copytree(ROOT / "ergo", folder / "ergo", ignore=shutil.ignore_patterns("__pycache__", "*.png"))
    shutil.copytree(ROOT / "scenarios", folder / "scenarios")
    for name, text in (LIMIT | AID).items():
        path = folder / "ergo" / name
        whole = path.read_text(encoding="utf-8")
        path.write_text((whole.rstrip().removesuffix(")") if path.suffix == ".py" else whole) + text, encoding="utf-8")
    return folder


def run(folder: Path, *command: str) -> dict[str, Any]:
    """What a command in the copy prints as JSON."""
    given = os.environ | {"PYTHONPATH": str(folder)}
    done = subprocess.run([sys.executable, *command], cwd=folder, env=given, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr[-2000:]
    found: dict[str, Any] = json.loads(done.stdout)
    return found


@pytest.fixture(scope="module")
def pages(copy: Path) -> dict[str, str]:
    return run(copy, "-c", PAGE, f"scenarios/{BOOST}")


def test_each_takes_two_files():
    assert len(LIMIT) == len(AID) == 2


def test_a_new_limit_is_held_against_every_pull_and_decides(copy: Path) -> None:
    answer = run(copy, "-m", "ergo", "assess", f"scenarios/{BOOST}", "--json")
    for move in answer["moves"]:
        (found,) = (limit for limit in move["limits"] if limit["key"] == "silk_pull")
        assert (found["limit"], found["unit"], found["source"], found["known"]) == (100.0, "N", "hse_l23", "read")
        assert found["ratio"] == pytest.approx(max(person["pull_n"] for person in move["persons"]) / 100.0)
        assert found["decides"]
    assert answer["deciding"]["key"] == "silk_pull"
    assert answer["verdict"] == "over"


def test_a_new_limit_and_a_new_aid_count_in_the_smallest_team(copy: Path) -> None:
    answer = run(copy, "-m", "ergo", "team", f"scenarios/{BOOST}", "--json")
    by_name = {aid["aid"]: aid for aid in answer["aids"]}
    assert by_name["silk sheet"]["worst_person_force_n"] > 0
    assert not by_name["silk sheet"]["unmeasured"]
    assert answer["left"] + answer["right"] > 4  # 2 a side are enough without the limit
    assert {aid["deciding"] for aid in by_name.values()} >= {"pull on silk"}


def test_a_new_limit_stands_in_the_evidence(copy: Path) -> None:
    listed = {limit["key"]: limit for limit in run(copy, "-m", "ergo", "evidence", "--json")["limits"]}
    found = listed["silk_pull"]
    assert found["label"] == "pull on silk"
    assert set(found["decides_under"]) == {"75 % of women", "90 % of women", "75 % of men", "90 % of men", "mixed team"}


def test_the_pages_show_both(pages: dict[str, str]) -> None:
    assert "pull on silk" in pages["answer"]
    assert "silk sheet" in pages["compare"]
    assert "silk on bed linen" in pages["compare"]
    assert "pull on silk" in pages["evidence"]
