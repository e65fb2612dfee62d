"""The table of teams gives what the direct assessment gives."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ergo.assessment import demand_of, judge
from ergo.errors import InputError
from ergo.mechanics.friction import registry
from ergo.teams.team_search import smallest_teams_of, smallest_typical
from ergo.unit.team_lookup import AssessedNeed, TeamNeed, build_team_table, stature_class


def participants(procedure, aid, mass_kg, sex, stature_m):
    """A need of the same kind as the real one: teams by force over limit, a lift above six a side."""
    force = mass_kg * 9.8 * {"slide sheet": 0.2, "no aid": 0.6}[aid] * (1.0 + 0.1 * (stature_m < 1.5))
    limit = 200.0 if procedure == "boost" else 160.0
    side = int(np.ceil(force / limit / 2))
    if side > 6:
        return TeamNeed(1, 1, use_lift=True, minutes=12.0)
    airway = int(procedure == "prone turn")
    return TeamNeed(side, side, airway, pull_n_s=2 * force / (2 * side), loadings=3, ratio=force / (2 * side) / limit)


PROCEDURES = ("side-lying turn", "boost", "slide to the side", "lateral transfer", "limb hold", "prone turn")
CASES = [(p, a) for p in ("boost", "prone turn") for a in ("slide sheet", "no aid")]
PATIENTS = [(s, h) for s in "FM" for h in (1.4, 1.6, 1.8)]
TABLE = build_team_table(participants, CASES, PATIENTS, (30.0, 300.0))


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(CASES), st.floats(30, 300), st.booleans(), st.floats(1.46, 1.84))
def test_a_lookup_equals_the_direct_result_at_random_points(case, mass, woman, stature):
    direct = participants(*case, mass, "F" if woman else "M", stature_class(stature))
    found = TABLE.lookup(*case, mass, woman, stature)
    heavier = participants(*case, mass + 0.2, "F" if woman else "M", stature_class(stature))
    got = (found.left[0], found.right[0], found.airway_lead[0], 0, 0, found.use_lift[0])
    assert got in (direct.whole(), heavier.whole())
    if got == direct.whole():
        assert found.pull_n_s[0] == pytest.approx(direct.pull_n_s, rel=0.007)  # 200 g of 30 kg
        assert found.ratio[0] == pytest.approx(direct.ratio, rel=0.007)
        assert np.isnan(found.minutes[0]) == (direct.minutes is None)


def test_the_bands_end_where_the_closed_form_says():
    """boost, no aid: the force of 400 N for one a side is reached at 400 / (0.6 * 9.8) kg."""
    top = 400 / (0.6 * 9.8)
    found = TABLE.lookup("boost", "no aid", [top - 0.2, top + 0.2], False, 1.7)
    assert (found.left[0], found.right[0]) == (1, 1)
    assert found.left[1] + found.right[1] > 2


def test_a_scalar_lookup_equals_the_element_of_an_array():
    masses = np.linspace(30, 300, 50)
    many = TABLE.lookup("prone turn", "slide sheet", masses, True, 1.66)
    for i, mass in enumerate(masses):
        one = TABLE.lookup("prone turn", "slide sheet", mass, True, 1.66)
        assert (one.handlers[0], one.pull_n_s[0]) == (many.handlers[i], many.pull_n_s[i])


def test_the_table_asks_the_assessment_a_few_hundred_times_a_case_at_most():
    assert TABLE.calls < 150 * len(CASES) * len(PATIENTS)


def test_two_processes_make_the_same_table():
    masses = np.linspace(30, 300, 20)
    both = [build_team_table(participants, CASES[:1], PATIENTS, (30.0, 300.0), n) for n in (1, 2)]
    found = [t.lookup(*CASES[0], masses, True, 1.66) for t in both]
    assert found[0].handlers.tolist() == found[1].handlers.tolist()
    assert found[0].pull_n_s.tolist() == found[1].pull_n_s.tolist()


def test_what_was_not_tabulated_is_refused():
    with pytest.raises(ValueError, match="outside"):
        TABLE.lookup("boost", "no aid", 301.0, True, 1.6)
    with pytest.raises(KeyError):
        TABLE.lookup("limb hold", "no aid", 80.0, True, 1.6)
    one = build_team_table(participants, [CASES[0]], [("F", 1.6)], (80.0, 80.0))
    assert one.lookup(*CASES[0], 80.0, True, 1.6).handlers[0] == 2


def test_only_masses_that_occur_are_asked_for_and_give_the_direct_result():
    masses = [52.0, 61.0, 61.0, 78.5, 93.0, 120.0, 181.0]
    demand = []

    def counted(procedure, aid, mass_kg, sex, stature_m):
        demand.append(mass_kg)
        return participants(procedure, aid, mass_kg, sex, stature_m)

    table = build_team_table(counted, [CASES[1]], [("F", 1.6)] * len(masses), (52.0, 181.0), masses_kg=masses)
    assert set(demand) <= set(masses)
    assert len(demand) == len(set(demand))
    found = table.lookup(*CASES[1], masses, True, 1.62)
    for i, mass in enumerate(masses):
        direct = participants(*CASES[1], mass, "F", 1.6)
        assert found.left[i] == direct.left
        assert found.pull_n_s[i] == pytest.approx(direct.pull_n_s, rel=1e-9)


def test_many_cases_together_have_the_teams_that_each_has_alone():
    """The batch looks at deciding limits only; `smallest_typical` judges every limit of every team."""
    rng = np.random.default_rng(3)
    cases = []
    while len(cases) < 40:
        procedure, aid = rng.choice(PROCEDURES), rng.choice(list(registry()))
        sex, mass, stature = rng.choice(["F", "M"]), float(rng.uniform(35, 240)), float(rng.uniform(1.45, 1.95))
        try:
            cases.append(demand_of(AssessedNeed().scenario(str(procedure), str(aid), mass, str(sex), stature)))
        except InputError:  # this aid does not serve the procedure
            continue
    for demand, small in zip(cases, smallest_teams_of(cases), strict=True):
        alone = smallest_typical(demand)
        assert (small is None) == (alone is None)
        if small and alone:
            assert (small.left, small.right) == (alone.left, alone.right)
            assert small.ratio == pytest.approx(max(move.effort for move in alone.moves), rel=1e-6)


def test_the_people_of_a_unit_are_held_to_the_shear_of_more_than_a_hundred_loadings_a_day():
    # gallagher_marras_2012 (reprint): 1000 N up to 100 loadings a day, 700 N for 100 to 1000
    case = AssessedNeed().scenario("prone turn", "slide sheet", 82.0, "F", 1.65)
    shear = next(c for c in judge(demand_of(case), 2, 2).moves[0].limits if c.key == "spine_shear")
    assert shear.limit == 700.0
