"""The best bed height answers every case that a scenario allows, and names what decides where none is best."""

from __future__ import annotations

import json

import pytest
from hypothesis import assume, given

from ergo.assessment import demand_of
from ergo.cli.main import main
from ergo.errors import InputError
from ergo.inputs import examples
from ergo.inputs.scenario import Scenario, dump_scenario, parse_scenario
from ergo.report.documents.bed_height import height_answer
from ergo.report.json_export import height_json, to_json
from ergo.report.markdown import markdown_page
from ergo.report.tables.handler import height_words
from ergo.teams.bed_height import NoHeight, TeamHeight, best_height
from ergo.teams.smallest_team import Search
from ergo.units import Units
from tests.tools.random_scenarios import few, wide_scenarios

UNITS = Units("lb", "lbf", "ft-in")


def at_height(case: Scenario, height_m: float) -> Scenario:
    return case.model_copy(update={"bed": case.bed.model_copy(update={"height_m": height_m})})


def serves(case: Scenario) -> bool:
    """Whether the aid serves every move: else the fault names the aid, and nothing is asked about the bed."""
    try:
        demand_of(case)
    except InputError as error:
        return error.faults[0].field != "aid"
    return True


@few
@given(data=wide_scenarios())
def test_every_corner_has_an_answer_in_text_and_json_that_names_what_decides(data):
    case = parse_scenario(data)
    assume(serves(case))
    now = Search(case).first
    found = best_height(case, answer=now)
    text = markdown_page(height_answer(case, found, UNITS))
    assert "obody exerts a force" not in text
    assert json.loads(to_json(height_json(case, found)))["why"]
    if isinstance(found, NoHeight):
        lift = ("lift", "make room", "airway lead", "takes a force of anybody's hands")
        assert any(words in text for words in lift), text
        assert now.people is None or "no move of this case" in text
        return
    assert isinstance(found, TeamHeight)
    if now.people is None and found.needs in ("lift", "no limit"):
        assert "lift" in height_words(found) or "no team can be named" in height_words(found)
    there = Search(at_height(case, found.height_m)).first
    if now.people is not None:
        assert there.people is not None
        assert there.people <= now.people
    elif isinstance(found.needs, int):
        assert found.needs == there.people


def test_where_no_team_can_at_the_present_height_the_nearest_one_at_which_one_can_is_named(capsys, tmp_path):
    # 30 cm: the hands are lower than any limit on a pull says anything about
    case = examples.boost(bed={"height_m": 0.3})
    assert Search(case).first.needs == "no limit"
    found = best_height(case)
    assert isinstance(found, TeamHeight)
    assert not found.team_now
    assert found.present_height_m == 0.3
    assert Search(at_height(case, found.height_m)).first.people == found.needs
    assert height_words(found).startswith("At 30 cm no team can make the moves. With the mattress at ")
    file = tmp_path / "low.toml"
    file.write_text(dump_scenario(case), encoding="utf-8")
    assert main(["height", str(file)]) == 0
    assert height_words(found) in " ".join(capsys.readouterr().out.split())
    assert main(["height", str(file), "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert (data["best"]["team_now"], data["best"]["needs"]) == (False, found.needs)


@pytest.mark.parametrize(
    ("case", "said"),
    [
        (examples.boost(bed={"rated_capacity_kg": 60.0}), "exceed the rated capacity"),
        (examples.boost(bed={"places_left": 0}, team={"left": 0}), "make room on that side"),
        (examples.side_lying_turn(mass_kg=350.0, aid="cotton draw sheet"), "lift"),
    ],
    ids=["rated capacity", "no place", "too heavy"],
)
def test_what_decides_is_named_where_no_height_helps(case, said):
    found = best_height(case)
    words = found.why if isinstance(found, NoHeight) else height_words(found)
    assert said in words
    assert said in markdown_page(height_answer(case, found))


def test_a_patient_of_whom_every_section_was_measured_has_an_answer():
    # the push that rolls the patient does not vary then: an inner function took it for a list
    sections = {f"{level}_{way}_m": 0.36 for level in ("chest", "waist", "hip") for way in ("breadth", "depth")}
    patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.65, **sections}
    case = {"name": "x", "procedure": "slide to the side", "patient": patient}
    assert Search(parse_scenario(case)).first.people is not None
