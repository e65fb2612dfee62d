"""A slide sheet is single, doubled, or nobody has said which; then one in five slides like a draw sheet."""

from __future__ import annotations

import numpy as np
import pytest

from ergo.inputs import examples
from ergo.inputs.scenario import parse_scenario
from ergo.mechanics.friction import find_aid
from ergo.teams.smallest_team import smallest_team
from ergo.uncertainty.distributions import uncertain_inputs

POINTS = (np.arange(20000) + 0.5) / 20000


def drawn(aid: str) -> np.ndarray:
    return uncertain_inputs(examples.boost(aid=aid))[0].at(POINTS)


def test_where_single_or_doubled_is_not_stated_one_in_five_draws_is_a_draw_sheets_and_the_others_a_doubled_ones():
    # hwang_2018 (abstract): a slide sheet about equal to a draw sheet; larson_2018 (abstract): a doubled one lower.
    unstated, doubled, cotton = drawn("slide sheet"), drawn("doubled slide sheet"), drawn("cotton draw sheet")
    share = find_aid("slide sheet").contacts[0].or_like_share
    low = unstated <= find_aid("doubled slide sheet").contacts[0].mu_high
    assert low.mean() == pytest.approx(1.0 - share) == pytest.approx(0.8)
    for part, whole in ((unstated[low], doubled), (unstated[~low], cotton)):
        assert np.quantile(part, [0.1, 0.5, 0.9]) == pytest.approx(np.quantile(whole, [0.1, 0.5, 0.9]), abs=1e-3)
    assert np.all(np.diff(unstated) >= 0)  # each share of the draws lies below one friction, as its quantile


def test_a_single_sheet_lies_between_a_doubled_one_and_a_draw_sheet():
    single, doubled, cotton = (
        find_aid(name).contacts[0] for name in ("single slide sheet", "doubled slide sheet", "cotton draw sheet")
    )
    assert (single.mu_low, single.mu, single.mu_high) == (doubled.mu, cotton.mu_low, cotton.mu_high)
    assert (single.source, single.known) == ("larson_2018", "judgement")


@pytest.mark.parametrize("kind", ["side_lying_turn", "lateral_transfer"])
def test_a_sheet_of_which_nothing_is_said_needs_no_fewer_people_than_a_doubled_and_no_more_than_a_draw_sheet(kind):
    make = getattr(examples, kind)
    people = [
        smallest_team(make(80.0, aid), with_aids=False).reasons.people_by_force
        for aid in ("doubled slide sheet", "slide sheet", "cotton draw sheet")
    ]
    assert people == sorted(people)
    assert people[0] < people[2]


def test_at_typical_values_it_is_counted_as_doubled():
    answers = [
        smallest_team(examples.boost(90.0, aid), None, with_aids=False)
        for aid in ("slide sheet", "doubled slide sheet")
    ]
    assert answers[0].assessment.worst_ratio == answers[1].assessment.worst_ratio


def test_a_file_that_does_not_say_single_or_doubled_opens_with_a_note_and_one_that_does_with_none():
    patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    case = {"name": "x", "procedure": "boost", "patient": patient, "aid": "slide sheet"}
    for stated in (case, case | {"format": 1}, case | {"format": 2}):
        told: list[str] = []
        assert parse_scenario(stated, "x.toml", told.append).aid == "slide sheet"
        assert len(told) == 1
        assert "20 %" in told[0]
    parse_scenario(case | {"aid": "doubled slide sheet"}, "x.toml", pytest.fail)
