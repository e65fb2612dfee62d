"""Team, start forces and probability are the same on page, command line, JSON, report and card."""

from __future__ import annotations

import json
import re
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from ergo.cli.main import main
from ergo.inputs import examples
from ergo.inputs.scenario import Scenario, dump_scenario
from ergo.teams.smallest_team import TeamAnswer, smallest_team
from ergo.units import DEFAULT_UNITS, percent
from ergo.web import _mass_aid_map as _map
from tests.tools.pages import calm, opened, words

CASES = {
    "prone": examples.prone_turn(92.0),
    "boost": examples.boost(104.0),
    "transfer": examples.lateral_transfer(88.0),
}


@pytest.fixture(autouse=True)
def _quick_map(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_map, "_BMI", (25,))


@pytest.fixture(scope="module", params=CASES)
def case(request: pytest.FixtureRequest) -> tuple[Scenario, TeamAnswer]:
    scenario = CASES[request.param]
    return scenario, smallest_team(scenario, with_aids=False)


@pytest.fixture
def file(case: tuple[Scenario, TeamAnswer], tmp_path: Path) -> str:
    path = tmp_path / "case.toml"
    path.write_text(dump_scenario(case[0]), encoding="utf-8")
    return str(path)


def plain(text: str) -> str:
    """Text as a reader sees it, whatever marks it up."""
    return " ".join(unescape(re.sub(r"<[^>]*>", "", text)).replace("\\", "").replace("**", "").split())


def sentence(answer: TeamAnswer) -> str:
    return answer.why.partition(". ")[0]


def sure(answer: TeamAnswer) -> str:
    return f"Nobody is over a limit in {percent(answer.probability)} of cases"


def forces(answer: TeamAnswer) -> set[str]:
    """The start force of whoever is loaded most in each move."""
    return {
        DEFAULT_UNITS.show_force(move.worst_load.start_n)
        for move in answer.assessment.moves
        if move.worst_load is not None and move.worst_load.start_n >= 1.0
    }


def missing(answer: TeamAnswer, said: str, *, moves: bool = True) -> list[str]:
    wanted = [sentence(answer), sure(answer), *(forces(answer) if moves else ())]
    return [one for one in wanted if one not in said]


def test_on_the_page(case):
    scenario, answer = case
    app = opened(scenario)
    calm(app)
    assert not missing(answer, plain(words(app)))


def test_on_the_command_line(case, file, capsys):
    assert main(["team", file]) == 0
    assert not missing(case[1], plain(capsys.readouterr().out))


def test_in_json(case, file, capsys):
    answer = case[1]
    assert main(["team", file, "--json"]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    assert (found["people"], found["left"], found["right"]) == (answer.people, answer.left, answer.right)
    assert found["probability"] == pytest.approx(answer.probability, abs=1e-6)
    said = [person["start_n"] for move in found["assessment"]["moves"] for person in move["persons"]]
    own = [load.start_n for move in answer.assessment.moves for load in move.loads]
    assert sorted(filter(None, said)) == pytest.approx(sorted(filter(None, own)), rel=1e-9)


@pytest.mark.parametrize("ending", ["md", "html"])
def test_in_the_report(case, file, tmp_path, ending):
    out = tmp_path / f"report.{ending}"
    assert main(["report", file, "-o", str(out)]) == 0
    said = plain(out.read_text(encoding="utf-8"))
    assert not [one for one in missing(case[1], said) if one != sentence(case[1])]
    assert all(part in said for part in sentence(case[1]).split(": ", 1))


def test_on_the_card(case, file, tmp_path):
    answer, out = case[1], tmp_path / "card.md"
    assert main(["card", file, "-o", str(out)]) == 0
    said = plain(out.read_text(encoding="utf-8"))
    assert f"{answer.people} people: {answer.left} at the patient's left, {answer.right} at the patient's right" in said
    assert all(force in said for force in forces(answer))
