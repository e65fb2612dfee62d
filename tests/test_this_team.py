"""Can these do it: stated people against unstated ones, one more, restrictions, and the other questions beside."""

from __future__ import annotations

import re
from itertools import permutations
from pathlib import Path

import numpy as np
import pytest

from ergo.assessment import demand_of, judge, place_people, possible_teams
from ergo.assessment.possible_teams import nobody_where_needed
from ergo.assessment.team import member_person
from ergo.assessment.team_share import team_effort_of
from ergo.errors import InputError
from ergo.evidence import assumption
from ergo.handlers.reference_team import mixed_team
from ergo.inputs import examples
from ergo.inputs.members import dump_members, read_members
from ergo.inputs.scenario import Member, Scenario, dump_scenario, load_scenario
from ergo.report.documents.team import team_answer
from ergo.report.terminal import terminal_text
from ergo.teams.emergency_return import emergency_return
from ergo.teams.knife_edge import knife_edge, knife_edge_words
from ergo.teams.lift_option import lift_option, lift_words
from ergo.teams.published_headcounts import published_headcounts
from ergo.teams.smallest_team import smallest_team
from ergo.teams.team_search import reasons_of
from ergo.teams.this_team import Neighbour, helps, next_words, this_team, this_team_words
from ergo.uncertainty.monte_carlo import Drawn
from ergo.uncertainty.two_kinds import probability_band
from ergo.units import DEFAULT_UNITS, INCH, G, Units, percent

SAMPLING = 0.02  # of a probability from some thousand draws, and what tables of other bodies are off by


def people_like(number: int) -> list[dict[str, object]]:
    return [{"sex": p.sex, "stature_m": p.stature_m, "mass_kg": p.mass_kg} for p in mixed_team(number)]


@pytest.mark.parametrize(("make", "left", "right"), [(examples.boost, 2, 2), (examples.lateral_transfer, 3, 1)])
def test_stated_people_of_the_usual_bodies_give_the_answer_of_unstated_ones(make, left, right):
    usual = make(90.0, team={"left": left, "right": right})
    members = [m | {"side": "left"} for m in people_like(left)] + [m | {"side": "right"} for m in people_like(right)]
    stated = make(90.0, team={"members": members})
    one, other = (judge(demand_of(case), left, right) for case in (usual, stated))
    efforts = [team_effort_of(demand_of(case), left, right)[0] for case in (usual, stated)]
    assert efforts[1] == pytest.approx(efforts[0], rel=1e-6)
    assert other.verdict == one.verdict
    assert other.worst_ratio == pytest.approx(one.worst_ratio, rel=1e-6)


def test_what_one_fewer_falls_short_of_keeps_the_letter_of_the_person_it_speaks_of():
    for fails, said in (("A, left side: 9 kg.", "A, left side: 9 kg."), ("Left side: 9 kg.", "left side: 9 kg.")):
        other = Neighbour(3, 2, 1, 0.4, False, fails)
        assert next_words(other) == f"not enough, within the limits in 40 % of moves: {said}"


def test_the_order_in_which_people_are_listed_does_not_change_the_probability():
    shift = [{"size": "small"}, {"size": "medium"}, {"size": "tall"}]
    found = [
        this_team(examples.boost(105.0, team={"members": list(order)}), with_band=False)
        for order in list(permutations(shift))[::2]
    ]
    assert len({one.probability for one in found}) == 1
    assert 0.05 < found[0].probability < 0.999


@pytest.mark.parametrize("make", [examples.boost, examples.lateral_transfer])
def test_one_more_person_never_lowers_the_probability_by_more_than_sampling(make):
    before = 0.0
    shift = [{"size": "medium"}, {"size": "tall"}, {"size": "small"}, {"size": "small"}, {"size": "medium"}]
    for number in range(2, len(shift) + 1):
        placed = place_people(make(100.0, team={"members": shift[:number]}))
        now = Drawn.usual(demand_of(placed)).probability(placed.team.left, placed.team.right)
        assert now >= before - SAMPLING
        before = now


def test_a_restricted_person_never_exceeds_the_restriction_in_any_draw_that_passes():
    shift = [{"size": "medium"}, {"size": "tall"}, {"size": "medium", "may_do": ["hands"], "most_force_n": 60.0}]
    placed = place_people(examples.boost(90.0, team={"members": shift}))
    demand = demand_of(placed)
    drawn = Drawn.usual(demand)
    ratio, _ = drawn.team(placed.team.left, placed.team.right)
    body = member_person(Member.model_validate(shift[2], strict=False)).bare
    tables = drawn.tables
    for table in tables.actions.values():
        most = float(np.max(table.force_n[tables.bodies.index(body)]))
        assert most <= 60.0 + 1e-6  # and nobody gives more than they can where the ratio is at most 1
    assert np.any(ratio <= 1.0)
    found = judge(demand, placed.team.left, placed.team.right)
    own = [load for move in found.moves for load in move.loads if load.person.letter == "C"]
    assert own
    assert all(load.start_n <= 60.0 + 1e-6 for load in own)


def test_a_person_who_may_lift_little_lifts_no_more():
    small = member_person(Member(size="medium", most_lift_kg=5.0, may_do=("hands",)))
    assert small.most_lift_n == pytest.approx(5.0 * G)


def test_a_team_that_is_short_hears_what_would_help_and_the_lift_comes_last():
    found = this_team(examples.boost(110.0, team={"left": 1, "right": 1}), with_band=False)
    assert this_team_words(found)[0].startswith("No: with 2 people")
    assert helps(found)[-1] == "a mechanical lift"
    assert len(helps(found)) > 1


def helped(case: Scenario, units: Units = DEFAULT_UNITS) -> tuple[str, ...]:
    return helps(this_team(case, with_band=False), units)


@pytest.mark.parametrize("height_m", [0.45, 1.2])
def test_a_team_at_a_bad_height_of_the_bed_hears_of_a_height_at_which_it_is_enough(height_m: float) -> None:
    def case(height: float) -> Scenario:
        return examples.boost(66.0, bed={"height_m": height}, team={"members": [{"size": "medium"}] * 2})

    said = next(one for one in helped(case(height_m)) if one.startswith("the bed at "))
    named = float(said.removeprefix("the bed at ").removesuffix(" cm")) / 100.0
    span = assumption("bed_height_range")
    assert span.low <= named <= span.high
    assert this_team(case(named), with_band=False).enough
    step = 0.05 if named > height_m else -0.05
    assert not this_team(case(named - step), with_band=False).enough or not span.low <= named - step <= span.high
    in_feet = next(one for one in helped(case(height_m), Units(length="ft-in")) if one.startswith("the bed at "))
    feet, inches = re.findall(r"\d+", in_feet)
    assert this_team(case((12 * int(feet) + int(inches)) * INCH), with_band=False).enough


def test_no_height_of_the_bed_is_named_where_none_helps() -> None:
    assert not any(one.startswith("the bed at ") for one in helped(examples.boost(180.0, team={"left": 1, "right": 1})))


@pytest.mark.parametrize("team", [{"left": 1, "right": 1}, {"members": [{"size": "medium"}] * 2}])
def test_where_one_more_is_too_few_the_number_that_is_enough_is_named_with_its_sides(team: dict[str, object]) -> None:
    said = helped(examples.boost(180.0, team=team))[0]
    more, left, right = map(int, re.findall(r"\d+", said))
    assert "more people" in said
    assert left + right == 2 + more
    members = [{"size": "medium"}] * (left + right)

    def enough(number: int) -> bool:
        stated = {"members": members[:number]} if "members" in team else {"left": left, "right": number - left}
        return this_team(examples.boost(180.0, team=stated), with_band=False).enough

    assert enough(left + right)
    assert not enough(left + right - 1)


def test_where_one_more_of_medium_size_is_too_few_but_a_tall_one_is_enough_the_tall_one_is_named() -> None:
    def case(*more: Member) -> Scenario:
        members = (*[Member(size="tall")] * 2, *more)
        policy, bed = {"protect": "75 % of men"}, {"height_m": 1.05}
        return examples.lateral_transfer(75.0, bed=bed, policy=policy, team={"members": members})

    medium, tall = (this_team(case(Member(size=size)), with_band=False) for size in ("medium", "tall"))
    assert medium.probability < tall.probability
    asked = (medium.probability + tall.probability) / 2.0
    found = this_team(case(), asked, with_band=False)
    assert found.one_more is not None
    assert not found.one_more.enough
    assert helps(found)[0].startswith("one more person, who is tall: ")


def test_who_all_stand_on_one_side_hear_that_the_same_people_are_enough_on_both() -> None:
    assert helped(examples.boost(team={"left": 4, "right": 0}))[0] == "the same people: 2 on the left, 2 on the right"


def test_a_bed_that_has_no_place_for_one_more_is_no_fault() -> None:
    bed = {"places_left": 1, "places_right": 1}
    found = this_team(examples.boost(66.0, bed=bed, team={"members": [{"size": "medium"}] * 2}), with_band=False)
    assert found.enough
    assert found.one_more is None


@pytest.mark.parametrize("height_m", [0.45, 0.6, 1.1, 1.2, 1.3])
@pytest.mark.parametrize("number", [1, 2, 3])
def test_whoever_is_not_enough_is_told_why(height_m: float, number: int) -> None:
    members = [{"size": "medium"}] * number
    found = this_team(examples.boost(66.0, bed={"height_m": height_m}, team={"members": members}), with_band=False)
    for one in (found, found.one_fewer, found.one_more):
        assert one is None or bool(one.fails) != one.enough


def test_draws_that_no_limit_covers_are_not_called_over_a_limit() -> None:
    members = [{"size": "medium"}] * 2
    found = this_team(examples.boost(66.0, bed={"height_m": 1.2}, team={"members": members}), with_band=False)
    demand = demand_of(found.scenario)
    drawn = Drawn.usual(demand)
    over = 1.0 - found.probability - drawn.uncovered(1, 1)
    assert 0.0 < over < 1.0 - found.probability
    assert f"in {percent(over)} of cases somebody is over a limit" in found.fails
    assert f"in {percent(drawn.uncovered(1, 1))} of cases a limit that decides does not cover" in found.fails


@pytest.mark.parametrize(
    "case",
    [
        examples.boost(team={"left": 4, "right": 0}),
        examples.prone_turn(team={"left": 5, "right": 0}),
        examples.boost(90.0, bed={"rated_capacity_kg": 80.0}, team={"left": 3, "right": 3}),
        examples.boost(team={"members": [{"size": "medium", "most_lift_kg": 5.0}] * 3}),
    ],
    ids=["one side alone", "nobody guards", "refused", "nobody may"],
)
def test_a_team_that_cannot_make_the_move_has_no_probability_no_band_and_no_own_acceptance(case: Scenario) -> None:
    found = this_team(case)
    assert not found.enough
    assert (found.probability, found.own_acceptance, found.band) == (0.0, 0.0, None)
    words = this_team_words(found)
    assert not any("themselves accept" in said or "Most loaded" in said for said in words)
    assert not any("within the limits in" in said for said in words if said.startswith("One fewer"))
    demand = demand_of(found.scenario)
    if not demand.refusals:
        assert probability_band(demand, found.left, found.right, outer=8, inner=8).probability_high == 0.0


def test_no_possible_team_lacks_somebody_where_a_move_needs_somebody() -> None:
    for case in (examples.boost(), examples.prone_turn(), examples.lateral_transfer()):
        demand = demand_of(case)
        lacks = {
            (left, right)
            for left in range(4)
            for right in range(4)
            if any(nobody_where_needed(demand, move, left, right) for move in range(len(demand.moves)))
        }
        assert not lacks & set(possible_teams(demand))


def test_where_nobody_may_use_their_hands_that_is_said_with_what_helps() -> None:
    found = this_team(examples.boost(team={"members": [{"size": "medium", "most_lift_kg": 5.0}] * 3}), with_band=False)
    first = this_team_words(found)[0]
    assert first.startswith("No: nobody on shift may use their hands for this move, because of what is stated for them")
    assert "0 of 3 people may" in first
    assert first.endswith("Other people or a mechanical lift must do it.")
    assert helps(found) == ("2 more people of medium size: 1 on the left, 1 on the right", "a mechanical lift")


def test_where_too_few_may_use_their_hands_it_is_said_how_many_may() -> None:
    members = [{"size": "medium", "most_lift_kg": 5.0}] * 2 + [{"size": "medium"}]
    words = this_team_words(this_team(examples.boost(team={"members": members}), with_band=False))
    assert any(said.startswith("1 of 3 people may use their hands") for said in words)


def test_a_team_that_guidance_finds_too_small_is_not_told_a_plain_yes() -> None:
    found = this_team(examples.prone_turn(team={"left": 1, "right": 2}), with_band=False)
    assert found.enough
    assert found.short_of == ("guidance asks for 5",)
    words = this_team_words(found)
    assert words[0].startswith("By force yes: 4 people")
    assert words[0].endswith("; but guidance asks for 5.")
    assert "Guidance asks for 5." not in words
    assert found.one_fewer is not None
    assert found.one_more is not None
    assert found.one_fewer.short_of == found.short_of
    assert found.one_more.short_of == ()
    more = this_team_words(this_team(examples.prone_turn(team={"left": 2, "right": 2}), with_band=False))
    assert more[0].startswith("Yes: 5 people")


def test_more_people_who_are_enough_by_force_alone_are_told_with_what_they_are_short_of() -> None:
    said = helped(examples.prone_turn(90.0, team={"left": 1, "right": 1}))
    found = this_team(examples.prone_turn(90.0, team={"left": 1, "right": 1}), with_band=False)
    assert not found.enough
    assert found.one_more is not None
    assert found.one_more.enough
    assert said[0] == "one more person: 1 on the left, 2 on the right (but guidance asks for 5)"


def test_a_team_that_is_enough_says_who_is_loaded_most_and_what_one_fewer_would_mean():
    words = this_team_words(this_team(examples.boost(team={"members": [{"size": "medium"}] * 4}), with_band=False))
    assert words[0].startswith("Yes: 4 people")
    assert any(w.startswith("Most loaded: ") and "% of what they can manage" in w for w in words)
    assert any(w.startswith("One fewer, 3 people") for w in words)


def test_the_smallest_team_is_for_usual_people_whoever_is_on_shift():
    usual = smallest_team(examples.boost(100.0), with_aids=False)
    placed = place_people(examples.boost(100.0, team={"members": [{"size": "small"}] * 5}))
    stated = smallest_team(placed, with_aids=False)
    assert (stated.people, stated.probability, stated.why) == (usual.people, usual.probability, usual.why)


def test_people_are_saved_and_opened_without_where_they_stand():
    people = (Member(size="small", side="left", position_m=0.4, role="hands"), Member(sex="M", may_do=("airway",)))
    back = read_members(dump_members(people).encode())
    assert back == (Member(size="small"), Member(sex="M", may_do=("airway",)))


def test_the_people_of_a_saved_case_open_without_where_they_stand_there():
    people = ({"size": "small", "side": "left", "most_lift_kg": 5.0}, {"size": "tall", "side": "right"})
    case = examples.boost(team={"members": people})
    opened = (Member(size="small", most_lift_kg=5.0), Member(size="tall"))
    assert read_members(dump_scenario(case).encode()) == opened
    old = Path(__file__).parent / "saved" / "format_1" / "named_members.toml"
    members = load_scenario(old).team.members
    assert [(m.sex, m.mass_kg) for m in read_members(old.read_bytes())] == [(m.sex, m.mass_kg) for m in members]


def test_a_case_that_states_nobody_has_no_people_to_open_and_a_broken_one_says_what_is_wrong():
    raw = dump_scenario(examples.boost()).encode()
    with pytest.raises(InputError, match="a case that states who is on shift") as error:
        read_members(raw)
    assert [fault.field for fault in error.value.faults] == ["team.members"]
    with pytest.raises(InputError) as error:
        read_members(raw.replace(b'"boost"', b'"lift off"'))
    assert [fault.field for fault in error.value.faults] == ["procedure"]


def test_half_a_kilogram_that_changes_the_number_is_told_and_the_larger_one_is_asked_for():
    def people(mass: float) -> int | None:
        demand = demand_of(examples.boost(mass))
        return reasons_of(demand, 0.9, Drawn.usual(demand)).people

    low, high = 70.0, 120.0
    fewer = people(low)
    while high - low > 0.25:
        middle = (low + high) / 2
        low, high = (middle, high) if people(middle) == fewer else (low, middle)
    found = knife_edge(examples.boost(low), 0.9)
    assert found is not None
    assert found.sharp
    assert found.people == fewer
    assert found.most == people(high)
    assert knife_edge_words(found).endswith(f"Ask for {found.most}.")


def test_far_from_any_edge_no_neighbour_is_looked_at(monkeypatch):
    from ergo.teams import knife_edge as module

    monkeypatch.setattr(module, "_neighbours", lambda scenario: pytest.fail("looked at"))
    found = knife_edge(examples.boost(60.0), 0.9)
    assert found is not None
    assert not found.sharp


def test_a_lift_is_named_first_from_the_mass_that_the_policy_names():
    case = examples.boost(90.0, policy={"lift_from_kg": 80.0, "lift_capacity_kg": 85.0})
    found = lift_option(case)
    assert found.first
    assert lift_words(case, found).startswith("The unit's policy asks for a lift from 80")
    assert "over its rated capacity" in lift_words(case, found)
    assert not lift_option(examples.boost(90.0)).first


def test_the_team_of_an_answer_is_asked_whether_it_can_turn_the_patient_back():
    found = emergency_return(examples.prone_turn(), team=(2, 3))
    assert (found.left, found.right, found.scenario.procedure) == (2, 3, "return to supine")


def test_a_source_that_goes_up_by_steps_of_mass_says_one_number_for_a_patient() -> None:
    """aorn_2011: 2, 3 and 4 people from 57.9, 104.9 and 157 lb on."""
    for mass_kg, people in ((40.0, "2"), (60.0, "3"), (100.0, "4")):
        found = published_headcounts(examples.lateral_transfer(mass_kg))
        assert [one.people for one in found if one.source == "aorn_2011" and one.fits_mass] == [people]


def test_the_whole_force_in_the_hands_stands_beside_its_level_part_and_is_what_tables_show() -> None:
    result = judge(demand_of(examples.boost(141.0)), 2, 3)
    move = result.moves[0]
    assert move.deciding is not None
    said = f"{move.worst_person_force_n:.0f} N in the hands, {move.deciding.amount:.0f} N of it level, against"
    assert said in result.why
    assert said in result.why_in(DEFAULT_UNITS)


def test_a_lift_is_named_first_where_more_people_pull_than_may_lift_by_hand() -> None:
    heavy = smallest_team(examples.boost(141.0), with_aids=False)
    light = smallest_team(examples.boost(60.0), with_aids=False)
    assert "A lift first: " in terminal_text(team_answer(heavy))
    assert "A lift first: " not in terminal_text(team_answer(light))
