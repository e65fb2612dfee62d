"""Sentences say their amounts in the reader's units, whatever their wording."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import ergo
from ergo import smallest_team
from ergo.assessment import demand_of, judge
from ergo.inputs.scenario import Scenario, parse_scenario
from ergo.limits.guidance import Guidance
from ergo.report.documents.assessment import assessment_answer
from ergo.report.documents.case import case_report
from ergo.report.documents.team import answer_words, team_answer
from ergo.report.html_page import html_page
from ergo.report.terminal import terminal_text
from ergo.teams.sentences import reasons_words
from ergo.teams.team_probabilities import reliability_words
from ergo.teams.team_search import Reasons
from ergo.teams.who_works import ways_of_working
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


def ventilated(mass_kg: float = 82.0, **stated: object) -> Scenario:
    patient = {"sex": "M", "mass_kg": mass_kg, "stature_m": 1.75, "intubated": True}
    return case(patient=patient, **stated)


def test_a_ventilated_prone_turn_says_five_first_and_what_force_alone_would_take_after() -> None:
    answer = smallest_team(ventilated(), with_aids=False)
    what, why = answer_words(answer)
    assert what.startswith("5 people, because guidance asks for 5: 2 on the left, 2 on the right, 1 airway lead")
    assert why.startswith(f"Force alone would take {answer.reasons.people_by_force}; ")
    assert answer.reasons.people_by_force is not None
    assert answer.reasons.people_by_force < 5


def test_a_bed_without_room_for_those_whom_guidance_asks_for_is_told_to_make_room_and_no_number_stands_first() -> None:
    narrow = ventilated(55.0, bed={"places_left": 3, "places_right": 1}, team={"left": 1, "right": 1})
    answer = smallest_team(narrow, with_aids=False)
    what, why = answer_words(answer)
    assert answer.reasons.no_room
    assert what == "Make room at this bed for the 5 people who are asked for"
    assert "guidance asks for 5" in why.lower()
    assert html_page(case_report(answer)).index("Make room") < html_page(case_report(answer)).index("Force alone")


def test_a_unit_s_own_rule_is_not_called_guidance() -> None:
    answer = smallest_team(case(procedure="boost", policy={"least_people": 4}), with_aids=False)
    assert answer.why.startswith("4 people, because the unit's own rule asks for 4: ")


def test_where_no_team_holds_on_without_one_a_lift_or_a_better_aid_is_named() -> None:
    none = Reasons(1, 1, 2, 2, None, None, Guidance(None, None, ""), "force", no_room=True, none_holds=True)
    what, then = reasons_words(none, "1 on the left, 1 on the right")
    assert what.startswith("A mechanical lift or a better aid")
    assert then == "Force alone would take 2: 1 on the left, 1 on the right. "


def test_a_team_larger_than_any_one_reason_asks_for_says_that_it_meets_all_of_them() -> None:
    both = Reasons(3, 3, 7, 5, 6, 6, Guidance(6, 2, ""), "guidance")
    assert reasons_words(both) == (
        "7 people, the fewest that meet all reasons together",
        "Force alone would take 5; to hold on if one lets go would take 6; guidance asks for 6. ",
    )


def test_every_published_number_that_differs_from_the_answer_says_why_or_for_whom() -> None:
    answer = smallest_team(ventilated(), with_aids=False)
    for entry in (*answer.published, *answer.usual):
        says = str(answer.people) in entry.people or entry.made_of or entry.fits_mass is False
        assert says, entry


def test_the_ways_of_working_stand_beside_each_other_and_both_sides_never_take_more() -> None:
    for stated in (ventilated(), case(procedure="side-lying turn", aid="cotton draw sheet")):
        people = {way.who_works: way.people or 99 for way in ways_of_working(stated)}
        assert people["both sides"] <= people["receiving side"]
    assert ways_of_working(case(procedure="boost")) == ()
