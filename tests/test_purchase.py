"""The purchase: hand-computed money, an independent library, ranges, and evidence that is mixed."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy_financial
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ergo.errors import InputError
from ergo.evidence import row
from ergo.inputs.purchase import Ranged, dump_purchase, load_purchase, parse_purchase, read_purchase
from ergo.purchases.cost_model import Band, compare_purchase
from ergo.purchases.finance import break_even_events, npv, payback_years
from ergo.purchases.modelled_moves import modelled_move
from ergo.report.documents.purchase import purchase_document
from ergo.report.markdown import markdown_page, plain
from ergo.report.sentences_purchase import purchase_answer
from ergo.unit.computing_time import StoppedError

EXAMPLE = load_purchase(Path(__file__).parent.parent / "scenarios" / "purchases" / "turning_pad.toml")


def flat(value):
    return {"typical": float(value)}


def move(people, minutes):
    return {"procedure": "boost", "people": flat(people), "minutes": flat(minutes), "basis": "by hand"}


def hand(**more):
    """6000 boosts a year; at present 4 people x 3 min, with the aid 2 people x 3 min; 40 an hour, benefits 20 %."""
    data = {
        "name": "by hand", "currency": "€", "wage_per_h": flat(40), "wage_basis": "by hand, 2025",
        "benefits_share": 0.2, "realised_share": flat(0.5), "patients_a_year": flat(100),
        "heaviest_patient_kg": 150.0, "horizon_years": 5.0, "discount_rate": 0.05,
        "volumes": [{"procedure": "boost", "events_a_year": flat(6000)}],
        "options": [
            {"name": "now", "kind": "present practice", "price": flat(0), "moves": [move(4, 3)]},
            {"name": "aid", "kind": "aid", "price": flat(500), "items": 10, "uses_per_item": flat(3000),
             "laundering_per_use": flat(0.5), "training_hours": flat(20), "pumps": 1, "pump_price": flat(2000),
             "yearly_cost": flat(500), "moves": [move(2, 3)]},
        ],
    }  # fmt: skip
    return {**data, **more}


def test_the_small_purchase_by_hand():
    """Paid hour 40 / 0.8 = 50. Hours 1200 and 600 a year; 600 saved, half of it realised: 15,000.

    A year with the aid: 6000/3000 x 500 = 1000 of new items, 3000 of laundering, 500: 4500; saving 10,500.
    At first: 10 x 500 + 2000 + 20 x 50 = 8000. Payback 8000 / 10,500; over five years 52,500 - 8000.
    Break-even: (8000 / 4.3295 + 500) / ((15,000 - 4000) / 6000) events a year.
    """
    aid = compare_purchase(parse_purchase(hand())).options[1]
    assert (aid.people_hours.typical, aid.hours_saved.typical) == (pytest.approx(600), pytest.approx(600))
    assert aid.first_cost.typical == pytest.approx(8000)
    assert aid.yearly_cost.typical == pytest.approx(4500)
    assert aid.yearly_saving.typical == pytest.approx(10_500)
    assert aid.payback.typical == pytest.approx(8000 / 10_500)
    assert aid.total_without.typical - aid.total_with.typical == pytest.approx(44_500)
    assert aid.npv.typical == pytest.approx(10_500 * 4.329477 - 8000, rel=1e-6)
    assert aid.break_even_events.typical == pytest.approx((8000 / 4.329477 + 500) / (11_000 / 6000), rel=1e-6)
    assert aid.cost_per_event.typical == pytest.approx((4500 + 8000 / 5) / 6000)


def test_ranges_that_are_points_give_bands_that_are_points():
    aid = compare_purchase(parse_purchase(hand())).options[1]
    assert aid.npv.p5 == pytest.approx(aid.npv.typical)
    assert aid.npv.p95 == pytest.approx(aid.npv.typical)
    assert (aid.probability_npv_positive, aid.one_way) == (1.0, ())


@given(
    st.floats(-1e5, 1e5), st.floats(-1e5, 1e5), st.floats(0, 0.2), st.integers(1, 20)
)  # fmt: skip
def test_net_present_value_equals_that_of_an_independent_library(first, saving, rate, years):
    expected = numpy_financial.npv(rate, [-first] + [saving] * years)
    assert npv(first, saving, rate, years) == pytest.approx(expected, rel=1e-9, abs=1e-6)


@given(st.floats(1, 1e5), st.floats(1, 1e5))
def test_over_the_payback_an_independent_library_pays_off_the_first_cost_with_the_saving(first, saving):
    years = float(payback_years(first, saving))
    assert numpy_financial.pmt(0.0, years, -first) == pytest.approx(saving, rel=1e-9)


def test_the_rate_at_which_the_value_is_zero_is_the_internal_rate_of_return():
    rate = numpy_financial.irr([-8000.0] + [10_500.0 / 4] * 5)
    assert npv(8000.0, 10_500.0 / 4, rate, 5) == pytest.approx(0.0, abs=1e-6)


def test_what_never_pays_back_is_infinite_and_what_costs_nothing_pays_at_once():
    assert payback_years([10.0, 10.0, 0.0, -5.0], [0.0, -1.0, 1.0, 0.0]).tolist() == [np.inf, np.inf, 0.0, 0.0]
    assert break_even_events([10.0, 0.0], 0.0, [0.0, 1.0], 0.05, 5).tolist() == [np.inf, 0.0]


def test_at_the_break_even_volume_the_net_present_value_is_zero():
    events = compare_purchase(parse_purchase(hand())).options[1].break_even_events.typical
    changed = hand(volumes=[{"procedure": "boost", "events_a_year": flat(events)}])
    assert compare_purchase(parse_purchase(changed)).options[1].npv.typical == pytest.approx(0.0, abs=1e-6)


def pads(**more):
    """A single-patient aid of 30 for each of 100 patients."""
    data = hand(**more)
    data["options"][1] = {
        "name": "pad", "kind": "aid", "use": "single-patient", "price": flat(30), "moves": [move(2, 3)],
    }  # fmt: skip
    return compare_purchase(parse_purchase(data)).options[1]


def test_the_break_even_of_a_single_patient_aid_holds_the_patients_and_varies_the_moves_only():
    """100 patients x 30 = 3000 a year; a move saves 2 people x 3 min x 50 / 60 x 0.5 = 2.5: 1200 moves."""
    assert pads().break_even_events.typical == pytest.approx(1200)
    volume = [{"procedure": "boost", "events_a_year": flat(1200)}]
    assert pads(volumes=volume).npv.typical == pytest.approx(0.0, abs=1e-6)


def test_an_option_that_breaks_even_at_no_number_of_moves_says_so_in_words():
    option = replace(compare_purchase(EXAMPLE).options[1], break_even_events=Band(math.inf, 800.0, math.inf, math.inf))
    why = purchase_answer(compare_purchase(EXAMPLE), option)[1]
    assert "At typical values no number of moves a year is enough to break even; at best it takes 800." in why
    best = replace(option, break_even_events=Band(500.0, 200.0, 900.0, math.inf))
    why = purchase_answer(compare_purchase(EXAMPLE), best)[1]
    assert "from 500 moves a year on, the patients as stated (at best 200; at worst no number is enough)" in why
    assert "never moves" not in why


def test_people_and_minutes_that_the_file_leaves_out_come_from_the_model_and_are_said_to():
    data = hand()
    for option, aid in zip(data["options"], ("cotton draw sheet", "slide sheet"), strict=True):
        option["aid"] = aid
        option["moves"] = [{"procedure": "boost"}]
    case = compare_purchase(parse_purchase(data))
    for option, aid in zip(case.options, ("cotton draw sheet", "slide sheet"), strict=True):
        people, minutes = modelled_move("boost", aid)
        assert people.low <= people.typical <= people.high
        assert option.people_hours.typical == pytest.approx(6000 * people.typical * minutes.typical / 60)
        assert any("people and minutes computed, not counted" in said for said in option.unmeasured)
    assert modelled_move("boost", "cotton draw sheet")[0].typical > modelled_move("boost", "slide sheet")[0].typical
    assert modelled_move("boost", "")[1].typical == 12.0  # a mechanical lift


def test_people_left_out_without_an_aid_are_a_fault():
    data = hand()
    data["options"][1]["moves"] = [{"procedure": "boost", "minutes": flat(3)}]
    with pytest.raises(InputError, match=r"options\.1\.moves\.0\.people = \(left out\): must be given, or the aid"):
        parse_purchase(data)
    data["options"][1]["aid"] = "flying carpet"
    with pytest.raises(InputError, match=r"options\.1\.aid = 'flying carpet'"):
        parse_purchase(data)


def test_two_options_whose_names_meet_words_of_the_working_keep_their_own_figures():
    data = hand()
    data["options"][1]["name"] = "now: price"
    data["options"].append({**data["options"][1], "name": "now", "price": flat(900)})
    data["options"][0]["name"] = "before"
    first, second = compare_purchase(parse_purchase(data)).options[1:]
    assert (first.first_cost.typical, second.first_cost.typical) == (8000.0, 12_000.0)


def test_a_comparison_that_is_told_to_stop_stops():
    with pytest.raises(StoppedError):
        compare_purchase(EXAMPLE, progress=lambda part: False)


def test_a_single_patient_aid_is_bought_for_every_patient():
    data = hand()
    data["options"][1] = {
        "name": "pad", "kind": "aid", "use": "single-patient", "price": flat(30), "moves": [move(2, 3)],
    }  # fmt: skip
    assert compare_purchase(parse_purchase(data)).options[1].yearly_cost.typical == pytest.approx(3000)


def test_a_rented_turning_bed_and_a_ceiling_lift_stand_in_the_comparison():
    case = compare_purchase(EXAMPLE)
    kinds = {o.kind: o for o in case.options}
    assert kinds["turning bed"].yearly_cost.typical == pytest.approx(60 * 2190)
    assert kinds["ceiling lift"].first_cost.typical == pytest.approx(24 * 9000 + 60_000 + 180 * 45 / 0.7)
    assert "180 kg" in kinds["turning bed"].capacity
    assert kinds["ceiling lift"].capacity == ""


def test_present_practice_against_itself_saves_nothing():
    now = compare_purchase(EXAMPLE).options[0]
    for band in (now.hours_saved, now.yearly_saving, now.npv):
        assert (band.typical, band.p5, band.p95) == (0.0, 0.0, 0.0)


def test_the_seed_decides_the_bands_and_they_hold_the_middle():
    one, two = compare_purchase(EXAMPLE), compare_purchase(EXAMPLE)
    assert one == two
    other = compare_purchase(EXAMPLE.model_copy(update={"seed": 8}))
    for a, b in zip(one.options[1:], other.options[1:], strict=True):
        assert a.npv.p5 < a.npv.p50 < a.npv.p95
        assert a.npv.p50 == pytest.approx(b.npv.p50, abs=0.02 * (a.npv.p95 - a.npv.p5))


def test_the_one_way_table_moves_one_input_and_starts_with_the_largest_swing():
    case = compare_purchase(EXAMPLE)
    pad = case.options[1]
    swings = [abs(s.npv_high - s.npv_low) for s in pad.one_way]
    assert swings == sorted(swings, reverse=True)
    wage = next(s for s in pad.one_way if s.what == "wage")
    dear = EXAMPLE.model_copy(update={"wage_per_h": Ranged(typical=wage.high)})
    assert compare_purchase(dear).options[1].npv.typical == pytest.approx(wage.npv_high)


def test_people_and_minutes_out_of_an_assessment_replace_those_stated():
    answer = (Ranged(typical=1.0), Ranged(typical=3.0))
    data = parse_purchase(hand())
    case = compare_purchase(data, lambda procedure, option: answer if option == "aid" else None)
    assert case.options[1].people_hours.typical == pytest.approx(300)


def test_injuries_count_only_as_the_users_assumption_beside_evidence_that_is_mixed():
    without = compare_purchase(parse_purchase(hand()))
    assert without.injury_assumption.startswith("none")
    injury = {
        "claims_a_year": flat(4), "reduction": flat(0.25), "claim_cost": 9000.0, "option": "aid", "reason": "site data",
    }  # fmt: skip
    counted = compare_purchase(parse_purchase(hand(injury=injury)))
    more = counted.options[1].yearly_saving.typical - without.options[1].yearly_saving.typical
    assert more == pytest.approx(4 * 0.25 * 9000)
    for said in ("0.39 (0.29-0.55)", "none at the other", "no reduction nationally"):
        assert said in counted.injury_evidence
        assert said in markdown_page(purchase_document(counted))


def test_the_published_payback_of_ceiling_lifts_is_registered_as_not_checkable():
    """chhokar_2005, 0.82 or 2.50 years: only the abstract was read, its inputs are not known."""
    check = row("check_values", id="C17")
    assert (check["source"], check["published_result"]) == ("chhokar_2005", "0.82 or 2.50 years")
    assert "not checkable" in check["known"]
    assert row("staffing_and_cost", item="ceiling-lift payback")["value"] == check["published_result"].removesuffix(
        " years"
    )
    assert "cannot be checked" in markdown_page(purchase_document(compare_purchase(EXAMPLE)))


def test_the_page_has_every_part_a_committee_asks_for():
    text = markdown_page(purchase_document(compare_purchase(EXAMPLE)))
    for part in ("Use", "Safety of the patient", "Safety of staff", "Injuries", "Trial plan", "What is unmeasured",
                 "Starting values in use", "Sources"):  # fmt: skip
        assert f"## {part}\n" in text
    assert "nan" not in text
    assert "inf" not in text.replace("information", "")


def test_a_purchase_reads_back_from_what_it_writes():
    assert read_purchase(dump_purchase(EXAMPLE).encode()) == EXAMPLE


def test_all_faults_of_a_purchase_are_told_at_once():
    data = hand(currency="", realised_share=flat(1.5))
    data["options"][0]["kind"] = "aid"
    data["options"][1]["price"] = {"typical": 5.0, "low": 6.0}
    data["options"][1]["uses_per_item"] = flat(0)
    data["options"][1]["moves"] = [{**move(2, 3), "procedure": "prone turn"}]
    data["injury"] = {"claims_a_year": flat(1), "reduction": flat(0.1), "option": "aid", "reason": "x"}
    with pytest.raises(InputError) as caught:
        parse_purchase(data)
    assert {f.field for f in caught.value.faults} >= {
        "currency", "realised_share", "options.0.kind", "options.1.price", "options.1.uses_per_item", "options.1.moves",
        "injury.claim_cost",
    }  # fmt: skip


def uncertain(probability: float, typical: float, p5: float = 0.9, p95: float = math.inf) -> tuple[str, str]:
    """The answer for an option with this probability to pay and this payback at typical values."""
    case = compare_purchase(EXAMPLE)
    option = replace(
        case.options[1], probability_npv_positive=probability, payback=Band(typical, p5, 2.0, p95), capacity=""
    )
    return purchase_answer(case, option)


def test_with_less_than_even_probabilities_the_answer_promises_no_payback_and_says_why():
    what, why = uncertain(0.44, 0.7)
    assert what == "Two-layer turning pads: no payback to count on, a probability of 44 % that it pays over 5 years"
    assert why.startswith(
        "With all inputs typical it would be paid back in 0.7 years, but over their ranges it pays in 44 % of cases "
        "only; in nine cases of ten payback runs from 0.9 years to never."
    )
    assert "paid back" not in uncertain(0.49, 2.0)[0]
    assert "paid back in 2.0 years at typical values" in uncertain(0.5, 2.0)[0]


@pytest.mark.parametrize(
    ("probability", "typical", "said"),
    [
        (0.64, 2.8, "paid back in 2.8 years at typical values, with a probability of 64 % that it pays over 5 years"),
        (0.999, 0.02, "paid back in under 0.1 years at typical values, with a probability of >99 % that it"),
        (1.0, 0.0, "paid back at once at typical values, with a probability of >99 % that it pays over 5 years"),
        (0.31, math.inf, "not paid back at typical values, with a probability of 31 % that it pays over 5 years"),
        (0.60, math.inf, "not paid back at typical values, with a probability of 60 % that it pays over 5 years"),
    ],
)
def test_typical_payback_and_its_probability_stand_in_one_sentence(probability, typical, said):
    what, why = uncertain(probability, typical)
    assert said in what
    assert why.startswith("In nine cases of ten payback runs from 0.9 years to never.")


def test_the_page_starts_with_the_answer_for_each_option():
    case = compare_purchase(EXAMPLE)
    text = markdown_page(purchase_document(case))
    for option in case.options[1:]:
        what, why = purchase_answer(case, option)
        assert f"{plain(what)}\n\n{plain(why)}\n" in text
        if option.probability_npv_positive < 0.5:
            assert f"{option.name}: paid back" not in text.lower()
