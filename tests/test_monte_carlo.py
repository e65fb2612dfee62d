"""How sure: the draws against closed forms, against direct assessments, and against themselves."""

from __future__ import annotations

import itertools
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
from ergo.uncertainty.demand_surrogate import build_demand_surrogate, team_forces
from ergo.uncertainty.handler_surrogate import Borne, PerNewton, PersonTable, PostureDraws, worst_of
from scipy.stats import norm, triang

from ergo import load_scenario, parse_scenario
from ergo.assessment import demand_of, judge
from ergo.assessment.team import people_on_side
from ergo.errors import InputError
from ergo.evidence import assumptions, sources
from ergo.inputs.examples import shipped
from ergo.mechanics.case import build_case
from ergo.mechanics.demand import efforts_of
from ergo.teams.case_tables import smallest_teams
from ergo.teams.smallest_team import smallest_team
from ergo.teams.team_probabilities import reliability
from ergo.teams.team_search import one_more, smallest_teams_of
from ergo.uncertainty.distributions import UncertainInput, uncertain_inputs
from ergo.uncertainty.monte_carlo import Drawn, Histogram, Tally, draw, evaluate, uniform_chunks

SCENARIOS = ("prone_two_layer_pad", "lateral_slide_sheet", "boost_flat", "side_turn_slide_sheet")


def scenario(name: str):
    return load_scenario(f"scenarios/{name}.toml")


def surrogate_of(one, most: int = 3):
    inputs = uncertain_inputs(one)
    return build_demand_surrogate(demand_of(one), inputs, most), inputs


@pytest.mark.parametrize(("low", "typical", "high"), [(0.33, 0.43, 0.55), (0.0, 0.0, 1.0), (2.0, 5.0, 5.0)])
def test_triangular_input_has_the_quantiles_of_scipy(low, typical, high):
    spread = UncertainInput("x", "x", "triangular", low, typical, high, "-", "", "judgement")
    u = np.linspace(0.01, 0.99, 33)
    reference = triang((typical - low) / (high - low), loc=low, scale=high - low).ppf(u)
    np.testing.assert_allclose(spread.at(u), reference, atol=1e-12)


def test_normal_input_has_the_quantiles_of_scipy():
    spread = UncertainInput("x", "x", "normal", 0.95, 1.0, 1.05, "-", "", "derived")
    u = np.linspace(0.01, 0.99, 33)
    np.testing.assert_allclose(spread.at(u), norm(1.0, 0.05).ppf(u), atol=1e-12)


def test_probability_within_matches_a_closed_form():
    """One person, one slide, only friction drawn: the triangle's cumulative at the limiting friction."""
    data = {
        "name": "x",
        "procedure": "slide to the side",
        "aid": "sheet",
        "own_aids": [
            {
                "name": "sheet",
                "covers": ["head", "trunk", "arms", "thighs", "shanks", "feet"],
                "interfaces": [{"upper": "sheet", "lower": "linen", "mu_low": 0.10, "mu": 0.20, "mu_high": 0.30}],
            }
        ],
        "patient": {"sex": "F", "mass_kg": 70.0, "stature_m": 1.62},
        "handling": {
            "pull_angle_deg": 0.0,
            "technique": "best",
            "slide_time_s": 4.0,
        },  # slow: it only breaks loose
        "policy": {"protect": "site limit", "site_limit_n": 160.0},
        "team": {"left": 1, "right": 0},
    }
    one = parse_scenario(data)
    surrogate, inputs = surrogate_of(one, 1)
    n = 2**14
    u = next(uniform_chunks(len(inputs) + 12, n, 3, n))
    for i, spread in enumerate(inputs):  # hold everything but friction at its typical value
        if spread.name != "mu_0":
            width = spread.high - spread.low
            u[:, i] = (spread.typical - spread.low) / width if spread.kind == "triangular" and width else 0.5
    ratio = evaluate(surrogate, u, [(1, 0)])[0][(1, 0)]
    case = demand_of(one).moves[0][1][0]
    per_mu = float(case.start_n) / 0.20
    limiting = 160.0 / per_mu
    expected = float(triang(0.5, loc=0.10, scale=0.20).cdf(limiting))
    assert 0.05 < expected < 0.95
    assert np.mean(ratio <= 1.0) == pytest.approx(expected, abs=0.002)


@pytest.mark.parametrize("name", SCENARIOS)
def test_forces_of_draws_equal_those_of_the_mechanics(name):
    """Interpolated turn and vectorised slide against a direct solution of the same draw, within 0.5 % or 2 N."""
    one = scenario(name)
    surrogate, inputs = surrogate_of(one)
    u = next(uniform_chunks(len(inputs) + 12, 32, 5, 32))
    values, _ = draw(inputs, u)
    fast = team_forces(surrogate, values)
    for k in range(0, 32, 4):
        given = {n: v[k] for n, v in values.items() if n not in ("pull_deg", "back_arm_m", "posture")}
        case = build_case(one, given | {"pull_rad": np.radians(values["pull_deg"][k])})
        for m, (move, efforts) in enumerate(surrogate.demand.moves):
            direct = {e.role: e for e in efforts_of(move, case, one)}
            for e, effort in enumerate(efforts):
                if effort.role in ("counter-hold",) and move.is_turn:
                    continue  # a small difference of two large forces: checked below by its own scale
                start = float(direct[effort.role].start_n)
                assert float(fast[(m, e)][0][k]) == pytest.approx(start, rel=0.005, abs=2.0)


def test_counter_hold_of_draws_is_close_on_the_scale_of_the_pull():
    one = scenario("prone_two_layer_pad")
    surrogate, inputs = surrogate_of(one)
    u = next(uniform_chunks(len(inputs) + 12, 16, 5, 16))
    values, _ = draw(inputs, u)
    fast = team_forces(surrogate, values)
    for k in range(16):
        given = {n: v[k] for n, v in values.items() if n not in ("pull_deg", "back_arm_m", "posture")}
        case = build_case(one, given | {"pull_rad": np.radians(values["pull_deg"][k])})
        for m, (move, efforts) in enumerate(surrogate.demand.moves):
            direct = {e.role: e for e in efforts_of(move, case, one)}
            for e, effort in enumerate(efforts):
                if effort.role == "counter-hold" and move.is_turn:
                    pull = float(direct["pull"].start_n)
                    hold = float(direct["counter-hold"].start_n)
                    assert abs(float(fast[(m, e)][0][k]) - hold) <= 0.015 * pull


@pytest.mark.parametrize("name", SCENARIOS)
def test_ratio_of_a_typical_draw_equals_the_assessment(name):
    """Every input typical and effort even: the fast route gives the ratio of the full assessment with best sharing."""
    one = scenario(name)
    one = one.model_copy(update={"team": one.team.model_copy(update={"sharing": "best"})})
    surrogate, inputs = surrogate_of(one)
    u = np.full((1, len(inputs) + 12), 0.5)
    for i, spread in enumerate(inputs):
        width = spread.high - spread.low
        if spread.kind == "triangular" and width:
            u[0, i] = (spread.typical - spread.low) / width
    ratio = float(evaluate(surrogate, u, [(3, 3)])[0][(3, 3)][0])
    assert ratio == pytest.approx(judge(demand_of(one), 3, 3).worst_ratio, rel=0.01)


def test_same_seed_gives_identical_results_and_the_chunk_changes_nothing():
    one = scenario("boost_flat")
    whole = reliability(one, draws=1024)
    assert reliability(one, draws=1024) == whole
    assert reliability(one, draws=1024, chunk=100) == whole
    assert reliability(one, draws=1024, seed=7).chosen.probability == pytest.approx(whole.chosen.probability, abs=0.03)


def test_probability_converges_at_least_as_fast_as_independent_draws():
    """The spread over seeds falls with the number of draws, and stays below the standard error that is shown."""
    one = scenario("lateral_slide_sheet")
    surrogate, inputs = surrogate_of(one, 4)
    spread = {}
    for n in (128, 2048):
        probabilities = [
            np.mean(evaluate(surrogate, next(uniform_chunks(len(inputs) + 12, n, s, n)), [(4, 1)])[0][(4, 1)] <= 1.0)
            for s in range(24)
        ]
        p = float(np.mean(probabilities))
        spread[n] = float(np.std(probabilities)), float(np.sqrt(p * (1 - p) / n))
    assert spread[2048][0] < 1.5 * spread[2048][1]
    assert spread[2048][0] < 0.5 * spread[128][0]  # 16 times the draws: 0.25 expected for independent ones


def test_probability_never_falls_with_one_more_person_on_each_side():
    for name in SCENARIOS:
        curve = reliability(scenario(name), draws=512).curve
        probabilities = [c.probability for c in curve]
        assert all(b >= a - 0.02 for a, b in pairwise(probabilities)), name


def test_a_higher_probability_asked_for_never_needs_fewer_people():
    one = scenario("prone_two_layer_pad")
    found = [reliability(one, probability_asked=c, draws=1024).people for c in (0.5, 0.8, 0.95)]
    assert found == sorted(found, key=lambda p: p or 99)


def test_stopping_early_keeps_what_was_done():
    told = []

    def stop(part: float) -> bool:
        told.append(part)
        return len(told) < 2

    answer = reliability(scenario("boost_flat"), draws=1024, chunk=256, progress=stop)
    assert answer.draws == 512
    assert told == [0.25, 0.5]


def test_every_distribution_resolves_in_evidence():
    known = {a.key: a for a in assumptions().values()}
    assert known
    for name in SCENARIOS:
        for spread in uncertain_inputs(scenario(name)):
            assert spread.low <= spread.typical <= spread.high, spread.name
            assert spread.source == "" or spread.source in sources(), spread.name
            assert spread.known, spread.name


def test_refused_case_names_no_team():
    data = scenario("prone_cotton_draw_sheet")
    heavy = data.model_copy(update={"bed": data.bed.model_copy(update={"rated_capacity_kg": 60.0})})
    answer = reliability(heavy, draws=128)
    assert answer.people is None
    assert "rated capacity" in answer.why


def test_a_side_of_six_is_the_most_that_is_drawn():
    assert len(people_on_side(scenario("boost_flat"), "left", 6)) == 6


@pytest.mark.parametrize("name", sorted(shipped()))
def test_the_draws_and_the_answer_name_the_same_team_and_the_same_gap(name):
    for mass in (60.0, 150.0, 280.0):
        one = shipped()[name]
        case = one.model_copy(update={"patient": one.patient.model_copy(update={"mass_kg": mass})})
        answer = smallest_team(case, with_aids=False)
        assert (answer.sure.people, answer.sure.left, answer.sure.right) == (answer.people, answer.left, answer.right)
        assert answer.sure.uncovered == (answer.needs == "no limit")
        assert not answer.people or answer.sure.chosen.probability == answer.probability


def test_a_bed_so_low_that_a_limit_does_not_cover_it_has_no_team_and_says_so():
    patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    case = parse_scenario({"name": "x", "procedure": "boost", "patient": patient, "bed": {"height_m": 0.3}})
    found = reliability(case, draws=256)
    assert (found.people, found.uncovered) == (None, True)
    assert found.why.startswith("No team can be named. ")


def test_a_draw_that_is_not_a_number_is_no_pass_and_nobody_is_left_out_for_it():
    tally = Tally(4)
    tally.add(np.array([0.5, np.nan, 0.5, np.nan]), np.ones(4))
    assert (tally.seen, tally.within, tally.uncovered) == (4, 2, 2)
    assert tally.ratio.spread()[1] == pytest.approx(0.5, abs=1e-3)  # they enter no ratio
    with pytest.raises(ValueError, match="no number"):
        Tally(4).add(np.full(4, 0.5), np.array([1.0, np.nan, 1.0, 1.0]))
    along = np.array([[0.0] * 3, [1000.0, 1200.0, 1800.0], [500.0] * 3, [0.0] * 3, [0.0] * 3])
    usual, middle = np.zeros(2), np.full(2, 0.5)
    held_so, force = PostureDraws.of(middle, usual, usual), np.array([1.0, 5.0])
    per_n = PerNewton(np.linspace(0.1, 0.3, 33), (0.0, 1.0), 3400.0)
    good = Borne(PersonTable.of(per_n, along, np.ones(3)), force)
    lost = Borne(PersonTable.of(per_n, along * np.nan, np.ones(3)), force)
    for borne in itertools.permutations((good, good, lost)):
        assert not (worst_of(borne, held_so) <= 1.0).any()


def test_percentiles_are_those_of_the_values_to_half_a_bin_and_what_lies_above_the_top_counts_in_the_last():
    values = np.random.default_rng(3).uniform(0.0, 4.0, 2001)
    counted = Histogram(4.0)
    counted.add(values)
    half = 0.5 * 4.0 / 8000
    assert counted.spread() == pytest.approx(np.quantile(values, (0.05, 0.5, 0.95), method="inverted_cdf"), abs=half)
    above = Histogram(4.0)
    above.add(np.full(3, 1e9))
    assert above.spread() == pytest.approx((4.0 - half,) * 3, abs=1e-12)


def test_a_ratio_of_one_is_within_and_the_convergence_is_told_at_every_doubling_whatever_the_parts():
    ratio = np.r_[np.full(64, 1.0), np.full(64, np.nextafter(1.0, 2.0))]
    for parts in (1, 4, 8):
        tally = Tally(128)
        for part in np.split(ratio, parts):
            tally.add(part, np.ones(len(part)))
        assert (tally.seen, tally.within) == (128, 64)
        assert tally.convergence == [(32, 1.0, 0.0), (64, 1.0, 0.0), (128, 0.5, pytest.approx(np.sqrt(0.25 / 128)))]
    few = Tally(20)
    few.add(np.ones(20), np.ones(20))
    assert few.convergence == [(20, 1.0, 0.0)]
    refused = Tally(128)
    refused.add(ratio, np.ones(128), possible=False)
    assert refused.within == 0


def test_everybody_has_an_effort_of_their_own_and_the_receiving_side_draws_first():
    u = np.random.default_rng(4).uniform(size=(50, 12))
    _, here = draw((), u, "left")
    _, there = draw((), u, "right")
    assert {side: efforts.shape for side, efforts in here.items()} == {
        "left": (6, 50), "right": (6, 50), "airway": (1, 50)}  # fmt: skip
    assert (here["left"] == there["right"]).all()
    assert (here["right"] == there["left"]).all()
    assert len(np.unique(np.vstack([here["left"], here["right"]]))) == 600
    assert (here["airway"] == 1.0).all()


def test_a_small_team_carries_its_ratio_its_probability_where_one_is_asked_for_and_one_more_goes_to_the_far_side():
    demand = demand_of(scenario("boost_flat"))
    (typical,), (sure,) = smallest_teams_of([demand]), smallest_teams_of([demand], 0.9)
    assert typical.ratio == pytest.approx(judge(demand, typical.left, typical.right).worst_ratio)
    assert typical.probability is None
    assert sure.probability == Drawn.usual(demand).probability(sure.left, sure.right) >= 0.9
    found = one_more(demand, judge(demand, 2, 2))
    assert (demand.direction.receiving, (found.left, found.right)) == ("left", (2, 3))


@pytest.mark.parametrize("asked", [0.0, 1.0, -0.1, 1.5, np.nan, "x", "0.9", [0.9], True])
def test_a_probability_that_is_none_or_all_or_no_number_is_an_input_error(asked):
    with pytest.raises(InputError):
        smallest_team(scenario("boost_flat"), asked)
    with pytest.raises(InputError):
        reliability(scenario("boost_flat"), probability_asked=asked)
    with pytest.raises(InputError):
        smallest_teams(pd.DataFrame({"procedure": ["boost"]}), asked)


@pytest.mark.parametrize(("places", "more"), [((2, 3), (2, 3)), ((3, 2), (3, 2)), ((2, 2), None)])
def test_one_person_more_stands_only_where_there_is_a_place(places, more):
    patient = {"sex": "F", "mass_kg": 100.0, "stature_m": 1.6}
    bed = {"places_left": places[0], "places_right": places[1]}
    found = smallest_team(parse_scenario({"name": "x", "procedure": "boost", "patient": patient, "bed": bed}))
    assert (found.left, found.right) == (2, 2)
    assert (found.one_more and (found.one_more.left, found.one_more.right)) == more


@pytest.mark.parametrize("draws", [1, 0, -3, True, 99, 2.5, float("nan"), 10**9])
def test_no_probability_is_told_of_too_few_draws_and_no_library_call_runs_without_end(draws):
    with pytest.raises(InputError, match="draws"):
        reliability(scenario("boost_flat"), draws=draws)
