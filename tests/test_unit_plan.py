"""The plan of a unit: hand-computed units to the minute, conservation, and what more people change."""

from __future__ import annotations

import csv
import io
import json
import time
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from ergo.errors import InputError
from ergo.evidence import assumption
from ergo.inputs.unit import People, dump_unit, parse_unit, read_unit, unit_defaults
from ergo.report.csv_export import unit_csv
from ergo.report.documents.unit import staffing_document
from ergo.report.figures.unit_coverage import unit_waits
from ergo.report.json_export import to_json, unit_json
from ergo.report.markdown import markdown_page
from ergo.report.tables.unit import option_rows, policy_rows, shift_rows
from ergo.unit.arrivals import arrivals, task_kinds
from ergo.unit.computing_time import StoppedError, work_of
from ergo.unit.plan import patients_of, plan_unit, simulate, table_of
from ergo.unit.population import draw_population
from ergo.unit.results import Estimate, cost_of, level_of
from ergo.unit.staffing_request import ForceRow, staffing_request
from ergo.unit.team_lookup import AssessedNeed, TeamNeed, stature_class
from tests.tools.example_unit import EXAMPLE, UNITS, by_mass


def two(procedure, aid, mass_kg, sex, stature_m):
    """Two pullers, 100 N s and two efforts each."""
    return TeamNeed(1, 1, loadings=2.0, pull_n_s=100.0)


def hand_unit(**more):
    """Two beds, one shift all day, everything fixed: nothing is left to probability."""
    data = {
        "name": "by hand", "beds": 2, "lifts": 0, "jitter_min": 0.0, "minutes_spread": 0.0, "on_time_min": 0.0,
        "days": 1, "replications": 1, "extra_people": [0],
        "patients": {"turnover": False, "women_share": 1.0},
        "shifts": [{"name": "all day", "start_h": 0.0, "hours": 24.0, "people": [{"role": "nurse", "count": 2}]}],
        "policies": [{"name": "sheets", "aid": "cotton draw sheet"}],
        "cost": {"wage_per_h": 30.0, "benefits_share": 0.25, "paid_hours_year": 2000.0, "productive_share": 0.8},
    }  # fmt: skip
    return parse_unit({**data, **more})


def rounds(**more):
    return {"procedure": "side-lying turn", "every_h": 2.0, "minutes": 5.0, **more}


def test_two_beds_turned_together_to_the_minute():
    """12 rounds of 2 turns of 5 min with 2 people of 2: the second of each pair waits 5 min.

    24 x 2 x 5 = 240 people-minutes = 4 h a day; pull 24 x 100 = 2400 N s a person.
    """
    plan = plan_unit(hand_unit(rounds=[rounds(due="together")]), two)
    level = plan.levels[0]
    shift = level.shifts[0]
    assert (shift.events.mean, shift.people_minutes.mean, level.hours.mean) == (24.0, 240.0, 4.0)
    assert (shift.wait_min.mean, shift.on_time.mean, shift.staffed.mean, shift.covered.mean) == (2.5, 0.5, 1.0, 0.5)
    assert shift.busy.mean == pytest.approx(240 / 2880)
    assert (shift.pull_n_s.mean, shift.loadings.mean) == (2400.0, 48.0)
    assert [h > 0 for h in level.missed_by_hour] == [hour % 2 == 0 for hour in range(24)]
    assert shift.fte.mean == pytest.approx(4 * 365.25 / (2000 * 0.8))
    assert level.cost_a_year.mean == pytest.approx(4 * 365.25 * 30 / 0.75 / 0.8)


def test_two_beds_turned_one_after_the_other_never_collide():
    shift = plan_unit(hand_unit(rounds=[rounds()]), two).levels[0].shifts[0]
    assert (shift.events.mean, shift.wait_min.mean, shift.covered.mean) == (24.0, 0.0, 1.0)


def test_four_people_are_needed_where_two_pairs_are_called_together():
    plan = plan_unit(hand_unit(rounds=[rounds(due="together")]), two)
    assert [(n.shift, n.people) for n in plan.needed] == [("all day", 4)]


def test_a_shift_in_which_no_move_comes_up_needs_nobody_and_the_answer_says_so():
    half_days = [
        {"name": name, "start_h": start, "hours": 12.0, "people": [{"role": "nurse", "count": 2}]}
        for name, start in (("day", 6.0), ("night", 18.0))
    ]
    noon = {"procedure": "boost", "a_day": 3.0, "from_h": 10.0, "to_h": 14.0, "minutes": 5.0}
    plan = plan_unit(hand_unit(planned=[noon], shifts=half_days), two)
    assert {n.shift: n.people for n in plan.needed} == {"day": 2, "night": 0}
    said = staffing_request(plan).answer
    assert "day 2, night 0; present staffing covers: day 100 % with 2, night 100 % with 2" in said


def test_no_number_of_people_helps_where_an_airway_lead_is_missing():
    unit = hand_unit(prone={"share": 1.0, "start_h": 10.0, "emergency_returns": 0.0})
    plan = plan_unit(unit, by_mass)
    assert plan.needed[0].people is None
    assert "airway leads" in plan.needed[0].why


def test_a_prone_session_has_two_turns_and_no_turn_to_the_side_in_between():
    """Two patients prone from 6:00 to 22:00; turns to the side at even hours and, in the second bed, at odd ones."""
    unit = hand_unit(
        rounds=[rounds()],
        prone={"share": 1.0, "start_h": 6.0, "session_h": 16.0, "emergency_returns": 0.0},
    )
    day = next(arrivals(unit, patients_of(unit), np.random.SeedSequence(1), 1))
    names = [task_kinds(unit)[k].name for k in day.kind]
    assert (names.count("prone turn"), names.count("return to supine")) == (2, 2)
    assert sorted(t / 60 for t, n in zip(day.time, names, strict=True) if "prone" in n) == [6.0, 6.0]
    assert sorted(t / 60 for t, n in zip(day.time, names, strict=True) if "supine" in n) == [22.0, 22.0]
    assert sorted(t / 60 for t, n in zip(day.time, names, strict=True) if "side" in n) == [0, 1, 2, 3, 4, 5, 22, 23]


def test_every_session_that_ends_early_is_an_emergency_and_has_no_planned_return():
    unit = hand_unit(prone={"share": 1.0, "start_h": 6.0, "emergency_returns": 1.0}, days=20)
    kinds = np.concatenate([d.kind for d in arrivals(unit, patients_of(unit), np.random.SeedSequence(1), 20)])
    assert np.bincount(kinds).tolist() == [40, 0, 40]


def test_moves_leave_in_order_of_time_over_the_days_and_none_is_lost():
    unit = hand_unit(rounds=[rounds()], jitter_min=45.0, unplanned=[{"procedure": "boost", "a_day": 30.0}])
    days = list(arrivals(unit, patients_of(unit), np.random.SeedSequence(4), 60))
    times = np.concatenate([d.time for d in days])
    assert np.all(np.diff(times) >= 0)
    kinds = np.concatenate([d.kind for d in days])
    assert (kinds == 0).sum() == 60 * 24
    assert (kinds == 1).sum() == pytest.approx(60 * 30, abs=4 * np.sqrt(60 * 30))


def test_a_mean_that_is_not_whole_is_kept_over_the_days():
    unit = hand_unit(planned=[{"procedure": "lateral transfer", "a_day": 2.3, "from_h": 8.0, "to_h": 18.0}])
    count = sum(len(d) for d in arrivals(unit, patients_of(unit), np.random.SeedSequence(4), 1000))
    assert count == pytest.approx(2300, abs=4 * np.sqrt(1000 * 0.3 * 0.7))


def test_drawn_minutes_keep_the_stated_mean_and_spread():
    unit = hand_unit(rounds=[rounds()], minutes_spread=0.35)
    stretch = np.concatenate([d.stretch for d in arrivals(unit, patients_of(unit), np.random.SeedSequence(2), 400)])
    assert stretch.mean() == pytest.approx(1.0, abs=4 * 0.35 / np.sqrt(len(stretch)))
    assert stretch.std() == pytest.approx(0.35, rel=0.05)


def test_a_census_decides_who_gets_what_and_who_can_help_is_left_alone(tmp_path):
    (tmp_path / "c.csv").write_text(
        "mass_kg,sex,stature_m,dependency,procedures\n80,F,1.6,full,boost\n80,F,1.6,independent,\n80,F,1.6,,none\n"
    )
    unit = hand_unit(
        beds=3, patients={"census": "c.csv", "turnover": False}, rounds=[rounds(), rounds(procedure="boost")]
    )
    kinds = np.concatenate([d.kind for d in arrivals(unit, patients_of(unit, tmp_path), np.random.SeedSequence(1), 1)])
    assert kinds.tolist() == [1] * 12


@pytest.fixture(scope="module")
def plan():
    return plan_unit(EXAMPLE, by_mass, UNITS)


def test_the_example_gives_every_policy_and_level_with_bands_and_sources(plan):
    assert len(plan.levels) == len(EXAMPLE.policies) * len(EXAMPLE.extra_people)
    for level in plan.levels:
        for shift in level.shifts:
            for share in (shift.staffed, shift.on_time, shift.covered):
                assert 0 <= share.low <= share.mean <= share.high <= 1
                assert share.runs == 3
    assert "jack_2009" in plan.sources
    assert plan == plan_unit(EXAMPLE, by_mass, UNITS)


def test_more_people_never_lower_the_coverage_of_the_example(plan):
    for policy in EXAMPLE.policies:
        covered = [plan.level(policy.name, n).covered.mean for n in (0, 1, 2)]
        assert covered == sorted(covered)


def test_tasks_times_people_times_minutes_add_up_to_the_people_minutes(plan):
    for level in plan.levels:
        total = sum(t.people_minutes.mean for t in level.tasks)
        assert total == pytest.approx(level.people_minutes_needed.mean, rel=1e-9)
        assert level.people_minutes_given.mean <= level.people_minutes_needed.mean * (1 + 1e-9)


def test_people_minutes_in_are_people_minutes_out():
    patients = patients_of(EXAMPLE, UNITS)
    tally = simulate(EXAMPLE, EXAMPLE.policies[0], table_of(EXAMPLE, by_mass, patients), patients, -4)
    assert tally.missing > 0
    assert tally.given + tally.missing == pytest.approx(tally.needed, rel=1e-9)
    assert sum(tally.people_minutes) == pytest.approx(tally.given, rel=1e-9)


def test_the_published_minutes_enter_as_inputs_with_their_source():
    """jack_2009: 5.14 min at the bed; hospital quality poster: 24.3 and 19.4 min in the room for a prone turn."""
    defaults = {d.field: d for d in unit_defaults(EXAMPLE)}
    turn = defaults["rounds.0.minutes"]
    assert (turn.value, turn.source, turn.year) == (5.14, "jack_2009", "2009")
    prone = assumption("prone_turn_minutes")
    assert (prone.low, prone.high) == (19.4, 24.3)
    assert defaults["prone.prone_turn_minutes"].value == prone.typical
    means = {t.name: t.minutes for t in task_kinds(EXAMPLE)}
    assert means["side-lying turn, rounds"] == 5.14


def test_the_request_multiplies_out_and_names_what_it_rests_on(plan):
    rows = [ForceRow("boost", n, 600.0 / n, "limit of a test", 225.0, "within", "hse_l23") for n in (2, 3, 4)]
    request = staffing_request(plan, force=lambda procedure, aid: rows if procedure == "boost" else [])
    for work in request.work:
        assert work.hours == pytest.approx(work.events * work.people * work.minutes / 60, rel=0.15)
    assert sum(w.hours for w in request.work) == pytest.approx(request.total.hours)
    assert sum(w.cost for w in request.work) == pytest.approx(request.total.cost)
    assert request.options[0].name == "do nothing"
    text = markdown_page(staffing_document(request, plan))
    for said in ("limit of a test", "at least 5", "a date to be set", "US\\$", "## Starting values in use", "| 2009 |"):
        assert said in text


def test_a_users_words_cannot_break_the_page(plan):
    unit = EXAMPLE.model_copy(update={"name": "x|y\n# <script>"})
    named = plan_unit(unit, by_mass, UNITS)
    text = markdown_page(staffing_document(staffing_request(named), named))
    assert "<script>" not in text.replace("\\<", "")
    assert "\n# <" not in text


def test_the_csv_has_a_row_for_every_shift_and_starts_no_formula(plan):
    unit = EXAMPLE.model_copy(update={"name": "=1+1"})
    rows = list(csv.reader(io.StringIO(unit_csv(replace(plan, unit=unit)))))
    assert len(rows) == 1 + len(plan.levels) * 2
    assert {row[0] for row in rows[1:]} == {"'=1+1"}
    first = dict(zip(rows[0], rows[1], strict=True))
    assert float(first["covered"]) == plan.levels[0].shifts[0].covered.mean


def test_the_assessment_is_plugged_in_and_the_table_gives_what_it_gives():
    """Random patients of the example: the people and the lift of the assessment itself at the class's stature."""
    unit = hand_unit(rounds=[rounds(procedure="boost")])
    patients = draw_population(40, 0.5, 3)
    need = AssessedNeed()
    table = table_of(unit, need, patients)
    found = table.lookup("boost", "cotton draw sheet", patients.mass_kg, patients.women, patients.stature_m)
    for i in range(0, 40, 5):
        sex, stature = "F" if patients.women[i] else "M", stature_class(float(patients.stature_m[i]))
        direct = need("boost", "cotton draw sheet", float(patients.mass_kg[i]), sex, stature)
        assert (found.left[i], found.right[i], found.use_lift[i]) == (direct.left, direct.right, direct.use_lift)
        assert found.pull_n_s[i] == pytest.approx(direct.pull_n_s, rel=0.05)


def test_a_unit_reads_back_from_what_it_writes():
    assert read_unit(dump_unit(EXAMPLE).encode()) == EXAMPLE


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"beds": 0}, "beds"),
        ({"occupied_beds": 3}, "occupied_beds"),
        ({"rounds": []}, "rounds, planned, unplanned, prone"),
        ({"policies": [{"name": "a", "aid": "no such aid"}]}, "policies.0.aid"),
        ({"cost": {"currency": "€"}}, "cost.wage_per_h"),
        ({"patients": {"census": "../../etc/passwd"}}, "patients.census"),
        ({"prone": {"share": 0.1, "start_h": 1.0, "session_h": 12.0}}, "prone.session_h"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_unit_is_said_by_field(change, field):
    with pytest.raises(InputError) as caught:
        hand_unit(**{"rounds": [rounds()], **change})
    assert field in [f.field for f in caught.value.faults]


# --- a shift that cannot serve its moves --------------------------------------------------------------------------


@pytest.fixture(scope="module")
def overloaded():
    """Two people, and 20 beds whose turns of 30 min every hour are ten times what they can do."""
    return plan_unit(hand_unit(beds=20, days=14, rounds=[rounds(every_h=1.0, minutes=30.0)]), two)


def test_what_a_shift_cannot_serve_is_counted_as_not_served_and_no_figure_contradicts_another(overloaded):
    shift = overloaded.levels[0].shifts[0]
    all_ = shift.events.mean * overloaded.days
    served = all_ - shift.not_served.mean
    # two people give 48 moves a day, in 14 days and the eight hours after them; one more may begin as each day ends
    assert all_ == 20 * 24 * 14
    assert 48 * 14 + 16 <= served <= 48 * 14 + 16 + 15
    assert shift.busy.mean <= 1.0
    assert shift.busy.mean == pytest.approx(1.0, abs=0.01)
    assert shift.wait_min.mean <= shift.wait_p95_min.mean <= 14 * 1440 + 480
    assert shift.covered.mean <= served / all_
    level = overloaded.levels[0]
    assert level.people_minutes_given.mean <= level.people_minutes_needed.mean == 480 * 60
    assert f"not served in this plan ({all_ - served:,.0f} of {all_:,.0f})" in staffing_request(overloaded).answer


def test_where_no_move_is_served_there_is_no_wait_to_tell():
    unit = hand_unit(rounds=[rounds(due="together")], beds=1)
    tally = simulate(unit, unit.policies[0], table_of(unit, two, patients_of(unit)), patients_of(unit))
    tally.not_served[0], tally.wait_bins[0] = tally.events[0], {}
    level = level_of(unit, unit.policies[0], 0, [tally])
    assert (level.shifts[0].wait_min.runs, level.shifts[0].wait_p95_min.runs) == (0, 0)


def test_a_shift_without_people_serves_no_move_and_tells_no_wait():
    nobody = [{"name": "all day", "start_h": 0.0, "hours": 24.0, "people": [{"role": "nurse", "count": 0}]}]
    plan = plan_unit(hand_unit(shifts=nobody, rounds=[rounds()]), two)
    (shift,) = plan.levels[0].shifts
    assert shift.not_served.mean == shift.events.mean == 24.0
    assert (shift.covered.mean, shift.on_time.mean, shift.busy.mean, shift.people_minutes.mean) == (0.0, 0.0, 0.0, 0.0)
    assert plan.levels[0].people_minutes_needed.mean == 24 * 10.0
    request = staffing_request(plan)
    assert policy_rows(plan).rows[0][-1] == option_rows(request).rows[0][2] == "no move served"
    (row,) = csv.DictReader(io.StringIO(unit_csv(plan)))
    assert (row["not_served"], row["wait_min"], row["wait_p95_min"], row["wait_p95_min_high"]) == ("24.0", "", "", "")
    (told,) = json.loads(to_json(unit_json(plan, request)))["levels"][0]["shifts"]
    assert (told["wait_p95_min"]["mean"], told["wait_p95_min"]["runs"]) == (None, 0)
    assert unit_waits(plan, plan.unit.policies[0].name).alt.startswith("Wait")
    page = markdown_page(staffing_document(request, plan))
    assert "100 % of the moves not served in this plan (24 of 24)" in page
    assert " inf" not in page


# --- people needed and covered ------------------------------------------------------------------------------------


def test_with_the_people_needed_on_every_shift_every_shift_reaches_the_target(plan):
    policy = EXAMPLE.policies[0]
    needed = [n for n in plan.needed if n.policy == policy.name]
    shifts = []
    for shift, need in zip(EXAMPLE.shifts, needed, strict=True):
        nurses = People(role="nurse", count=need.people)
        leads = tuple(p for p in shift.people if p.duty == "airway lead")
        shifts.append(shift.model_copy(update={"people": (nurses, *leads)}))
    with_them = EXAMPLE.model_copy(update={"shifts": tuple(shifts), "policies": (policy,), "extra_people": (0, -1)})
    then = plan_unit(with_them, by_mass, UNITS)
    assert [s.covered for s in then.levels[0].shifts] == [n.covered for n in needed]
    assert all(s.covered.mean >= EXAMPLE.target for s in then.levels[0].shifts)
    assert not all(s.covered.mean >= EXAMPLE.target for s in then.levels[1].shifts)


def test_the_range_over_the_runs_holds_the_people_that_single_runs_need(plan):
    for need in plan.needed:
        assert need.fewest <= need.people
        assert need.most is None or need.people <= need.most


def test_the_duty_that_is_short_is_named_with_what_one_more_saves():
    """Sessions of prone patients begin together: with one airway lead they queue, and everybody behind them."""
    unit = hand_unit(
        beds=12, on_time_min=45.0, rounds=[rounds()], jitter_min=15.0, days=6, replications=2,
        prone={"share": 0.5, "start_h": 10.0, "emergency_returns": 0.0},
        shifts=[{"name": "all day", "start_h": 0.0, "hours": 24.0, "people": [
            {"role": "nurse", "count": 8}, {"role": "therapist", "count": 1, "duty": "airway lead"}]}],
    )  # fmt: skip
    plan = plan_unit(unit, by_mass)
    short = plan.short[0]
    assert short.duty == "airway lead"
    with_one_more = unit.shifts[0].model_copy(
        update={"people": (unit.shifts[0].people[0], unit.shifts[0].people[1].model_copy(update={"count": 2}))}
    )
    better = plan_unit(unit.model_copy(update={"shifts": (with_one_more,)}), by_mass)
    assert short.people == (better.needed[0].people,)
    assert "airway leads are short: one more on every shift turns all day" in staffing_request(plan).answer


def test_a_share_that_misses_the_target_never_reads_as_if_it_reached_it(plan):
    almost = replace(plan.levels[0].shifts[0], covered=Estimate(0.9497, 0.94, 0.96, 3))
    level = replace(plan.levels[0], shifts=(almost, plan.levels[0].shifts[1]))
    table = shift_rows(replace(plan, levels=(level,)), level.policy)
    assert table.rows[0][table.head.index("covered")].startswith("94.97 %")


# --- work ---------------------------------------------------------------------------------------------------------

LARGE = {
    "beds": 200, "days": 28, "replications": 10, "extra_people": list(range(12)), "on_time_min": 15.0,
    "policies": [{"name": f"set {i}", "aid": "slide sheet"} for i in range(8)],
    "rounds": [rounds(every_h=0.25)],
}  # fmt: skip


def test_work_above_the_bound_is_refused_before_it_begins_and_says_what_to_make_smaller():
    started = time.perf_counter()
    with pytest.raises(InputError) as caught:
        plan_unit(hand_unit(**LARGE), two)
    assert time.perf_counter() - started < 1.0
    (fault,) = caught.value.faults
    assert fault.field == "days, replications, extra_people, policies"
    assert "at most 10 min" in fault.allowed
    smaller = hand_unit(**{**LARGE, "days": 1, "replications": 1, "policies": LARGE["policies"][:1]})
    assert work_of(smaller, patients_of(smaller)).seconds < 600


def test_the_estimate_of_the_work_is_near_the_work_done():
    unit = EXAMPLE.model_copy(update={"replications": 2})
    seen = []
    plan_unit(unit, by_mass, UNITS, progress=seen.append)
    work = work_of(unit, patients_of(unit, UNITS))
    days = len([part for part in seen if part > work.team_seconds / work.seconds])
    assert days / 2 < work.simulated_days < 3 * days
    assert seen == sorted(seen)
    assert seen[-1] == 1.0


@pytest.mark.parametrize("at", [0.0, 0.3, 0.9])
def test_a_plan_stops_within_a_second_wherever_it_is(at):
    unit = EXAMPLE.model_copy(update={"replications": 30, "days": 28})
    asked = []

    def progress(part):
        if part >= at:
            asked.append(time.perf_counter())
        return part < at

    with pytest.raises(StoppedError):
        plan_unit(unit.model_copy(update={"replications": 2 if at else 30}), None if at == 0 else by_mass, UNITS,
                  progress=progress)  # fmt: skip
    assert len(asked) == 1
    assert time.perf_counter() - asked[0] < 1.0


# --- the staffing request -----------------------------------------------------------------------------------------


def test_the_request_says_at_which_wage_the_post_is_priced(plan):
    page = markdown_page(staffing_document(staffing_request(plan), plan))
    assert "added pay: nursing assistant, US\\$ 19.00 per h" in page


def test_the_post_asked_for_is_priced_at_its_own_wage(plan):
    one_more = staffing_request(plan).options[1]
    assert (one_more.name, EXAMPLE.request.role) == ("1 more on every shift", "nursing assistant")
    assert one_more.people_to_pay_a_year == pytest.approx(cost_of(24.0, 19.0, EXAMPLE.cost))
    no_role = EXAMPLE.model_copy(update={"request": EXAMPLE.request.model_copy(update={"role": ""})})
    request = staffing_request(replace(plan, unit=no_role))
    assert request.options[1].people_to_pay_a_year == pytest.approx(cost_of(24.0, 45.0, EXAMPLE.cost))
    assert "no role of the people asked for is stated" in request.assumptions[0]


def test_a_role_that_is_on_no_shift_is_a_fault():
    with pytest.raises(InputError, match=r"request\.role = 'porter': one of the roles on the shifts: nurse"):
        hand_unit(rounds=[rounds()], request={"role": "porter"})


def test_a_review_date_that_has_passed_is_said_and_not_asked_for(plan):
    for stated, said in (
        (date(2031, 5, 1), "2031-05-01"),
        (date(2020, 5, 1), "a date to be set: 2020-05-01 has passed"),
    ):
        asked = EXAMPLE.request.model_copy(update={"review_date": stated})
        unit = EXAMPLE.model_copy(update={"request": asked})
        assert staffing_request(replace(plan, unit=unit), today=date(2030, 1, 1)).review_date == said
