"""Friction measured on site: the closed form against a grid, and absurd readings refused."""

from __future__ import annotations

import random

import numpy as np
import pytest

from ergo.errors import InputError
from ergo.mechanics.friction import Contact, registry
from ergo.uncertainty.site_friction import update_friction
from ergo.units import G, numbers_in

SHEET = Contact("sheet", "linen", 0.33, 0.43, 0.55, "mcgill_kavcic_2005", "judgement", "")


def pull_of(mu: float, mass: float) -> float:
    return mu * mass * G


def test_posterior_equals_a_grid_posterior():
    """Bayes by brute force on a fine grid of ln μ, independent of the conjugate formula."""
    pulls, mass, repeat = [pull_of(m, 74.0) for m in (0.30, 0.34, 0.31)], 74.0, 0.10
    found = update_friction(SHEET, pulls, mass, repeat=repeat).after
    x = np.linspace(np.log(0.1), np.log(1.0), 200_001)
    sigma = np.log(0.55 / 0.33) / (2 * 1.6448536269514722)
    log_p = -0.5 * ((x - np.log(0.43)) / sigma) ** 2
    for mu in (0.30, 0.34, 0.31):
        log_p -= 0.5 * ((x - np.log(mu)) / repeat) ** 2
    p = np.exp(log_p - log_p.max())
    cumulative = np.cumsum(p) / p.sum()
    low, middle, high = (float(np.exp(x[np.searchsorted(cumulative, q)])) for q in (0.05, 0.5, 0.95))
    assert (found.mu_low, found.mu, found.mu_high) == pytest.approx((low, middle, high), rel=1e-3)


def test_many_pulls_forget_the_prior_and_none_are_needed_to_keep_it():
    many = update_friction(SHEET, [pull_of(0.25, 80.0)] * 400, 80.0).after
    assert many.mu == pytest.approx(0.25, rel=0.01)
    vague = update_friction(SHEET, [pull_of(0.25, 80.0)], 80.0, repeat=50.0).after
    assert vague.mu == pytest.approx(SHEET.mu, rel=0.01)


def test_a_pull_narrows_the_spread_and_lies_between_prior_and_reading():
    found = update_friction(SHEET, [pull_of(0.30, 70.0)], 70.0).after
    assert 0.30 < found.mu < SHEET.mu
    assert found.mu_high / found.mu_low < SHEET.mu_high / SHEET.mu_low


def test_densities_are_densities():
    found = update_friction(SHEET, [pull_of(0.36, 70.0)], 70.0)
    for density in (found.density_before, found.density_after):
        assert np.trapezoid(density, found.mu) == pytest.approx(1.0, abs=0.02)


@pytest.mark.parametrize("pull", [0.5, 5000.0, -20.0])
def test_an_absurd_pull_is_refused_with_the_allowed_range(pull):
    with pytest.raises(InputError, match="wrong unit, wrong mass"):
        update_friction(SHEET, [250.0, pull], 70.0)


def test_every_fault_is_listed():
    with pytest.raises(InputError) as caught:
        update_friction(SHEET, [], 2.0, pull_deg=80.0)
    assert {f.field for f in caught.value.faults} == {"mass_kg", "pull_deg", "pulls_n"}


@pytest.mark.parametrize("name", list(registry()))
def test_every_class_can_be_updated(name):
    contact = registry()[name].contacts[0]
    found = update_friction(contact, [pull_of(contact.mu, 75.0)], 75.0).after
    assert found.mu_low < found.mu < found.mu_high
    assert found.known == "site measurement"


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
