"""Saving never destroys: a kill in the middle leaves the old file."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from ergo.cli.files import save_text
from ergo.cli.main import main
from ergo.errors import InputError

OLD, NEW = "old " * 1000, "new " * 2_000_000


def test_a_kill_just_before_the_rename_leaves_the_old_file(tmp_path):
    target = tmp_path / "report.html"
    target.write_text(OLD)
    code = (
        "import os, signal; from ergo.cli import files as save;"
        "save.os.replace = lambda a, b: os.kill(os.getpid(), signal.SIGKILL);"
        f"save.save_text({str(target)!r}, 'new')"
    )
    assert subprocess.run([sys.executable, "-c", code]).returncode == -signal.SIGKILL
    assert target.read_text() == OLD


@pytest.mark.parametrize("after_s", [0.0, 0.005, 0.01, 0.02, 0.04, 0.08])
def test_a_kill_at_any_moment_leaves_the_old_file_or_the_whole_new_one(tmp_path, after_s):
    target = tmp_path / "report.html"
    target.write_text(OLD)
    code = (
        f"from ergo.cli.files import save_text; print('go', flush=True);save_text({str(target)!r}, 'new ' * 2_000_000)"
    )
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE) as child:
        assert child.stdout is not None
        child.stdout.readline()
        time.sleep(after_s)
        child.kill()
    assert target.read_text() in (OLD, NEW)


def test_a_saved_file_is_what_was_given_and_nothing_else_is_left(tmp_path):
    target = tmp_path / "report.md"
    save_text(target, "één regel\n")
    save_text(target, "two\n")
    assert target.read_text(encoding="utf-8") == "two\n"
    assert [p.name for p in tmp_path.iterdir()] == ["report.md"]


def test_a_folder_that_does_not_exist_is_an_input_error(tmp_path):
    with pytest.raises(InputError, match="there is no nowhere"):
        save_text(tmp_path / "nowhere" / "x.md", "x")


def test_a_folder_in_place_of_the_file_keeps_nothing_behind(tmp_path):
    (tmp_path / "x.md").mkdir()
    with pytest.raises(InputError):
        save_text(tmp_path / "x.md", "x")
    assert [p.name for p in tmp_path.iterdir()] == ["x.md"]


SCENARIOS = Path(__file__).parents[1] / "scenarios"


def copied(folder: Path, name: str, as_name: str) -> Path:
    made = folder / as_name
    made.write_bytes((SCENARIOS / name).read_bytes())
    return made


@pytest.mark.parametrize("way", ["itself", "symbolic link", "hard link", "another way there"])
@pytest.mark.parametrize(
    ("command", "name"), [("report", "boost_flat.toml"), ("purchase", "purchases/turning_pad.toml")]
)
def test_an_output_that_is_the_input_is_refused_and_the_input_stays(tmp_path, capsys, command, name, way):
    case = copied(tmp_path, name, "case.html")
    before = case.read_bytes()
    output = tmp_path / "other.html"
    if way == "symbolic link":
        output.symlink_to(case)
    elif way == "hard link":
        output.hardlink_to(case)
    else:
        output = case if way == "itself" else tmp_path / ".." / tmp_path.name / case.name
    assert main([command, str(case), "-o", str(output)]) == 2
    assert "this one is read, and would be lost" in capsys.readouterr().err
    assert case.read_bytes() == before


@pytest.mark.parametrize("as_folder", [False, True])
def test_an_output_that_is_the_unit_or_its_census_is_refused(tmp_path, capsys, as_folder):
    unit = copied(tmp_path, "units/example_hospital_icu.toml", "unit.toml")
    census = copied(tmp_path, "units/census_example.csv", "census_example.csv")
    before = census.read_bytes(), unit.read_bytes()
    for output in (census, unit):
        assert main(["unit", str(tmp_path if as_folder else unit), "--csv", str(output)]) == 2
        assert "would be lost" in capsys.readouterr().err
    assert (census.read_bytes(), unit.read_bytes()) == before


def test_a_file_that_exists_keeps_its_permissions_and_a_link_to_it_stays_one(tmp_path):
    target, link = tmp_path / "report.html", tmp_path / "link.html"
    target.write_text(OLD)
    target.chmod(0o640)
    link.symlink_to(target)
    save_text(link, "new")
    assert link.is_symlink()
    assert target.read_text() == "new"
    assert target.stat().st_mode & 0o777 == 0o640
    assert sorted(p.name for p in tmp_path.iterdir()) == ["link.html", "report.html"]


@pytest.mark.parametrize("output", ["pipe", "/dev/null"])
def test_a_device_or_a_pipe_is_refused_and_stays(tmp_path, output):
    path = Path(output) if output.startswith("/") else tmp_path / output
    if output == "pipe":
        os.mkfifo(path)
    with pytest.raises(InputError, match="not a device or pipe"):
        save_text(path, "x")
    assert not path.is_file()
    assert path.exists()


def test_a_file_of_the_longest_name_is_saved_and_an_interrupt_leaves_nothing_behind(tmp_path, monkeypatch):
    save_text(tmp_path / ("x" * 250 + ".md"), "x")
    monkeypatch.setattr(os, "fsync", lambda handle: (_ for _ in ()).throw(KeyboardInterrupt))
    with pytest.raises(KeyboardInterrupt):
        save_text(tmp_path / "y.md", "y")
    assert len(list(tmp_path.iterdir())) == 1


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="root may write anything")
def test_a_write_protected_file_is_refused(tmp_path):
    path = tmp_path / "x.md"
    path.write_text(OLD)
    path.chmod(0o444)
    with pytest.raises(InputError, match="write-protected"):
        save_text(path, "x")


@pytest.mark.skipif(not hasattr(os, "symlink"), reason="no links here")
def test_a_link_is_followed_and_said_and_a_folder_that_is_not_there_is_told_before_the_work(tmp_path, capsys):
    case = "scenarios/boost_flat.toml"
    (tmp_path / "link.md").symlink_to(tmp_path / "led.md")
    assert main(["report", case, "-o", str(tmp_path / "link.md")]) == 0
    assert f"a link to {tmp_path.resolve() / 'led.md'}" in capsys.readouterr().out
    assert (tmp_path / "link.md").is_symlink()
    assert main(["report", case, "-o", str(tmp_path / "nowhere" / "out.md")]) == 2
    assert "there is no nowhere" in capsys.readouterr().err
