"""The Body page, its figures and `ergo height`: the numbers of the library, in the reader's units."""

from __future__ import annotations

import dataclasses
import json
import math

import numpy as np
import pytest

from ergo.assessment import assess, demand_of
from ergo.cli.main import main
from ergo.handlers.posture import hold_posture
from ergo.handlers.strength import endurance_time, strength
from ergo.inputs.scenario import Scenario, load_scenario, parse_scenario
from ergo.limits.registry import LIMITS
from ergo.report.figures.drawing import Arrow, Label, Line, Mark
from ergo.report.figures.endurance_curve import endurance_curve
from ergo.report.figures.height_curve import height_curve
from ergo.report.figures.posture_view import posture_view
from ergo.report.figures.render_plotly import plotly_spec
from ergo.report.figures.render_svg import svg
from ergo.report.marks_and_amounts import limit_amount
from ergo.report.tables.handler import body_rows, height_words, low_back_rows
from ergo.teams.bed_height import best_height, team_height
from ergo.teams.handler_detail import handler_detail, people_of
from ergo.teams.hold_times import hold_times
from ergo.teams.smallest_team import Search
from ergo.units import Units
from tests.tools.pages import calm, opened_alone, words

BOOST, LIMB = load_scenario("scenarios/boost_flat.toml"), load_scenario("scenarios/limb_hold.toml")
FAR = load_scenario("scenarios/side_turn_slide_sheet.toml")
_ALONE = {"patient": {"sex": "M", "mass_kg": 250.0, "stature_m": 1.76}, "team": {"left": 1, "right": 1}}
UNHELD = parse_scenario({"name": "too heavy for two", "procedure": "boost", **_ALONE})
FREE = FAR.model_copy(update={"handling": FAR.handling.model_copy(update={"brace": "none"})})


def hardest(scenario: Scenario):
    demand = demand_of(scenario)
    result = assess(scenario)
    move = max((m for m in result.moves if people_of(m)), key=lambda m: people_of(m)[0][1].body.compression_n)
    return demand, people_of(move)[0]


@pytest.fixture
def page(monkeypatch: pytest.MonkeyPatch):
    return lambda scenario: opened_alone(scenario, "body", monkeypatch)


@pytest.mark.parametrize("scenario", [BOOST, LIMB], ids=["boost", "limb hold"])
def test_the_body_shown_is_the_body_the_assessment_judged(scenario):
    demand, (effort, load) = hardest(scenario)
    seen = handler_detail(demand, effort, load)
    assert seen.load == load
    # the drawing's search starts from several postures, the assessment's from one
    assert seen.posture.compression_n == pytest.approx(load.body.compression_n, rel=0.02)
    assert seen.posture.shear_n == pytest.approx(load.body.shear_n, rel=0.05, abs=5)
    assert seen.posture.floor_friction == pytest.approx(load.body.floor_friction)


def test_the_page_shows_the_numbers_of_the_library(page):
    demand, (effort, load) = hardest(BOOST)
    seen = handler_detail(demand, effort, load)
    said = words(page(BOOST))
    assert f"{load.body.compression_n:.0f} N" in said
    assert f"{seen.posture.muscle_n:.0f} N" in said
    moment = next(c for c in seen.limits if c.key == "elbow_strength")
    assert limit_amount(moment.amount, "N m", Units()) in said
    assert height_words(best_height(BOOST)) in said


def test_a_unit_changes_what_is_shown_and_nothing_else(page):
    app = page(BOOST)
    before = app.session_state["ergo.inputs.scenario"]
    _, (_, load) = hardest(BOOST)
    app.selectbox(key="ergo.force").set_value("lbf")
    app.selectbox(key="ergo.length").set_value("ft-in").run()
    calm(app)
    assert app.session_state["ergo.inputs.scenario"] == before
    assert f"{load.body.compression_n / 4.4482216152605:.0f} lbf" in words(app)


def test_bed_height_technique_brace_shoes_and_back_arm_change_the_case_and_the_answer(page):
    app = page(BOOST)
    first = words(app)
    app.number_input(key="in.bed.height_m.cm").set_value(60.0)
    app.selectbox(key="in.handling.technique").set_value("best")
    app.selectbox(key="in.handling.brace").set_value("thigh")
    app.selectbox(key="in.handling.back_arm_m").set_value(0.05)
    app.slider(key="body.shoes").set_value(0.4)
    app.run()
    calm(app)
    case = app.session_state["ergo.inputs.scenario"]
    assert (case.bed.height_m, case.handling.technique, case.handling.brace) == (0.6, "best", "thigh")
    assert (case.handling.back_arm_m, case.handling.shoe_friction) == (0.05, 0.4)
    _, (_, load) = hardest(case)
    assert f"{load.body.compression_n:.0f} N" in words(app) != first


def test_another_person_changes_this_page_only_and_can_be_taken_back(page):
    app = page(BOOST)
    before = app.session_state["ergo.inputs.scenario"]
    demand, (effort, load) = hardest(BOOST)
    (mass,) = [w for w in app.number_input if w.key.endswith(".mass_kg.kg") and w.key.startswith("person.")]
    mass.set_value(120.0).run()
    calm(app)
    heavier = handler_detail(demand, effort, load, mass_kg=120.0)
    assert heavier.load.body.compression_n > load.body.compression_n
    assert f"{heavier.load.body.compression_n:.0f} N" in words(app)
    assert app.session_state["ergo.inputs.scenario"] == before
    app.button(key="body.back").click().run()
    assert f"{load.body.compression_n:.0f} N" in words(app)


def test_what_cannot_be_held_is_said_in_words(page):
    _, (_, load) = hardest(UNHELD)
    assert not load.body.can_be_held
    assert load.body.reason.removeprefix("cannot") in words(page(UNHELD)).replace("&#x27;", "'")


def test_a_reach_outside_any_posture_is_said_not_raised(page):
    app = page(BOOST)
    (reach,) = [w for w in app.number_input if w.key.endswith(".reach_m.cm")]
    reach.set_value(150.0).run()
    calm(app)
    assert "Cannot be held" in words(app)


def test_every_move_person_and_action_can_be_chosen(page):
    app = page(load_scenario("scenarios/own_measured_aid.toml"))
    (move,) = [w for w in app.selectbox if w.key.startswith("body.move")]
    for i in range(len(move.options)):
        move.set_value(i).run()
        calm(app)
        (person,) = [w for w in app.selectbox if w.key.startswith("body.person")]
        person.set_value(len(person.options) - 1).run()
        calm(app)
        (action,) = [w for w in app.selectbox if w.key.startswith("body.action")]
        action.set_value(len(action.options) - 1).run()
        calm(app)
        (move,) = [w for w in app.selectbox if w.key.startswith("body.move")]


# --- the library behind it ---


def test_the_elbow_has_its_own_limit_that_is_shown_and_decides_nothing():
    demand, (effort, load) = hardest(LIMB)
    check = next(c for c in handler_detail(demand, effort, load).limits if c.key == "elbow_strength")
    assert not check.decides
    assert check.amount == pytest.approx(abs(load.body.elbow_moment_nm))
    joint = "elbow flexion" if load.body.elbow_moment_nm > 0 else "elbow extension"
    assert check.limit == pytest.approx(float(strength(joint, "F").percentile(25)))
    assert "elbow_strength" in {limit.key for limit in LIMITS}


def test_the_working_adds_up_to_the_figures_against_the_limits():
    demand, (effort, load) = hardest(BOOST)
    seen = handler_detail(demand, effort, load)
    working = {row[0]: row[1] for row in low_back_rows(seen).rows}
    parts = [float(amount.split()[0]) for name, amount in working.items() if name.startswith("compression from")]
    assert len(parts) == 5
    assert sum(parts) == pytest.approx(seen.posture.compression_n, abs=2.5)
    shown = {row[2]: row[1] for row in body_rows(seen).rows}
    label = "load of the lowest disc (L5/S1 compression), lower limit 3.4 kN"
    assert shown[label] == f"{load.body.compression_n:.0f} N"


def test_the_best_height_is_no_worse_than_any_other_where_everybody_can_hold():
    result = assess(BOOST)
    found = team_height(result)
    assert found.ratio == pytest.approx(float(np.min(found.worst_ratio[found.can_be_held])))
    assert found.saved_n == pytest.approx((found.present_ratio - found.ratio) * found.limit_n)
    # one person of the team at that height, posture by posture, is not above what was promised
    load = max((x for m in result.moves for x in m.loads), key=lambda x: x.start_n)
    for other in result.moves[0].loads:
        held = hold_posture(
            stature_m=other.person.stature_m,
            mass_kg=other.person.mass_kg,
            sex=other.sex,
            reach_m=load.reach_m,
            hand_height_m=found.height_m + load.hand_height_m - BOOST.bed.height_m,
            bed_height_m=found.height_m,
            pull_n=load.pull_n,
            lift_n=load.lift_n,
        )
        assert held.compression_n <= 1.02 * found.ratio * found.limit_n


@pytest.mark.parametrize("towards_m", [0.59, 0.65])
def test_a_height_that_asks_for_more_people_is_never_offered(monkeypatch, towards_m):
    patient = {"sex": "M", "mass_kg": 90.0, "stature_m": 1.75}
    case = parse_scenario({"name": "x", "procedure": "side-lying turn", "patient": patient})

    def people(height_m):
        bed = case.bed.model_copy(update={"height_m": height_m})
        return Search(case.model_copy(update={"bed": bed})).first.people

    def lightest_far_away(result):
        found = team_height(result)
        at = int(np.argmin(np.abs(found.heights_m - towards_m)))
        worst = np.abs(found.heights_m - found.heights_m[at]) + 0.1
        able = np.ones(len(worst), dtype=bool)
        new = {"height_m": float(found.heights_m[at]), "ratio": 0.1, "worst_ratio": worst, "can_be_held": able}
        return dataclasses.replace(found, **new, present_ratio=2.0, found=True)

    monkeypatch.setattr("ergo.teams.bed_height.team_height", lightest_far_away)
    found, now = best_height(case), people(case.bed.height_m)
    assert now is not None
    assert people(found.height_m) <= now
    if (people(towards_m) or 99) > now:
        assert "would ask for more people" in found.why


def test_where_only_a_lift_will_do_no_height_is_offered_that_no_limit_covers():
    patient = {"sex": "F", "mass_kg": 170.1, "stature_m": 1.75}
    data = {"name": "x", "procedure": "lateral transfer", "aid": "cotton draw sheet", "patient": patient}
    case = parse_scenario(data | {"bed": {"height_m": 0.66}})
    best = best_height(case)
    there = case.model_copy(update={"bed": case.bed.model_copy(update={"height_m": best.height_m})})
    assert Search(case).first.needs == "lift"
    assert Search(there).first.needs != "no limit"


@pytest.mark.parametrize("case", [BOOST, LIMB], ids=["boost", "limb hold"])
def test_the_height_is_that_of_the_smallest_team(case):
    team = case.team.model_copy(update={"left": 6, "right": 6})
    assert height_words(best_height(case.model_copy(update={"team": team}))) == height_words(best_height(case))


def test_holds_are_compared_with_endurance_at_the_persons_own_strength():
    held = {h.region: h for h in hold_times(assess(LIMB))}
    shoulder = held["shoulder"]
    assert shoulder.seconds == 30.0
    assert shoulder.endurance_s == pytest.approx(float(endurance_time(shoulder.fraction, "shoulder").time_s))
    assert shoulder.ratio == pytest.approx(shoulder.seconds / shoulder.endurance_s)
    assert not hold_times(assess(BOOST))  # nobody holds on to a slide


# --- figures ---


def test_the_side_view_draws_the_hand_force_to_scale_and_the_finding():
    demand, (effort, load) = hardest(BOOST)
    seen = handler_detail(demand, effort, load)
    drawing = posture_view(seen, BOOST.bed.width_m)
    arrow = next(i for i in drawing.items if isinstance(i, Arrow) and i.hover.startswith("force of the hands"))
    assert arrow.tail == seen.posture.joint_positions_m["hand"]
    dx, dy = arrow.head[0] - arrow.tail[0], arrow.head[1] - arrow.tail[1]
    assert dx < 0  # towards the person
    assert dy / -dx == pytest.approx(load.lift_n / load.pull_n)
    assert f"{seen.posture.compression_n:.0f} N" in drawing.alt
    assert f"{seen.posture.compression_n:.0f} N" in svg(drawing)
    assert plotly_spec(drawing)["data"]


@pytest.mark.parametrize("scenario", [BOOST, LIMB], ids=["boost", "limb hold"])
def test_each_force_times_the_arm_drawn_for_it_adds_up_to_the_moment_about_the_disc(scenario):
    demand, (effort, load) = hardest(scenario)
    seen = handler_detail(demand, effort, load)
    back, disc = seen.posture.low_back, seen.posture.joint_positions_m["l5s1"]
    drawing = posture_view(seen, scenario.bed.width_m)
    arms = [i for i in drawing.items if isinstance(i, Line) and i.colour == "equipment" and i.points[0] == disc]
    hands, weight, muscles = (math.dist(*line.points) for line in arms)
    above = math.hypot(back.compression_from_weight_n, back.shear_from_weight_n)
    moment = math.hypot(load.pull_n, load.lift_n) * hands + above * weight
    assert moment == pytest.approx(back.moment_nm)
    assert moment == pytest.approx(back.muscle_n * muscles)
    labels = " ".join(i.text for i in drawing.items if isinstance(i, Label))
    for length in (hands, weight, muscles):
        assert f"arm {100 * length:.0f} cm" in labels


def test_a_brace_is_drawn_where_it_touches():
    far = load_scenario("scenarios/lateral_cotton.toml")
    demand = demand_of(far)
    effort, load = next(pair for pair in people_of(assess(far).moves[0]) if pair[1].body.brace_n > 100.0)
    seen = handler_detail(demand, effort, load)
    assert seen.posture.brace_n == pytest.approx(load.body.brace_n, rel=0.02)
    drawing = posture_view(seen, far.bed.width_m)
    assert any(isinstance(i, Mark) and i.at == seen.posture.brace_at_m for i in drawing.items)
    assert any(isinstance(i, Label) and i.text.startswith("brace") for i in drawing.items)


def test_the_height_curve_marks_now_and_best_in_percent_and_the_readers_length():
    found = team_height(assess(BOOST))
    drawing = height_curve(found, Units(length="ft-in"))
    labels = [i.text for i in drawing.items if isinstance(i, Label)]
    assert f"now {100 * found.present_ratio:.0f} %" in labels
    assert f"best {100 * found.ratio:.0f} %" in labels
    assert all("ft" in text or "in" in text for _, text in drawing.x.ticks)


def test_the_endurance_curve_has_a_mark_for_every_hold_at_its_effort_and_time():
    holds = hold_times(assess(LIMB))
    drawing = endurance_curve(holds)
    marks = [i for i in drawing.items if isinstance(i, Mark)]
    assert [m.at[0] for m in marks] == pytest.approx([100 * h.fraction for h in holds if h.region == "shoulder"])
    assert 10 ** marks[0].at[1] == pytest.approx(30.0)


def test_facing_the_head_of_the_bed_is_asked_for_in_a_boost_alone_and_spares_the_back(page):
    app = page(BOOST)
    first = hardest(BOOST)[1][1].body
    app.number_input(key="in.handling.facing_deg").set_value(80.0).run()
    calm(app)
    case = app.session_state["ergo.inputs.scenario"]
    assert case.handling.facing_deg == 80.0
    turned = hardest(case)[1][1].body
    assert abs(turned.twist_nm) < abs(first.twist_nm)
    assert turned.compression_n < first.compression_n
    assert f"{turned.compression_n:.0f} N" in words(app)
    assert not [w for w in page(LIMB).number_input if "facing" in w.key]


# --- command line ---


def test_ergo_height_prints_the_library_in_text_and_json(capsys):
    found = best_height(BOOST)
    assert main(["height", "scenarios/boost_flat.toml", "--length", "ft-in"]) == 0
    assert height_words(found, Units(length="ft-in")) in capsys.readouterr().out
    assert main(["height", "scenarios/boost_flat.toml", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["best"]["height_m"] == found.height_m
    assert data["best"]["saved_n"] == found.saved_n
    assert len(data["curve"]) == len(found.heights_m)


def test_a_posture_that_nobody_can_hold_is_no_fault_however_far_its_trunk_leans():
    patient = {"sex": "M", "mass_kg": 350.0, "stature_m": 1.2}
    bed = {"width_m": 1.6, "height_m": 1.3, "tilt_deg": -20.0}
    handling = {"grip_gap_m": 0.0, "hand_height_m": 0.0, "slide_time_s": 0.5, "shoe_friction": 1.5, "brace": "thigh"}
    case = {"name": "x", "procedure": "return to supine", "patient": patient, "bed": bed, "handling": handling}
    case["aid"] = "own"
    pair = {"upper": "a", "lower": "b", "mu_low": 0.01, "mu": 0.01, "mu_high": 2.0}
    scenario = parse_scenario(case | {"own_aids": [{"name": "own", "interfaces": [pair]}]})
    demand = demand_of(scenario)
    for move in assess(scenario).moves:
        for effort, load in people_of(move):
            assert math.isfinite(handler_detail(demand, effort, load).posture.compression_n)
