"""Saving never destroys: a kill in the middle leaves the old file."""

from __future__ import annotations

import signal
import subprocess
import sys
import time

import pytest

from ergo.cli.files import save_text
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
    with pytest.raises(InputError, match="No such file"):
        save_text(tmp_path / "nowhere" / "x.md", "x")


def test_a_folder_in_place_of_the_file_keeps_nothing_behind(tmp_path):
    (tmp_path / "x.md").mkdir()
    with pytest.raises(InputError):
        save_text(tmp_path / "x.md", "x")
    assert [p.name for p in tmp_path.iterdir()] == ["x.md"]
