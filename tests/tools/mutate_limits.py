"""Mutation test of limits, verdicts, team search and draws: change one thing at a time, and see whether a test notices.

Run `python tests/tools/mutate_limits.py [--every N] [--only WORD]`; works on a copy, never on the repository.
Comparisons, boolean operators, arithmetic, constants, returned values, conditions and the entries of the registry are
changed. Prints every survivor and killed/total.
"""

from __future__ import annotations

import argparse
import ast
import copy
import os
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

import hypothesis.strategies  # noqa: F401  (what the tests load and nothing here changes is loaded once)
import pytest
import scipy.optimize
import scipy.stats  # noqa: F401

ROOT = Path(__file__).resolve().parents[2]
LIMIT_TESTS = (
    "tests/test_verdicts.py",
    "tests/test_limit_values.py",
    "tests/test_limits.py",
    "ergo/limits",
    "ergo/assessment",
)
SEARCH_TESTS = ("ergo/teams", "tests/test_monte_carlo.py", "tests/test_person.py", "tests/test_headcounts.py")
TARGETS = {
    "ergo/limits/policy.py": LIMIT_TESTS,
    "ergo/limits/values.py": LIMIT_TESTS,
    "ergo/limits/registry.py": LIMIT_TESTS,
    "ergo/limits/psychophysical.py": LIMIT_TESTS,
    "ergo/assessment/check.py": LIMIT_TESTS,
    "ergo/assessment/verdict.py": LIMIT_TESTS,
    "ergo/teams/smallest_team.py": SEARCH_TESTS,
    "ergo/teams/team_search.py": SEARCH_TESTS,
    "ergo/uncertainty/monte_carlo.py": ("ergo/uncertainty/monte_carlo.py", "tests/test_monte_carlo.py"),
}
"""Each module with the quick tests that should notice a change in it, the quickest first."""
LONGEST_S = 60

COMPARE = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
ARITHMETIC = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult}


def variants(node: ast.AST) -> Iterator[tuple[str, ast.AST]]:
    """Yield what a node can be changed into, with a word for it."""
    if isinstance(node, ast.Compare):
        for i, op in enumerate(node.ops):
            for other in COMPARE.get(type(op), ()):
                changed = copy.deepcopy(node)
                changed.ops[i] = other()
                yield f"{type(op).__name__} to {other.__name__}", changed
    elif isinstance(node, ast.BoolOp):
        changed = copy.deepcopy(node)
        changed.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        yield "and/or swapped", changed
    elif isinstance(node, ast.BinOp) and type(node.op) in ARITHMETIC:
        changed = copy.deepcopy(node)
        changed.op = ARITHMETIC[type(node.op)]()
        yield "arithmetic", changed
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        yield "not left out", copy.deepcopy(node.operand)
    elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
        yield "boolean", ast.Constant(not node.value)
    elif isinstance(node, ast.Constant) and isinstance(node.value, int | float):
        yield "number + 1", ast.Constant(node.value + 1)
    elif isinstance(node, ast.IfExp):
        yield "condition always", copy.deepcopy(node.body)
        yield "condition never", copy.deepcopy(node.orelse)
    elif isinstance(node, ast.If):
        for word, value in (("always", True), ("never", False)):
            changed = copy.deepcopy(node)
            changed.test = ast.Constant(value)
            yield f"if {word}", changed
    elif isinstance(node, ast.Return) and isinstance(node.value, ast.Call):
        # a figure where there is none, and none where there is one: the worst that a limit can do
        name = getattr(node.value.func, "id", "")
        if name == "NotApplicable":
            yield "applies after all", ast.parse("return Value(1e9)").body[0]
        elif name == "Value":
            yield "does not apply", ast.parse("return NotApplicable('')").body[0]


def keyed(node: ast.AST) -> Iterator[tuple[str, ast.AST]]:
    """Change what the code acts on in the registry: key, quantity, unit, standing, group, value's argument."""
    if not (isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Limit"):
        return
    parts = {part.arg: i for i, part in enumerate(node.keywords)}
    key = ast.unparse(node.keywords[parts["key"]].value)
    words = {"key": "changed", "quantity": "start force", "unit": "changed", "decides": "changed"}
    for word, other in words.items():
        if word in parts and ast.unparse(node.keywords[parts[word]].value) != repr(other):
            changed = copy.deepcopy(node)
            changed.keywords[parts[word]].value = ast.Constant(other)
            yield f"{key}: {word}", changed
    others = {"initial": "sustained", "sustained": "initial", "hse_start": "hse_keep", "hse_keep": "hse_start"}
    others |= {"aorn_one_hand": "aorn_two_hands"}
    for word, last in (("value", "aorn_one_hand"), ("standing", "aorn_longest_hold")):
        value = node.keywords[parts[word]].value
        for i, argument in enumerate(value.args if isinstance(value, ast.Call) else ()):
            if isinstance(argument, ast.Constant) and isinstance(argument.value, str):
                changed = copy.deepcopy(node)
                called = changed.keywords[parts[word]].value
                assert isinstance(called, ast.Call)
                if word == "standing":
                    called.func = ast.Name("_of_figure", ast.Load())
                    called.args = [ast.Constant(last)]
                else:
                    called.args[i] = ast.Constant(others.get(argument.value, last))
                yield f"{key}: {word}", changed


def places(node: ast.AST) -> Iterator[tuple[ast.AST, str, int | None, ast.AST]]:
    """Yield every place below a node, decorators and annotations left out: parent, field, index, node."""
    for field, value in ast.iter_fields(node):
        if field in ("annotation", "returns", "decorator_list", "type_params"):
            continue
        for i, item in enumerate(value) if isinstance(value, list) else [(None, value)]:
            if isinstance(item, ast.AST):
                yield node, field, i, item
                yield from places(item)


def mutants(path: Path) -> Iterator[tuple[int, str, str]]:
    """Yield line, what was changed and the text of every mutant of a module."""
    text = path.read_text("utf-8")
    tree = ast.parse(text)
    for parent, field, index, node in list(places(tree)):
        for word, changed in (*variants(node), *keyed(node)):
            ast.copy_location(changed, node)
            if index is None:
                setattr(parent, field, changed)
            else:
                getattr(parent, field)[index] = changed
            yield getattr(node, "lineno", 0), word, ast.unparse(ast.fix_missing_locations(tree))
            if index is None:
                setattr(parent, field, node)
            else:
                getattr(parent, field)[index] = node


def noticed(work: Path, tests: Sequence[str]) -> bool:
    """Whether a quick test fails in a copy of this process; a test that never ends is noticed too."""
    child = os.fork()
    if child == 0:
        signal.alarm(LONGEST_S)
        os.chdir(work)
        sys.path[0] = str(work)
        silent = os.open(os.devnull, os.O_WRONLY)
        os.dup2(silent, 1)
        os.dup2(silent, 2)
        tests = [t for t in tests if (work / t).exists()]
        os._exit(int(pytest.main(["-q", "-x", "-p", "no:cacheprovider", *tests]) != 0))
    return os.waitpid(child, 0)[1] != 0


def main() -> int:
    """Run the mutants."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--every", type=int, default=1, help="only every so many mutants")
    parser.add_argument("--only", default="", help="only modules whose path holds this")
    parser.add_argument("--minutes", type=float, default=60.0, help="stop after this time")
    given = parser.parse_args()
    sys.dont_write_bytecode = True  # a compiled file of the same second and size would hide the change
    began = time.monotonic()
    killed = total = 0
    with tempfile.TemporaryDirectory() as name:
        work = Path(name)
        for part in ("ergo", "tests", "scenarios", "pyproject.toml"):
            source = ROOT / part
            ignored = shutil.ignore_patterns("__pycache__")
            if source.is_dir():
                shutil.copytree(source, work / part, ignore=ignored)
            else:
                shutil.copy(source, work / part)
        wanted = {
            target: tests for target, tests in TARGETS.items() if given.only in target and (ROOT / target).exists()
        }
        for tests in dict.fromkeys(wanted.values()):
            if noticed(work, tests):
                print(f"the tests fail without any change: {', '.join(tests)}")
                return 1
        for target, tests in wanted.items():
            path = work / target
            original = path.read_text("utf-8")
            here = [0, 0]
            for i, (line, word, text) in enumerate(mutants(ROOT / target)):
                if i % given.every or time.monotonic() - began > given.minutes * 60:
                    continue
                path.write_text(text, "utf-8")
                caught = noticed(work, tests)
                here[0] += caught
                here[1] += 1
                if not caught:
                    said = original.splitlines()[line - 1].strip() if line else ""
                    print(f"survived  {target}:{line}  {word}:  {said}", flush=True)
            path.write_text(original, "utf-8")
            killed, total = killed + here[0], total + here[1]
            print(f"{target}: {here[0]} of {here[1]} killed", flush=True)
    took = time.monotonic() - began
    print(f"{killed} of {total} mutants killed, {100 * killed / max(total, 1):.1f} %, {took / 60:.1f} min")
    return 0


if __name__ == "__main__":
    sys.exit(main())
