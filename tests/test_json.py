"""The keys of `--json` are stable: a list holds every one, so that none changes unseen."""

from __future__ import annotations

import json
from dataclasses import dataclass

import numpy as np
import pytest

from ergo.cli.main import main
from ergo.report.json_export import plain_data, to_json
from tests.tools.json_keys import KEYS, PURCHASE, keys_now


def test_every_key_of_every_command_is_the_one_listed():
    assert keys_now() == set(KEYS.read_text(encoding="utf-8").split()), "python -m tests.tools.json_keys, CHANGELOG.md"


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
