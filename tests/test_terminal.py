"""Every command on every terminal: another encoding, a full disk, a closed pipe, an interrupt, steering characters."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from ergo.cli.main import main
from ergo.inputs.unit import dump_unit
from ergo.report.terminal_characters import visible
from ergo.units import percent
from tests.tools.small_unit import CENSUS, small_unit

ROOT = Path(__file__).parents[1]
CASE = ROOT / "scenarios" / "boost_flat.toml"
PURCHASE = ROOT / "scenarios" / "purchases" / "turning_pad.toml"
NEEDS_FULL = pytest.mark.skipif(not Path("/dev/full").exists(), reason="no disk that is always full here")


@pytest.fixture(scope="module")
def unit(tmp_path_factory):
    folder = tmp_path_factory.mktemp("unit")
    (folder / "c.csv").write_text(CENSUS)
    (folder / "a.toml").write_text(dump_unit(small_unit()), encoding="utf-8")
    (folder / "cases.csv").write_text("procedure,sex,mass_kg,stature_m,aid\nboost,F,70,1.6,cotton draw sheet\n")
    return folder / "a.toml"


COMMANDS = {
    "assess": ["assess", str(CASE)],
    "team": ["team", str(CASE)],
    "sure": ["sure", str(CASE), "--draws", "256"],
    "height": ["height", str(CASE)],
    "evidence": ["evidence"],
    "cases": ["cases", "CASES", "-o", "ANSWERS"],
    "unit": ["unit", "UNIT"],
    "purchase": ["purchase", str(PURCHASE)],
    "fault": ["assess", "no-such-“file”.toml"],
    "option": ["assess", str(CASE), "--mass", "“stone”"],
    "help": ["assess", "--help"],
}
every_command = pytest.mark.parametrize("command", COMMANDS)


def given_with(arguments, unit):
    """The arguments with the files of the folder that holds the unit."""
    files = {"UNIT": unit, "CASES": unit and unit.parent / "cases.csv", "ANSWERS": unit and unit.parent / "answers.csv"}
    return [str(files.get(a, a)) for a in arguments]


def run(arguments, unit=None, encoding="utf-8", **how):
    """One command in a process of its own, its output as bytes."""
    given = given_with(arguments, unit)
    environment = os.environ | {"PYTHONIOENCODING": encoding, "PYTHONUTF8": "0", "COLUMNS": "200"}
    how = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE} | how
    return subprocess.run([sys.executable, "-m", "ergo", *given], cwd=ROOT, env=environment, check=False, **how)


@every_command
@pytest.mark.parametrize("encoding", ["ascii", "cp1252"])
def test_a_terminal_of_another_encoding_shows_plain_characters(command, encoding, unit):
    done = run(COMMANDS[command], unit, encoding)
    assert done.returncode == (2 if command in ("fault", "option") else 0), done.stderr
    assert b"Traceback" not in done.stderr
    said = (done.stdout + done.stderr).decode(encoding)
    assert said.strip()
    if command == "assess":
        assert said.splitlines()[3].startswith("o WITHIN: Every move is within the limits")


@pytest.mark.parametrize("command", ["assess", "unit", "purchase"])
def test_json_is_plain_ascii(command, unit):
    out = run([*COMMANDS[command], "--json"], unit).stdout
    assert out.isascii()
    assert out.startswith(b"{")


def test_a_file_is_utf_8_on_every_terminal(tmp_path):
    file = tmp_path / "out.md"
    assert run(["report", str(CASE), "-o", str(file)], encoding="ascii").returncode == 0
    assert "●" in file.read_text(encoding="utf-8")


@NEEDS_FULL
@every_command
def test_a_full_disk_ends_with_1_and_one_sentence(command, unit):
    with open("/dev/full", "wb") as full:
        done = run(COMMANDS[command], unit, stdout=full)
    if command in ("fault", "option"):
        assert done.returncode == 2
    else:
        *beside, said = done.stderr.splitlines()
        assert (done.returncode, said) == (1, b"The answer could not be written: No space left on device")
        assert all(line.startswith(b"Work: about") for line in beside)  # a unit's work is told before it begins


@NEEDS_FULL
@pytest.mark.parametrize("command", ["fault", "option"])
def test_where_not_even_a_fault_can_be_written_the_exit_code_says_it(command):
    with open("/dev/full", "wb") as full:
        assert run(COMMANDS[command], stdout=full, stderr=full).returncode == 2


@every_command
def test_a_closed_pipe_ends_quietly(command, unit):
    reading, writing = os.pipe()
    os.close(reading)
    done = run(COMMANDS[command], unit, stdout=writing)
    os.close(writing)
    assert done.returncode == (2 if command in ("fault", "option") else 1)
    assert b"Traceback" not in done.stderr
    assert b"Exception ignored" not in done.stderr


SLOW = "import time, ergo.cli.{0} as c\nfrom ergo.cli import main\n"
SLOW += "def slow(*given, **named):\n    print('begun', flush=True)\n    time.sleep(60)\n"
SLOW += "c.{1} = slow\nimport sys\nsys.exit(main.main(sys.argv[1:]))\n"
WORK = {
    "assess": "load_scenario",
    "team": "load_scenario",
    "sure": "load_scenario",
    "height": "load_scenario",
    "evidence": "evidence_answer",
    "cases": "smallest_teams",
    "unit": "load_unit",
    "purchase": "load_purchase",
    "report": "load_scenario",
}


@pytest.mark.skipif(os.name != "posix", reason="a signal of POSIX")
@pytest.mark.parametrize("command", WORK)
def test_an_interrupt_ends_with_130_and_no_traceback(command, unit, tmp_path):
    given = given_with(COMMANDS.get(command, ["report", str(CASE), "-o", "out.html"]), unit)
    code = SLOW.format(command, WORK[command])
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    with subprocess.Popen(
        [sys.executable, "-c", code, *given], cwd=tmp_path, env=environment, stdout=-1, stderr=-1
    ) as process:
        assert process.stdout.readline() == b"begun\n"
        process.send_signal(signal.SIGINT)
        _, said = process.communicate(timeout=30)
    assert (process.returncode, said) == (130, b"Stopped.\n")
    assert list(tmp_path.iterdir()) == []


AT_A_CALL = """
import os, signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)
from ergo.__main__ import run
name, left = {0!r}, {1}
def count(frame, event, _):
    global left
    if event == "call" and frame.f_code.co_name == name:
        left -= 1
        if left == 0:
            os.kill(os.getpid(), signal.SIGINT)
sys.setprofile(count)
sys.argv[1:] = ["evidence"]
sys.exit(run())
"""


@pytest.mark.skipif(os.name != "posix", reason="a signal of POSIX")
@pytest.mark.parametrize(
    ("name", "times"), [("find_spec", 1), ("exec_module", 3), ("exec_module", 60), ("exec_module", 150),
                        ("__set_name__", 1), ("register", 1)]
)  # fmt: skip
def test_an_interrupt_while_the_program_loads_ends_with_130_and_no_traceback(name, times, tmp_path):
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [sys.executable, "-c", AT_A_CALL.format(name, times)], cwd=tmp_path, env=environment, capture_output=True
    )
    assert (done.returncode, done.stdout, done.stderr) == (130, b"", b"Stopped.\n")


@pytest.mark.parametrize("trouble", [KeyboardInterrupt, OSError])
def test_trouble_while_a_file_is_written_leaves_the_old_one_and_nothing_beside_it(trouble, tmp_path, monkeypatch):
    file = tmp_path / "out.html"
    file.write_text("old")

    def fail(*_):
        raise trouble

    monkeypatch.setattr(os, "fsync", fail)
    assert main(["report", str(CASE), "-o", str(file)]) == (130 if trouble is KeyboardInterrupt else 2)
    assert [path.name for path in tmp_path.iterdir()] == ["out.html"]
    assert file.read_text() == "old"


# --- steering ---

STEERING = "\x1b[2J \x9b31m \u202eX \u2066Y \x07 \x08 \r\x00"


def steers(text: str) -> bool:
    return visible(text.replace("\n", "")) != text.replace("\n", "")


@pytest.mark.parametrize("character", [c for c in STEERING if not c.isascii() or not c.isprintable()])
def test_a_steering_character_in_any_text_becomes_visible(character):
    assert f"<U+{ord(character):04X}>" in visible(f"a{character}b")
    assert visible("Übung 病棟 قسم\u200f 👩\u200d⚕️ ●") == "Übung 病棟 قسم\u200f 👩\u200d⚕️ ●"


@pytest.mark.parametrize("field", ["name = ", "procedure = ", "unknown."])
@pytest.mark.parametrize("command", ["assess", "team", "sure", "height", "unit", "purchase"])
def test_no_error_steers_the_terminal_by_a_key_or_a_value(field, command, tmp_path, capsys):
    escapes = "\\u001b[2J\\u009b31m\\u202eX"
    file = tmp_path / "bad.toml"
    file.write_text(f'{field}"{escapes}"{" = 1" if field.endswith(".") else ""}\n', encoding="utf-8")
    assert main([command, str(file)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err
    assert not steers(err)


@pytest.mark.parametrize("given", [["assess", "a\x1b[2J.toml"], ["assess", "x", "--\x1b[31m"], ["\x1b[31m"]])
def test_no_argument_steers_the_terminal_when_it_is_named(given, capsys):
    if given[0] == "assess" and len(given) == 2:
        assert main(given) == 2
    else:
        with pytest.raises(SystemExit, match="2"):
            main(given)
    err = capsys.readouterr().err
    assert "U+001B" in err or "\\x1b" in err
    assert not steers(err)


def test_a_file_whose_name_is_no_text_is_named_all_the_same(capsys):
    assert main(["assess", "no-\udcff.toml"]) == 2
    assert "no-<U+DCFF>.toml" in capsys.readouterr().err


# --- probabilities ---


@pytest.mark.parametrize("probability", [0.0, 0.004, 0.5, 0.9958, 0.99951, 1.0])
def test_rounding_never_makes_a_probability_certain_or_impossible(probability):
    assert percent(probability) not in ("0 %", "100 %")
    assert percent(probability, 2) not in ("0.00 %", "100.00 %")


def test_no_probability_is_shown_of_a_few_draws(capsys):
    assert main(["sure", str(CASE), "--draws", "1"]) == 2
    assert "draws = 1: 100 to" in capsys.readouterr().err
    assert main(["sure", str(CASE), "--draws", "128"]) == 0
    said = capsys.readouterr().out
    assert "100 %" not in said.partition("What drives")[0]
    table = said.partition("Convergence:")[2].partition("\n\n")[0].splitlines()[2:]
    assert [line.split()[0] for line in table] == ["128"]
