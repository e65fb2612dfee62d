"""The sentences that say why, made with their amounts in the reader's units."""

from __future__ import annotations

import re
from collections.abc import Sequence

from ergo.assessment.check import LimitCheck
from ergo.limits.policy import Verdict
from ergo.units import DEFAULT_UNITS, Units, percent

__all__ = [
    "NO_TEAM",
    "answer_sentence",
    "decided_words",
    "known_words",
    "move_sentence",
    "short_of_covered",
    "uncovered_share_words",
    "within_sentence",
]

NO_TEAM = "No team can be named"

_OPENING: dict[Verdict, str] = {
    "within": "Every move is within the limits; the nearest is",
    "close": "Every move is within the limits, but close in",
    "over": "Over the limit in",
    "not applicable": "No verdict: a deciding limit does not cover this case; the highest ratio is in",
}


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def within_sentence(text: str) -> str:
    """Return a sentence to stand after others: its first letter small, unless it is what a person is called.

    >>> within_sentence("Left side: 9 kg."), within_sentence("A, left side: 9 kg.")
    ('left side: 9 kg.', 'A, left side: 9 kg.')
    """
    return text if re.match(r"[A-Z]\d*,", text) else text[:1].lower() + text[1:]


def move_sentence(
    verdict: Verdict,
    top: LimitCheck | None,
    unmet: Sequence[str],
    units: Units = DEFAULT_UNITS,
    hands_n: float | None = None,
) -> str:
    """Say why a move has its verdict: what is unmet, else the deciding limit with amount, limit and ratio.

    `hands_n` is the whole force in the hands [N] where the limit judges only its level part.

    >>> move_sentence("over", None, ["nobody holds the head"])
    'Nobody holds the head.'
    """
    if unmet:
        return f"{_capital(unmet[0])}."
    if top is None or top.limit is None:
        return "No deciding limit applies." if verdict == "not applicable" else "Nothing is pulled or held."
    amount = units.show(top.amount, top.unit)
    whole = amount if hands_n is None else units.show(hands_n, top.unit)
    if whole != amount:  # every drawing and table shows the whole force
        amount = f"{whole} in the hands, {amount} of it level,"
    said = f"{amount} against {units.show(top.limit, top.unit)}, {top.label}"
    if verdict == "not applicable":
        return f"{_capital(top.person.words)}: {said}; another deciding limit was asked outside its range."
    return f"{_capital(top.person.words)}: {said} ({top.ratio:.2f} of the limit)."


def answer_sentence(
    verdict: Verdict,
    refusals: Sequence[str],
    moves: Sequence[tuple[str, str, Sequence[str]]],
    worst_why: str | None,
    worst_name: str,
) -> str:
    """Say in one sentence why the whole procedure has its verdict.

    >>> answer_sentence("over", (), [("Boost", "Left side: 9 kg.", ())], "Left side: 9 kg.", "Boost")
    'Over the limit in “Boost”: left side: 9 kg.'
    """
    if refusals:
        return refusals[0] + " Use a mechanical lift or equipment rated for this patient."
    incomplete = next((m for m in moves if m[2]), None)
    if incomplete:
        return f"Not possible in “{incomplete[0]}”: {within_sentence(incomplete[1])}"
    if worst_why is None:
        return "No deciding limit applies to any move."
    return f"{_OPENING[verdict]} “{worst_name}”: {within_sentence(worst_why)}"


_KNOWN = {"reprint": "read in a reprint", "memory": "from memory"}


def decided_words(check: LimitCheck | None, units: Units = DEFAULT_UNITS) -> str:
    """Say which limit decided, whom it protects, how it was found, of which year, and how it is known.

    >>> decided_words(None)
    ''
    """
    if check is None:
        return ""
    note = check.note_in(units)
    note = f" ({note})" if note else ""
    measured = f"Measured: {check.task}. {_capital(check.edition)}; {known_words(check.known)}."
    return f"{_capital(check.label)}. For {check.protects}{note}. {measured}"


def known_words(known: str) -> str:
    """Say how a figure is known.

    >>> known_words("reprint"), known_words("memory high")
    ('read in a reprint', 'from memory (high)')
    """
    first, _, rest = known.replace(";", ",").partition(" ")
    word = first.rstrip(",")
    return _KNOWN.get(word, word) + (f" ({rest})" if rest else "")


def uncovered_share_words(share: float) -> str:
    """Say in what share of the draws a limit that decides says nothing; empty below half a percent.

    >>> uncovered_share_words(0.12)
    ' In 12 % of cases a limit that decides does not cover where the hands are; they are no pass.'
    """
    if share < 0.005:
        return ""
    return f" In {percent(share)} of cases a limit that decides does not cover where the hands are; they are no pass."


def short_of_covered(probability: float, uncovered: float, asked: float) -> str:
    """Say so where only draws that no limit covers keep a team from being sure enough; empty elsewhere.

    >>> short_of_covered(0.5, 0.1, 0.9), short_of_covered(0.85, 0.1, 0.9).startswith("A limit that decides")
    ('', True)
    """
    if not probability < asked <= probability + uncovered:
        return ""
    return (
        f"A limit that decides does not cover where the hands are in {percent(uncovered)} of cases; nobody is over one "
        f"in {percent(probability)}. Hands at another height, by that of the bed, may be covered."
    )
