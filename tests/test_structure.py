"""The house in order: keys of evidence resolve both ways, imports go one way."""

from __future__ import annotations

import ast
import doctest
import re
import subprocess
import sys
from graphlib import TopologicalSorter
from math import isfinite
from pathlib import Path

import pytest

from ergo import evidence
from ergo.inputs.scenario import load_scenario
from ergo.limits.registry import LIMITS
from ergo.mechanics.case import build_case
from ergo.mechanics.demand import ways_of
from ergo.mechanics.friction import registry
from ergo.mechanics.procedure import plan_moves
from ergo.validation.cases import validation_cases

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "ergo"
TABLES = PACKAGE / "evidence" / "tables"
MODULES = sorted(PACKAGE.rglob("*.py"))
TREES = {path: ast.parse(path.read_text(encoding="utf-8")) for path in MODULES}
STRINGS = {
    path: {n.value for n in ast.walk(tree) if isinstance(n, ast.Constant) and isinstance(n.value, str)}
    for path, tree in TREES.items()
}
IN_CODE = set().union(*STRINGS.values())
SOURCE_KEY = re.compile(r"^[a-z]+(?:_[a-z]+)*(?:_[a-z]*\d[\w]*)+$")


def name(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


# --- evidence -----------------------------------------------------------------------------------------------------


def test_every_table_of_the_folder_is_listed_and_every_listed_table_exists():
    assert set(evidence.table_names()) | {"index"} == {path.stem for path in TABLES.glob("*.csv")}
    for table in evidence.table_names():
        assert evidence.table(table), table


def keys_in_tables() -> dict[str, set[str]]:
    """Every source key that a table names, with the tables that name it."""
    found: dict[str, set[str]] = {}
    for table in evidence.table_names():
        if table == "sources":
            continue
        for entry in evidence.table(table):
            for key in (entry.get("source") or "").split(" / "):
                if key not in ("", "none"):  # "none" says that nobody has published it
                    found.setdefault(key, set()).add(table)
    return found


# Sources that are words, not publications: a practice that nobody published in a citable way.
IN_WORDS = {
    "a hospital poster (not traceable)",
    "a teaching text of statics (not traceable)",
    "a textbook problem (not traceable)",
    "no source",
    "statics",
    "UK trauma teaching",
    "hospital practice in the UK",
}


def test_every_source_that_a_table_names_is_in_the_list_of_sources_or_says_in_words_what_it_is():
    unknown = {key: where for key, where in keys_in_tables().items() if key not in evidence.sources()}
    assert set(unknown) == IN_WORDS, unknown


def test_every_source_that_the_code_names_is_in_the_list_of_sources():
    looks_like_one = {s for s in IN_CODE if SOURCE_KEY.match(s) and re.search(r"_(19|20)\d\d", s)}
    not_sources = {
        "snook_1991", "pull_limits_snook_1991", "pull_initial_1991", "push_pull_equations_potvin_2021",
        "push_pull_guideline_weston_2018", "segments_deleva_1996",
    }  # fmt: skip
    assert looks_like_one - not_sources <= set(evidence.sources())
    for limit in LIMITS:
        assert not limit.source or evidence.source(limit.source)
    for aid in registry().values():
        for contact in aid.contacts:
            assert not contact.source or evidence.source(contact.source)
    for file in sorted((ROOT / "scenarios").glob("*.toml")):
        scenario = load_scenario(file)
        case = build_case(scenario)
        for move in plan_moves(scenario, case):
            for task in (task for way in ways_of(move, case, scenario) for task in way):
                assert set(task.sources) <= set(evidence.sources())


# Read for this work and kept so that a reader sees what was looked at; no figure of theirs is used yet.
BACKGROUND = {
    "anderson_1985",
    "dennis_barrett_2002",
    "derler_2012_sheets",
    "garg_2014",
    "hwang_2020",
    "iso_11228_2",
    "iso_tr_12296",
    "jaeger_2018",
    "kahn_2014",
    "kroemer_1974",
    "lavender_2007",
    "rohmert_1960",
    "smith_loder_2019",
    "still_2013",
    "visser_2015",
}


def test_every_source_is_used_by_a_table_or_by_code_or_is_marked_as_background():
    prose = " ".join(path.read_text(encoding="utf-8") for path in MODULES)
    used = {key for key in evidence.sources() if key in keys_in_tables() or re.search(rf"\b{key}\b", prose)}
    assert set(evidence.sources()) - used == BACKGROUND


def test_every_assumption_is_used_by_the_code_and_every_one_asked_for_exists():
    asked = set()
    for tree in TREES.values():
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and getattr(node.func, "id", getattr(node.func, "attr", "")) == "assumption":
                asked |= {a.value for a in node.args if isinstance(a, ast.Constant)}
    assert asked <= set(evidence.assumptions())
    unused = {key for key in evidence.assumptions() if key not in IN_CODE}
    assert not unused


# Tables that only the tests read, and why they stay.
FOR_TESTS = {
    "crews": "who works in health care; test_reference_team holds the drawn staff against it",
    "check_values": "worked examples that test_published reproduces",
    "default_friction": "the basis of aid_interfaces; test_published holds the two together",
    "supine_depth_nhanes": "the bands behind supine_depth_fits; test_published holds the two together",
}
# Tables that wait for a model, and which.
WAITING = {
    "arm_strength_la_delfa_2017": "strength of one arm where the hand is, shown on the Evidence page",
}


def test_every_table_is_read_by_the_code_or_stays_for_a_stated_reason():
    unread = {t for t in evidence.table_names() if t not in IN_CODE} - {"sources", "index"}
    assert unread == set(FOR_TESTS) | set(WAITING)


@pytest.mark.parametrize(
    ("table", "columns"),
    [
        ("en_1005_3_multipliers", ("above", "up_to", "value")),
        ("endurance", ("b0_s", "b1")),
        ("guidance_headcounts", ("mass_from_lb", "mass_to_lb", "people_from", "people_to")),
        ("limits", ("value",)),
        ("measured_forces", ("value", "value_to", "sd")),
        ("niosh_frequency", ("lifts_a_minute", "up_to_1h", "up_to_2h", "up_to_8h")),
        ("niosh_lifting", ("value",)),
        ("supine_depth_fits", ("depth_cm", "depth_cm_per_bmi", "breadth_m", "breadth_power")),
        ("team_effects", ("value", "high")),
        ("usual_headcounts", ("people_from", "people_to")),
    ],
)
def test_a_table_holds_one_number_in_a_cell_and_no_formula(table, columns):
    for entry in evidence.table(table):
        for column in columns:
            assert not entry[column] or isfinite(float(entry[column]))


def test_every_row_says_how_it_is_known():
    words = ("read", "reprint", "memory", "derived", "common-practice", "judgement", "identity", "none")
    for table in evidence.table_names():
        if table in ("sources", "check_values"):
            continue
        for entry in evidence.table(table):
            assert entry.get("known", "").startswith(words), (table, entry)


def test_a_range_is_in_order_and_has_a_unit():
    for key, found in evidence.assumptions().items():
        assert found.low <= found.typical <= found.high, key
        assert found.unit, key
        assert found.known.startswith(("judgement", "derived", "common-practice", "read", "memory", "reprint")), key
        assert found.source or found.known in ("judgement", "common-practice", "derived"), key


# --- imports ------------------------------------------------------------------------------------------------------

ORDER = (
    "errors",
    "units",
    "remembered",
    "evidence",
    "inputs",
    "mechanics",
    "handlers",
    "limits",
    "assessment",
    "uncertainty",
    "teams",
    "unit",
    "purchases",
    "validation",
    "report",
    "cli",
    "web",
)
"""The chain: a place imports from the places before it."""


def level(module: str) -> int | None:
    """Where a module stands in the chain; nowhere if it is the package itself."""
    parts = module.split(".")
    return ORDER.index(parts[1]) if parts[0] == "ergo" and len(parts) > 1 and parts[1] in ORDER else None


def in_docstrings(tree: ast.AST) -> set[str]:
    """What the worked examples of a module import."""
    found: set[str] = set()
    documented = ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef
    for node in ast.walk(tree):
        text = ast.get_docstring(node) if isinstance(node, documented) else None
        for example in doctest.DocTestParser().get_examples(text or ""):
            found |= imported(ast.parse(example.source))
    return found


def imported(tree: ast.AST) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports name the whole path"
            found.add(node.module or "")
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return found


def dotted(path: Path) -> str:
    return name(path).removesuffix(".py").removesuffix("/__init__").replace("/", ".")


BY_NAME = {dotted(path): tree for path, tree in TREES.items()}


@pytest.mark.parametrize("of", [imported, in_docstrings], ids=["code", "docstrings"])
def test_imports_go_one_way(of):
    steps_back = []
    for module, tree in BY_NAME.items():
        own = level(module)
        if own is None:
            assert module in ("ergo", "ergo.__main__"), module
            continue
        theirs = {other: level(other) for other in of(tree) & set(BY_NAME)}
        steps_back += [(module, other) for other, at in theirs.items() if at is not None and at > own]
    assert not steps_back


def test_the_package_hands_its_models_outward_only():
    # `from ergo import assess` inside the package would be a step that names no place in the chain
    for module, tree in BY_NAME.items():
        from_outside = {other for other in imported(tree) if other.startswith("ergo.") and other.count(".") == 1}
        assert module == "ergo" or all(level(o) is not None or o == "ergo.__version__" for o in from_outside), module


def test_no_module_waits_for_itself_by_way_of_others():
    # imports inside functions and for type checks count: what needs each other belongs together
    needs = {module: imported(tree) & set(BY_NAME) - {"ergo", module} for module, tree in BY_NAME.items()}
    del needs["ergo"]
    assert len(tuple(TopologicalSorter(needs).static_order())) == len(needs)  # CycleError names a circle


def test_the_chain_that_developers_read_is_the_chain_that_is_checked():
    rows = re.findall(r"^\| ((?:`ergo/[^`]+`(?:, )?)+) \|", (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"), re.M)
    told = [path.removesuffix(".py").strip("/") for row in rows for path in re.findall(r"`ergo/([^`]+)`", row)]
    assert told == list(ORDER)


def test_what_several_pages_show_remembers_nothing_of_its_own():
    for shared in ("_shared", "_case_inputs", "_inputs"):
        path = ROOT / "ergo" / "web" / f"{shared}.py"
        text = path.read_text(encoding="utf-8")
        assert re.findall(r"""["']ergo\.""", text) == [], shared  # a name in a reader's session


def test_the_words_that_the_readme_explains_are_words_that_the_product_says():
    words = (ROOT / "README.md").read_text(encoding="utf-8").partition("\n## Words\n")[2].partition("\n## ")[0]
    explained = re.findall(r"\*\*([^*]+)\*\*", words)
    assert len(explained) >= 10
    said = "".join(p.read_text(encoding="utf-8").lower() for p in (ROOT / "ergo").rglob("*.py"))
    assert [word for word in explained if word not in said] == []


def test_streamlit_is_imported_only_by_pages_and_plotly_only_by_what_people_see():
    for path, tree in TREES.items():
        roots = {module.split(".")[0] for module in imported(tree)}
        if "streamlit" in roots:
            assert name(path).startswith("ergo/web/"), name(path)
        if "plotly" in roots:
            assert name(path).startswith(("ergo/report/", "ergo/web/")), name(path)


def test_no_file_takes_the_name_of_a_module_of_the_standard_library():
    assert {name(path) for path in MODULES if path.stem in sys.stdlib_module_names - {"__init__", "__main__"}} == set()


def test_importing_the_package_loads_neither_streamlit_nor_plotly_nor_pandas():
    code = "import sys, ergo; print([m for m in ('streamlit', 'plotly', 'pandas') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_published_cases_name_sources_that_exist_or_says_in_words_what_they_are():
    for case in validation_cases():
        assert case.source in evidence.sources() or case.source in IN_WORDS
