"""What units use besides people and aid: off it changes nothing, on it does what statics says, and says its caution."""

from __future__ import annotations

import csv
import json
from importlib.resources import files
from itertools import pairwise

import numpy as np
import pytest

from ergo.assessment import CAUTIONS, assess, cautions_of, demand_of, used_besides
from ergo.assessment.capacity import Hands, capacities
from ergo.cli.main import main
from ergo.errors import InputError
from ergo.evidence import assumption
from ergo.handlers.person import Person
from ergo.handlers.posture import hold_posture, sweep
from ergo.inputs import examples
from ergo.inputs.scenario import dump_scenario, parse_scenario
from ergo.mechanics.body import build_body, limbs_laid_over
from ergo.mechanics.case import build_case
from ergo.mechanics.demand import task_of_turn
from ergo.mechanics.mattress import rolled_support
from ergo.mechanics.procedure import plan_moves
from ergo.report.documents.assessment import assessment_answer
from ergo.report.documents.card import bedside_card
from ergo.report.documents.case import case_report
from ergo.report.documents.team import team_answer
from ergo.report.markdown import markdown_page
from ergo.report.tables.case import working_rows
from ergo.teams.smallest_team import smallest_team
from ergo.uncertainty.monte_carlo import Drawn
from ergo.units import G, Units
from tests.tools.random_scenarios import random_cases

LAID_OVER = {"handling": {"ankle_crossed_arm_tucked": True}}
ASSISTED = {"bed": {"turn_assist_deg": 30.0}}
SHIFTS = {"handling": {"weight_shift": True}}
HEAD_DOWN = {"bed": {"tilt_deg": -12.0}}


def table(name: str) -> list[dict[str, str]]:
    """A table of the evidence as the file has it, not as the code reads it."""
    text = (files("ergo.evidence") / "tables" / f"{name}.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


def instants(scenario, number=0, angles=None):
    """What a turn of a case asks at some angles."""
    case = build_case(scenario)
    moves = [move for move in plan_moves(scenario, case) if move.is_turn]
    angles = np.radians(np.arange(0.0, 90.0, 3.0)) if angles is None else angles
    return task_of_turn(moves[number], case, scenario, angles).instants


# --- ankle crossed and arm tucked ---


@pytest.mark.parametrize(("sex", "mass", "tall"), [("F", 60.0, 1.6), ("M", 82.0, 1.75), ("M", 141.0, 1.8)])
@pytest.mark.parametrize("arm", ["across the chest", "under the hip"])
def test_limbs_laid_over_move_the_centre_of_mass_as_points_that_are_turned_one_by_one_do(sex, mass, tall, arm):
    # independent: every segment of one side as a point in the plane of the mattress, turned about hip or elbow;
    # masses and centres of deleva_1996, heights of drillis_contini_1966, straight from the files
    part = {r["segment"]: r for r in table("segments_deleva_1996")}
    level = {r["item"]: float(r["fraction_of_stature"]) * tall for r in table("stature_fractions")}
    paired = ("upper_arm", "forearm", "hand", "thigh", "shank", "foot")
    every = ("head", "upper_trunk", "middle_trunk", "lower_trunk", *paired)
    total = sum(float(part[s][f"mass_{sex}"]) * (2 if s in paired else 1) for s in every)

    def share(segment: str) -> float:
        return float(part[segment][f"mass_{sex}"]) / total

    def centre(segment: str) -> float:
        return float(part[segment][f"cm_{sex}"])

    leg, thigh = level["hip height"] - level["ankle height"], level["hip height"] - level["knee height"]
    from_hip = {
        "thigh": thigh * centre("thigh"),
        "shank": thigh + (leg - thigh) * centre("shank"),
        "foot": leg + level["ankle height"] / 2.0,
    }
    aside = assumption("ankles_apart").typical * tall / leg  # the slope of the leg that is laid over
    moved = sum(share(s) * at * aside for s, at in from_hip.items())
    if arm == "across the chest":
        moved += share("forearm") * level["forearm"] * centre("forearm")
        moved += share("hand") * (level["forearm"] + level["hand"] / 2.0)
    else:
        moved -= (share("forearm") + share("hand")) * assumption("arm_under_hip").typical * tall
    assert float(limbs_laid_over(build_body(sex, mass, tall), arm)) == pytest.approx(moved, rel=1e-9)
    assert 0.005 < moved < 0.03


@pytest.mark.parametrize("immersion", [0.0, None])
def test_the_moment_that_resists_falls_by_the_weight_times_what_its_centre_has_moved(immersion):
    bed = {"immersion_m": immersion} if immersion is not None else {}
    usual = examples.side_lying_turn(bed=bed)
    laid_over = examples.side_lying_turn(bed=bed, **LAID_OVER)
    before, after = instants(usual), instants(laid_over)
    moved = float(build_case(laid_over).limbs_over_m)
    weight = usual.patient.mass_kg * G
    less = before.resistance - after.resistance
    resists = ~before.driving & (after.resistance > 0.0)
    assert resists.sum() > 15
    assert less[resists] == pytest.approx((weight * moved * np.cos(before.angle))[resists], rel=1e-9)
    assert np.all(after.resistance[~before.driving] >= 0.0)
    assert not np.any(after.driving & ~before.driving), "limbs that are laid over throw nobody out of bed"


def test_limbs_laid_over_never_ask_for_more_and_leave_small_rolls_the_stop_and_the_lowering_as_they_were():
    for scenario, demand in random_cases(25, 4, procedure="prone turn", aid="two-layer turning pad"):
        handling = scenario.handling.model_copy(update={"ankle_crossed_arm_tucked": True})
        other = demand_of(scenario.model_copy(update={"handling": handling}))
        for (move, ways), (_, others) in zip(demand.moves, other.moves, strict=True):
            for a, b in zip(ways[0], others[0], strict=True):
                one, two = demand.tasks[a].instants, other.tasks[b].instants
                if move.kind == "side-lying turn":
                    assert two.resistance.max() < one.resistance.max()
                else:
                    assert one.resistance == pytest.approx(two.resistance, rel=1e-12), move.kind
                    assert all(np.array_equal(p.gain, q.gain) for p, q in zip(one.actions, two.actions, strict=True))


@pytest.mark.parametrize("aid", ["cotton draw sheet", "doubled slide sheet"])
def test_a_turn_with_limbs_laid_over_takes_less_of_everybody_and_is_no_less_sure(aid):
    usual, laid_over = (examples.side_lying_turn(mass_kg=82.0, aid=aid, **more) for more in ({}, LAID_OVER))
    assert assess(laid_over).moves[0].effort < 0.9 * assess(usual).moves[0].effort
    sure = [Drawn.usual(demand_of(case)).probability(1, 2) for case in (usual, laid_over)]
    assert sure[1] >= sure[0]


# --- the bed's turn assist ---


def test_a_turn_begins_where_the_turn_assist_leaves_the_patient_and_is_the_same_from_there():
    usual, assisted = examples.side_lying_turn(), examples.side_lying_turn(**ASSISTED)
    move = plan_moves(assisted, build_case(assisted))[0]
    assert (move.from_rad, move.to_rad) == (pytest.approx(np.radians(30.0)), pytest.approx(np.pi / 2.0))
    assert demand_of(assisted).tasks[0].instants.angle.min() >= np.radians(30.0) - 1e-12
    angles = np.radians([35.0, 60.0, 80.0])
    one, two = instants(usual, angles=angles), instants(assisted, angles=angles)
    assert np.array_equal(one.resistance, two.resistance)
    assert all(np.array_equal(a.gain, b.gain) for a, b in zip(one.actions, two.actions, strict=True))


def test_more_turn_assist_never_asks_for_more_and_little_of_it_saves_nothing():
    # the hardest degree of this turn lies beyond 20 degrees: what is rolled before it is easy anyway
    effort = [
        assess(examples.side_lying_turn(bed={"turn_assist_deg": float(d)})).moves[0].effort for d in range(0, 45, 5)
    ]
    assert all(after <= before + 1e-3 for before, after in pairwise(effort))
    assert effort[2] == pytest.approx(effort[0], rel=1e-6)
    assert effort[-1] < 0.8 * effort[0]


def test_the_turn_assist_rolls_from_the_back_only_and_no_small_roll():
    returned = examples.prone_turn(82.0, "two-layer turning pad", **ASSISTED)
    kinds = {m.kind: m.from_rad for m in plan_moves(returned, build_case(returned)) if m.from_rad < np.pi / 2.0}
    assert kinds["side-lying turn"] > 0.0
    assert kinds["micro-turn"] == 0.0
    back = returned.model_copy(update={"procedure": "return to supine"})
    assert all(m.from_rad in (0.0, np.pi / 2.0) for m in plan_moves(back, build_case(back)))


# --- weight shift ---


def reaches(**more):
    given = {"stature_m": 1.61, "mass_kg": 74.0, "sex": "F", "bed_height_m": 0.85, "hand_height_m": 0.95}
    pulls = np.concatenate([-np.arange(0.0, 400.0, 20.0), np.arange(0.0, 500.0, 20.0)])
    return sweep(**given, reach_m=np.array([[0.1], [0.3], [0.45], [0.6]]), pull_n=pulls, shoe_friction=0.8, **more)


@pytest.mark.parametrize("brace", [None, "thigh"])
def test_a_long_stance_holds_what_the_usual_one_does_and_more_and_is_taken_only_where_nothing_gets_worse(brace):
    usual, free = reaches(brace=brace), reaches(brace=brace, weight_shift=True)
    long = free.stance_m > usual.stance_m + 1e-9
    assert 0 < long.sum() < long.size
    assert np.all(free.can_be_held[usual.can_be_held])
    assert free.can_be_held.sum() > usual.can_be_held.sum() or brace == "thigh"
    both = long & usual.can_be_held
    assert np.all(free.effort[both] <= usual.effort[both] + 1e-12)
    assert np.all(free.compression_n[both] <= usual.compression_n[both] + 1e-6)
    for name in ("compression_n", "shear_n", "effort", "cop_m", "stance_m"):  # and elsewhere it is the same posture
        assert np.array_equal(getattr(free, name)[~long], getattr(usual, name)[~long])
    assert free.stance_m[long] == pytest.approx(assumption("long_stance").typical * 1.61)


def test_the_longer_base_carries_the_pull_by_the_moments_about_the_floor():
    # independent: Σ m g x + z P = N x_c of the links alone, masses and centres of winter_2009 from the file
    given = {"stature_m": 1.61, "mass_kg": 74.0, "sex": "F", "bed_height_m": 0.85, "hand_height_m": 0.95}
    given |= {"shoe_friction": 0.8, "reach_m": 0.45, "pull_n": 300.0}
    usual, long = hold_posture(**given), hold_posture(**given, weight_shift=True)
    assert not usual.can_be_held
    assert long.can_be_held, long.reason
    assert np.diff(long.base_m)[0] > np.diff(usual.base_m)[0] + 0.2
    part = {r["segment"]: r for r in table("segments_winter")}
    at = long.joint_positions_m

    def between(a: str, b: str, fraction: float) -> float:
        return at[a][0] + fraction * (at[b][0] - at[a][0])

    mass = {s: float(part[s]["mass"]) for s in part}
    grip = np.hypot(at["hand"][0] - at["elbow"][0], at["hand"][1] - at["elbow"][1])
    length = {r["item"]: float(r["fraction_of_stature"]) * 1.61 for r in table("stature_fractions")}
    heel_to_ankle = assumption("ankle_from_heel").typical * length["foot length"]
    moments = [
        (mass["trunk"], between("hip", "shoulder", 0.5)),
        (mass["head_neck"], at["head"][0]),
        (2 * mass["upper_arm"], between("shoulder", "elbow", 0.436)),
        (2 * mass["forearm_hand"], between("elbow", "hand", 0.682 * length["forearm"] / grip)),
        (2 * mass["thigh"], between("hip", "knee", 0.433)),
        (2 * mass["leg"], between("knee", "ankle", 0.433)),
        (2 * mass["foot"], at["ankle"][0] + 0.5 * (length["foot length"] - heel_to_ankle)),
    ]
    rest = 1.0 - sum(m for m, _ in moments)
    assert abs(rest) < 2e-3  # the printed masses add up to that
    pressed = sum(m * x for m, x in moments) + 300.0 * 0.95 / (74.0 * G)
    assert long.cop_m == pytest.approx(pressed, abs=2e-3)
    assert long.base_m[0] <= long.cop_m <= long.base_m[1] + 0.01


def test_nobody_manages_less_who_may_shift_weight_and_a_hold_is_what_it_was():
    usual, shifts = examples.boost(), examples.boost(**SHIFTS)
    hands = [
        Hands(Person("F", 1.61, 74.0), level, 0.0, reach, 0.1, hold_s=hold)
        for level in (1.0, -1.0)
        for reach in (0.1, 0.45, 0.7)
        for hold in (0.0, 30.0)
    ]
    before, after = (capacities([(case, one) for one in hands]) for case in (usual, shifts))
    assert all(b.force_n >= a.force_n - 1e-6 for a, b in zip(before, after, strict=True))
    assert [b for h, b in zip(hands, after, strict=True) if h.hold_s] == [
        a for h, a in zip(hands, before, strict=True) if h.hold_s
    ]


# --- all of them ---

EVERY = {
    "limbs laid over": (examples.side_lying_turn, LAID_OVER, "ankle crossed and arm tucked", "No ankle is crossed"),
    "turn assist": (examples.side_lying_turn, ASSISTED, "the bed's turn assist", "as the bed's maker says"),
    "weight shift": (examples.boost, SHIFTS, "weight shift", "a dry, free floor"),
    "head down": (examples.boost, HEAD_DOWN, "head down by 12°", "raised pressure in the head, a risk of reflux"),
}
"""The case that uses it, how it says so, and its caution (common practice, no source)."""


@pytest.mark.parametrize("used", EVERY)
def test_what_is_used_stands_in_every_answer_with_its_caution_and_not_where_it_is_off(used):
    make, more, said, caution = EVERY[used]
    on, off = make(**more), make()
    assert (used_besides(off), cautions_of(off)) == ((), CAUTIONS)
    assert [said in words for words in used_besides(on)] == [True]
    first, *rest = cautions_of(on)
    assert caution in first
    assert tuple(rest) == CAUTIONS
    answer = smallest_team(on, with_aids=False)
    pages = [assessment_answer(assess(on)), team_answer(answer), case_report(answer), case_report(answer, annex=True)]
    for page in pages:
        text = markdown_page(page)
        assert said in text
        assert caution in text
    assert said not in markdown_page(case_report(smallest_team(off, with_aids=False), annex=True))
    assert parse_scenario(json.loads(on.model_dump_json(exclude_none=True))) == on
    assert any(f"{field} = " in dump_scenario(on) for part in more.values() for field in part)


def test_no_caution_where_a_case_has_no_move_that_uses_it():
    boost = examples.boost(handling={"ankle_crossed_arm_tucked": True}, bed={"turn_assist_deg": 20.0})
    assert (used_besides(boost), cautions_of(boost)) == ((), CAUTIONS)
    assert cautions_of(examples.side_lying_turn(bed={"tilt_deg": -10.0})) == CAUTIONS
    head_up = examples.boost(bed={"tilt_deg": 10.0})
    assert "uphill" in used_besides(head_up)[0]
    assert cautions_of(head_up) == CAUTIONS


def test_legs_of_a_patient_with_spinal_precautions_are_kept_in_line_first():
    case = examples.side_lying_turn(**LAID_OVER)
    spine = case.patient.model_copy(update={"spinal_precautions": "thoracolumbar"})
    assert cautions_of(case.model_copy(update={"patient": spine}))[0].startswith("Spinal precautions are stated")


def test_the_working_names_what_moved_and_the_card_what_to_do_first():
    case = examples.side_lying_turn(**LAID_OVER, **ASSISTED)
    working = {row[1]: row[2] for row in working_rows(assess(case).moves[0]).rows}
    moved = Units().show_length(float(build_case(case).limbs_over_m))
    assert working["centre of mass moved by limbs laid over"] == moved
    assert working["rolled by the bed's turn assist"] == "30.0°"
    card = markdown_page(bedside_card(smallest_team(case, with_aids=False)))
    assert "far ankle over the near one" in card
    assert "turn assist up to 30° first" in card
    boost = markdown_page(bedside_card(smallest_team(examples.boost(**HEAD_DOWN), with_aids=False)))
    assert "head down by 12° for the boost only" in boost


def test_json_has_what_is_used_and_its_cautions(tmp_path, capsys):
    file = tmp_path / "case.toml"
    file.write_text(dump_scenario(examples.side_lying_turn(**LAID_OVER, **ASSISTED)), encoding="utf-8")
    assert main(["assess", str(file), "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert len(data["used_besides"]) == 2
    assert len(data["cautions"]) == 2 + len(CAUTIONS)


@pytest.mark.parametrize("more", [LAID_OVER, ASSISTED, SHIFTS])
@pytest.mark.parametrize("procedure", ["side-lying turn", "prone turn"])
def test_a_mirrored_case_has_the_mirrored_answer(more, procedure):
    make = examples.side_lying_turn if procedure == "side-lying turn" else examples.prone_turn
    given = () if procedure == "side-lying turn" else (82.0, "cotton draw sheet")
    bed = more.get("bed", {})
    left, right = (
        make(*given, **more | {"bed": bed | {"equipment_side": side}, "team": {"left": a, "right": b}})
        for side, a, b in (("left", 2, 1), ("right", 1, 2))
    )
    one, two = assess(left), assess(right)
    assert [m.effort for m in one.moves] == pytest.approx([m.effort for m in two.moves], rel=1e-9)
    forces = [
        sorted((load.person.side == side, load.start_n) for m in result.moves for load in m.loads if load.person.side)
        for side, result in (("left", one), ("right", two))
    ]
    assert [far for far, _ in forces[0]] == [far for far, _ in forces[1]]
    assert [n for _, n in forces[0]] == pytest.approx([n for _, n in forces[1]], rel=1e-9)


def test_every_fault_of_the_new_fields_is_told_at_once():
    patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    case = {"name": "x", "procedure": "own sequence", "patient": patient, "moves": [{"kind": "side-lying turn"}]}
    case["moves"].append({"kind": "side-lying turn", "angle_deg": 25.0})
    parse_scenario(case | {"bed": {"turn_assist_deg": 20.0}})
    case |= {"bed": {"turn_assist_deg": 30.0}, "handling": {"weight_shift": 1, "ankle_crossed_arm_tucked": "yes"}}
    with pytest.raises(InputError) as error:
        parse_scenario(case)
    fields = {fault.field for fault in error.value.faults}
    assert fields == {"handling.weight_shift", "handling.ankle_crossed_arm_tucked", "moves.1.angle_deg"}
    with pytest.raises(InputError, match=r"bed\.turn_assist_deg = 41: 0 to 40 \[deg\]"):
        examples.boost(bed={"turn_assist_deg": 41})


def test_off_is_the_statics_without_them_to_the_last_digit():
    plain = examples.side_lying_turn()
    case, found = build_case(plain), instants(plain)
    off = {"turn_assist_deg": 0.0}, {"ankle_crossed_arm_tucked": False, "weight_shift": False}
    assert plain == examples.side_lying_turn(bed=off[0], handling=off[1])
    # m g (p + η loss arm) and nothing more
    at = rolled_support(case.body.outline, case.mattress, found.angle)
    moving = at.moment_arm_m + case.mattress.loss * at.loss_arm_m
    assert np.array_equal(found.resistance, found.weight_n[..., None] * np.abs(moving))
    # the stance of the evidence and a foot of drillis_contini_1966
    stands = {"stature_m": 1.7, "mass_kg": 70.0, "sex": "F", "reach_m": 0.3, "hand_height_m": 0.9, "bed_height_m": 0.8}
    base = hold_posture(**stands, pull_n=100.0).base_m
    assert base[1] - base[0] == pytest.approx((assumption("stance_between_feet").typical + 0.152) * 1.7)
