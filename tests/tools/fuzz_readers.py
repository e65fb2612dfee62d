"""Coverage-guided fuzzing of the readers of files. Not collected by pytest; needs `pip install atheris`.

Run `python tests/tools/fuzz_readers.py toml CORPUS -max_total_time=240` or `... csv CORPUS ...`; the rest
goes to libFuzzer.
Any end other than a value or an `InputError` in words is a finding, and so is an input that takes over two seconds.
"""

from __future__ import annotations

import re
import sys
import time
from pathlib import Path

import atheris

sys.path.insert(0, str(Path(__file__).parents[2]))

from ergo.errors import InputError

with atheris.instrument_imports(include=["ergo.inputs.schema", "ergo.inputs.scenario", "ergo.plan", "tomllib", "csv"]):
    from ergo.inputs.census import read_census
    from ergo.inputs.purchase import read_purchase
    from ergo.inputs.scenario import dump_scenario, read_scenario
    from ergo.inputs.unit import read_unit

ROOT = Path(__file__).parents[2] / "scenarios"
LONGEST_S = 2.0


def toml(raw: bytes) -> None:
    """Read the bytes as each of the three files; a scenario that reads is written and read again."""
    for read in (read_scenario, read_unit, read_purchase):
        try:
            found = read(raw)
        except InputError as error:
            words(error)
            continue
        if read is read_scenario:
            assert read_scenario(dump_scenario(found).encode()) == found


def census(raw: bytes) -> None:
    """Read the bytes as a census."""
    try:
        found = read_census(raw)
    except InputError as error:
        words(error)
        return
    assert len(found) > 0
    assert (found.mass_kg >= 25).all()
    assert (found.mass_kg <= 350).all()


def words(error: InputError) -> None:
    """An error names its faults, and is short enough to read."""
    assert error.faults
    assert all(fault.field for fault in error.faults)
    assert len(str(error)) < 50_000


def timed(raw: bytes) -> None:
    """Run one input within the time allowed."""
    began = time.process_time()
    (toml if sys.argv[1] == "toml" else census)(raw)
    assert time.process_time() - began < LONGEST_S, "too slow"


def main() -> None:
    """Fill an empty corpus with our own files, then fuzz."""
    kind, corpus = sys.argv[1], Path(sys.argv[2])
    corpus.mkdir(parents=True, exist_ok=True)
    for path in sorted(ROOT.rglob("*.toml" if kind == "toml" else "*.csv")):
        (corpus / path.name).write_bytes(path.read_bytes()[:8000])
    words_of = corpus.with_suffix(".dict")  # field names and values: random bytes alone rarely spell one
    found = {w for path in ROOT.rglob("*.[tc]*") for w in re.findall(r"[\w ]{2,30}", path.read_text("utf-8"))}
    tokens = ["nan", "inf", "true", "[[", "]]", '\\"', ",,", "1e400", "0x", "\\xef\\xbb\\xbf", *sorted(found)]
    words_of.write_text("".join(f'"{w.strip()}"\n' for w in tokens if w.strip()), "ascii", "ignore")
    atheris.Setup([sys.argv[0], f"-dict={words_of}", *sys.argv[2:]], timed)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
