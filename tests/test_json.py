"""The keys of `--json` are stable: a list holds every one, so that none changes unseen."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from ergo.cli.main import main
from ergo.inputs.unit import dump_unit
from ergo.report.json_export import plain_data, to_json
from tests.tools.small_unit import CENSUS, small_unit

ROOT = Path(__file__).parents[1]
KEYS = ROOT / "tests" / "json_keys.txt"
PRONE = str(ROOT / "scenarios" / "prone_two_layer_pad.toml")
PURCHASE = str(ROOT / "scenarios" / "purchases" / "turning_pad.toml")
# Keys that are names out of a table or a case, not of a field.
NAMES = re.compile(r"(\.terms|\.not_predicted)\..*")


def paths(data, at):
    """Every key with the keys it stands in; an entry of a list is []."""
    if isinstance(data, dict):
        for key, part in data.items():
            yield NAMES.sub(r"\1", f"{at}.{key}")
            yield from paths(part, NAMES.sub(r"\1", f"{at}.{key}"))
    elif isinstance(data, list):
        for part in data:
            yield from paths(part, at + "[]")


def test_every_key_of_every_command_is_the_one_listed(tmp_path, capsys):
    (tmp_path / "c.csv").write_text(CENSUS)
    (tmp_path / "a.toml").write_text(dump_unit(small_unit()))
    given = {name: [PRONE] for name in ("assess", "team", "height")} | {"sure": [PRONE, "--draws", "128"]}
    given |= {"unit": [str(tmp_path / "a.toml")], "purchase": [PURCHASE], "evidence": []}
    found: set[str] = set()
    for command, arguments in given.items():
        assert main([command, *arguments, "--json"]) == 0
        found |= set(paths(json.loads(capsys.readouterr().out), command))
    assert found == set(KEYS.read_text(encoding="utf-8").split()), "list the change in CHANGELOG.md too"


def test_json_stands_alone_on_the_output_where_a_file_is_written_too(tmp_path, capsys):
    out = tmp_path / "out.md"
    assert main(["purchase", PURCHASE, "--json", "-o", str(out)]) == 0
    said = capsys.readouterr()
    assert json.loads(said.out)
    assert said.err == f"Wrote {out}\n"


@dataclass(frozen=True)
class Result:
    """Some result."""

    figure: object


@pytest.mark.parametrize("figure", [float("nan"), np.float64("nan"), np.array([1.0, np.nan]), {"a": (float("nan"),)}])
def test_a_figure_that_is_no_number_raises_wherever_it_hides(figure):
    with pytest.raises(ValueError, match="not a number"):
        to_json(Result(figure))


def test_arrays_scalars_and_never_are_what_json_knows():
    data = {"a": np.array([[1, 2]]), "b": np.bool_(True), "c": np.int64(3), "d": float("inf"), "e": (None, "x")}
    assert plain_data(Result(data)) == {"figure": {"a": [[1, 2]], "b": True, "c": 3, "d": None, "e": [None, "x"]}}


def test_what_json_has_no_word_for_is_refused():
    with pytest.raises(TypeError, match="no JSON for object"):
        to_json(Result(object()))
