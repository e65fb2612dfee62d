"""Every file and link ever saved opens, and says what was changed; what a later version saved is refused in words."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from ergo.cli.main import main
from ergo.errors import InputError
from ergo.inputs.census import load_census
from ergo.inputs.formats import newest
from ergo.inputs.purchase import dump_purchase, load_purchase, parse_purchase
from ergo.inputs.scenario import dump_scenario, load_scenario, parse_scenario, read_scenario
from ergo.inputs.unit import dump_unit, load_unit, parse_unit
from ergo.web.link import pack_case, unpack_case

SAVED = Path(__file__).parent / "saved" / "format_1"  # as the code of that format wrote them; never changed
LINKS = json.loads((SAVED / "links.json").read_text(encoding="utf-8"))
SCENARIOS = sorted(p for p in SAVED.glob("*.toml") if p.stem not in ("unit", "purchase"))
UNSTATED = "single or doubled not stated"
RENAMED = {"named_members": 3, "by_hand": 1}


def stated(data: object) -> object:
    """What a file of format 1 says, by today's names, without its format."""
    if isinstance(data, dict):
        return {{"along_m": "position_m"}.get(k, k): stated(v) for k, v in data.items() if k != "format"}
    return [stated(v) for v in data] if isinstance(data, list | tuple) else data


def holds(found: object, said: object) -> bool:
    """Whether everything that was said is found, as it was said."""
    if isinstance(said, dict):
        return isinstance(found, dict) and all(k in found and holds(found[k], v) for k, v in said.items())
    if isinstance(said, list):
        return isinstance(found, list | tuple) and len(found) == len(said) and all(map(holds, found, said))
    return found == said


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda p: p.stem)
def test_a_scenario_of_format_1_opens_with_everything_it_says_and_tells_what_was_changed(path):
    told: list[str] = []
    found = load_scenario(path, told.append)
    assert holds(found.model_dump(mode="json"), stated(tomllib.loads(path.read_text(encoding="utf-8"))))
    count = RENAMED.get(path.stem, 0)
    assert sum(UNSTATED in line for line in told) == (found.aid == "slide sheet")
    told = [line for line in told if UNSTATED not in line]
    assert [line.partition("format 1: ")[2].split(" is now")[0] for line in told] == (
        [f"along_m of {count} team member{'s' if count > 1 else ''}"] if count else []
    )
    again: list[str] = []
    assert read_scenario(dump_scenario(found).encode(), "again", again.append) == found
    assert all(UNSTATED in line for line in again)


@pytest.mark.parametrize("name", LINKS)
def test_a_link_of_format_1_opens_the_case_that_its_file_opens(name):
    told: list[str] = []
    found = unpack_case(LINKS[name], told.append)
    # a link says nothing of what is as it was when left out, and then follows what that is today; its file said it
    said = load_scenario(SAVED / f"{name}.toml")
    brace = {"none": "thigh"}.get(said.handling.brace, said.handling.brace)
    assert found == said.model_copy(
        update={
            "handling": said.handling.model_copy(update={"brace": brace, "slide_time_s": found.handling.slide_time_s})
        }
    )
    assert found.handling.slide_time_s in (None, said.handling.slide_time_s)
    assert any("format 1" in line for line in told) == (name in RENAMED)
    assert any(UNSTATED in line for line in told) == (found.aid == "slide sheet")
    again: list[str] = []
    assert unpack_case(pack_case(found), again.append) == found
    assert all(UNSTATED in line for line in again)


def test_a_unit_its_census_and_a_purchase_of_format_1_open_and_are_written_back():
    unit, purchase = load_unit(SAVED / "unit.toml", pytest.fail), load_purchase(SAVED / "purchase.toml", pytest.fail)
    assert unit.patients.census == "census_example.csv"
    assert len(load_census(SAVED / unit.patients.census)) == 36
    assert f"format = {newest('unit')}" in dump_unit(unit)
    assert f"format = {newest('purchase')}" in dump_purchase(purchase)


@pytest.mark.parametrize(
    ("kind", "parse"), [("scenario", parse_scenario), ("unit", parse_unit), ("purchase", parse_purchase)]
)
def test_a_later_format_is_refused_with_the_reason_alone_and_no_format_at_all_with_the_other_faults(kind, parse):
    with pytest.raises(InputError) as caught:
        parse({"format": newest(kind) + 1, "something": "new"}, "x.toml")
    (fault,) = caught.value.faults
    assert (fault.field, fault.allowed.split(":")[0]) == ("format", f"1 to {newest(kind)}")
    for bad in (0, -1, True, "1", 1.0, None, []):
        with pytest.raises(InputError) as caught:
            parse({"format": bad}, "x.toml")
        assert {"format", "name"} <= {fault.field for fault in caught.value.faults}


def test_a_place_stated_under_both_names_is_a_fault_and_the_new_name_alone_needs_no_note():
    team = {"left": 1, "right": 0, "members": [{"side": "left", "along_m": 0.4, "position_m": 0.5}]}
    data = {"name": "x", "procedure": "boost", "patient": {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}, "team": team}
    with pytest.raises(InputError, match=r"along_m = 0\.4: unknown field"):
        parse_scenario(data)
    del team["members"][0]["along_m"]
    assert parse_scenario(data, "x", pytest.fail).team.members[0].position_m == 0.5


def test_a_command_notes_beside_its_answer_what_was_changed(capsys):
    assert main(["assess", str(SAVED / "named_members.toml"), "--json"]) == 0
    out, err = capsys.readouterr()
    assert json.loads(out)
    assert err.endswith("was of format 1: along_m of 3 team members is now called position_m\n")
    assert err.startswith("Note: ")


def test_the_page_notes_what_was_changed_in_a_link():
    page = AppTest.from_file(str(Path(__file__).parents[1] / "app.py"), default_timeout=60)
    page.query_params["case"] = LINKS["named_members"]
    page.run()
    assert not page.exception
    assert [t.value for t in page.toast] == [
        "the link was of format 1: along_m of 3 team members is now called position_m"
    ]
