"""`ergo unit` and `ergo purchase`: the library's numbers under documented keys; bad input ends with 2."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import signal
import subprocess
import sys
import time
from functools import partial
from pathlib import Path

import pytest

from ergo.cli.main import main
from ergo.inputs.purchase import load_purchase
from ergo.inputs.unit import dump_unit, load_unit
from ergo.purchases.cost_model import compare_purchase
from ergo.unit.plan import plan_unit
from ergo.unit.team_lookup import AssessedNeed
from tests.tools.small_unit import CENSUS, small_unit

ROOT = Path(__file__).parents[1]
PURCHASE = ROOT / "scenarios" / "purchases" / "turning_pad.toml"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    path = tmp_path_factory.mktemp("units")
    (path / "c.csv").write_text(CENSUS)
    (path / "a.toml").write_text(dump_unit(small_unit()))
    (path / "b.toml").write_text(dump_unit(small_unit(name="Other ward")))
    return path


@pytest.fixture(scope="module")
def plan(folder):
    return plan_unit(load_unit(folder / "a.toml"), AssessedNeed(), folder)


def run(capsys, *arguments, code=0):
    assert main([str(a) for a in arguments]) == code
    return capsys.readouterr()


def test_a_unit_is_answered_with_the_librarys_numbers(folder, plan, capsys):
    data = json.loads(run(capsys, "unit", folder / "a.toml", "--json").out)
    assert [n["people"] for n in data["needed"]] == [n.people for n in plan.needed]
    for level, said in zip(plan.levels, data["levels"], strict=True):
        assert said["covered"]["mean"] == level.covered.mean
        assert said["missed_by_hour"] == list(level.missed_by_hour)
        assert [s["pull_n_s"]["high"] for s in said["shifts"]] == [s.pull_n_s.high for s in level.shifts]
    rows = [f for f in data["force"] if f["task"] == "boost"]
    assert [f["people"] - rows[0]["people"] for f in rows] == [0, 1, 2]
    assert rows[0]["verdict"] in ("within", "close")
    assert rows[0]["asked"] <= rows[0]["allowed"]


def test_a_unit_as_text_starts_with_its_name_question_and_answer(folder, plan, capsys):
    lines = run(capsys, "unit", folder / "a.toml").out.splitlines()
    assert lines[:2] == ["Small ward", "Who is needed?"]
    assert f"day {plan.needed[0].people or 'no number'}, night" in lines[3]
    assert all(f"- {c}" in lines for c in plan.cautions)


def test_the_files_of_a_unit_are_written(folder, plan, capsys, tmp_path):
    table, page, paste = tmp_path / "out.csv", tmp_path / "out.html", tmp_path / "out.md"
    run(capsys, "unit", folder / "a.toml", "--csv", table, "-o", page)
    run(capsys, "unit", folder / "a.toml", "-o", paste)
    rows = list(csv.DictReader(io.StringIO(table.read_text())))
    assert [float(r["covered"]) for r in rows] == [s.covered.mean for v in plan.levels for s in v.shifts]
    html = page.read_text()
    assert not re.search(r'(?:src|href)="?http|<script', html)
    assert "Staffing request: Small ward" in html
    assert "Staffing request: Small ward" in paste.read_text()


def test_a_folder_gives_every_unit_and_the_same_figures(folder, plan, capsys, tmp_path):
    data = json.loads(run(capsys, "unit", folder, "--json", "--workers", "2").out)
    assert [u["file"] for u in data["units"]] == ["a.toml", "b.toml"]
    assert data["units"][0]["plan"]["levels"][0]["covered"]["mean"] == plan.levels[0].covered.mean


def test_what_is_wrong_with_a_unit_ends_with_2_and_every_fault(folder, tmp_path, capsys):
    bad = tmp_path / "bad.toml"
    bad.write_text('name = "x"\nbeds = 0\nlifts = 0\n')
    err = run(capsys, "unit", bad, code=2).err
    for field in ("beds", "shifts", "policies", "rounds, planned, unplanned, prone"):
        assert f"  {field} = " in err
    assert "ends in .html" in run(capsys, "unit", folder / "a.toml", "-o", "x.pdf", code=2).err
    assert "no-such" in run(capsys, "unit", "no-such.toml", code=2).err
    (tmp_path / "empty").mkdir()
    assert "must hold unit files" in run(capsys, "unit", tmp_path / "empty", code=2).err
    assert "1 to 512" in run(capsys, "unit", folder, "--workers", "0", code=2).err


def test_a_wrong_unit_in_a_folder_is_told_and_the_others_are_answered(folder, tmp_path, capsys):
    for name in ("a.toml", "c.csv"):
        (tmp_path / name).write_text((folder / name).read_text())
    (tmp_path / "z.toml").write_text('name = "x"\n')
    seen = run(capsys, "unit", tmp_path, code=2)
    assert "Small ward" in seen.out
    assert "z.toml" in seen.err


def test_a_purchase_is_answered_with_the_librarys_numbers(capsys):
    data = json.loads(run(capsys, "purchase", PURCHASE, "--json").out)
    case = compare_purchase(load_purchase(PURCHASE))
    for option, said in zip(case.options, data["options"], strict=True):
        assert said["npv"]["p95"] == option.npv.p95
        assert (said["payback"]["p95"] is None) == (option.payback.p95 == float("inf"))


def test_the_files_of_a_purchase_are_written_with_the_users_symbol(capsys, tmp_path):
    text = PURCHASE.read_text().replace('currency = "US$"', 'currency = "€"')
    file, page, paste = tmp_path / "p.toml", tmp_path / "p.html", tmp_path / "p.md"
    file.write_text(text, encoding="utf-8")
    run(capsys, "purchase", file, "-o", page)
    run(capsys, "purchase", file, "-o", paste)
    for written in (page, paste):
        said = written.read_text(encoding="utf-8")
        assert "€" in said
        assert "US$" not in said
        assert "no reduction nationally" in said


def test_what_is_wrong_with_a_purchase_ends_with_2_and_every_fault(tmp_path, capsys):
    bad = tmp_path / "bad.toml"
    bad.write_text('name = "x"\ncurrency = "€"\n')
    err = run(capsys, "purchase", bad, code=2).err
    for field in ("wage_per_h", "volumes", "options"):
        assert f"  {field} = " in err


def test_the_work_of_a_unit_is_told_before_it_begins_and_refused_above_the_minutes_asked_for(folder, capsys):
    assert "of one core: " in run(capsys, "unit", folder / "a.toml").err
    err = run(capsys, "unit", folder / "a.toml", "--minutes", "0.0001", code=2).err
    assert "at most 1 s: fewer days x runs (2 x 2 now" in err


@pytest.mark.parametrize("more", [(), ("--workers", "2")], ids=["alone", "folder"])
def test_ctrl_c_ends_a_plan_with_130_one_line_and_no_file(folder, tmp_path, more):
    for name in ("a", "b"):
        long = small_unit(name=name, beds=150, days=60, replications=20)
        (tmp_path / f"{name}.toml").write_text(dump_unit(long))
    (tmp_path / "c.csv").write_text(CENSUS)
    before = sorted(tmp_path.iterdir())
    what = tmp_path if more else tmp_path / "a.toml"
    out = ("--csv", str(tmp_path / "out.csv"))
    command = [sys.executable, "-m", "ergo", "unit", str(what), *out, *more, "--minutes", "600"]
    process = subprocess.Popen(
        command, stderr=subprocess.PIPE, text=True, cwd=ROOT, start_new_session=True,
        preexec_fn=partial(signal.signal, signal.SIGINT, signal.SIG_DFL),  # a background job would not hear it
    )  # fmt: skip
    assert process.stderr is not None
    assert process.stderr.readline().startswith("Work: about")
    time.sleep(2.0)
    os.killpg(process.pid, signal.SIGINT)
    began = time.perf_counter()
    assert process.wait(timeout=30) == 130
    assert time.perf_counter() - began < 3.0  # of which one second is for a busy machine to notice
    assert process.stderr.read() == "Stopped.\n"
    assert sorted(tmp_path.iterdir()) == before
