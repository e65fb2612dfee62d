"""Friction measured on site: the closed form against the joint normal distribution, and absurd readings refused."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
from scipy import linalg, stats

from ergo.assessment import demand_of
from ergo.errors import InputError
from ergo.inputs import examples
from ergo.mechanics.case import aid_of, build_case
from ergo.mechanics.friction import Contact, registry
from ergo.mechanics.sliding import body_slide_force
from ergo.teams.team_search import reasons_of
from ergo.uncertainty.site_friction import PulledPatient, mass_off, measured_aid, update_friction
from ergo.units import G, numbers_in

SHEET = Contact("sheet", "linen", 0.33, 0.43, 0.55, "mcgill_kavcic_2005", "judgement", "")


def patients(*frictions: tuple[float, ...], mass: float = 74.0) -> list[PulledPatient]:
    """Patients, each pulled some times at these frictions."""
    return [PulledPatient(tuple(mu * mass * G for mu in one), mass) for one in frictions]


def next_patient(prior_5: float, prior_95: float, pulled: list[tuple[float, ...]], repeat: float, between: float):
    """Percentiles of the next patient's friction: the joint normal of that patient and of every single pull,
    conditioned on the pulls; no formula of the update is used.
    """
    spread = np.log(prior_95 / prior_5) / (2 * stats.norm.ppf(0.95))
    middle = np.log(prior_5 * prior_95) / 2
    who = [-1, *(i for i, one in enumerate(pulled) for _ in one)]
    x = np.log([mu for one in pulled for mu in one])
    same = np.equal.outer(who, who)
    covariance = (spread**2 - between**2) + between**2 * same + np.diag([0.0, *[repeat**2] * len(x)])
    gain = covariance[0, 1:] @ linalg.inv(covariance[1:, 1:])
    found = stats.norm(middle + gain @ (x - middle), np.sqrt(covariance[0, 0] - gain @ covariance[1:, 0]))
    return np.exp(found.ppf([0.05, 0.5, 0.95]))


@pytest.mark.parametrize(
    "pulled",
    [[(0.30,)], [(0.30, 0.34, 0.31)], [(0.30, 0.34, 0.31), (0.41,), (0.36, 0.38)], [(0.33,)] * 9],
    ids=["one pull", "one patient", "three patients", "nine patients"],
)
def test_the_update_is_the_joint_normal_distribution_conditioned_on_every_single_pull(pulled):
    repeat, between = 0.10, 0.06
    found = update_friction(SHEET, patients(*pulled), repeat=repeat, between=between)
    ends = stats.triang((0.43 - 0.33) / 0.22, 0.33, 0.22).ppf([0.05, 0.95])  # what the draws make of the sheet
    assert found.before_5_50_95[::2] == pytest.approx(tuple(ends), rel=1e-9)
    assert found.after_5_50_95 == pytest.approx(tuple(next_patient(*ends, pulled, repeat, between)), rel=1e-9)


def test_low_and_high_are_the_5_and_95_percent_of_the_draws_before_and_after():
    found = update_friction(SHEET, patients((0.30, 0.34), (0.36,)))
    for contact, (low, _, high) in ((found.before, found.before_5_50_95), (found.after, found.after_5_50_95)):
        width = contact.mu_high - contact.mu_low
        drawn = stats.triang((contact.mu - contact.mu_low) / width, contact.mu_low, width)
        assert drawn.ppf([0.05, 0.95]) == pytest.approx([low, high], rel=1e-6)


def test_ten_pulls_of_one_patient_say_less_than_two_of_five_each_and_never_more_than_one_patient_can():
    one, five = patients((0.30,) * 10), patients(*[(0.30, 0.30)] * 5)
    of_one, of_five = update_friction(SHEET, one), update_friction(SHEET, five)
    assert 0.30 < of_five.after_5_50_95[1] < of_one.after_5_50_95[1] < of_one.before_5_50_95[1]
    thousand = update_friction(SHEET, patients((0.30,) * 1000))
    without_scatter = update_friction(SHEET, patients((0.30,)), repeat=1e-9)
    assert thousand.after_5_50_95 == pytest.approx(without_scatter.after_5_50_95, rel=2e-3)
    assert len(of_one.means) == 1


def test_many_patients_forget_the_starting_point_but_not_that_patients_differ():
    many = update_friction(SHEET, patients(*[(0.25,)] * 400), between=0.05)
    low, middle, high = many.after_5_50_95
    assert middle == pytest.approx(0.25, rel=0.01)
    assert np.log(high / low) == pytest.approx(2 * stats.norm.ppf(0.95) * 0.05, rel=0.02)
    vague = update_friction(SHEET, patients((0.25,)), repeat=50.0)
    assert vague.after_5_50_95 == pytest.approx(vague.before_5_50_95, rel=1e-3)


def test_a_pull_narrows_the_spread_and_lies_between_prior_and_reading():
    found = update_friction(SHEET, patients((0.30,)))
    assert 0.30 < found.after.mu < SHEET.mu
    assert found.after.mu_high / found.after.mu_low < SHEET.mu_high / SHEET.mu_low


def test_what_lies_beside_the_aid_is_not_counted_into_its_friction():
    """A case pulls the legs over the linen: measured like that, the aid must not carry their friction as well."""
    case = build_case(examples.boost(mass_kg=74.0, handling={"pull_angle_deg": 10.0}), {"mu_0": 0.37})
    on = case.covered
    mu = np.where(on, 0.37, case.linen_mu)
    level = {"slope_rad": 0.0, "breakaway": 1.0, "distance_m": 0.0, "time_s": 2.0}
    pull = body_slide_force(case.body.mass_kg, mu, case.body.position_m, pull_rad=np.radians(10.0), **level).steady_n
    off = mass_off("F", 74.0, ["head", "shanks", "feet"])
    assert off == pytest.approx(float(case.body.mass_kg[~on].sum()))
    found = update_friction(SHEET, [PulledPatient((float(pull),), 74.0, 10.0, off)])
    assert found.means == pytest.approx((0.37,), rel=1e-9)
    assert update_friction(SHEET, [PulledPatient((float(pull),), 74.0, 10.0)]).means[0] > 0.39


def test_a_pull_and_a_patient_far_from_the_others_are_named_and_counted():
    found = update_friction(SHEET, patients((0.30, 0.31, 0.62), (0.33,), (0.32,), (0.95,)))
    assert [(o.patient, o.pull) for o in found.outliers] == [(0, 2), (3, None)]
    assert found.outliers[0].times == pytest.approx(2.0)
    assert len(found.measured[0]) == 3
    assert not update_friction(SHEET, patients((0.30, 0.33, 0.36), (0.38,), (0.34,))).outliers
    assert [o.pull for o in update_friction(SHEET, patients((0.20, 0.45))).outliers] == [0, 1]


def test_densities_are_densities():
    found = update_friction(SHEET, patients((0.36,)))
    for density in (found.density_before, found.density_after):
        assert np.trapezoid(density, found.mu) == pytest.approx(1.0, abs=0.02)


@pytest.mark.parametrize("pull", [0.5, 5000.0, -20.0])
def test_an_absurd_pull_is_refused_with_the_allowed_range(pull):
    with pytest.raises(InputError, match="wrong unit, wrong mass"):
        update_friction(SHEET, [PulledPatient((250.0, pull), 70.0)])
    with pytest.raises(InputError, match=r"patients\.0\.pulls_n\.0 = 60\.0"):  # less than the legs alone drag
        update_friction(SHEET, [PulledPatient((60.0,), 70.0, 0.0, 13.0)])


def test_every_fault_is_listed():
    with pytest.raises(InputError) as caught:
        update_friction(SHEET, [PulledPatient((), 2.0, pull_deg=80.0), PulledPatient((200.0,), 70.0, off_kg=70.0)])
    found = {f.field for f in caught.value.faults}
    assert found == {*(f"patients.0.{name}" for name in ("mass_kg", "pull_deg", "pulls_n")), "patients.1.off_kg"}
    with pytest.raises(InputError, match="at least one"):
        update_friction(SHEET, [])


@pytest.mark.parametrize("name", list(registry()))
def test_every_class_can_be_updated(name):
    contact = registry()[name].contacts[0]
    found = update_friction(contact, patients((contact.mu,))).after
    assert found.mu_low < found.mu < found.mu_high
    assert found.known == "site measurement"


@pytest.mark.parametrize("name", list(registry()))
def test_a_measured_aid_differs_from_the_one_it_is_like_in_the_friction_of_the_layer_alone(name):
    aid = registry()[name]
    kind = "lateral_transfer" if "lateral" in aid.serves else "boost" if "slide" in aid.serves else "side_lying_turn"
    case = getattr(examples, kind)(82.0, name)
    found = update_friction(aid.contacts[0], [PulledPatient((150.0, 160.0), 75.0)])
    own = measured_aid(aid, 0, replace(found, after=aid.contacts[0]))
    measured = case.model_copy(update={"own_aids": (own,), "aid": own.name})
    here, there = (reasons_of(demand_of(c)) for c in (case, measured))
    assert (there.left, there.right, there.people) == (here.left, here.right, here.people)
    assert there.effort == pytest.approx(here.effort)
    assert aid_of(measured).far_edge == aid.far_edge


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("250, 262, 247", (250, 262, 247)),
        ("250 262 247", (250, 262, 247)),
        ("31.5,  33 , 32.5,", (31.5, 33, 32.5)),
        ("31,5 33 32,5", (31.5, 33, 32.5)),
        (" 31,5; 33;32,5 ;", (31.5, 33, 32.5)),
        ("31,5;", (31.5,)),
        ("31.5", (31.5,)),
        ("31\n32\t33", (31, 32, 33)),
        ("", ()),
    ],
)
def test_pulls_are_read_in_the_readers_own_way_of_writing(text, numbers):
    assert numbers_in(text) == numbers


@pytest.mark.parametrize(
    "text",
    [
        *(
            "31, 33, 32,5",
            "31,5",
            "250,262,247",
            "31.5 32,5",
            "31.5; 32,5",
            "1.234,5",
            "31;; 32,,5",
            "1e3",
            "nan",
            "inf",
        ),
        *("31 N", "250-262", "٣١", "31,5 33, 32", "1_000", "31 . 5"),
    ],
)
def test_pulls_that_could_mean_two_things_are_asked_back_with_how_to_write_them(text):
    with pytest.raises(InputError) as caught:
        numbers_in(text, "pulls")
    assert caught.value.faults[0].allowed == "numbers written in one way: 31.5, 33 or 31,5; 33"


@pytest.mark.parametrize(
    ("text", "numbers"),
    [("32,5", (32.5,)), ("250,262", (250.262,)), ("31,5 33 32,5", (31.5, 33, 32.5)), ("31.5", (31.5,))],
)
def test_a_number_alone_with_a_decimal_comma_is_one_number_for_a_reader_who_writes_one(text, numbers):
    assert numbers_in(text, decimal_comma=True) == numbers


@pytest.mark.parametrize("text", ["32,5 31.0", "32.5; 31,0", "1.234,5", "250,262,247"])
def test_mixed_notation_is_asked_back_from_every_reader(text):
    for comma in (True, False):
        with pytest.raises(InputError, match="written in one way"):
            numbers_in(text, decimal_comma=comma)


def test_no_row_of_numbers_is_read_as_more_numbers_than_were_written():
    """Random rows by seed: each way of writing reads back, and mixed decimal marks never do."""
    rng = random.Random(6)
    for _ in range(500):
        numbers = [round(rng.uniform(10, 900), rng.randrange(3)) for _ in range(rng.randrange(2, 7))]
        for mark, parting in ((".", ", "), (".", " "), (".", "; "), (",", " "), (",", "; ")):
            text = parting.join(f"{n:g}".replace(".", mark) for n in numbers)
            assert numbers_in(text) == tuple(numbers)
        if any("." in f"{n:g}" for n in numbers):
            with pytest.raises(InputError):
                numbers_in(", ".join(f"{n:g}".replace(".", ",") for n in numbers))
