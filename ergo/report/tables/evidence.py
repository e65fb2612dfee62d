"""The evidence as tables of text, and a search over them."""

from __future__ import annotations

from collections.abc import Sequence

from ergo.evidence import assumptions, sources, table
from ergo.inputs.scenario import Scenario
from ergo.limits.policy import POLICIES
from ergo.limits.registry import LIMITS, Condition, Limit, NotApplicable
from ergo.report.blocks import Table, VerdictCell
from ergo.report.tables.case import citation, verdict_words
from ergo.validation.case import Cause, Kind, ValidationCase
from ergo.validation.score import Score

__all__ = [
    "USUAL",
    "all_limit_rows",
    "assumption_rows",
    "condition_of",
    "filtered",
    "known_words",
    "score_words",
    "source_rows",
    "table_rows",
    "validation_rows",
]


# A woman of the 75 % who accept, hands 10 cm above a raised bed, a pull every two minutes, arm bent behind the edge;
# a lift straight up with the hands 14 cm from the bed's edge.
USUAL = Condition("F", 75, 2.0, 60.0, 0.95, 0.8, 0.0, 10.0, 2, 20.0, reach_m=0.14, steepness_deg=90.0)
_HEIGHTS_CM = (60, 70, 80, 90, 100, 110, 120, 130)


def condition_of(scenario: Scenario) -> Condition:
    """Return what limits depend on in a case, before anybody's posture is found: whom, how often, how high."""
    policy, stated = POLICIES[scenario.policy.protect], scenario.policy
    return USUAL._replace(
        sex=policy.sex or "F",
        percent=policy.percent,
        minutes_between=stated.minutes_between_efforts,
        loadings_per_day=stated.loadings_per_day,
        hand_height_m=scenario.bed.height_m + scenario.handling.hand_height_m,
        site_limit_n=stated.site_limit_n,
    )


def all_limit_rows(here: Condition = USUAL) -> Table:
    """Return every limit with its figures, whom it protects, range, source and the policies it decides under.

    The figures are those of a case; where they change with the height of the hands, one for every 10 cm.
    """
    head = (
        "limit", "figures", "judges", "protects", "measured", "range", "edition", "source", "known", "decides under"
    )  # fmt: skip
    rows = [
        (
            limit.label,
            _figures(limit, here),
            limit.quantity,
            limit.who,
            limit.task,
            limit.range,
            limit.edition,
            citation(limit.source),
            limit.known,
            ", ".join(name for name, policy in POLICIES.items() if limit.key in policy.deciding) or "none: shown only",
        )
        for limit in LIMITS
    ]
    return Table("Limits", head, tuple(rows))


def _figures(limit: Limit, here: Condition) -> str:
    """The limit's value in the present case, and by height of the hands where that changes it."""

    def shown(c: Condition) -> str:
        found = limit.value(c)
        if isinstance(found, NotApplicable):
            return "not covered" if found.outside else "–"
        return f"{found.value:.2f}" if limit.unit == "ratio" else f"{found.value:.4g} {limit.unit}"

    by_height = {cm: shown(here._replace(hand_height_m=cm / 100)) for cm in _HEIGHTS_CM}
    if len(set(by_height.values())) == 1:
        printed = {r["key"]: r["value"] for r in table("limits")}
        known = shown(here)
        return f"{printed[limit.key]} {limit.unit} where it applies" if known == "–" and limit.key in printed else known
    return f"{shown(here)} here; " + ", ".join(f"{cm} cm: {value}" for cm, value in by_height.items())


def assumption_rows() -> Table:
    """Return every starting value that somebody chose."""
    head = ("value", "low", "typical", "high", "unit", "source", "known", "note")
    rows = [
        (
            entry.key.replace("_", " "),
            f"{entry.low:g}",
            f"{entry.typical:g}",
            f"{entry.high:g}",
            entry.unit,
            citation(entry.source) if entry.source else "none",
            entry.known,
            entry.note,
        )
        for entry in assumptions().values()
    ]
    return Table("Starting values", head, tuple(rows))


def source_rows() -> Table:
    """Return every source and how far it was read."""
    rows = [(s.key, s.citation, s.identifier, s.read_as) for s in sources().values()]
    return Table("Sources", ("key", "citation", "identifier", "known"), tuple(rows))


def table_rows(name: str) -> Table:
    """Return one table of the evidence as it stands."""
    entries = table(name)
    head = tuple(dict.fromkeys(column for entry in entries for column in entry))
    rows = tuple(tuple(str(entry.get(column) or "") for column in head) for entry in entries)
    return Table(name.replace("_", " ").capitalize(), head, rows)


def known_words(rows: Table) -> tuple[str, ...]:
    """Return the ways in which a table's figures are known."""
    if "known" not in rows.head:
        return ()
    at = rows.head.index("known")
    return tuple(sorted({row[at] for row in rows.rows if row[at]}))


def filtered(rows: Table, text: str, kinds: Sequence[str]) -> Table:
    """Return the rows that hold every word of `text` and are known in one of `kinds`.

    >>> rows = Table("t", ("what", "known"), (("pull", "read"), ("push", "judgement")))
    >>> filtered(rows, "PU", ["read"]).rows
    (('pull', 'read'),)
    """
    words = text.casefold().split()
    at = rows.head.index("known") if "known" in rows.head else -1
    found = tuple(
        row
        for row in rows.rows
        if all(word in " ".join(row).casefold() for word in words) and (not kinds or (at >= 0 and row[at] in kinds))
    )
    return Table(rows.title, rows.head, found)


def validation_rows(cases: Sequence[ValidationCase]) -> Table:
    """Return published cases beside their predictions, with the band, the error and a plain word."""

    def figure(value: float | None) -> str:
        return "–" if value is None else f"{value:.3g}" if abs(value) < 10 else f"{value:.0f}"

    rows = [
        (
            c.id,
            c.task,
            c.kind,
            figure(c.published) if c.published_to is None else f"{figure(c.published)} to {figure(c.published_to)}",
            figure(c.predicted),
            f"{figure(c.predicted_low)} to {figure(c.predicted_high)}",
            f"{figure(c.low)} to {figure(c.high)}",
            c.unit,
            "–" if c.error is None or c.unit == "r" else f"{100 * c.error:+.0f} %",
            _verdict(c),
            f"{c.cause}: {c.reason}" if c.cause else c.reason,
            citation(c.source),
            c.known,
        )
        for c in cases
    ]
    head = (
        "case",
        "what",
        "could it have failed",
        "published",
        "predicted",
        "over what is left open",
        "5 to 95 % of draws",
        "unit",
        "error",
        "verdict",
        "in words",
        "source",
        "known",
    )
    return Table("Published cases", head, tuple(rows))


_VERDICTS: dict[Kind, tuple[str, str]] = {
    "two-sided": ("outside", "inside"),
    "one-sided": ("missed", "met"),
    "by construction": ("missed", "proves nothing"),
}


def _verdict(case: ValidationCase) -> VerdictCell:
    word = _VERDICTS[case.kind][case.inside]
    if not case.inside:
        return verdict_words("over", word=word)
    return verdict_words("not applicable" if case.kind == "by construction" else "within", word=word)


_CAUSES: dict[Cause, str] = {
    "physics": "by physics that is left out",
    "rule": "because a headcount is a rule",
    "unknown input": "for want of an input",
    "criterion": "as other people are protected",
    "": "for no cause found",
}


def score_words(score: Score) -> str:
    """Say how many published cases could have failed, and how those did."""
    said = []
    if score.median_error_factor is not None:
        said.append(
            f"{score.inside_band} of {score.two_sided} published figures that the model could have missed on either "
            f"side lie inside its 5 to 95 % band; half are predicted within {score.median_error_factor:.2f} times."
        )
    if score.one_sided:
        said.append(f"Of {score.one_sided} findings with an open end or a direction {score.one_sided_met} are met.")
    if score.by_construction:
        said.append(f"{score.by_construction} more hold whatever the inputs are and prove nothing.")
    if score.misses:
        causes = ", ".join(f"{n} {_CAUSES[cause]}" for cause, n in score.misses.items())
        said.append(f"{sum(score.misses.values())} are missed: {causes}.")
    return " ".join(said)
