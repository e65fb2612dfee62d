"""Build wheel and sdist, install each where the repository is not, and try them there. Not collected by pytest.

Run `python tests/tools/check_packaging.py [--lowest | --only-lowest]`. Prints one line a check. Every test but those
in a browser runs against the wheel as installed, worked examples too. With `--lowest` the same with the lowest
versions that pyproject.toml allows, of the package's needs and of the tests'. Takes some ten minutes each; needs a
package index.
"""

from __future__ import annotations

import argparse
import hashlib
import os
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
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
NOT_WITH_TESTS = ("ruff", "mypy", "pandas-stubs", "scipy-stubs", "playwright", "axe-playwright-python")
# The tests read what lies beside them in the repository, so that goes along; the package itself does not.
BESIDE = ("tests", "scenarios", ".streamlit", "app.py", "pyproject.toml", "README.md", "DEVELOPERS.md")


def say(what: str, passed: bool, more: str = "") -> bool:
    print(f"{'ok  ' if passed else 'FAIL'}  {what}{': ' + more if more else ''}", flush=True)
    return passed


def run(*command: object, cwd: Path) -> subprocess.CompletedProcess[str]:
    alone = {k: v for k, v in os.environ.items() if k != "PYTHONPATH"}  # nothing is imported from the repository
    return subprocess.run([str(c) for c in command], cwd=cwd, capture_output=True, text=True, env=alone)


def project() -> dict[str, Any]:
    return tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]


def with_tests() -> list[str]:
    """What the tests need but lint, types and the browser."""
    wanted = project()["optional-dependencies"]["test"]
    return [name for name in wanted if re.split(r"[\[>=]", name)[0] not in NOT_WITH_TESTS]


def lowest(names: list[str]) -> list[str]:
    """Name every package at the lowest version that is allowed."""
    return [name.replace(">=", "==") for name in names]


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
        "import ergo, ergo.inputs.examples as e; from ergo.evidence import table_names; "
        "print(ergo.__file__, len(e.shipped()), len(table_names()), e.scenario_folder())"
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
        "from pathlib import Path; import ergo.web as p; from streamlit.testing.v1 import AppTest\n"
        "app = AppTest.from_file(str(Path(p.__file__).with_name('start.py')), default_timeout=120).run()\n"
        "assert not app.exception, app.exception\nassert app.title or app.markdown\nprint('shown')"
    )
    done = run(python, "-c", code, cwd=work)
    return say(
        "the page is shown", done.stdout.strip().endswith("shown"), done.stderr[-300:] if done.returncode else ""
    )


def installed_files(python: Path) -> dict[str, str]:
    """Return every file of the installed package with its digest."""
    folder = python.parents[1] / "lib"
    found = next(folder.glob("python*/site-packages/ergo"))
    return {
        p.relative_to(found).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in found.rglob("*")
        if p.is_file() and p.suffix != ".pyc"
    }


def versions(python: Path, work: Path) -> str:
    """Say Python's version and that of every package the project names."""
    names = [re.split(r"[\[>=]", name)[0] for name in [*project()["dependencies"], *with_tests()]]
    code = (
        "import platform; from importlib.metadata import version\n"
        f"print('Python ' + platform.python_version(), *[n + ' ' + version(n) for n in {names}], sep=', ')"
    )
    return run(python, "-c", code, cwd=work).stdout.strip()


def check_tests(python: Path, work: Path, label: str) -> bool:
    """Run the tests against what is installed: beside them lies a link to it, and no file of the repository's own."""
    there = work / f"tests_{label.split()[0]}"
    there.mkdir()
    for name in BESIDE:
        source = ROOT / name
        copy = shutil.copytree if source.is_dir() else shutil.copy
        copy(source, there / name)
    (there / "ergo").symlink_to(next((python.parents[1] / "lib").glob("python*/site-packages/ergo")))
    say(f"versions, {label}", True, versions(python, work))
    options = ("-p", "no:cacheprovider", "-r", "fEs", "--ignore", "tests/test_browser.py")
    done = run(python, "-m", "pytest", *options, "ergo", "tests", cwd=there)
    tail = [line for line in done.stdout.splitlines() if line.startswith(("FAILED", "ERROR", "E  ", "SKIPPED"))][:20]
    tail += done.stdout.splitlines()[-1:]
    label = f"tests pass against the installed package, {label}"
    return say(label, done.returncode == 0, " | ".join(tail) or done.stderr[-600:])


def check_version(work: Path, wheel: Path, label: str, needs: list[str]) -> tuple[bool, Path]:
    """Install the wheel with these needs into an environment of its own; command, page and tests."""
    python = environment(work / f"{label.split()[0]}_env")
    done = run(python, "-m", "pip", "install", "-q", *needs, cwd=work)
    if not say(f"the {label} install together", done.returncode == 0, done.stderr[-600:] if done.returncode else ""):
        return False, python
    passed = check_installed(python, wheel, work)
    passed &= check_page(python, work)
    return passed & check_tests(python, work, label), python


def main() -> int:
    """Check everything."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--lowest", action="store_true", help="also with the lowest versions allowed")
    options.add_argument("--only-lowest", action="store_true", help="only with the lowest versions allowed")
    given = options.parse_args()
    with tempfile.TemporaryDirectory() as name:
        work = Path(name)
        wheel, sdist = built(work)
        passed = check_contents(wheel, sdist)
        python = environment(work / "sdist_env")
        passed &= check_installed(python, sdist, work)
        from_sdist = installed_files(python)
        shutil.rmtree(work / "sdist_env")
        wanted = []
        if not given.only_lowest:
            wanted.append(("newest versions", with_tests()))
        if given.lowest or given.only_lowest:
            wanted.append(("lowest versions", lowest([*project()["dependencies"], *with_tests()])))
        for label, needs in wanted:
            fine, python = check_version(work, wheel, label, needs)
            passed &= fine and say("wheel and sdist install the same files", installed_files(python) == from_sdist)
            shutil.rmtree(python.parents[1])
    return 0 if passed else 1


if __name__ == "__main__":
    sys.exit(main())
