"""What the model may be used for, what was checked, what was compared, what is assumed: generated, not written.

In the spirit of ASME V&V 40 and NASA-STD-7009, both from memory; no compliance with either is claimed.
"""

from __future__ import annotations

from dataclasses import dataclass

from ergo.evidence import assumptions
from ergo.limits.policy import POLICIES
from ergo.limits.registry import LIMITS
from ergo.validation.case import ValidationCase
from ergo.validation.cases import NOT_PREDICTED, validation_cases
from ergo.validation.score import Score, score_of

__all__ = ["CHECKS", "Assumed", "Check", "Credibility", "Validated", "credibility"]


@dataclass(frozen=True, slots=True)
class Check:
    """One thing that is verified: the equations are solved as meant."""

    what: str
    how: str
    test: str
    sources: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Validated:
    """How the model compares with what others published, one kind of finding."""

    kind: str
    score: Score
    worst: ValidationCase | None
    """The case with the largest error, among those with one; a percentage of a correlation says nothing."""
    misses: tuple[ValidationCase, ...]


@dataclass(frozen=True, slots=True)
class Assumed:
    """One figure that nobody published in a form that was read, and why it matters."""

    what: str
    value: str
    known: str
    note: str


@dataclass(frozen=True, slots=True)
class Credibility:
    """A statement of credibility."""

    question: str
    context: str
    verified: tuple[Check, ...]
    validated: tuple[Validated, ...]
    not_compared: tuple[tuple[str, str], ...]
    assumed: tuple[Assumed, ...]
    from_memory: tuple[Assumed, ...]
    """Limits that decide under a policy and are known from memory only."""
    not_to_conclude: tuple[str, ...]


# Where each part is checked. A test proves that every file exists and that every source is in the list of sources.
CHECKS: tuple[Check, ...] = (
    Check("sliding on layers", "against a rigid-body engine with friction", "tests/test_slide_engine.py"),
    Check("turning a body", "against another rigid-body engine", "tests/test_turn_engine.py"),
    Check("demand of a move", "nothing that gravity does is left out at any angle", "tests/test_demand.py"),
    Check("joint moments of the links", "against inverse dynamics of the same links at rest", "tests/test_linkage.py"),
    Check(
        "load of the low back",
        "against printed worked examples",
        "tests/test_low_back.py",
        ("openstax_college_physics", "davidovits_physics"),
    ),
    Check("posture of least effort", "against another optimiser with hard limits", "tests/test_posture_optimiser.py"),
    Check("many postures at once", "against single postures", "tests/test_posture_table.py"),
    Check(
        "endurance and strength",
        "against printed times and percentiles",
        "tests/test_hold.py",
        ("frey_law_avin_2010", "stobbe_1982"),
    ),
    Check(
        "limits",
        "against printed cells and worked examples",
        "tests/test_limits.py",
        ("snook_ciriello_1991", "potvin_2021", "en_1005_3"),
    ),
    Check(
        "published forces and worked examples",
        "reproduced, or the disagreement asserted",
        "tests/test_published.py",
        ("waters_2007", "aorn_2011", "deleva_1996", "grevelding_bohannon_2001"),
    ),
    Check("published headcounts", "every one beside the model's team", "tests/test_headcounts.py"),
    Check("probabilities by random draws", "against closed forms and single assessments", "tests/test_monte_carlo.py"),
    Check("shares of variance", "against a function with known shares", "tests/test_sensitivity.py"),
    Check("friction updated on site", "against a posterior on a grid", "tests/test_site_friction.py"),
    Check("balances, symmetries and monotony", "properties on random cases", "tests/test_properties.py"),
)

_QUESTION = (
    "How many people and which aid does one patient move need so that nobody exceeds published limits of hand force "
    "and of load on the body, and how sure is that?"
)
_CONTEXT = (
    "Planning, teaching and buying in a hospital, before a move, by people who know the patient and the local policy. "
    "The influence on a decision is medium: the answer is one of several that a team weighs. A wrong answer can lead "
    "to a strained back, so every range is shown and counted in the probability, and every judgement is named."
)
_NOT = (
    "That a move is safe: a limit is not a line between safe and unsafe, and limits protect only a part of people.",
    "That this patient may be moved: condition, airway and lines are not in the model.",
    "That a named product does what a class of aid does: friction is that of a class, often measured by nobody.",
    "That a jerk, a twist or a patient who resists is covered: every posture is at rest and in one plane.",
    "That injuries become fewer by the ratio by which a force becomes smaller.",
    "That a headcount of this model replaces local policy: where published headcounts differ, both are shown.",
)


def credibility() -> Credibility:
    """Return the statement of credibility.

    >>> statement = credibility()
    >>> [validated.kind for validated in statement.validated]
    ['hand forces', 'loads of the low back', 'headcounts']
    """
    return Credibility(
        question=_QUESTION,
        context=_CONTEXT,
        verified=CHECKS,
        validated=tuple(_validated(kind, cases) for kind, cases in _by_kind().items()),
        not_compared=tuple(NOT_PREDICTED.items()),
        assumed=_assumptions(),
        from_memory=_limits_from_memory(),
        not_to_conclude=_NOT,
    )


def _by_kind() -> dict[str, list[ValidationCase]]:
    """Forces, loads of the back, headcounts, in this order."""
    found: dict[str, list[ValidationCase]] = {"hand forces": [], "loads of the low back": [], "headcounts": []}
    for case in validation_cases():
        if case.id.startswith("H"):
            kind = "headcounts"
        else:
            kind = "loads of the low back" if case.id.startswith(_BACKS) else "hand forces"
        found[kind].append(case)
    return found


_BACKS = ("M14", "M15", "M16", "M17")


def _validated(kind: str, cases: list[ValidationCase]) -> Validated:
    misses = tuple(c for c in cases if not c.inside)
    amounts = [c for c in cases if c.kind == "two-sided" and c.error is not None]
    worst = max(amounts, key=lambda c: abs(c.error or 0.0), default=None)
    return Validated(kind, score_of(cases), worst, misses)


def _assumptions() -> tuple[Assumed, ...]:
    return tuple(
        Assumed(
            a.key.replace("_", " "),
            f"{a.typical:g} {a.unit}, {a.low:g} to {a.high:g}",
            a.known,
            a.note,
        )
        for a in assumptions().values()
        if a.known in ("judgement", "common-practice") or a.known.startswith("memory")
    )


def _limits_from_memory() -> tuple[Assumed, ...]:
    return tuple(
        Assumed(
            limit.label,
            limit.range,
            limit.known,
            "decides under " + ", ".join(name for name, p in POLICIES.items() if limit.key in p.deciding),
        )
        for limit in LIMITS
        if "memory" in limit.known and any(limit.key in p.deciding for p in POLICIES.values())
    )
