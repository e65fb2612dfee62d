"""How many people guidance asks for, row by row against the publications; force never enters it, nor it a force."""

from __future__ import annotations

from typing import Any

import pytest

from ergo.assessment import assess
from ergo.errors import InputError
from ergo.evidence import row, sources, table
from ergo.inputs import examples
from ergo.inputs.scenario import Scenario, known_aids, parse_scenario
from ergo.limits.guidance import Guidance, guidance_of
from ergo.units import LB

MAN = {"sex": "M", "mass_kg": 82.0, "stature_m": 1.77}
EPSILON = 1e-9


def case(procedure: str, patient: dict[str, Any] | None = None, **parts: Any) -> Scenario:
    return parse_scenario({"name": "x", "procedure": procedure, "patient": MAN | (patient or {})} | parts)


def asked(procedure: str, patient: dict[str, Any] | None = None, **parts: Any) -> Guidance:
    return guidance_of(case(procedure, patient, **parts))


def keys(found: Guidance) -> list[str]:
    return [standing.source for standing in found.standing]


@pytest.mark.parametrize("procedure", ["prone turn", "return to supine"])
def test_turning_over_a_ventilated_adult_takes_five_the_airway_lead_counted_in_and_two_on_each_side(procedure):
    # ics_ficm_2019 (reprint): 5. Lines, and a caller, come on top: icu_prone_checklist_2020 (reprint) has 6 with one.
    found = asked(procedure, {"intubated": True})
    assert (found.people, found.each_side, keys(found)) == (5, 2, ["ics_ficm_2019"])
    assert str(found.people) == row("guidance_headcounts", source="ics_ficm_2019")["people_from"]
    one_for_lines = asked(procedure, {"intubated": True}, team={"lines_and_drains": 1})
    assert str(one_for_lines.people) == row("guidance_headcounts", source="icu_prone_checklist_2020")["people_from"]
    both = asked(procedure, {"intubated": True}, team={"lines_and_drains": 1, "separate_caller": True})
    assert (both.people, both.words.partition(".")[0]) == (
        7, "Guidance asks for 7 people: an airway lead and two people on each side, and 1 for lines and drains, and a "
        "caller",
    )  # fmt: skip


def test_turning_over_a_patient_who_breathes_alone_or_may_be_a_child_is_not_counted_and_says_why():
    alone, child = asked("prone turn"), asked("prone turn", {"intubated": True, "stature_m": 1.35})
    assert (alone.people, child.people) == (None, None)
    assert "ventilated" in alone.words
    assert "child" in child.words


@pytest.mark.parametrize(("mass_kg", "source"), [(60.0, "aorn_2007"), (82.0, "aorn_2011"), (140.0, "aorn_2011")])
@pytest.mark.parametrize("aid", known_aids())
def test_a_transfer_of_somebody_who_cannot_help_takes_four_and_no_aid_takes_anybody_away(aid, mass_kg, source):
    # aorn_2007: at least 4 under 157 lb, anaesthetist besides; aorn_2011: 4 with a device above it (reprints).
    found = asked("lateral transfer", {"mass_kg": mass_kg}, aid=aid)
    assert (found.people, found.each_side, keys(found)) == (4, None, [source])
    assert "no aid seems to save anybody" in found.words
    assert asked("lateral transfer", {"mass_kg": mass_kg, "intubated": True}, aid=aid).people == 5
    assert asked("lateral transfer", {"mass_kg": mass_kg, "can_help": True}, aid=aid).people is None


@pytest.mark.parametrize(("pounds", "people"), [(57.8, None), (57.9, 2), (104.8, 2), (104.9, 3), (156.9, 3), (157, 4)])
def test_the_theatre_table_by_mass_asks_for_two_three_and_four(pounds, people):
    # aorn_2011 (reprint): 2 above 57.9 lb, 3 above 104.9 lb, 4 with an assistive device above 157 lb.
    found = asked("lateral transfer", {"mass_kg": pounds * LB + EPSILON}, policy={"transfer_guidance": "by mass"})
    assert found.people == people
    assert keys(found) == ([] if people is None else ["aorn_2011"])


def test_the_theatre_tables_row_is_the_published_one():
    for entry in table("people_by_guidance"):
        if entry["choice"] == "by mass":
            published = row("guidance_headcounts", source="aorn_2011", mass_from_lb=entry["mass_from_lb"])
            assert published["people_from"] == entry["people"]


@pytest.mark.parametrize("procedure", ["boost", "slide to the side", "side-lying turn"])
def test_repositioning_takes_three_from_200_lb_on_and_below_it_no_number_is_counted(procedure):
    # vha_algorithms_2014 (excerpt) and osha_3182 (reprint): 3 or more; osha_3182 says 2 of those who are not able.
    heavy = 200 * LB + EPSILON
    assert (asked(procedure, {"mass_kg": heavy}).people, asked(procedure, {"mass_kg": heavy - 0.1}).people) == (3, None)
    assert keys(asked(procedure, {"mass_kg": heavy})) == ["vha_algorithms_2014"]
    assert "at least 2" in asked(procedure, {"mass_kg": heavy}).words
    able = asked(procedure, {"mass_kg": heavy, "can_help": True})
    assert (able.people, keys(able)) == (3, ["osha_3182"])


@pytest.mark.parametrize(("spine", "people", "condition"), [
    ("cervical", 5, "cervical spine"), ("thoracolumbar", 4, "thoracolumbar spine"), ("none", None, ""),
])  # fmt: skip
def test_a_log_roll_takes_five_for_the_neck_and_four_for_the_back(spine, people, condition):
    found = asked("side-lying turn", {"spinal_precautions": spine})
    assert found.people == people
    if people:
        assert found.standing[0].known == "common-practice"
        assert row("usual_headcounts", patient_condition=condition)["people_from"] == str(people)
        assert asked("side-lying turn", {"spinal_precautions": spine, "mass_kg": 120.0}).people == people
    assert asked("limb hold", {"spinal_precautions": spine}).people is None


def test_an_own_sequence_is_asked_what_its_moves_are_asked_and_the_most_counts():
    moves = [{"kind": "slide to the side"}, {"kind": "prone turn"}, {"kind": "centring"}]
    assert asked("own sequence", {"mass_kg": 120.0}, moves=moves).people == 3
    assert asked("own sequence", {"mass_kg": 120.0, "intubated": True}, moves=moves).people == 5


def test_a_units_own_rule_counts_where_it_asks_for_more_and_guidance_can_be_switched_off():
    ventilated = {"intubated": True}
    assert asked("prone turn", ventilated, policy={"least_people": 7}).people == 7
    assert asked("prone turn", ventilated, policy={"least_people": 7}).each_side == 2
    assert asked("prone turn", ventilated, policy={"least_people": 3}).people == 5
    assert asked("boost", policy={"least_people": 3}).people == 3
    off = asked("prone turn", ventilated, policy={"count_guidance": False})
    assert (off.people, off.standing) == (None, ())
    assert "does not count guidance, which asks for 5 people" in off.left_out[0]
    with pytest.raises(InputError, match="least_people"):
        case("boost", policy={"least_people": 40})


def test_every_row_names_a_published_source_or_common_practice():
    for entry in table("people_by_guidance"):
        assert (entry["source"] in sources()) != (entry["known"] == "common-practice")


def test_guidance_never_enters_a_force():
    plain = assess(examples.side_lying_turn())
    patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6, "can_help": True, "spinal_precautions": "cervical"}
    policy = {"count_guidance": False, "least_people": 9, "transfer_guidance": "by mass"}
    other = assess(examples.side_lying_turn(patient=patient, policy=policy))
    assert [m.loads for m in other.moves] == [m.loads for m in plain.moves]
    assert (other.worst_ratio, other.verdict) == (plain.worst_ratio, plain.verdict)
