"""How sure: the draws against closed forms, against direct assessments, and against themselves."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm, triang

from ergo import load_scenario, parse_scenario
from ergo.assessment import demand_of, judge
from ergo.assessment.team import people_on_side
from ergo.assessment.team_share import group, share_task, team_effort_of
from ergo.errors import InputError
from ergo.evidence import assumptions, sources
from ergo.inputs.examples import shipped
from ergo.mechanics.case import build_case
from ergo.mechanics.demand import task_of_turn, ways_of
from ergo.teams.case_tables import smallest_teams
from ergo.teams.smallest_team import smallest_team
from ergo.teams.team_probabilities import reliability
from ergo.teams.team_search import one_more, smallest_teams_of
from ergo.uncertainty.distributions import UncertainInput, uncertain_inputs
from ergo.uncertainty.monte_carlo import Drawn, Histogram, Tally, draw, evaluate, uniform_chunks, uniform_columns
from ergo.uncertainty.team_draws import build_tables, task_draws

SCENARIOS = ("prone_two_layer_pad", "lateral_slide_sheet", "boost_flat", "side_turn_slide_sheet")


def scenario(name: str):
    return load_scenario(f"scenarios/{name}.toml")


def tables_of(one):
    inputs = uncertain_inputs(one)
    return build_tables(demand_of(one), inputs), inputs


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
        "bed": {"immersion_m": 0.0},  # a hard surface, so that friction alone resists
        "handling": {
            "pull_angle_deg": 0.0,
            "technique": "best",
            "slide_time_s": 4.0,
        },  # slow: it only breaks loose
        "policy": {"protect": "site limit", "site_limit_n": 160.0},
        "team": {
            "left": 1, "right": 0, "who_works": "receiving side",
            "members": [{"side": "left", "sex": "F", "stature_m": 1.65, "mass_kg": 70.0}],
        },
    }  # fmt: skip
    one = parse_scenario(data)
    tables, inputs = tables_of(one)
    n = 2**14
    u = next(uniform_chunks(uniform_columns(inputs), n, 3, n))
    for i, spread in enumerate(inputs):  # hold everything but friction at its typical value
        if spread.name != "mu_0":
            width = spread.high - spread.low
            u[:, i] = (spread.typical - spread.low) / width if spread.kind == "triangular" and width else 0.5
    ratio = evaluate(tables, u, [(1, 0)])[0][(1, 0)]
    alone = share_task(demand_of(one), 0, group(one, 1, 0)["left"])
    can, start = float(alone.capacity_n[0, 0, 0]), float(alone.force_n.sum())
    assert can == pytest.approx(160.0)
    expected = float(triang(0.5, loc=0.10, scale=0.20).cdf(0.20 * can / start))
    assert 0.05 < expected < 0.95
    assert np.mean(ratio <= 1.0) == pytest.approx(expected, abs=0.002)


@pytest.mark.parametrize("name", SCENARIOS)
def test_what_resists_in_the_draws_is_that_of_the_mechanics(name):
    """Interpolated turn and vectorised slide against a direct solution of the same draw, within 2 % of its peak.

    The hollow of a mattress bends with the depth of a body.
    """
    one = scenario(name)
    tables, inputs = tables_of(one)
    demand = tables.demand
    u = next(uniform_chunks(uniform_columns(inputs), 32, 5, 32))
    values, _ = draw(inputs, u)
    fast = task_draws(tables, values)
    for k in range(0, 32, 4):
        given = {n: v[k] for n, v in values.items() if n not in ("pull_deg", "back_arm_m", "posture")}
        case = build_case(one, given | {"pull_rad": np.radians(values["pull_deg"][k])})
        for n, task in enumerate(demand.tasks):
            m, w, part = demand.places[n]
            move = demand.moves[m][0]
            if task.group != "sides" or move.kind == "stop on the side":
                continue
            if move.is_turn:
                there = task_of_turn(move, case, one, task.instants.angle, task.hold_s > 0)
            else:
                there = ways_of(move, case, one)[w][part]
            peak = float(np.max(there.instants.resistance))
            drawn = fast[n]
            assert drawn.resistance[:, k] == pytest.approx(there.instants.resistance, abs=0.02 * peak + 0.01)
            for gain, action in zip(drawn.gain, there.instants.actions, strict=True):
                assert gain[:, k] == pytest.approx(action.gain, rel=0.01, abs=0.005), (move.name, action.name)


def test_same_seed_gives_identical_results_and_the_chunk_changes_nothing():
    one = scenario("boost_flat")
    whole = reliability(one, draws=1024)
    assert reliability(one, draws=1024) == whole
    assert reliability(one, draws=1024, chunk=100) == whole
    assert reliability(one, draws=1024, seed=7).chosen.probability == pytest.approx(whole.chosen.probability, abs=0.03)


def test_probability_converges_at_least_as_fast_as_independent_draws():
    """The spread over seeds falls with the number of draws, and stays below the standard error that is shown."""
    one = scenario("prone_cotton_draw_sheet")
    tables, inputs = tables_of(one)
    spread, some = {}, next(uniform_chunks(uniform_columns(inputs), 512, 1, 512))
    ratios, _ = evaluate(tables, some, [(1, 1), (2, 1), (1, 2), (2, 2), (3, 2)])
    team = next(t for t, ratio in ratios.items() if 0.1 < np.mean(ratio <= 1.0) < 0.97)
    for n in (128, 2048):
        probabilities = [
            np.mean(evaluate(tables, next(uniform_chunks(uniform_columns(inputs), n, s, n)), [team])[0][team] <= 1.0)
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


def test_everybody_has_a_body_and_an_effort_of_their_own_and_the_receiving_side_draws_first():
    u = np.random.default_rng(4).uniform(size=(50, 24))
    _, here = draw((), u, "left")
    _, there = draw((), u, "right")
    assert {side: len(workers) for side, workers in here.items()} == {"left": 6, "right": 6}
    for ours, theirs in ((here["left"], there["right"]), (here["right"], there["left"])):
        for one, other in zip(ours, theirs, strict=True):
            assert (one.body == other.body).all()
            assert (one.gives == other.gives).all()
    first = [here[side][0].gives for side in ("left", "right")]
    assert all((gives == 1.0).all() for gives in first)  # the first of a side gives what they can
    rest = np.concatenate([w.gives for side in ("left", "right") for w in here[side][1:]])
    assert len(np.unique(rest)) == 500
    assert rest.max() < 1.0
    assert len({tuple(w.body) for side in ("left", "right") for w in here[side]}) == 12


def test_a_small_team_carries_its_ratio_and_its_probability_where_one_is_asked_for():
    demand = demand_of(scenario("boost_flat"))
    (typical,), (sure,) = smallest_teams_of([demand]), smallest_teams_of([demand], 0.9)
    assert typical.ratio == pytest.approx(team_effort_of(demand, typical.left, typical.right)[0])
    assert typical.probability is None
    assert sure.probability == Drawn.usual(demand).probability(sure.left, sure.right) >= 0.9
    found = one_more(demand, judge(demand, 2, 2))
    assert (found.left, found.right) in ((2, 3), (3, 2))
    other = (3, 2) if found.left == 2 else (2, 3)
    assert team_effort_of(demand, found.left, found.right)[0] <= team_effort_of(demand, *other)[0]


@pytest.mark.parametrize("asked", [0.0, 1.0, -0.1, 1.5, np.nan, "x", "0.9", [0.9], True])
def test_a_probability_that_is_none_or_all_or_no_number_is_an_input_error(asked):
    with pytest.raises(InputError):
        smallest_team(scenario("boost_flat"), asked)
    with pytest.raises(InputError):
        reliability(scenario("boost_flat"), probability_asked=asked)
    with pytest.raises(InputError):
        smallest_teams(pd.DataFrame({"procedure": ["boost"]}), asked)


def test_one_person_more_stands_only_where_there_is_a_place():
    case = {"name": "x", "procedure": "boost", "patient": {"sex": "F", "mass_kg": 100.0, "stature_m": 1.6}}
    free = smallest_team(parse_scenario(case), with_aids=False)
    left, right = free.left, free.right
    for places, more in (
        ((left, right + 1), (left, right + 1)), ((left + 1, right), (left + 1, right)), ((left, right), None),
    ):  # fmt: skip
        bed = {"places_left": places[0], "places_right": places[1]}
        team = {"left": 0, "right": 0}
        found = smallest_team(parse_scenario(case | {"bed": bed, "team": team}), with_aids=False)
        assert (found.left, found.right) == (left, right)
        assert (found.one_more and (found.one_more.left, found.one_more.right)) == more


@pytest.mark.parametrize("draws", [1, 0, -3, True, 99, 2.5, float("nan"), 10**9])
def test_no_probability_is_told_of_too_few_draws_and_no_library_call_runs_without_end(draws):
    with pytest.raises(InputError, match="draws"):
        reliability(scenario("boost_flat"), draws=draws)
