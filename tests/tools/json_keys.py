"""Every key that a command prints with `--json`; `python -m tests.tools.json_keys` lists them anew."""

from __future__ import annotations

import io
import json
import re
from contextlib import redirect_stdout
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from ergo.cli.main import main
from ergo.inputs import examples
from ergo.inputs.scenario import dump_scenario
from ergo.inputs.unit import dump_unit
from tests.tools.small_unit import CENSUS, small_unit

ROOT = Path(__file__).parents[2]
KEYS = ROOT / "tests" / "json_keys.txt"
PRONE = str(ROOT / "scenarios" / "prone_two_layer_pad.toml")
PURCHASE = str(ROOT / "scenarios" / "purchases" / "turning_pad.toml")
# Keys that are names out of a table or a case, not of a field.
_NAMES = re.compile(r"(\.terms|\.not_predicted|\.misses)\..*")


def _paths(data: Any, at: str) -> set[str]:
    """Every key with the keys it stands in; an entry of a list is []."""
    if isinstance(data, dict):
        inside = [_paths(part, _NAMES.sub(r"\1", f"{at}.{key}")) for key, part in data.items()]
        return {_NAMES.sub(r"\1", f"{at}.{key}") for key in data}.union(*inside)
    return set[str]().union(*(_paths(part, at + "[]") for part in data)) if isinstance(data, list) else set()


def keys_now() -> set[str]:
    """The keys of every command."""
    with TemporaryDirectory() as folder:
        (Path(folder) / "c.csv").write_text(CENSUS)
        (Path(folder) / "a.toml").write_text(dump_unit(small_unit()))
        crew = str(Path(folder) / "crew.toml")
        Path(crew).write_text(dump_scenario(examples.boost(team={"members": [{"size": "medium"}] * 3})))
        given = [(name, [PRONE]) for name in ("assess", "team", "height")] + [("sure", [PRONE, "--draws", "128"])]
        given += [("assess", [crew]), ("team", [crew])]
        given += [("unit", [str(Path(folder) / "a.toml")]), ("purchase", [PURCHASE]), ("evidence", [])]
        found: set[str] = set()
        for command, arguments in given:
            with redirect_stdout(io.StringIO()) as out:
                assert main([command, *arguments, "--json"]) == 0
            found |= _paths(json.loads(out.getvalue()), command)
    return found


if __name__ == "__main__":
    KEYS.write_text("\n".join(sorted(keys_now())) + "\n", encoding="utf-8")
