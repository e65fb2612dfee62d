"""Headcounts: what has been published, and common practice, beside what the model gives.

`python -m pytest tests/test_headcounts.py -s` prints both tables. No constant, floor or default was chosen for them:
every number follows from friction, body, sharing and the deciding limits with default inputs.
"""

from __future__ import annotations

from functools import cache

import pytest

from ergo.evidence import row, sources, table
from ergo.inputs.scenario import parse_scenario
from ergo.teams.published_headcounts import headcount_range, headcount_words
from ergo.teams.smallest_team import TeamAnswer, smallest_team
from ergo.validation.cases import validation_cases

CASES = [case for case in validation_cases() if case.id.startswith("H")]
AIDS = ("cotton draw sheet", "two-layer turning pad", "slide sheet", "doubled slide sheet")
MASSES = (70.0, 80.0, 90.0)


@cache
def prone(sex: str, mass_kg: float, aid: str) -> TeamAnswer:
    """The prone turn of a ventilated patient of median stature with default inputs."""
    stature = float(row("body_mass_percentiles_us", measure="stature_cm", sex=sex)["p50"]) / 100
    patient = {"sex": sex, "mass_kg": mass_kg, "stature_m": stature, "intubated": True}
    return smallest_team(
        parse_scenario({"name": "x", "procedure": "prone turn", "aid": aid, "patient": patient}), with_aids=False
    )


def test_the_table_of_published_against_predicted_covers_every_published_headcount():
    print(f"\n{'published':44}  {'task and aid':62}  predicted  why")
    for case in CASES:
        counts = "lift" if case.predicted is None else f"{case.predicted_low}-{case.predicted_high}"
        print(f"{case.source[:44]:44}  {case.task[:62]:62}  {counts:9}  {case.reason}")
    assert len(CASES) == len(table("guidance_headcounts"))
    for case, entry in zip(CASES, table("guidance_headcounts"), strict=True):
        assert case.source == entry["source"]
        assert case.task.endswith(headcount_words(entry))
        allowed = headcount_range(entry)
        inside = case.high >= allowed[0] and (allowed[1] is None or case.low <= allowed[1])
        assert case.inside == inside
        assert case.reason.startswith("Inside" if case.inside else ("More here", "Fewer here"))


# Regression: the fewest and most people predicted for the published row, and whether it agrees.
RECORDED: dict[str, tuple[int, int, bool]] = {
    "H01": (3, 3, True),
    "H02": (4, 4, True),
    "H03": (2, 2, False),
    "H04": (2, 2, True),
    "H05": (2, 2, True),
    "H06": (2, 2, True),
    "H07": (2, 2, True),
    "H08": (2, 2, True),
    "H09": (2, 2, True),
    "H10": (2, 2, True),
    "H11": (2, 2, False),
    "H12": (2, 2, False),
    "H13": (3, 4, False),
    "H14": (3, 4, True),
    "H15": (3, 4, False),
    "H16": (3, 4, True),
    "H17": (3, 3, True),
    "H18": (4, 4, False),
}


def test_the_predicted_headcounts_have_not_changed():
    assert {c.id: (c.predicted_low, c.predicted_high, c.inside) for c in CASES} == RECORDED


def by_task(word: str) -> list:
    return [case for case in CASES if case.task.startswith(word)]


def test_lateral_transfers_agree_or_need_fewer_people_by_force_than_a_rule_asks_for():
    # aorn_2011, osha_3182 (reprints). The counts for 100 to 200 lb on an aid and those without an aid are met. Those
    # for an assistive device and above 157 lb DISAGREE: three or four where two are enough for the force.
    disagree = [c for c in by_task("lateral transfer") if not c.inside]
    assert len(disagree) == 3
    for case in disagree:
        assert case.published >= 3
        assert case.reason.startswith("Fewer here")
        assert case.cause == "rule"
    assert all(c.inside for c in by_task("lateral transfer") if "lb, none" in c.task)


def test_boosts_with_a_friction_reducing_device_agree_within_what_nobody_said_about_the_sheet():
    # osha_3182 (reprint). At least three from 200 lb on: here two share the pull of a slide sheet at typical values,
    # and three where it slides like a draw sheet: single or doubled is not said.
    boosts = by_task("boost")
    assert all(c.inside for c in boosts)
    (heavy,) = [c for c in boosts if "200 lb or more" in c.task]
    assert (heavy.predicted, heavy.low, heavy.high) == (2.0, 2.0, 3.0)


def test_what_is_common_practice_stands_apart_from_what_was_published():
    for entry in table("usual_headcounts"):
        assert entry["known"] == "common-practice"
        assert entry["source"] not in sources()
    for entry in table("guidance_headcounts"):
        assert entry["source"] in sources()
    assert [headcount_words(r) for r in table("usual_headcounts") if r["task"] == "prone turn"] == ["at least 5", "6-8"]


def test_published_headcounts_of_the_prone_turn_are_met_where_they_are_few_and_not_where_they_count_control():
    # guerin_2020: 4-5, guerin_2013: 3-4: met by the median adult on a cotton draw sheet, by force and if one breaks
    # off. ics_ficm_2019: 5, imbriaco_2022: at least 5, icu_prone_checklist_2020: 6 with one for the lines: more than
    # here, because guidance counts control of head, limbs and lines. aorn_2007: at least 3, met by any team.
    agrees = {c.source: c.inside for c in by_task("prone turn")}
    assert agrees == {
        "ics_ficm_2019": False, "guerin_2020": True, "imbriaco_2022": False, "guerin_2013": True, "aorn_2007": True,
        "icu_prone_checklist_2020": False,
    }  # fmt: skip


def test_the_table_of_prone_turns_across_masses_and_aids():
    print("\nprone turn: people (left + right), by force, if one breaks off, ratio of the nearest limit")
    for aid in AIDS:
        cells = []
        for sex in ("F", "M"):
            for mass in MASSES:
                a = prone(sex, mass, aid)
                by = f"{a.reasons.people_by_force}, {a.reasons.people_if_one_breaks_off}"
                ratio = f"{a.assessment.worst_ratio:.2f}"
                cells.append(f"{sex} {mass:.0f} kg: {a.people} ({a.left}+{a.right}), {by}, {ratio}")
        print(f"  {aid:24}" + "   ".join(cells))
    every = {aid: [prone(sex, m, aid) for sex in ("F", "M") for m in MASSES] for aid in AIDS}
    assert {aid: [a.reasons.people_by_force for a in answers] for aid, answers in every.items()} == BY_FORCE
    breaks = {aid: [a.reasons.people_if_one_breaks_off for a in answers] for aid, answers in every.items()}
    assert breaks == IF_ONE_BREAKS_OFF
    assert {a.people for answers in every.values() for a in answers} == {5}


# Regression: people for women of 70, 80, 90 kg, then men of 70, 80, 90 kg; the airway lead is one of them.
BY_FORCE = {
    "cotton draw sheet": [4, 4, 4, 4, 4, 4],
    "two-layer turning pad": [4, 4, 4, 3, 4, 4],
    "slide sheet": [3, 4, 4, 3, 4, 4],
    "doubled slide sheet": [3, 3, 3, 3, 3, 3],
}
IF_ONE_BREAKS_OFF = {
    "cotton draw sheet": [3, 3, 3, 3, 3, 3],
    "two-layer turning pad": [5, 5, 5, 5, 5, 5],
    "slide sheet": [3, 3, 3, 3, 3, 3],
    "doubled slide sheet": [3, 3, 3, 3, 3, 3],
}


@pytest.mark.parametrize("sex", ["F", "M"])
@pytest.mark.parametrize("mass_kg", MASSES)
def test_common_practice_a_prone_turn_of_70_to_90_kg_needs_five_or_more_on_the_default_sheet(sex, mass_kg):
    # Common practice, no source. Here it is guidance that asks for the fifth, not the force.
    answer = prone(sex, mass_kg, "cotton draw sheet")
    assert answer.people >= 5 > answer.reasons.people_by_force
    assert answer.reasons.counts == "guidance"
