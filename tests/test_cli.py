"""The command line: every scenario is answered, in text and in JSON with documented keys; bad input ends with 2."""

from __future__ import annotations

import json
import os
import re
import socket
import subprocess
import sys
import time
from functools import cache
from pathlib import Path

import pytest

from ergo.assessment import CAUTIONS, assess, has_airway_lead
from ergo.cli.main import main
from ergo.inputs.scenario import load_scenario
from ergo.teams.smallest_team import smallest_team
from tests.tools.served import free_port

ROOT = Path(__file__).parents[1]
FILES = sorted((ROOT / "scenarios").glob("*.toml"))
every_scenario = pytest.mark.parametrize("file", FILES, ids=lambda f: f.stem)

NUMBER = (int, float)
OPTIONAL = (int, float, type(None))
LIMIT = {
    "key": str,
    "amount": NUMBER,
    "limit": OPTIONAL,
    "unit": str,
    "ratio": OPTIONAL,
    "verdict": str,
    "source": str,
    "known": str,
}
MOVE = {
    "name": str,
    "kind": str,
    "worst_person_force_n": NUMBER,
    "efforts": list,
    "persons": list,
    "limits": list,
}
PERSON = {
    "side": (str, type(None)),
    "position_m": NUMBER,
    "who": str,
    "role": str,
    "action": str,
    "start_n": NUMBER,
    "capacity_n": OPTIONAL,
}
ASSESS = {"verdict": str, "deciding": (dict, type(None)), "people": int, "moves": list}
TEAM = {
    "people": (int, type(None)),
    "left": (int, type(None)),
    "right": (int, type(None)),
    "people_by_force": (int, type(None)),
    "people_if_one_breaks_off": (int, type(None)),
    "people_by_guidance": (int, type(None)),
    "guidance_source": (str, type(None)),
    "counts": (str, type(None)),
    "ways": list,
    "roles": list,
    "use_lift": bool,
    "curve": list,
    "published": list,
}


answer_of = cache(lambda file: smallest_team(load_scenario(file)))


def check(data, keys):
    for key, kind in keys.items():
        assert isinstance(data[key], kind), key
        assert not (kind is not bool and isinstance(data[key], bool)), key


def run(capsys, *arguments) -> str:
    assert main([str(a) for a in arguments]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    return out


@every_scenario
def test_assess_answers_with_the_librarys_numbers_under_the_documented_keys(file, capsys):
    data = json.loads(run(capsys, "assess", file, "--json"))
    check(data, ASSESS)
    result = assess(load_scenario(file))
    assert data["verdict"] == result.verdict
    assert data["people"] == result.people
    for move, found in zip(data["moves"], result.moves, strict=True):
        check(move, MOVE)
        for person in move["persons"]:
            check(person, PERSON)
        doing = [p for p in move["persons"] if p["action"] != "idle"]
        assert [p["start_n"] for p in doing] == [load.start_n for load in found.loads]
        at_the_bed = {(p["side"], p["index"]) for p in move["persons"]}
        assert len(at_the_bed) == result.left + result.right + has_airway_lead(result.scenario)
        for effort in move["efforts"]:
            does = effort["action"], effort["part"], effort["side"]
            given = [p for p in doing if (p["action"], p["part"], p["side"] or "airway") == does]
            assert sum(p["start_n"] for p in given) == pytest.approx(effort["start_n"])
        assert move["limits"] or move["worst_person_force_n"] == 0.0
        for limit in move["limits"]:
            check(limit, LIMIT)
            assert (limit["limit"] is None) == (limit["verdict"] == "not applicable") == (limit["ratio"] is None)
            if limit["limit"] is None:
                assert limit["note"]
    if data["deciding"] is not None:
        check(data["deciding"], LIMIT)


@every_scenario
def test_team_answers_with_the_librarys_numbers_under_the_documented_keys(file, capsys):
    data = json.loads(run(capsys, "team", file, "--json"))
    check(data, TEAM)
    answer = answer_of(file)
    assert (data["people"], data["use_lift"]) == (answer.people, answer.use_lift)
    assert [p["people"] for p in data["curve"]] == [p.people for p in answer.curve]
    if answer.people is not None:
        assert data["people"] == data["left"] + data["right"] + sum(role["people"] for role in data["roles"])
        reasons = [data[k] or 0 for k in ("people_by_force", "people_if_one_breaks_off", "people_by_guidance")]
        assert data["people"] >= (reasons[0] if data["no_room"] else max(reasons))
    assert [way["chosen"] for way in data["ways"]] in ([], [True, False, False])
    assert [p["worst_ratio"] for p in data["curve"]] == [p.worst_ratio for p in answer.curve]
    assert [p["people"] for p in data["published"]] == [p.people for p in answer.published]


@pytest.mark.parametrize("file", FILES[::3], ids=lambda f: f.stem)
def test_the_text_starts_with_name_question_and_answer_and_carries_the_cautions(file, capsys):
    scenario = load_scenario(file)
    for command, sentence in (("assess", assess(scenario).why), ("team", answer_of(file).why)):
        lines = run(capsys, command, file).splitlines()
        assert lines[:2] == [scenario.name, scenario.question]
        assert sentence in lines[3]
        assert all(f"- {caution}" in lines for caution in CAUTIONS)


def test_the_reader_chooses_units(capsys):
    out = run(capsys, "assess", FILES[0], "--mass", "lb", "--force", "lbf", "--length", "ft-in")
    assert " lbf" in out
    assert " lb," in out
    assert " N " not in out.replace("N/A", "").split("Policy:")[0].split("\n", 4)[4]


def test_bad_input_ends_with_2_and_every_fault_on_the_error_stream(tmp_path, capsys):
    bad = tmp_path / "bad.toml"
    bad.write_text('name = "x"\nprocedure = "fly"\n[patient]\nsex = "F"\nmass_kg = 5\nheight = 1.6\n')
    for command in ("assess", "team"):
        assert main([command, str(bad)]) == 2
        out, err = capsys.readouterr()
        assert out == ""
        for field in ("procedure", "patient.mass_kg", "patient.stature_m", "patient.height"):
            assert f"  {field} = " in err
        assert "has 4 faults" in err


def test_an_aid_that_cannot_serve_the_procedure_ends_with_2(tmp_path, capsys):
    bad = tmp_path / "bad.toml"
    text = 'name = "x"\nprocedure = "boost"\naid = "transfer board"\n[patient]\nsex="F"\nmass_kg=70\nstature_m=1.6\n'
    bad.write_text(text)
    assert main(["team", str(bad)]) == 2
    assert "does not serve a slide move" in capsys.readouterr().err


def test_the_module_runs_as_a_command_and_a_missing_file_ends_with_2():
    done = subprocess.run(
        [sys.executable, "-m", "ergo", "assess", "no-such-file.toml"], cwd=ROOT, capture_output=True, text=True
    )
    assert done.returncode == 2
    assert "no-such-file.toml" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_wrong_option_ends_with_2(capsys):
    with pytest.raises(SystemExit) as caught:
        main(["assess", str(FILES[0]), "--mass", "stone"])
    assert caught.value.code == 2
    capsys.readouterr()


def test_a_taken_port_is_named_with_the_way_to_another(capsys):
    with socket.socket() as taken:
        taken.bind(("localhost", 0))
        taken.listen()
        port = taken.getsockname()[1]
        assert main(["page", "--port", str(port)]) == 2
    said = capsys.readouterr().err
    assert f"port = {port}: taken already" in said
    assert "--port chooses another" in said


@pytest.mark.parametrize("port", ["0", "70000"])
def test_a_port_that_is_none_is_refused_with_its_range(port, capsys):
    assert main(["page", "--port", port]) == 2
    assert f"port = {port}: 1 to 65535" in capsys.readouterr().err


@pytest.mark.skipif(os.name != "posix", reason="elsewhere the page is a process of its own")
def test_a_page_whose_command_is_stopped_leaves_nothing_behind():
    port = free_port()

    def answers() -> bool:
        with socket.socket() as caller:
            return caller.connect_ex(("localhost", port)) == 0

    command = [sys.executable, "-m", "ergo", "page", "--port", str(port)]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as running:
        try:
            for _ in range(600):
                if answers() or running.poll() is not None:
                    break
                time.sleep(0.1)
            assert answers()
            running.terminate()
            running.wait(20)
            time.sleep(0.5)
            assert not answers()
        finally:
            running.kill()


def test_what_fails_in_a_team_that_is_not_enough_is_said_in_the_reader_s_units(tmp_path, capsys):
    heavy = tmp_path / "heavy.toml"
    heavy.write_text(
        'name = "x"\nprocedure = "boost"\n[patient]\nsex = "M"\nmass_kg = 140\nstature_m = 1.8\n'
        "[team]\nleft = 1\nright = 1\n"
    )
    out = run(capsys, "assess", heavy, "--mass", "lb", "--force", "lbf", "--length", "ft-in")
    said = next(line for line in out.splitlines() if line.startswith("No: "))
    assert " lbf in the hands, " in said
    assert not re.search(r"\d N\b", said)
