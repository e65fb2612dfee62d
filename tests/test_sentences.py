"""Sentences say their amounts in the reader's units, whatever their wording."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import ergo
from ergo import smallest_team
from ergo.assessment import demand_of, judge
from ergo.inputs.scenario import Scenario, parse_scenario
from ergo.report.documents.assessment import assessment_answer
from ergo.report.documents.team import team_answer
from ergo.report.terminal import terminal_text
from ergo.teams.team_probabilities import reliability_words
from ergo.units import DEFAULT_UNITS, Units

US = Units("lb", "lbf", "ft-in")
SI_AMOUNT = re.compile(r"\d (?:N(?! m)|kg|cm)\b")


def case(**stated: object) -> Scenario:
    patient = {"sex": "M", "mass_kg": 120.0, "stature_m": 1.8}
    return parse_scenario({"name": "x", "procedure": "prone turn", "aid": "slide sheet", "patient": patient} | stated)


CASES = {
    "a move over a limit": case(),
    "hands higher than the tables": case(bed={"height_m": 1.3}),
    "a bed too weak": case(bed={"rated_capacity_kg": 100.0}),
    "a bed too narrow": case(bed={"width_m": 0.6}),
}


@pytest.mark.parametrize("stated", CASES.values(), ids=CASES)
def test_a_sentence_reads_the_same_in_si_and_has_no_si_amount_left_in_pounds_and_inches(stated: Scenario) -> None:
    demand = demand_of(stated)
    result, answer = judge(demand, 2, 2), smallest_team(stated, with_aids=False)
    assert result.why_in(DEFAULT_UNITS) == result.why
    assert result.refusals_in(DEFAULT_UNITS) == result.refusals == demand.refusals
    assert answer.why_in(DEFAULT_UNITS) == answer.why
    assert reliability_words(answer.sure, demand) == answer.sure.why
    said = [result.why_in(US), *result.refusals_in(US), answer.why_in(US), reliability_words(answer.sure, demand, US)]
    for move in result.moves:
        assert move.why_in(DEFAULT_UNITS) == move.why
        assert all(check.note_in(DEFAULT_UNITS) == check.note for check in move.limits)
        said += [move.why_in(US), *(check.note_in(US) for check in move.limits)]
    assert not [one for one in said if SI_AMOUNT.search(one)]
    assert any(unit in one for one in said for unit in ("lbf", "lb", "in "))


def test_a_per_cent_sign_stands_apart_from_its_figure_everywhere() -> None:
    """“95 %”, never “95%”: no text is made with Python's own way of writing a share."""
    found = [
        f"{path.name}:{i}"
        for path in sorted(Path(ergo.__file__).parent.rglob("*.py"))
        for i, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if re.search(r"\{[^{}]*:[^{}]*%\}", line)
    ]
    assert found == []


@pytest.mark.parametrize("stated", CASES.values(), ids=CASES)
def test_the_terminal_says_pounds_and_inches_alone_where_they_are_asked_for(stated: Scenario) -> None:
    answer = smallest_team(stated, with_aids=False)
    for document in (assessment_answer(answer.assessment, US), team_answer(answer, US)):
        assert not SI_AMOUNT.search(terminal_text(document).partition("Published headcounts")[0])
