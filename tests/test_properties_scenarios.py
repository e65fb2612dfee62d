"""What must hold for every scenario: an answer or a refusal in words, mirror images, monotony."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from ergo.assessment import assess, demand_of, judge
from ergo.assessment.check import worst_checks
from ergo.errors import InputError
from ergo.inputs import examples
from ergo.inputs.scenario import dump_scenario, parse_scenario, read_scenario
from ergo.report.json_export import to_json
from ergo.teams.smallest_team import smallest_team
from ergo.uncertainty.distributions import uncertain_inputs
from tests.tools.fuzz_scenarios import asked_for
from tests.tools.fuzz_scenarios import main as fuzz
from tests.tools.random_scenarios import FAULTS, few, fewest, many, number, planted, scenarios, some, wide_scenarios


@some
@given(scenarios())
def test_a_valid_scenario_is_the_same_after_writing_and_reading(data):
    scenario = parse_scenario(data)
    assert read_scenario(dump_scenario(scenario).encode()) == scenario


@some
@given(scenarios(), st.sets(st.integers(0, len(FAULTS) - 1), min_size=1))
def test_a_scenario_with_random_faults_raises_one_error_that_names_each_of_them(data, which):
    with pytest.raises(InputError) as caught:
        parse_scenario(planted(data, sorted(which)))
    named = {fault.field for fault in caught.value.faults}
    missing = {FAULTS[i][2] for i in which} - named
    assert not missing


@many
@given(scenarios())
def test_any_valid_scenario_is_answered_with_finite_figures_or_refused_in_words(data):
    scenario = parse_scenario(data)
    refused: InputError | None = None
    try:
        result = assess(scenario)
    except InputError as error:
        refused = error
    if refused is not None:
        assert [fault.field for fault in refused.faults] == ["aid"]
        return
    text = json.loads(to_json(result))  # a NaN or an infinity would raise
    assert text["verdict"] in ("within", "close", "over", "not applicable")
    assert text["why"]
    assert "nan" not in text["why"]
    for move in result.moves:
        for effort in move.efforts:
            assert float(effort.effort.start_n) >= 0.0
            assert float(effort.effort.steady_n) >= 0.0


@fewest
@given(scenarios())
def test_the_smallest_team_is_within_and_sure_enough_and_no_smaller_one_is(data):
    try:
        scenario = parse_scenario(data)
        answer = smallest_team(scenario, with_aids=False)
    except InputError:
        assume(False)
    to_json(answer)
    demand = demand_of(scenario)
    by_force = answer.reasons.people_by_force  # another reason may ask for more
    pulling = 13 if by_force is None else by_force - sum(r.people for r in answer.roles)
    for drawn in answer.sure.curve:
        if drawn.left + drawn.right < pulling and drawn.probability >= answer.probability_asked:
            assert judge(demand, drawn.left, drawn.right).verdict not in ("within", "close")
    no_verdict = answer.assessment.verdict == "not applicable"
    assert answer.use_lift == (answer.people is None and not answer.missing and not no_verdict)
    if answer.people is None:
        assert not answer.missing or "lift" not in answer.why
        assert not answer.assessment.refusals or answer.probability == 0.0
    else:
        assert answer.left <= scenario.bed.places_left
        assert answer.right <= scenario.bed.places_right
        assert answer.assessment.verdict in ("within", "close")
        assert answer.probability >= answer.probability_asked
        assert answer.people == answer.left + answer.right + sum(r.people for r in answer.roles)


def mirrored(data):
    """The same case in a mirror: fixed equipment, people and stated directions change sides."""
    swap = {"left": "right", "right": "left", "none": "none"}
    bed, team = dict(data["bed"]), dict(data["team"])
    bed["equipment_side"] = swap[bed["equipment_side"]]
    team["left"], team["right"] = team["right"], team["left"]
    mirror = data | {"bed": bed, "team": team}
    if "moves" in data:
        mirror["moves"] = [m | ({"towards": swap[m["towards"]]} if "towards" in m else {}) for m in data["moves"]]
    return mirror


@fewest
@given(scenarios(), st.sampled_from(["left", "right"]))
def test_with_everything_on_the_other_side_the_answer_is_the_mirror_image(data, side):
    data = data | {"bed": data["bed"] | {"equipment_side": side}}
    try:
        here, there = (smallest_team(parse_scenario(d), with_aids=False) for d in (data, mirrored(data)))
    except InputError:
        assume(False)
    assert (here.people, here.left, here.right) == (there.people, there.right, there.left)
    assert here.assessment.verdict == there.assessment.verdict
    assert here.assessment.worst_ratio == pytest.approx(there.assessment.worst_ratio)
    assert [p.worst_ratio for p in here.curve] == pytest.approx([p.worst_ratio for p in there.curve])
    if here.one_more is not None:
        assert (here.one_more.left, here.one_more.right) == (there.one_more.right, there.one_more.left)
    this, that = (assess(parse_scenario(d)) for d in (data, mirrored(data)))
    for ours, theirs in zip(this.moves, that.moves, strict=True):
        assert {ours.move.towards, theirs.move.towards} == {"left", "right"}
        assert ours.effort == pytest.approx(theirs.effort)
        forces = [sorted((load.role, load.start_n) for load in move.loads) for move in (ours, theirs)]
        assert [role for role, _ in forces[0]] == [role for role, _ in forces[1]]
        assert [n for _, n in forces[0]] == pytest.approx([n for _, n in forces[1]])
        sides = [{(e.effort.role, e.effort.side) for e in move.efforts} for move in (ours, theirs)]
        assert {(role, {"left": "right", "right": "left"}.get(side, side)) for role, side in sides[0]} == sides[1]
        assert ours.verdict == theirs.verdict


@fewest
@given(scenarios())
def test_one_more_person_a_side_never_raises_what_everybody_must_give(data):
    # as guidance credits teams, two people of unlike strength may be worth less than the stronger alone
    data = data | {"team": data["team"] | {"sharing": "realistic"}}
    try:
        demand = demand_of(parse_scenario(data))
    except InputError:
        assume(False)
    teams = [judge(demand, n, n) for n in range(1, 7)]
    for moves in zip(*(team.moves for team in teams), strict=True):
        assert all(more.effort <= fewer.effort * (1 + 1e-6) for fewer, more in pairwise(moves))


@few
@given(scenarios(), number(0.02, 0.5))
def test_a_more_slippery_own_aid_never_asks_for_more_in_a_slide(data, mu):
    # on a bed that lies level: head down, a slippery patient slides alone and must be held back
    data = data | {"bed": {k: v for k, v in data["bed"].items() if k != "tilt_deg"}}
    data = {k: v for k, v in data.items() if k != "moves"} | {"procedure": "boost", "aid": "our own sheet"}
    data["team"] = data["team"] | {"left": max(data["team"]["left"], 1), "right": max(data["team"]["right"], 1)}
    forces = []
    for friction in (mu, mu * 1.3):
        layer = {"upper": "a", "lower": "b", "mu_low": friction, "mu": friction, "mu_high": friction}
        case = data | {"own_aids": [{"name": "our own sheet", "interfaces": [layer]}]}
        forces.append(assess(parse_scenario(case)).moves[0].effort)
    assert forces[0] <= forces[1] * (1 + 1e-6)


# --- what random scenarios found -----------------------------------------------------------------------------------


@some
@given(wide_scenarios())
def test_every_spread_that_is_drawn_has_its_typical_value_between_its_ends_and_draws_between_them(data):
    u = np.linspace(0.0, 1.0, 101)
    for spread in uncertain_inputs(parse_scenario(data)):
        assert spread.low <= spread.typical <= spread.high, spread
        drawn = spread.at(u)
        assert np.all(np.isfinite(drawn)), spread
        if spread.kind == "triangular":
            high = spread.high if spread.or_like is None else spread.or_like[2]
            assert np.all((drawn >= spread.low - 1e-12) & (drawn <= high + 1e-12)), spread


STRONG = {"upper": "x", "lower": "y", "mu_low": 2.0, "mu": 2.5, "mu_high": 3.0}


def test_a_force_beyond_any_posture_is_over_and_never_an_error_about_a_field_nobody_stated():
    heavy = {"sex": "M", "mass_kg": 350.0, "stature_m": 1.8}
    own = [{"name": "our own sheet", "interfaces": [STRONG]}]
    case = {"name": "x", "procedure": "boost", "patient": heavy, "aid": "our own sheet", "own_aids": own}
    result = assess(parse_scenario(case | {"team": {"left": 1, "right": 1}, "bed": {"places_left": 1}}))
    assert result.moves[0].worst_person_force_n > 3000.0
    assert result.verdict == "over"
    answer = smallest_team(parse_scenario(case), with_aids=False)
    assert answer.use_lift
    assert answer.probability == 0.0


def test_a_pull_stated_downwards_is_drawn_around_what_was_stated():
    patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    case = {"name": "x", "procedure": "boost", "patient": patient, "handling": {"pull_angle_deg": -10.0}}
    spread = next(s for s in uncertain_inputs(parse_scenario(case)) if s.name == "pull_deg")
    assert (spread.low, spread.typical, spread.high) == (-25.0, -10.0, 5.0)


def test_a_spine_that_is_drawn_apart_is_not_compressed_and_no_ratio_is_negative():
    boost = examples.boost()
    done = assess(boost).moves[0].efforts[0]
    apart = [replace(load, body=replace(load.body, compression_n=-300.0)) for load in done.loads]
    found = {check.key: check for check in worst_checks(demand_of(boost), [(done.effort, load) for load in apart])}
    assert found["spine_lower_limit"].amount == 0.0
    assert min(check.ratio for check in found.values() if check.ratio is not None) >= 0.0


def test_the_long_run_of_random_scenarios_takes_its_seeds_and_tells_how(capsys):
    for words, seeds in (([], (0, 99)), (["7"], (7, 99)), (["7", "8"], (7, 8))):
        assert asked_for(words) == seeds
    for wrong in (["--help"], ["x"], ["9", "8"], ["-1"]):
        with pytest.raises(SystemExit) as ended:
            fuzz(wrong)
        assert ended.value.code == (0 if wrong == ["--help"] else 2)
    assert "first" in capsys.readouterr().out
