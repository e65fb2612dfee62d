"""A folder that holds a case may hold anything else: no command and no process of the page runs what lies there."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path
from urllib.request import urlopen

import pytest

from ergo.inputs import examples
from ergo.inputs.scenario import dump_scenario
from ergo.inputs.unit import dump_unit
from tests.tools.served import free_port
from tests.tools.small_unit import CENSUS, small_unit

ROOT = Path(__file__).parents[1]
NAMES = ("argparse", "csv", "ergo", "json", "numpy", "pickle", "sitecustomize", "streamlit", "tomllib", "typing")
# The console script of an installation: its own folder comes first on the path, never the current one.
CONSOLE = "import sys; from ergo.cli.main import main; sys.argv[0] = 'ergo'; sys.exit(main())"
PURCHASES = ROOT / "scenarios" / "purchases"


@pytest.fixture
def hostile(tmp_path: Path) -> Path:
    """A folder with a case and with files named like modules; each says so where it is run."""
    for name in NAMES:
        (tmp_path / f"{name}.py").write_text(f"open({str(tmp_path / 'ran')!r}, 'a').write('{name} ')\n")
    (tmp_path / "case.toml").write_text(dump_scenario(examples.boost()))
    (tmp_path / "cases.csv").write_text("procedure,sex,mass_kg,stature_m,aid\nboost,F,70,1.6,cotton draw sheet\n")
    (tmp_path / "c.csv").write_text(CENSUS)
    (tmp_path / "unit.toml").write_text(dump_unit(small_unit()), encoding="utf-8")
    return tmp_path


def environment(**more: str) -> dict[str, str]:
    return {k: v for k, v in os.environ.items() if k != "PYTHONSAFEPATH"} | {"PYTHONPATH": str(ROOT)} | more


def ran(folder: Path) -> str:
    return (folder / "ran").read_text() if (folder / "ran").exists() else ""


@pytest.mark.parametrize(
    "command",
    [
        ("assess", "case.toml"),
        ("team", "case.toml"),
        ("height", "case.toml"),
        ("sure", "case.toml"),
        ("report", "case.toml", "-o", "out.md"),
        ("evidence",),
        ("cases", "cases.csv", "-o", "out.csv"),
        ("unit", "unit.toml", "--csv", "plan.csv", "-o", "request.html"),
        ("purchase", str(PURCHASES / "turning_pad.toml")),
    ],
    ids=lambda command: command[0],
)
@pytest.mark.parametrize("start", ["console", "module"])
def test_no_command_runs_what_lies_beside_the_case(command: tuple[str, ...], start: str, hostile: Path) -> None:
    if start == "module":
        (hostile / "ergo.py").unlink()  # `python -m ergo` there would mean that file
    python = [sys.executable, "-m", "ergo"] if start == "module" else [sys.executable, "-P", "-c", CONSOLE]
    done = subprocess.run([*python, *command], cwd=hostile, env=environment(), capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert ran(hostile) == ""


@pytest.mark.parametrize("paths", [str(ROOT), f"{ROOT}{os.pathsep}", f"{os.pathsep}{ROOT}", f"{ROOT}{os.pathsep}."])
def test_a_process_of_the_page_runs_nothing_of_the_current_folder(paths: str, hostile: Path) -> None:
    asks = (
        f"import os; os.chdir({str(hostile)!r})\n"
        "from ergo.web.jobs import ANSWER, Jobs, answer\n"
        "from ergo.inputs import examples\n"
        "from ergo.inputs.scenario import dump_scenario\n"
        "print(Jobs(1).ask(ANSWER, answer, dump_scenario(examples.boost())).result(100).needs)\n"
    )
    run = [sys.executable, "-P", "-c", asks]
    # the page itself starts elsewhere: only its children see the hostile folder
    done = subprocess.run(run, cwd=ROOT, env=environment(PYTHONPATH=paths), capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert ran(hostile) == ""


@pytest.mark.skipif(os.name != "posix", reason="the page is another process there")
@pytest.mark.parametrize("start", ["console", "module"])
def test_the_page_runs_nothing_of_the_current_folder(start: str, hostile: Path) -> None:
    (hostile / ".streamlit").mkdir()
    (hostile / ".streamlit" / "config.toml").write_text('[server]\nbaseUrlPath = "elsewhere"\n')
    if start == "module":
        (hostile / "ergo.py").unlink()
    python = [sys.executable, "-m", "ergo"] if start == "module" else [sys.executable, "-P", "-c", CONSOLE]
    port = free_port()
    process = subprocess.Popen(
        [*python, "page", "--port", str(port)], cwd=hostile, env=environment(), stdout=subprocess.DEVNULL
    )
    try:
        end = time.monotonic() + 60.0
        status = 0
        while status != 200 and time.monotonic() < end:
            try:
                with urlopen(f"http://localhost:{port}/_stcore/health", timeout=1) as reply:
                    status = reply.status
            except OSError:
                time.sleep(0.1)
        assert status == 200
        time.sleep(2.0)  # its processes load
    finally:
        process.terminate()
        process.wait(20)
    assert ran(hostile) == ""
