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
from ergo.teams.knife_edge import knife_edge, knife_edge_words
from ergo.teams.smallest_team import PROBABILITY_ASKED, TeamAnswer, smallest_team
from ergo.teams.this_team import this_team, this_team_words
from ergo.units import DEFAULT_UNITS, Units, percent
from ergo.web import _mass_aid_map as _map
from tests.tools.pages import calm, opened, words

CASES = {
    "prone": examples.prone_turn(92.0),
    "boost": examples.boost(104.0),
    "transfer": examples.lateral_transfer(88.0),
}

ON_SHIFT = examples.boost(140.0, team={"members": [{"size": "small"}] * 4 + [{"size": "tall", "most_lift_kg": 5.0}]})


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


def printed(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert main(list(arguments)) == 0
    return capsys.readouterr().out


def test_of_those_on_shift_in_json_text_and_report(tmp_path, capsys):
    file = str(tmp_path / "case.toml")
    Path(file).write_text(dump_scenario(ON_SHIFT), encoding="utf-8")
    found, own = (json.loads(printed(capsys, command, file, "--json")) for command in ("team", "assess"))
    assert found["on_shift"] == own
    assert not own["enough"]
    assert own["probability"] < own["probability_asked"] <= found["probability"]  # that of the usual people
    assert [place["side"] for place in own["places"]].count(None) == 1  # who may lift no more than 5 kg
    first, *more = this_team_words(this_team(ON_SHIFT))
    assert percent(1.0 - own["probability"]) in first
    assert f"In {percent(own['own_acceptance'])} of moves nobody is asked more than they themselves accept." in more
    assert f"may be {percent(own['probability_low'])} to {percent(own['probability_high'])} of moves" in " ".join(more)
    for command in ("team", "assess"):
        said = plain(printed(capsys, command, file))
        assert all(one in said for one in (first, *more)), command
    for ending in ("md", "html"):
        out = tmp_path / f"report.{ending}"
        printed(capsys, "report", file, "-o", str(out))
        assert f"Those on shift. {first}" in plain(out.read_text(encoding="utf-8"))


def test_in_json_where_nobody_on_shift_is_stated(tmp_path, capsys):
    file = tmp_path / "case.toml"
    file.write_text(dump_scenario(CASES["boost"]), encoding="utf-8")
    assert json.loads(printed(capsys, "team", str(file), "--json"))["on_shift"] is None


def test_of_those_on_shift_in_the_readers_units(tmp_path, capsys):
    case, file, out = examples.boost(180.0, team=ON_SHIFT.team.model_dump()), tmp_path / "case.toml", tmp_path / "r.md"
    file.write_text(dump_scenario(case), encoding="utf-8")
    units = Units("lb", "lbf", "ft-in")
    first = this_team_words(this_team(case, units=units), units)[0]
    assert " lbf" in first
    asked = [str(file), "--mass", "lb", "--force", "lbf", "--length", "ft-in"]
    assert first in plain(printed(capsys, "team", *asked))
    printed(capsys, "report", *asked, "-o", str(out))
    assert first in plain(out.read_text(encoding="utf-8"))


@pytest.mark.parametrize("ending", ["md", "html"])
def test_of_a_knife_s_edge_on_the_command_line_and_on_the_first_page(tmp_path, capsys, ending):
    file, out = tmp_path / "case.toml", tmp_path / f"report.{ending}"
    case = examples.boost(74.69)
    file.write_text(dump_scenario(case), encoding="utf-8")
    edge = knife_edge_words(knife_edge(case, PROBABILITY_ASKED))
    assert edge.startswith("2 to 3 people: ")
    assert edge in plain(printed(capsys, "team", str(file)))
    printed(capsys, "report", str(file), "-o", str(out))
    first = out.read_text(encoding="utf-8").partition("</section>" if ending == "html" else "## The move")[0]
    assert re.search(r"## \W*2 to 3 people: ask for 3\n|<h1[^>]*>\W*<b>2 to 3 people</b>: ask for 3<", first)
    assert edge in plain(first)
