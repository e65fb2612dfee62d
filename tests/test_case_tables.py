"""A table of cases is answered row by row, in Python and on the command line."""

from __future__ import annotations

import csv
import subprocess
import sys
import time

import numpy as np
import pandas as pd
import pytest

import ergo
from ergo.cli.main import main
from ergo.teams.case_tables import case_columns

COLUMNS = ["verdict", "people", "left", "right", "roles", "deciding_limit", "ratio", "why", "fault"]
REASONS = ["people_by_force", "people_if_one_breaks_off", "people_by_guidance", "counts"]
ROWS = pd.DataFrame(
    {
        "procedure": ["boost", "prone turn", "lateral transfer", "boost", "side-lying turn", "boost"],
        "sex": ["F", "M", "F", "X", "M", "F"],
        "mass_kg": [60.0, 95.0, 130.0, 70.0, 80.0, np.nan],
        "stature_m": 1.7,
        "aid": ["slide sheet", None, "transfer board", "slide sheet", "cotton draw sheet", "slide sheet"],
        "bed.width_m": [0.9, 1.2, np.nan, 0.9, 0.9, 0.9],
        "bed.height_m": [0.85, 0.8, 0.9, np.nan, 0.75, 0.8],
        "bed.places_left": [np.nan, 4, 6, 6, 1, 6],
        "team.left": [2, 3, np.nan, 2, 1, 2],
        "patient.intubated": [None, True, None, False, None, None],
        "policy.protect": ["90 % of women", None, None, None, "mixed team", None],
        "handling.technique": ["best", "typical", None, None, "best", None],
    },
    index=["a", "b", "c", "d", "e", "f"],
)


def scenario(row):
    """The case of a row, put together by hand."""
    nested = {"name": "x"}
    short = {name: f"patient.{name}" for name in ("sex", "mass_kg", "stature_m")}
    for name, value in row.items():
        if value is not None and value == value:
            *parents, last = short.get(name, name).split(".")
            owner = nested
            for parent in parents:
                owner = owner.setdefault(parent, {})
            owner[last] = int(value) if last in ("left", "places_left") else value
    return ergo.parse_scenario(nested)


def test_every_row_has_the_assessment_it_has_alone():
    found = ergo.assess_many(ROWS)
    assert list(found.columns) == COLUMNS
    assert list(found.index) == list(ROWS.index)
    for name in "abce":
        alone, row = ergo.assess(scenario(ROWS.loc[name])), found.loc[name]
        assert (row["verdict"], row["people"], row["left"], row["right"]) == (
            alone.verdict,
            alone.people,
            alone.left,
            alone.right,
        )
        assert row["roles"] == sum(role.people for role in alone.roles)
        assert row["ratio"] == pytest.approx(alone.worst_ratio, rel=1e-9)
        assert (row["deciding_limit"], row["why"], row["fault"]) == (alone.deciding.label, alone.why, "")


@pytest.mark.parametrize("probability", [None, 0.9])
def test_every_row_has_the_smallest_team_it_has_alone(probability):
    found = ergo.smallest_teams(ROWS, probability)
    for name in "abce":
        alone, row = ergo.smallest_team(scenario(ROWS.loc[name]), probability, with_aids=False), found.loc[name]
        team = [None if pd.isna(v) else v for v in (row["people"], row["left"], row["right"])]
        assert team == [alone.people, alone.left, alone.right]
        reasons = [None if pd.isna(v) else v for v in row[REASONS]]
        assert reasons == [getattr(alone.reasons, name) for name in REASONS]
        if alone.people is not None and probability is not None:
            assert row["probability"] == alone.probability
        else:
            assert pd.isna(row["probability"])


def test_a_bad_row_tells_its_faults_and_stops_no_other():
    found = ergo.assess_many(ROWS)
    assert "patient.sex" in found.loc["d", "fault"]
    assert "patient.mass_kg" in found.loc["f", "fault"]
    assert found.loc[["d", "f"], ["people", "ratio"]].isna().all(axis=None)
    assert (found.loc[list("abce"), "fault"] == "").all()
    board = pd.DataFrame(
        {"procedure": "prone turn", "sex": "F", "mass_kg": 70.0, "stature_m": 1.6, "aid": "transfer board"}, [3]
    )
    assert "does not serve" in ergo.smallest_teams(board).loc[3, "fault"]


def test_unknown_and_doubled_columns_are_all_named():
    with pytest.raises(ergo.InputError) as caught:
        ergo.assess_many(ROWS.rename(columns={"mass_kg": "mas_kg", "aid": "patient.sex"}))
    said = str(caught.value)
    assert "'mas_kg': unknown; did you mean mass_kg?" in said
    assert "'patient.sex': only once" in said


def test_a_table_without_rows_has_an_answer_without_rows():
    assert list(ergo.assess_many(ROWS.iloc[:0]).columns) == COLUMNS


def test_a_side_without_places_has_no_team_and_the_reason():
    row = pd.DataFrame({"procedure": ["boost"], "sex": "F", "mass_kg": 60.0, "stature_m": 1.6, "bed.places_right": 0})
    found = ergo.smallest_teams(row, 0.9)
    assert found["people"].isna().all()
    assert "no place on the right side" in found["why"][0]


def test_a_thousand_boosts_take_a_few_seconds_at_most():
    rng = np.random.default_rng(5)
    many = pd.DataFrame({"procedure": "boost", "sex": "F", "mass_kg": rng.uniform(40, 150, 1000), "stature_m": 1.65})
    told = []
    start = time.process_time()
    found = ergo.assess_many(many, progress=told.append)
    assert time.process_time() - start < 12.0  # about 4 s alone on one core
    assert told == [0.25, 0.5, 0.75, 1.0]
    assert (found["fault"] == "").all()


def test_the_public_face_is_listed_and_loads_nothing_before_it_is_asked_for():
    assert set(ergo.__all__) <= set(dir(ergo))
    for name in ergo.__all__:
        assert getattr(ergo, name) is not None
    heavy = "('numpy', 'pandas', 'streamlit', 'plotly')"
    code = f"import ergo, sys; dir(ergo); print([m for m in {heavy} if m in sys.modules])"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "[]\n"


def test_every_scalar_field_of_a_scenario_is_a_column():
    assert {"procedure", "aid", "mass_kg", "patient.mass_kg", "bed.tilt_deg", "policy.site_limit_n"} <= set(
        case_columns()
    )


# --- command line ---


def written(folder, text, *options):
    """Run `ergo cases` on a table and return the exit code and the rows it wrote."""
    table, out = folder / "cases.csv", folder / "out.csv"
    table.write_text(text, encoding="utf-8")
    code = main(["cases", str(table), "-o", str(out), *options])
    with open(out, encoding="utf-8", newline="") as file:
        return code, list(csv.DictReader(file))


HEAD = "procedure,sex,mass_kg,stature_m,aid,bed.places_left,patient.intubated\n"


def test_ergo_cases_writes_the_table_with_its_answers(tmp_path, capsys):
    text = HEAD + "boost,F,60,1.6,slide sheet,6,\nprone turn,M,90,1.8,cotton draw sheet,3,TRUE\n"
    code, rows = written(tmp_path, text)
    assert code == 0
    frame = pd.read_csv(tmp_path / "cases.csv")
    found = ergo.smallest_teams(frame)
    assert [row["people"] for row in rows] == [str(n) for n in found["people"]]
    assert [row["mass_kg"] for row in rows] == ["60", "90"]
    assert rows[0]["probability"] == ""
    captured = capsys.readouterr()
    assert "2 cases" in captured.out
    assert captured.err == ""  # no bar where nobody looks


def test_ergo_cases_takes_a_probability_or_the_rows_own_team(tmp_path):
    text = "procedure,sex,mass_kg,stature_m,team.left,team.right\nboost,F,100,1.6,1,1\n"
    sure = written(tmp_path, text, "--probability", "0.9")[1][0]
    own = written(tmp_path, text, "--own-team")[1][0]
    assert float(sure["probability"]) >= 0.9
    assert (own["left"], own["right"], own["verdict"]) == ("1", "1", "over")


def test_ergo_cases_tells_bad_rows_and_runs_no_formula(tmp_path, capsys):
    text = "procedure;sex;mass_kg;stature_m;aid\nboost;F;heavy;1.6;slide sheet\n"
    text += "boost;F;60;1.6;=1+1\nboost;F;60;1.6;slide sheet\n"
    code, rows = written(tmp_path, text)
    assert code == 2
    assert "patient.mass_kg" in rows[0]["fault"]
    assert rows[1]["aid"] == "'=1+1"
    assert (rows[2]["people"], rows[2]["fault"]) == ("2", "")
    assert "2 with a fault" in capsys.readouterr().out


def test_a_cell_that_would_steer_a_terminal_is_written_so_that_it_is_seen(tmp_path):
    text = "procedure,sex,mass_kg,stature_m,aid\nboost,F,60,1.6,sl\x1b[31mide \u202e\x9b\n"
    code, rows = written(tmp_path, text)
    assert (code, rows[0]["aid"]) == (2, "sl<U+001B>[31mide <U+202E><U+009B>")
    raw = (tmp_path / "out.csv").read_text("utf-8")
    assert not {"\x1b", "\x9b", "\u202e"} & set(raw)


def test_the_probability_of_a_row_is_the_share_of_the_draws_also_where_it_is_all_of_them(tmp_path):
    _, rows = written(tmp_path, "procedure,sex,mass_kg,stature_m\nlimb hold,F,60,1.6\n", "--probability", "0.9")
    patient = {"sex": "F", "mass_kg": 60.0, "stature_m": 1.6}
    case = ergo.parse_scenario({"name": "x", "procedure": "limb hold", "patient": patient})
    answer = ergo.smallest_team(case, with_aids=False)
    assert float(rows[0]["probability"]) == answer.probability == 1.0
    assert ">99 %" in answer.why


@pytest.mark.parametrize("text", ["", "weight\n70\n", "procedure,sex\nboost\n" + "x,y,z,u\n"])
def test_ergo_cases_refuses_what_is_no_table_of_cases_in_words(tmp_path, capsys, text):
    table = tmp_path / "cases.csv"
    table.write_text(text, encoding="utf-8")
    assert main(["cases", str(table), "-o", str(tmp_path / "out.csv")]) == 2
    assert "fault" in capsys.readouterr().err
    assert not (tmp_path / "out.csv").exists()


def test_ergo_cases_never_writes_over_the_table_it_reads(tmp_path, capsys):
    table = tmp_path / "cases.csv"
    table.write_text("procedure,sex,mass_kg,stature_m\nboost,F,60,1.6\n", encoding="utf-8")
    before = table.read_bytes()
    assert main(["cases", str(table), "-o", str(table)]) == 2
    assert "would be lost" in capsys.readouterr().err
    assert table.read_bytes() == before


def test_a_cell_without_a_name_is_refused_and_moves_no_other(tmp_path, capsys):
    table = tmp_path / "cases.csv"
    table.write_text("procedure,sex,mass_kg,stature_m\nboost,F,60,1.6,extra\n", encoding="utf-8")
    assert main(["cases", str(table), "-o", str(tmp_path / "out.csv")]) == 2
    assert "row 2 = 5 cells: at most 4" in capsys.readouterr().err


def test_a_number_may_have_a_decimal_comma_and_no_other_ornament(tmp_path):
    text = "procedure;sex;mass_kg;stature_m;aid\nboost;F;60,5;1,6;slide sheet\nboost;F;1_0_0;1.6;slide sheet\n"
    rows = written(tmp_path, text)[1]
    assert rows[0]["people"] == "2"
    assert rows[1]["fault"] == "patient.mass_kg = '1_0_0': 25 to 350 [kg]"


def test_every_kind_of_empty_cell_is_left_out_and_a_case_without_a_place_has_no_ratio():
    rows = {"procedure": "boost", "sex": "F", "mass_kg": 60.0, "stature_m": 1.6}
    frame = pd.DataFrame(rows, index=range(3)).astype({"mass_kg": object})
    for side in ("left", "right"):
        frame[f"bed.places_{side}"] = pd.array([pd.NA, 0, 2], dtype="Int64")
    frame.loc[2, "mass_kg"] = pd.NaT
    found = ergo.smallest_teams(frame)
    assert found["ratio"].isna().tolist() == [False, True, True]
    assert found["verdict"][1] == "over"
    assert found["fault"].str.startswith("patient.mass_kg = (left out)").tolist() == [False, False, True]
