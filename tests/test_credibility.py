"""The statement of credibility: generated from what exists, and nothing claimed that does not."""

from __future__ import annotations

from pathlib import Path

from ergo.evidence import assumptions, sources
from ergo.limits.policy import POLICIES
from ergo.limits.registry import LIMITS
from ergo.report.documents.evidence import credibility_statement
from ergo.report.markdown import markdown_page, plain
from ergo.report.tables.evidence import score_words
from ergo.validation.cases import validation_cases
from ergo.validation.credibility import CHECKS, credibility
from ergo.validation.score import score_of

ROOT = Path(__file__).resolve().parents[1]
STATEMENT = credibility()
TEXT = markdown_page(credibility_statement(STATEMENT))


def test_every_check_names_a_test_that_exists_and_sources_that_are_listed_and_used_there():
    for check in CHECKS:
        path = ROOT / check.test
        assert path.is_file(), check.test
        text = path.read_text(encoding="utf-8")
        assert "assert" in text
        for source in check.sources:
            assert source in sources()
            assert source in text, (check.test, source)


def test_the_comparison_is_counted_from_the_published_cases():
    cases = validation_cases()
    scores = [v.score for v in STATEMENT.validated]
    whole = score_of(cases)
    assert sum(s.two_sided for s in scores) == whole.two_sided
    assert sum(s.inside_band for s in scores) == whole.inside_band
    for found in STATEMENT.validated:
        assert found.worst is not None
        assert all(not c.inside for c in found.misses)
        assert plain(score_words(found.score)) in TEXT
    worst = max(
        (c for c in cases if c.id.startswith("H") and c.kind == "two-sided" and c.error is not None),
        key=lambda c: abs(c.error),
    )
    assert STATEMENT.validated[-1].worst == worst


def test_every_miss_is_in_the_text_with_its_reason():
    for case in validation_cases():
        if not case.inside:
            assert plain(case.reason) in TEXT


def test_what_is_assumed_is_every_judgement_and_memory_of_the_starting_values():
    named = {a.what for a in STATEMENT.assumed}
    for key, entry in assumptions().items():
        chosen = entry.known in ("judgement", "common-practice") or entry.known.startswith("memory")
        assert (key.replace("_", " ") in named) == chosen, key


def test_limits_that_decide_from_memory_are_named():
    deciding = {key for policy in POLICIES.values() for key in policy.deciding}
    expected = {x.label for x in LIMITS if x.key in deciding and "memory" in x.known}
    assert {a.what for a in STATEMENT.from_memory} == expected
    assert expected == {"hold time against endurance"}


def test_the_text_has_every_part_and_says_what_must_not_be_concluded():
    for head in ("Question", "Context of use", "Verified", "Validated", "Assumed", "What must not be concluded"):
        assert f"\n## {head}" in TEXT
    assert all(plain(line) in TEXT for line in STATEMENT.not_to_conclude)
