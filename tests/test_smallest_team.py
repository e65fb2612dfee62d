"""One search finds the smallest team: for one case and for many, at typical values and at a probability."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from ergo import evidence
from ergo.assessment import assess, demand_of, judge, possible_teams, roles_of
from ergo.assessment.team_share import team_effort_of
from ergo.errors import InputError
from ergo.inputs.scenario import parse_scenario
from ergo.limits.policy import ENOUGH
from ergo.mechanics.friction import registry
from ergo.teams.size_curve import typical_curve
from ergo.teams.smallest_team import smallest_team
from ergo.teams.team_probabilities import reliability
from ergo.teams.team_search import smallest_teams_of
from ergo.uncertainty.distributions import uncertain_inputs
from ergo.uncertainty.monte_carlo import Drawn, draw, uniform_chunks, uniform_columns
from ergo.uncertainty.sensitivity import drivers
from ergo.unit.plan import plan_unit
from ergo.unit.population import draw_population
from ergo.unit.staffing_request import staffing_request
from ergo.unit.team_lookup import AssessedNeed, TeamNeed
from tests.tools.small_unit import small_unit

PROCEDURES = ("boost", "slide to the side", "lateral transfer", "side-lying turn", "limb hold", "prone turn")
WOMAN = {"sex": "F", "mass_kg": 60.0, "stature_m": 1.6}


def random_cases(number, seed, **fixed):
    """Scenarios of every procedure and aid, with few or no places, each of which its aid can serve."""
    rng = np.random.default_rng(seed)
    found = []
    while len(found) < number:
        places = {f"places_{side}": int(rng.choice([0, 1, 2, 3, 6])) for side in ("left", "right")}
        case = {
            "name": "x",
            "procedure": str(rng.choice(PROCEDURES)),
            "aid": str(rng.choice(list(registry()))),
            "patient": {
                "sex": str(rng.choice(["F", "M"])),
                "mass_kg": float(rng.uniform(30, 160)),
                "stature_m": float(rng.uniform(1.45, 1.95)),
                "intubated": bool(rng.random() < 0.5),
            },
            "bed": {**places, "height_m": float(rng.uniform(0.6, 0.95))},
            "team": {"left": 0, "right": 0, "lines_and_drains": int(rng.integers(0, 2))},
            "handling": {
                "technique": str(rng.choice(["best", "typical"])),
                "brace": str(rng.choice(["none", "thigh"])),
            },
        } | fixed
        try:
            scenario = parse_scenario(case)
            demand_of(scenario)
        except InputError:
            continue
        found.append(scenario)
    return found


def test_leave_to_lean_on_the_bed_never_asks_for_more_people_and_leaves_no_case_without_a_team():
    teams = {}
    for brace in ("none", "thigh"):
        cases = [
            case.model_copy(update={"handling": case.handling.model_copy(update={"brace": brace})})
            for case in random_cases(30, 23)
        ]
        found = smallest_teams_of([demand_of(case) for case in cases])
        teams[brace] = [team.left + team.right if team else math.inf for team in found]
    assert all(may <= free for may, free in zip(teams["thigh"], teams["none"], strict=True))


@pytest.fixture
def eight_a_side(monkeypatch):
    """The table's `team_most` at 8."""
    known = evidence.assumptions()
    most = dataclasses.replace(known["team_most"], low=8.0, typical=8.0, high=8.0)
    monkeypatch.setitem(known, "team_most", most)


def test_many_cases_have_by_force_the_fewest_people_within_the_limits_and_the_split_in_which_all_work_least():
    cases = [demand_of(scenario) for scenario in random_cases(12, 11)]
    for demand, found in zip(cases, smallest_teams_of(cases, by_force_alone=True), strict=True):
        effort = {t: team_effort_of(demand, *t)[0] for t in possible_teams(demand)}
        enough = [] if demand.refusals else [t for t, ratio in effort.items() if ratio <= 1.0 + 1e-6]
        assert (found is None) == (not enough)
        if found:
            assert found.left + found.right == min(sum(t) for t in enough)
            alike = [effort[t] for t in enough if sum(t) == found.left + found.right]
            assert found.ratio == pytest.approx(min(alike), rel=1e-6)
            assert judge(demand, found.left, found.right).verdict in ENOUGH


def test_many_cases_together_have_the_teams_that_each_has_alone_whatever_their_beds():
    scenarios = random_cases(25, 12)
    together = smallest_teams_of([demand_of(s) for s in scenarios])
    alone = [smallest_teams_of([demand_of(s)])[0] for s in scenarios]
    for one, other in zip(together, alone, strict=True):
        assert (one is None) == (other is None)
        if one and other:
            assert (one.left, one.right) == (other.left, other.right)
            assert one.ratio == pytest.approx(other.ratio, rel=1e-9)


def test_at_a_probability_a_batch_has_the_teams_of_the_answers():
    scenarios = random_cases(6, 13)
    together = smallest_teams_of([demand_of(s) for s in scenarios], 0.9)
    for scenario, found in zip(scenarios, together, strict=True):
        answer = smallest_team(scenario, 0.9, with_aids=False)
        assert (answer.left, answer.right) == ((found.left, found.right) if found else (None, None))
        if found:
            assert found.probability == answer.probability


def test_the_request_of_a_unit_says_by_what_its_teams_are_found():
    plan = plan_unit(small_unit(), lambda *case: TeamNeed(1, 1), patients=draw_population(10, 0.5, 1))
    assert "at typical values" in staffing_request(plan).setting


@pytest.mark.parametrize("aid", list(registry()))
def test_the_unit_has_the_team_of_the_answer_at_typical_values(aid):
    rng = np.random.default_rng(len(aid))
    need, compared = AssessedNeed(), 0
    for procedure in PROCEDURES:
        case = (procedure, aid, float(rng.uniform(28, 140)), str(rng.choice(["F", "M"])), float(rng.uniform(1.4, 2)))
        try:
            answer = smallest_team(need.scenario(*case), None, with_aids=False)
        except InputError:
            continue
        unit = need(*case)
        assert unit.use_lift == answer.use_lift
        if answer.people is not None:
            assert (unit.left, unit.right) == (answer.left, answer.right)
            assert answer.people == unit.left + unit.right + sum(role.people for role in answer.roles)
        compared += 1
    assert compared


@pytest.mark.parametrize(
    ("procedure", "template", "reason"),
    [
        ("side-lying turn", {"bed": {"places_left": 0}, "team": {"left": 0}}, "no place on the left side"),
        ("prone turn", {"team": {"airway_lead": False}}, "no airway lead is set"),
    ],
)
def test_a_unit_counts_no_move_as_a_lift_for_which_a_place_is_missing(procedure, template, reason):
    patient = {"sex": "F", "mass_kg": 60.0, "stature_m": 1.6}
    stated = {"name": "x", "procedure": "boost", "aid": "slide sheet", "patient": patient}
    need = AssessedNeed(parse_scenario({**stated, **template}))
    with pytest.raises(InputError, match=reason):
        need(procedure, "cotton draw sheet", 70.0, "F", 1.6)


def test_light_patients_need_the_fewest_people_from_the_unit_as_from_the_answer():
    for mass in (28.0, 33.0, 38.0, 43.0):
        case = ("boost", "cotton draw sheet", mass, "F", 1.6)
        need, answer = AssessedNeed()(*case), smallest_team(AssessedNeed().scenario(*case), None, with_aids=False)
        assert (need.left, need.right) == (answer.left, answer.right)


def test_no_team_ever_exceeds_the_places_at_the_bed():
    for scenario in random_cases(30, 14):
        for wanted in (None, 0.9):
            answer = smallest_team(scenario, wanted, with_aids=False)
            if answer.people is None:
                continue
            assert 0 <= answer.left <= scenario.bed.places_left
            assert 0 <= answer.right <= scenario.bed.places_right
            assert answer.people == answer.left + answer.right + sum(r.people for r in roles_of(scenario))


@pytest.mark.parametrize(("procedure", "aid"), [("boost", "slide sheet"), ("side-lying turn", "cotton draw sheet")])
@pytest.mark.parametrize(("places", "side"), [((0, 6), "left"), ((6, 0), "right"), ((0, 0), "either")])
def test_without_a_place_there_is_no_team_and_the_words_name_the_side_and_no_lift(procedure, aid, places, side):
    bed = {"places_left": places[0], "places_right": places[1]}
    case = {"name": "x", "procedure": procedure, "aid": aid, "patient": WOMAN, "bed": bed}
    answer = smallest_team(parse_scenario(case | {"team": {"left": 0, "right": 0}}))
    assert (answer.people, answer.left, answer.right, answer.probability) == (None, None, None, 0.0)
    assert not answer.use_lift
    assert answer.needs == "not possible"
    assert f"no place on {'either side' if side == 'either' else f'the {side} side'}" in answer.why
    for said in (answer.why, answer.sure.why, *answer.gains):
        assert "lift" not in said
    assert {option.needs for option in answer.aids} == {"not possible"}
    assert max(c.probability for c in answer.sure.curve) == 0.0


def test_a_limb_is_held_from_its_own_side_alone():
    case = {"name": "x", "procedure": "limb hold", "patient": WOMAN, "team": {"left": 0, "right": 0}}
    sides = [smallest_team(parse_scenario(case | {"bed": {f"places_{side}": 0}})) for side in ("left", "right")]
    assert sorted(str(answer.people) for answer in sides) == ["1", "None"]
    assert all(answer.left == 0 or answer.right == 0 for answer in sides if answer.people)


def test_a_head_that_nobody_is_there_to_hold_asks_for_an_airway_lead_and_for_no_lift():
    moves = [{"kind": "head hold"}]
    case = {"name": "x", "procedure": "own sequence", "moves": moves, "patient": WOMAN}
    answer = smallest_team(parse_scenario(case | {"team": {"airway_lead": False}}), with_aids=False)
    assert answer.needs == "not possible"
    assert answer.why.endswith("no airway lead is set: add an airway lead to the team.")
    assert "lift" not in answer.why + answer.sure.why
    held = smallest_team(parse_scenario(case | {"team": {"airway_lead": True}}), with_aids=False)
    assert held.people is not None


def test_a_head_too_heavy_for_one_hand_asks_for_somebody_at_the_tube_or_a_support_and_for_no_lift():
    # aorn_2011 (reprint): 5.03 kg in one hand; winter_2009: head and neck 0.081 of body mass up to a BMI of 25.
    patient = {"sex": "M", "mass_kg": 82.0, "stature_m": 1.77, "intubated": True}
    case = {"name": "x", "procedure": "prone turn", "aid": "slide sheet", "patient": patient}
    carried = case | {"handling": {"head_carried": True}}
    over = smallest_team(parse_scenario(carried), with_aids=False)
    assert over.people is None
    assert over.assessment.deciding.key == "aorn_one_hand"
    for said in (over.why, over.assessment.decided_by):
        assert "somebody else hold" in said
        assert "on a support" in said
    assert "lift" not in over.why
    assert "5.0 kg, mass held with one hand" in over.why
    rests = smallest_team(parse_scenario(case), with_aids=False)
    held = smallest_team(parse_scenario(carried | {"team": {"separate_tube_holder": True}}), with_aids=False)
    light = smallest_team(parse_scenario(carried | {"patient": patient | {"mass_kg": 60.0}}), with_aids=False)
    assert all(answer.people is not None for answer in (rests, held, light))
    assert [role.name for role in held.roles] == ["airway lead", "tube holder"]
    assert held.people == held.left + held.right + 2


def test_beside_a_refused_case_stands_no_high_probability():
    case = {"name": "x", "procedure": "boost", "aid": "slide sheet", "patient": WOMAN}
    answer = smallest_team(parse_scenario(case | {"bed": {"rated_capacity_kg": 50.0}}), with_aids=False)
    assert answer.use_lift
    assert "rated capacity" in answer.why
    assert answer.probability == 0.0
    assert {c.probability for c in answer.sure.curve} == {0.0}
    assert {p for c in answer.sure.curve for _, p, _ in c.convergence} == {0.0}


def test_at_typical_values_no_probability_is_asked_for():
    scenario = parse_scenario({"name": "x", "procedure": "boost", "patient": WOMAN | {"mass_kg": 85.0}})
    typical, sure = (smallest_team(scenario, wanted, with_aids=False) for wanted in (None, 0.9))
    assert typical.probability_asked is None
    assert typical.reasons.people_by_force < sure.reasons.people_by_force
    assert typical.probability < 0.9 <= sure.probability
    few = {"bed": {"places_left": 3, "places_right": 3}, "team": {"left": 0, "right": 0}}
    case = {"name": "x", "procedure": "boost", "aid": "no aid", "patient": WOMAN | {"mass_kg": 340.0}}
    heavy = parse_scenario(case | few)
    assert (
        "within the limits at typical values: use a mechanical lift" in smallest_team(heavy, None, with_aids=False).why
    )


def test_the_draws_are_those_of_six_a_side():
    scenario = parse_scenario({"name": "x", "procedure": "boost", "patient": WOMAN})
    assert (
        uniform_columns(uncertain_inputs(scenario)) == len(uncertain_inputs(scenario)) + 24
    )  # a body and an effort each


@pytest.mark.usefixtures("eight_a_side")
def test_with_eight_a_side_in_evidence_every_path_goes_to_eight():
    case = {"name": "x", "procedure": "boost", "aid": "no aid", "patient": WOMAN | {"mass_kg": 200.0}}
    scenario = parse_scenario(case)
    scenario = scenario.model_copy(
        update={
            "bed": scenario.bed.model_copy(update={"places_left": 8, "places_right": 8}),
            "team": scenario.team.model_copy(update={"left": 8, "right": 8}),
        }
    )
    demand, inputs = demand_of(scenario), uncertain_inputs(scenario)
    assert possible_teams(demand)[-1] == (8, 8)
    assert assess(scenario).people == 16
    assert typical_curve(demand)[0].people == 2
    (u,) = uniform_chunks(uniform_columns(inputs), 64, 1)
    assert u.shape[1] == len(inputs) + 32
    assert {len(workers) for workers in draw(inputs, u)[1].values()} == {8}
    assert Drawn.usual(demand).probability(8, 8) >= Drawn.usual(demand).probability(6, 6)
    sure = reliability(scenario, draws=128)
    assert (sure.curve[-1].left, sure.curve[-1].right) == (8, 8)
    assert drivers(scenario, 8, 8, samples=16).ranked
    answer = smallest_team(scenario, with_aids=False)
    assert answer.people is not None or "up to 8 a side" in answer.why
    need = AssessedNeed(scenario)
    for mass in (80.0, 140.0, 200.0):
        one, alone = need("boost", "no aid", mass, "F", 1.6), need.scenario("boost", "no aid", mass, "F", 1.6)
        typical = smallest_team(alone, None, with_aids=False)
        assert one.use_lift == typical.use_lift
        assert one.use_lift or (one.left, one.right) == (typical.left, typical.right)
