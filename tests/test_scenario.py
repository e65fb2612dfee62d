"""A scenario file is read whole or refused with every fault at once."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
import tomli_w

from ergo.errors import InputError
from ergo.evidence import assumption, assumptions
from ergo.inputs.formats import newest
from ergo.inputs.scenario import dump_scenario, load_scenario, parse_scenario, read_scenario
from ergo.inputs.schema import LARGEST_FILE

FILES = sorted((Path(__file__).parents[1] / "scenarios").glob("*.toml"))
PATIENT = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
BASE = {"name": "x", "procedure": "prone turn", "patient": PATIENT}
LAYER = {"upper": "sheet", "lower": "linen", "mu_low": 0.2, "mu": 0.3, "mu_high": 0.4}


def faults(data: dict) -> dict[str, object]:
    with pytest.raises(InputError) as caught:
        parse_scenario(data)
    return {fault.field: fault for fault in caught.value.faults}


def test_there_are_at_least_ten_scenarios_each_with_a_name_and_a_question_of_its_own():
    scenarios = [load_scenario(f) for f in FILES]
    assert len(scenarios) >= 10
    assert len({s.name for s in scenarios}) == len(scenarios)
    assert all(s.question.endswith("?") for s in scenarios)
    assert {"prone turn", "return to supine", "lateral transfer", "boost", "limb hold"} <= {
        s.procedure for s in scenarios
    }


@pytest.mark.parametrize("file", FILES, ids=lambda f: f.stem)
def test_a_scenario_file_carries_the_format_version_and_reads_back_the_same(file):
    assert f"format = {newest('scenario')}" in file.read_text(encoding="utf-8")
    scenario = load_scenario(file)
    again = read_scenario(dump_scenario(scenario).encode())
    assert again == scenario
    assert dump_scenario(again) == dump_scenario(scenario)


def test_defaults_come_from_evidence():
    scenario = parse_scenario(BASE)
    assert scenario.bed.width_m == assumption("bed_width").typical
    assert scenario.handling.pull_angle_deg == assumption("pull_angle").typical
    assert scenario.policy.minutes_between_efforts == assumption("minutes_between_efforts").typical


def test_an_unknown_field_is_a_fault_with_the_nearest_known_name():
    data = BASE | {"patient": PATIENT | {"statur_m": 1.7}, "polcy": {}, "bed": {"zzz": 1}}
    found = faults(data)
    assert "did you mean stature_m?" in found["patient.statur_m"].allowed
    assert "did you mean policy?" in found["polcy"].allowed
    assert found["bed.zzz"].allowed == "unknown field"


def test_a_fault_names_value_allowed_range_and_unit():
    found = faults(BASE | {"patient": PATIENT | {"mass_kg": 900.0}, "bed": {"tilt_deg": -45}})
    mass, tilt = found["patient.mass_kg"], found["bed.tilt_deg"]
    assert (mass.value, mass.allowed, mass.unit) == ("900.0", "25 to 350", "kg")
    assert (tilt.value, tilt.allowed, tilt.unit) == ("-45", "-20 to 20", "deg")


def test_every_fault_of_a_file_is_in_one_error():
    data = {
        "procedure": "prone turn",
        "format": 0,
        "patient": {"sex": "W", "mass_kg": "80 kg", "statur": 1.7},
        "bed": {"width_m": 9.0, "equipment_side": "top"},
        "aid": "carpet",
        "team": {"left": 7, "right": -1, "members": [{"side": "left"}]},
        "policy": {"protect": "site limit"},
    }
    wanted = {
        "name",
        "format",
        "patient.sex",
        "patient.mass_kg",
        "patient.stature_m",
        "patient.statur",
        "bed.width_m",
        "bed.equipment_side",
        "aid",
        "team.left",
        "team.right",
        "policy.site_limit_n",
    }
    assert wanted <= set(faults(data))


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"policy": {"protect": "site limit"}}, "policy.site_limit_n"),
        ({"procedure": "own sequence"}, "moves"),
        ({"moves": [{"kind": "boost"}]}, "moves"),
        ({"team": {"left": 2, "right": 1, "members": [{"side": "left"}]}}, "team.left"),
        ({"team": {"left": 3}, "bed": {"places_left": 2}}, "team.left"),
        ({"own_aids": [{"name": "slide sheet", "interfaces": [LAYER]}]}, "own_aids.0.name"),
        ({"own_aids": [{"name": "a", "interfaces": [LAYER | {"mu_low": 0.9}]}]}, "own_aids.0.interfaces.0"),
        ({"own_aids": [{"name": "a", "interfaces": []}]}, "own_aids.0.interfaces"),
        ({"patient": PATIENT | {"mass_kg": float("nan")}}, "patient.mass_kg"),
        ({"patient": PATIENT | {"intubated": "yes"}}, "patient.intubated"),
        ({"patient": []}, "patient"),
        ({"own_aids": 3}, "own_aids"),
        ({"aid": 7}, "aid"),
        ({"team": {"members": [1]}}, "team.members.0"),
    ],
)
def test_what_is_wrong_between_fields_is_found(change, field):
    assert field in faults(BASE | change)


def test_a_number_may_be_written_without_a_decimal_point_but_not_as_text_or_truth():
    assert parse_scenario(BASE | {"patient": PATIENT | {"mass_kg": 70}}).patient.mass_kg == 70.0
    assert "patient.mass_kg" in faults(BASE | {"patient": PATIENT | {"mass_kg": "70"}})
    assert "patient.mass_kg" in faults(BASE | {"patient": PATIENT | {"mass_kg": True}})


@pytest.mark.parametrize(
    "raw",
    [
        b"\xff\xfe\x00",
        b"name = ",
        b"a = 1\na = 2",
        b"a" + b".a" * 3000 + b" = 1",
        b"a = " + b"[" * 4000 + b"]" * 4000,
        b"x = 1" + b" " * LARGEST_FILE,
        b"",
    ],
    ids=["not text", "not TOML", "twice", "deep keys", "deep lists", "too large", "empty"],
)
def test_what_is_no_scenario_is_refused_in_words(raw):
    with pytest.raises(InputError) as caught:
        read_scenario(raw, "case.toml")
    assert caught.value.faults
    assert str(caught.value).startswith("case.toml has ")


def test_a_file_that_is_not_there_or_is_a_folder_is_refused_in_words(tmp_path):
    for path in (tmp_path / "no.toml", tmp_path):
        with pytest.raises(InputError) as caught:
            load_scenario(path)
        assert caught.value.faults[0].field == "file"


def test_a_byte_order_mark_is_no_fault():
    assert read_scenario(b"\xef\xbb\xbf" + tomli_w.dumps(BASE).encode()).name == "x"


def test_a_scenario_is_frozen():
    with pytest.raises(ValueError, match="frozen"):
        parse_scenario(BASE).patient.mass_kg = 10.0


@pytest.mark.parametrize(
    "blank", ["", " ", "\t", "\u200b", "\u2060 \u00ad", "\u3164", "\u2800", "\u0301", "\ufeff", "\x00"]
)
def test_a_name_that_nobody_can_see_is_a_fault(blank):
    data = BASE | {"name": blank, "own_aids": [{"name": blank, "interfaces": [LAYER | {"upper": blank}]}], "aid": blank}
    assert {"name", "own_aids.0.name", "own_aids.0.interfaces.0.upper", "aid"} <= set(faults(data))
    assert faults(data)["name"].allowed in (
        "text, 1 to 120 characters that can be seen",
        "text without control characters",
    )


@pytest.mark.parametrize("name", ["x", "\u00e9", "e\u0301", "\u75c5", "\U00058f63", "a\u200bb", "\U0001f6cf", "3"])
def test_a_name_in_any_script_is_none(name):
    assert parse_scenario(BASE | {"name": name}).name == name


def test_how_many_people_a_side_may_be_stated_follows_from_the_assumption_when_a_file_is_read(monkeypatch):
    members = [{"side": "left"}] * 7 + [{"side": "right"}] * 2
    data = BASE | {"team": {"left": 7, "members": members}, "bed": {"places_left": 7}}
    found = faults(data)
    assert {found[f].allowed for f in ("bed.places_left", "team.left")} == {"0 to 6"}
    assert faults(BASE | {"team": {"left": 2, "members": members * 2}})["team.members"].allowed == "at most 12"
    one_more = {**assumptions(), "team_most": replace(assumption("team_most"), typical=7.0)}
    monkeypatch.setattr("ergo.evidence.assumptions", lambda: one_more)
    assert parse_scenario(data).team.left == 7
    assert parse_scenario(BASE).bed.places_left == 7


def test_unit_author_date_and_version_may_be_stated_and_a_date_of_birth_may_not():
    assert parse_scenario(BASE).date is None
    for stated in ("2026-03-31", date(2026, 3, 31)):
        found = parse_scenario(BASE | {"unit": "ICU", "author": "us", "date": stated, "version": "2 b"})
        assert (found.unit, found.author, found.date, found.version) == ("ICU", "us", date(2026, 3, 31), "2 b")
        assert read_scenario(dump_scenario(found).encode()) == found
    assert (
        faults(BASE | {"date": "1951-02-03"})["date"].allowed == "a date of the years 2000 to 2100, never one of birth"
    )
    assert faults(BASE | {"date": "31.3.26"})["date"].allowed == "a date as 2026-03-31"
    assert {"unit", "version", "date"} <= set(faults(BASE | {"unit": "x" * 121, "version": 2, "date": 2026}))
