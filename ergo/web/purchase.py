"""Purchase: what each option costs, when it pays back, and what nobody measured."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial
from typing import cast

import streamlit as st

from ergo.assessment import CAUTIONS
from ergo.errors import InputError
from ergo.evidence import assumption
from ergo.inputs.purchase import Option, Purchase, dump_purchase, read_purchase
from ergo.purchases.cost_model import OptionCase, PurchaseCase
from ergo.purchases.unit_volumes import volumes_of, with_volumes
from ergo.report.blocks import in_plain_words
from ergo.report.documents.purchase import purchase_document
from ergo.report.figures.purchase_costs import purchase_costs
from ergo.report.figures.tornado import tornado
from ergo.report.sentences_purchase import purchase_answer
from ergo.report.tables.purchase import (
    cost_rows,
    evidence_rows,
    option_verdict,
    swing_rows,
    unmeasured_rows,
)
from ergo.report.tables.unit import default_rows
from ergo.web import _inputs, _plan_state, _shared, _state, jobs
from ergo.web._plan_state import PURCHASE

_STOPPED = "plan.purchase.stopped"
_CHOSEN, _FROM_UNIT, _FILE = "plan.purchase.chosen", "plan.purchase.from_unit", "plan.purchase.file"
_RANGED = (
    "price",
    "uses_per_item",
    "laundering_per_use",
    "pump_price",
    "training_hours",
    "start_cost",
    "yearly_cost",
    "rent_per_day",
    "rented_days_a_year",
)


def _case(stated: Purchase) -> PurchaseCase | None:
    """Return the comparison; None where the reader stopped it."""
    text = dump_purchase(stated)
    done = jobs.kept(jobs.purchase, text)
    if done is not None:
        return cast(PurchaseCase, done.result())
    place = st.empty()
    if st.session_state.get(_STOPPED):
        place.button("Compare the options", key="purchase.go", on_click=lambda: st.session_state.pop(_STOPPED))
        return None
    with place.container():
        bar = st.progress(0.0, "Comparing the options")
        st.button("Stop", key="purchase.stop", on_click=lambda: st.session_state.update({_STOPPED: True}))
    job = jobs.ask(jobs.ANSWER, jobs.purchase, text)
    found = _state.result(job, lambda part: bar.progress(part, "Comparing the options"))
    place.empty()
    return cast(PurchaseCase, found)


def _stated() -> Purchase:
    """The purchase with the moves a year of the unit plan where one is open and the reader wants them."""
    stated = _plan_state.purchase()
    plan = _plan_state.opened_plan()
    if plan is None or not st.session_state.get(_FROM_UNIT, True):
        return stated
    return with_volumes(stated, plan)


def show() -> None:
    """Show the page."""
    _plan_state.begin()
    st.title("Does it pay, and how sure is that?", anchor=False)
    stated = _stated()
    case = _case(stated)
    if case is None:
        _files()
        return
    names = [o.name for o in case.options[1:]]
    kept = st.session_state.get("plan.purchase.kept")
    name = kept if kept in names else names[0]
    chosen = next(o for o in case.options if o.name == name)
    st.caption(_shared.plain(stated.name))
    what, why = purchase_answer(case, chosen)
    _shared.headline(option_verdict(chosen), what, why)
    _shared.where(
        "purchase",
        [],
        [assumption(k) for k in ("benefits_share", "horizon_years", "discount_rate")],
        _state.units(),
        "Blue pays even at the 5th percentile of the draws, ochre at typical values, red does not. "
        "The probability is the part of the cases tried (draws) in which the net present value is above zero. "
        f"Wage: {_shared.plain(stated.wage_basis)}. {case.draws} draws, seed {case.seed}.",
    )
    _first_inputs(names, name)
    _more_inputs(case)
    _files()
    _answer(case, chosen)
    _meeting(case, chosen)


def _first_inputs(names: list[str], name: str) -> None:
    stated = _plan_state.purchase()
    option, realised, wage, years, symbol = st.columns([3, 2, 2, 2, 1])
    with option:
        if st.session_state.get(_CHOSEN) != name:
            st.session_state[_CHOSEN] = name
        st.selectbox(
            "Option",
            names,
            key=_CHOSEN,
            on_change=lambda: st.session_state.update({"plan.purchase.kept": st.session_state[_CHOSEN]}),
        )
    with realised:
        _inputs.number(
            "Time saved that counts (%)",
            "realised_share.typical",
            "percent",
            step=5.0,
            owner=PURCHASE,
            bounds=(0.0, 1.0),
            also=_range_around("realised_share"),
        )
    with wage:
        _inputs.number(
            f"Wage ({stated.currency} per h)",
            "wage_per_h.typical",
            step=0.5,
            owner=PURCHASE,
            bounds=(0.0, 10_000.0),
            also=_range_around("wage_per_h"),
        )
    with years:
        _inputs.number("Years looked at", "horizon_years", owner=PURCHASE, bounds=(1.0, 20.0))
    with symbol:
        _inputs.text("Currency", "currency", 5, owner=PURCHASE)
    _from_unit(stated)


def _range_around(path: str) -> Callable[[float], dict[str, float]]:
    """Widen the range of a number as far as its new typical value asks for."""

    def ends(typical: float) -> dict[str, float]:
        low, _, high = PURCHASE.value(path).ends
        return {f"{path}.low": min(low, typical), f"{path}.high": max(high, typical)}

    return ends


def _from_unit(stated: Purchase) -> None:
    plan = _plan_state.opened_plan()
    if plan is None:
        st.caption("Moves a year as the file states them; open the page “Unit plan” to take them from your unit.")
        return
    if _FROM_UNIT not in st.session_state:
        st.session_state[_FROM_UNIT] = True
    st.session_state[_FROM_UNIT] = bool(st.session_state[_FROM_UNIT])  # a widget's value ends with its page
    st.toggle(f"Moves a year from the unit plan: {plan.unit.name}", key=_FROM_UNIT)
    found = volumes_of(plan)
    said = [
        f"{v.procedure} {found[v.procedure].typical:,.0f} (the file says {v.events_a_year.typical:,.0f})"
        if v.procedure in found
        else f"{v.procedure} {v.events_a_year.typical:,.0f}, as the file says: the unit has none"
        for v in stated.volumes
    ]
    st.caption(_shared.plain("; ".join(said)))


def _paths(stated: Purchase) -> list[tuple[str, str]]:
    """Every number with a range: its place in the file and its name."""
    found = [
        ("wage_per_h", f"wage, {stated.currency} per h"),
        ("realised_share", "share of saved time that counts"),
        ("patients_a_year", "patients a year"),
    ]
    found += [(f"volumes.{i}.events_a_year", f"{v.procedure}s a year") for i, v in enumerate(stated.volumes)]
    return found


def _option_paths(option: Option, at: int) -> list[tuple[str, str]]:
    found = [(f"options.{at}.{f}", f.replace("_", " ")) for f in _RANGED if getattr(option, f) is not None]
    for k, move in enumerate(option.moves):
        found += [
            (f"options.{at}.moves.{k}.{what}", f"{what}, {move.procedure}")
            for what in ("people", "minutes")
            if getattr(move, what) is not None
        ]
    return found


def _more_inputs(case: PurchaseCase) -> None:
    own = _plan_state.purchase()
    with st.expander("More: ranges, each option, injuries, starting values"):
        tabs = st.tabs(["Ranges", "Options", "Injuries", "Starting values"])
        with tabs[0]:
            _inputs.ranges(PURCHASE, _paths(own), "all")
            _inputs.number("Heaviest patient (kg)", "heaviest_patient_kg", owner=PURCHASE, bounds=(25.0, 350.0))
        with tabs[1]:
            for i, option in enumerate(own.options):
                st.markdown(f"**{_shared.plain(option.name)}**, {option.kind}, {option.use}")
                _inputs.ranges(PURCHASE, _option_paths(option, i), option.name)
        with tabs[2]:
            _injuries(own, case)
        with tabs[3]:
            _inputs.defaults(PURCHASE, case.defaults)


def _injuries(stated: Purchase, case: PurchaseCase) -> None:
    st.markdown(f"Published: {_shared.plain(in_plain_words(case.injury_evidence))}.")
    st.markdown("Programmes were found with fewer injuries and with no fewer. Nothing is counted unless you assume it.")
    now = stated.injury
    with st.form("injury", border=False):
        option = st.selectbox("Option that avoids claims", [o.name for o in stated.options[1:]], key="injury.option")
        claims, cost = st.columns(2)
        number = claims.number_input(
            "Claims a year now", 0.0, 10_000.0, now.claims_a_year.typical if now else 4.0, 1.0, key="injury.claims"
        )
        price = cost.number_input(
            f"Cost of a claim ({stated.currency})",
            0.0,
            1e8,
            now.claim_cost if now else assumption("claim_cost").typical,
            500.0,
            key="injury.cost",
        )
        low, middle, high = st.columns(3)
        ends = now.reduction.ends if now else (0.0, 0.0, 0.0)
        least = low.number_input("Avoided, low (%)", 0.0, 100.0, 100 * ends[0], 5.0, key="injury.low")
        typical = middle.number_input("Avoided, typical (%)", 0.0, 100.0, 100 * ends[1], 5.0, key="injury.typical")
        most = high.number_input("Avoided, high (%)", 0.0, 100.0, 100 * ends[2], 5.0, key="injury.high")
        reason = st.text_input("Why you assume this", now.reason if now else "", max_chars=300, key="injury.reason")
        if st.form_submit_button("Count this assumption"):
            entered = {
                "option": option,
                "claims_a_year": {"typical": number},
                "claim_cost": price,
                "reduction": {"low": least / 100, "typical": typical / 100, "high": most / 100},
                "reason": reason.strip(),
            }
            _plan_state.change("purchase", {"injury": entered})
            st.rerun()
    if now is not None and st.button("Count no injuries", key="injury.none"):
        _plan_state.change("purchase", {"injury": None})
        st.rerun()


def _files() -> None:
    with st.expander("Open and save: purchase file"):
        _shared.open_file("Open a purchase (TOML)", _FILE, _open)
        purchase = _plan_state.purchase()
        name = _shared.file_name(purchase.name, "toml")
        _shared.save("Save this purchase (TOML)", dump_purchase(purchase), name, "purchase.save")


def _open() -> None:
    file = st.session_state[_FILE]
    if file is None:
        return
    try:
        _plan_state.replace_purchase(read_purchase(file.getvalue(), "the purchase", st.toast))
        _state.tell(InputError("", ()))
    except InputError as error:
        _state.tell(error)


def _answer(case: PurchaseCase, chosen: OptionCase) -> None:
    currency = case.purchase.currency
    left, right = st.columns([3, 2], gap="large")
    with left:
        st.subheader("What decides", anchor=False)
        _shared.figure(tornado(chosen, currency), "fig.swings")
        st.caption(
            "Net present value. Each bar: one input from its low end (ring) to its high end (dot), all others typical."
        )
        with st.expander("The same as a table"):
            _shared.table(swing_rows(case, chosen), "purchase.swings")
    with right:
        _shared.cautions(CAUTIONS)
    st.subheader("Injuries", anchor=False)
    _shared.table(evidence_rows(case), "purchase.injuries", download=False)
    st.subheader("Options side by side", anchor=False)
    _shared.figure(purchase_costs(case), "fig.costs")
    st.caption(f"Cost over {int(case.purchase.horizon_years)} years, people included: 5th to 95th percentile.")
    _shared.table(cost_rows(case), "purchase.options")
    if any(math.isinf(o.payback.p95) for o in case.options[1:]):
        st.caption("“Never” at the high end: in some draws the time saved is worth less than the option costs.")
    st.subheader("What is unmeasured", anchor=False)
    _shared.table(unmeasured_rows(case), "purchase.unmeasured")


def _meeting(case: PurchaseCase, chosen: OptionCase) -> None:
    st.subheader("For the committee", anchor=False)
    pages = partial(purchase_document, case, chosen)
    html, markdown = st.columns(2)
    with html:
        _shared.save_document(
            "Page to print (HTML)", pages, _shared.file_name(case.purchase.name, "html"), "purchase.html"
        )
    with markdown:
        _shared.save_document(
            "Page to paste (Markdown)", pages, _shared.file_name(case.purchase.name, "md"), "purchase.md"
        )
    with st.expander("Starting values in use, with source and year"):
        _shared.table(default_rows(case.defaults), "purchase.defaults")


if __name__ == "__main__":  # how the page runner executes this file
    show()
