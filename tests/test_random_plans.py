"""Random units and purchases: finite figures in text, JSON, CSV and on paper, or one error that lists every fault."""

from __future__ import annotations

import csv
import io
import json
import math
import re
import warnings
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from ergo.errors import InputError
from ergo.inputs.purchase import dump_purchase, parse_purchase, read_purchase
from ergo.inputs.unit import Unit, dump_unit, parse_unit, read_unit
from ergo.purchases.cost_model import compare_purchase
from ergo.report.csv_export import unit_csv
from ergo.report.documents.purchase import purchase_document, purchase_text_answer
from ergo.report.documents.unit import staffing_document, unit_answer
from ergo.report.html_page import html_page
from ergo.report.json_export import to_json, unit_json
from ergo.report.markdown import markdown_page
from ergo.report.terminal import terminal_text
from ergo.unit.plan import plan_unit, table_of, typical_patient
from ergo.unit.population import draw_population
from ergo.unit.staffing_request import AssessedForce, staffing_request
from ergo.unit.team_lookup import AssessedNeed
from tests.tools.random_plans import PURCHASE_FAULTS, UNIT_FAULTS, planted, purchases, units

# Planning takes a second, so there are few of them and none is made smaller.
few = settings(max_examples=12, phases=[Phase.generate], suppress_health_check=list(HealthCheck))
some = settings(max_examples=50, suppress_health_check=list(HealthCheck))
LOST = re.compile(r"(?<![\w.])[-+]?(?:nan|inf|infinity|None)(?![\w.])")  # a figure that failed, in a text


def numbers(value: Any) -> Iterator[float]:
    """Every number of plain data."""
    if isinstance(value, dict | list):
        for part in value.values() if isinstance(value, dict) else value:
            yield from numbers(part)
    elif isinstance(value, int | float):
        yield value


def plain_words(data: dict[str, Any]) -> dict[str, Any]:
    """The same file with texts in which no figure can be mistaken."""
    words: dict[str, str] = {}

    def plain(value: Any, key: str = "") -> Any:
        if isinstance(value, dict):
            return {k: plain(v, k) for k, v in value.items()}
        if isinstance(value, list):
            return [plain(v, key) for v in value]
        texts = ("name", "role", "question", "wage_basis", "reason", "option")
        return words.setdefault(value, f"word {len(words)}") if key in texts else value

    return plain(data)


def planned(unit: Unit) -> None:
    """Plan a unit with the assessment itself, and show it in every way there is."""
    patients = draw_population(20, unit.patients.women_share, unit.seed)  # few, and the table of teams is quickly made
    need = AssessedNeed()
    plan = plan_unit(unit, need, table=table_of(unit, need, patients), patients=patients)
    request = staffing_request(plan, force=AssessedForce(typical_patient(patients), need))
    said = json.loads(to_json(unit_json(plan, request)))
    assert all(math.isfinite(number) for number in numbers(said))
    for level in plan.levels:
        for share in (level.covered, level.emergencies_covered, *(s.covered for s in level.shifts)):
            assert 0 <= share.low <= share.mean <= share.high <= 1
        assert level.people_minutes_given.mean <= level.people_minutes_needed.mean * (1 + 1e-9)
        assert min(s.wait_min.mean for s in level.shifts) >= 0
    rows = list(csv.reader(io.StringIO(unit_csv(plan))))
    assert len(rows) == 1 + len(plan.levels) * len(unit.shifts)
    pages = staffing_document(request, plan)
    for text in (terminal_text(unit_answer(plan, request)), markdown_page(pages), html_page(pages)):
        assert not LOST.search(text), LOST.search(text)
    for one in plan.needed:
        if one.people is not None and one.policy == request.policy:
            assert f"{one.shift} {one.people}" in request.answer


def which(faults: Any) -> st.SearchStrategy[list[Any]]:
    """Some of the faults, at least one."""
    return st.sets(st.integers(0, len(faults) - 1), min_size=1).map(lambda found: [faults[i] for i in sorted(found)])


@few
@given(units())
def test_any_valid_unit_is_planned_with_finite_figures_or_refused_in_words(data):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        unit = parse_unit(plain_words(data))
        refused: InputError | None = None
        try:
            planned(unit)
        except InputError as error:
            refused = error
        assert refused is None or {f.field for f in refused.faults} == {"aid"}


@some
@given(units())
def test_a_valid_unit_is_the_same_after_writing_and_reading(data):
    unit = parse_unit(data)
    assert read_unit(dump_unit(unit).encode()) == unit


@some
@given(purchases())
def test_any_valid_purchase_is_answered_with_finite_figures_or_never(data):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        case = compare_purchase(parse_purchase(plain_words(data)))
        said = json.loads(to_json(case))
        pages = purchase_document(case)
        for text in (terminal_text(purchase_text_answer(case)), markdown_page(pages), html_page(pages)):
            assert not LOST.search(text), LOST.search(text)
    assert all(math.isfinite(number) for number in numbers(said))
    for option in case.options:
        assert 0 <= option.probability_npv_positive <= 1
        assert option.payback.typical >= 0
        for band in (option.npv, option.payback, option.break_even_events, option.cost_per_event):
            assert band.p5 <= band.p50 <= band.p95
            assert not np.isnan([band.typical, band.p5, band.p50, band.p95]).any()
    assert case.options[0].npv.typical == pytest.approx(0.0)


@some
@given(purchases())
def test_a_valid_purchase_is_the_same_after_writing_and_reading(data):
    purchase = parse_purchase(data)
    assert read_purchase(dump_purchase(purchase).encode()) == purchase


@some
@given(units(), which(UNIT_FAULTS))
def test_a_unit_with_random_faults_raises_one_error_that_names_each_of_them(data, faults):
    with pytest.raises(InputError) as caught:
        parse_unit(planted(data, faults))
    assert {fault.field for fault in caught.value.faults} >= {field for _, _, field in faults}


@some
@given(purchases(), which(PURCHASE_FAULTS))
def test_a_purchase_with_random_faults_raises_one_error_that_names_each_of_them(data, faults):
    with pytest.raises(InputError) as caught:
        parse_purchase(planted(data, faults))
    assert {fault.field for fault in caught.value.faults} >= {field for _, _, field in faults}
