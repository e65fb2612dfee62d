"""Build wheel and sdist, install each where the repository is not, and try them there. Not collected by pytest.

Run `python tests/check_packaging.py [--lowest]`. Prints one line a check. With `--lowest` the wheel is also installed
with the lowest versions that pyproject.toml allows, and the quick tests run against those; needs a package index.
"""

from __future__ import annotations

import argparse
import re
import shutil
import subprocess
import sys
import tarfile
import tempfile
import tomllib
import venv
import zipfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
QUICK = (
    "test_limits.py",
    "test_limit_values.py",
    "test_verdicts.py",
    "test_scenario.py",
    "test_save.py",
    "test_demand.py",
    "test_crew.py",
    "test_purchase.py",
)
THERE = (*QUICK, "test_report.py", "test_cli.py")
WITH_TESTS = ("pytest", "hypothesis", "numpy-financial")
# The tests read what lies beside them in the repository, so that goes along; the package itself does not.
BESIDE = ("tests", "scenarios", ".streamlit", "app.py")


def say(what: str, passed: bool, more: str = "") -> bool:
    print(f"{'ok  ' if passed else 'FAIL'}  {what}{': ' + more if more else ''}", flush=True)
    return passed


def run(*command: object, cwd: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run([str(c) for c in command], cwd=cwd, capture_output=True, text=True)


def environment(folder: Path) -> Path:
    venv.create(folder, with_pip=True)
    return folder / "bin" / "python"


def wanted_files() -> set[str]:
    """Everything in the package's folder that is not compiled, and the scenarios where an installation puts them."""
    inside = {
        p.relative_to(ROOT).as_posix()
        for p in (ROOT / "ergo").rglob("*")
        if p.is_file() and "__pycache__" not in p.parts and p.suffix != ".pyc"
    }
    return inside | {p.relative_to(ROOT).as_posix() for p in (ROOT / "scenarios").rglob("*") if p.is_file()}


def built(work: Path) -> tuple[Path, Path]:
    """Build both from a copy, so that nothing is written into the repository."""
    copy = work / "source"
    ignored = shutil.ignore_patterns(".git", "__pycache__", ".venv", "build", "dist", "*.egg-info", ".*_cache")
    shutil.copytree(ROOT, copy, ignore=ignored)
    python = environment(work / "build_env")
    done = run(python, "-m", "pip", "install", "-q", "build", cwd=work)
    done = run(python, "-m", "build", "--outdir", work / "dist", copy, cwd=work)
    say("wheel and sdist are built", done.returncode == 0, done.stderr[-300:] if done.returncode else "")
    return next((work / "dist").glob("*.whl")), next((work / "dist").glob("*.tar.gz"))


def check_contents(wheel: Path, sdist: Path) -> bool:
    names = {re.sub(r"^[^/]+\.data/data/share/ergo/", "", n) for n in zipfile.ZipFile(wheel).namelist()}
    missing = wanted_files() - names
    passed = say("the wheel holds every file of the package and the scenarios", not missing, str(sorted(missing)[:5]))
    size = wheel.stat().st_size
    passed &= say("the wheel is under 5 MB", size < 5_000_000, f"{size / 1e6:.2f} MB")
    extra = [n for n in names if n.startswith(("tests/", "build/"))]
    passed &= say("and no tests", not extra, str(extra[:5]) if extra else "")
    with tarfile.open(sdist) as archive:
        packed = {n.split("/", 1)[-1] for n in archive.getnames()}
    missing = (wanted_files() | {"README.md", "LICENSE", "pyproject.toml"}) - packed
    return passed & say("the sdist holds the same", not missing, str(sorted(missing)[:5]) if missing else "")


def check_installed(python: Path, what: Path, work: Path) -> bool:
    """Install into an environment and use the command from a folder that knows nothing of the repository."""
    done = run(python, "-m", "pip", "install", "-q", what, cwd=work)
    passed = say(f"{what.suffix} installs", done.returncode == 0, done.stderr[-300:] if done.returncode else "")
    code = (
        "import ergo, ergo.show.examples as e; from ergo.evidence import table_names; "
        "print(ergo.__file__, len(e.examples()), len(table_names()), e.scenario_folder())"
    )
    done = run(python, "-c", code, cwd=work)
    wanted = len(list((ROOT / "scenarios").glob("*.toml")))
    found = done.stdout.split()
    here = len(found) == 4 and str(work) in found[0] and int(found[1]) == wanted
    passed &= say("it is imported from there, with its scenarios and tables", here, (done.stdout or done.stderr)[-200:])
    folder = Path(found[3]) if here else ROOT / "scenarios"
    ergo = python.with_name("ergo")
    for command in (
        ("team", folder / "prone_cotton_draw_sheet.toml"),
        ("assess", folder / "boost_flat.toml", "--json"),
        ("report", folder / "boost_flat.toml", "-o", work / "out.html"),
    ):
        done = run(ergo, *command, cwd=work)
        said = done.stderr[-300:] if done.returncode else done.stdout.splitlines()[0][:60]
        passed &= say(f"ergo {command[0]} answers", done.returncode == 0 and bool(done.stdout), said)
    return passed


def check_page(python: Path, work: Path) -> bool:
    """Show the first page, as the installed command starts it."""
    code = (
        "from pathlib import Path; import ergo.show.pages as p; from streamlit.testing.v1 import AppTest\n"
        "app = AppTest.from_file(str(Path(p.__file__).with_name('start.py')), default_timeout=120).run()\n"
        "assert not app.exception, app.exception\nassert app.title or app.markdown\nprint('shown')"
    )
    done = run(python, "-c", code, cwd=work)
    return say(
        "the page is shown", done.stdout.strip().endswith("shown"), done.stderr[-300:] if done.returncode else ""
    )


def check_tests(python: Path, work: Path, tests: tuple[str, ...], label: str) -> bool:
    """Run tests against what is installed: the package's folder is not among what is copied."""
    there = work / f"tests_{label.split()[0]}"
    there.mkdir()
    for name in BESIDE:
        source = ROOT / name
        copy = shutil.copytree if source.is_dir() else shutil.copy
        copy(source, there / name)
    shutil.copy(ROOT / "pyproject.toml", there)
    files = [f"tests/{name}" for name in tests if (there / "tests" / name).exists()]
    done = run(python, "-m", "pytest", "-q", "-p", "no:cacheprovider", *files, cwd=there)
    lines = done.stdout.splitlines()
    tail = [line for line in lines if line.startswith(("FAILED", "ERROR", "E  ")) or " passed" in line][-8:] or lines[
        -8:
    ]
    return say(
        f"tests pass against the installed package, {label}", done.returncode == 0, " | ".join(tail) or done.stderr
    )


def lowest() -> list[str]:
    """Every dependency at the lowest version that pyproject.toml allows."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    return [re.sub(r">=", "==", name) for name in project["dependencies"]]


def main() -> int:
    """Check everything."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--lowest", action="store_true", help="also with the lowest versions allowed")
    given = options.parse_args()
    with tempfile.TemporaryDirectory() as name:
        work = Path(name)
        wheel, sdist = built(work)
        passed = check_contents(wheel, sdist)
        python = environment(work / "wheel_env")
        passed &= check_installed(python, wheel, work)
        run(python, "-m", "pip", "install", "-q", *WITH_TESTS, cwd=work)
        passed &= check_page(python, work)
        passed &= check_tests(python, work, THERE, "newest versions")
        shutil.rmtree(work / "wheel_env")
        passed &= check_installed(environment(work / "sdist_env"), sdist, work)
        shutil.rmtree(work / "sdist_env")
        if given.lowest:
            python = environment(work / "lowest_env")
            done = run(python, "-m", "pip", "install", "-q", *WITH_TESTS, *lowest(), cwd=work)
            said = done.stderr[-600:] if done.returncode else ", ".join(lowest())
            if not say("the lowest versions install together", done.returncode == 0, said):
                return 1
            passed &= check_installed(python, wheel, work)
            passed &= check_page(python, work)
            passed &= check_tests(python, work, THERE, "lowest versions")
    return 0 if passed else 1


if __name__ == "__main__":
    sys.exit(main())
