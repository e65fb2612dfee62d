"""Unit plan: people on each shift, coverage, waiting, loads, and the staffing request."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from ergo.assessment import CAUTIONS
from ergo.errors import InputError
from ergo.evidence import assumption
from ergo.inputs.unit import dump_unit
from ergo.limits.policy import Verdict
from ergo.report.blocks import Table
from ergo.report.csv_export import unit_csv
from ergo.report.documents.card import policy_document
from ergo.report.documents.unit import staffing_document
from ergo.report.figures.hours_missed import hours_missed
from ergo.report.figures.unit_coverage import policy_coverage, unit_coverage, unit_waits
from ergo.report.tables.unit import (
    default_rows,
    force_rows,
    headcount_rows,
    hour_rows,
    load_rows,
    needed_rows,
    option_rows,
    policy_rows,
    shift_rows,
    task_rows,
    variation_rows,
    work_rows,
)
from ergo.unit.plan import UnitPlan
from ergo.unit.staffing_request import (
    AssessedForce,
    ForceRow,
    StaffingRequest,
    answer_parts,
    staffing_request,
)
from ergo.web import _inputs, _plan_state, _shared, _state, _unit_files, jobs
from ergo.web._plan_state import UNIT

_LOOK, _WHOLE = "unit.look", "unit.whole"  # what the reader may stop
_POLICY = "plan.unit.policy"


@st.cache_data(max_entries=512, show_spinner=False)
def _force(patient: tuple[float, str, float], procedure: str, aid: str) -> list[ForceRow]:
    return list(AssessedForce(patient)(procedure, aid))


def _policy() -> str:
    """The aid policy that the answer is for; a choice that the unit no longer has falls back to its first."""
    names = [p.name for p in _plan_state.unit().policies]
    kept = st.session_state.get("plan.unit.chosen")
    return kept if kept in names else names[0]


def _choose_policy() -> None:
    names = [p.name for p in _plan_state.unit().policies]
    if st.session_state.get(_POLICY) != _policy():
        st.session_state[_POLICY] = _policy()

    def write() -> None:
        st.session_state["plan.unit.chosen"] = st.session_state[_POLICY]

    st.selectbox("Aids", names, key=_POLICY, on_change=write)


def _first_inputs() -> None:
    unit = _plan_state.unit()
    columns = st.columns([3, 2, *[2] * min(len(unit.shifts), 3)])
    with columns[0]:
        _choose_policy()
    with columns[1]:
        _inputs.whole("Beds with a patient", "occupied_beds", owner=UNIT, bounds=(1, unit.beds), empty=unit.beds)
    for i, column in enumerate(columns[2:]):
        at = next((k for k, p in enumerate(unit.shifts[i].people) if p.duty == "handling"), None)
        if at is None:
            continue
        with column:
            role = unit.shifts[i].people[at].role
            _inputs.whole(
                f"{unit.shifts[i].name.capitalize()}: {role}",
                f"shifts.{i}.people.{at}.count",
                owner=UNIT,
                bounds=(0, 200),
            )


def _more_inputs() -> None:
    unit = _plan_state.unit()
    with st.expander("More about people, moves, target, money and the words of the request"):
        people, moves, target, money, words = st.tabs(["People", "Moves", "Target", "Money", "Words"])
        with people:
            for i, shift in enumerate(unit.shifts):
                columns = st.columns(len(shift.people))
                for k, (one, column) in enumerate(zip(shift.people, columns, strict=True)):
                    with column:
                        duty = "" if one.duty == "handling" else f" ({one.duty})"
                        label = f"{shift.name.capitalize()}: {one.role}{duty} "
                        # the first handling role of a shift stands above already
                        first = next((j for j, p in enumerate(shift.people) if p.duty == "handling"), None)
                        if k == first and i < 3:
                            st.markdown(f"{_shared.plain(label)}: **{one.count}**, set above")
                        else:
                            _inputs.whole(label, f"shifts.{i}.people.{k}.count", owner=UNIT, bounds=(0, 200))
            _inputs.whole("Lifts", "lifts", owner=UNIT, bounds=(0, 100))
        with moves:
            for i, r in enumerate(unit.rounds):
                _inputs.number(
                    f"{r.procedure.capitalize()}: every (h)",
                    f"rounds.{i}.every_h",
                    step=0.5,
                    owner=UNIT,
                    bounds=(0.25, 168.0),
                )
            for kind in ("planned", "unplanned"):
                for i, task in enumerate(getattr(unit, kind)):
                    label = f"{task.procedure.capitalize()}, {kind}: a day"
                    _inputs.number(label, f"{kind}.{i}.a_day", owner=UNIT, bounds=(0.0, 500.0))
            if unit.prone:
                _inputs.number(
                    "Patients with prone sessions (%)", "prone.share", "percent", owner=UNIT, bounds=(0.0, 1.0)
                )
        with target:
            _inputs.number("Moves to be covered (%)", "target", "percent", owner=UNIT, bounds=(0.5, 1.0))
            _inputs.number("On time: wait at most (min)", "on_time_min", owner=UNIT, bounds=(0.0, 240.0))
            _inputs.number("Emergency: wait at most (min)", "emergency_on_time_min", owner=UNIT, bounds=(0.0, 60.0))
            _inputs.whole("Days", "days", owner=UNIT, bounds=(1, 3660))
            _inputs.whole("Runs", "replications", owner=UNIT, bounds=(1, 1000))
        with money:
            _inputs.text("Currency", "cost.currency", 5, owner=UNIT)
            symbol = unit.cost.currency
            _inputs.number(f"Wage ({symbol} per h)", "cost.wage_per_h", step=0.5, owner=UNIT, bounds=(0.0, 10_000.0))
            _inputs.number(
                "Benefits (% of compensation)", "cost.benefits_share", "percent", owner=UNIT, bounds=(0.0, 0.8)
            )
            _inputs.number(
                "Paid hours a year and FTE", "cost.paid_hours_year", step=10.0, owner=UNIT, bounds=(500.0, 3000.0)
            )
            _inputs.number(
                "Productive (% of paid hours)", "cost.productive_share", "percent", owner=UNIT, bounds=(0.3, 1.0)
            )
        with words:
            _inputs.text("Name of the unit", "name", 120, owner=UNIT)
            _inputs.text("What is asked for", "request.ask", 400, area=True, owner=UNIT)
            _inputs.text("Roles and backfill", "request.roles_and_backfill", 400, area=True, owner=UNIT)


def _verdict(plan: UnitPlan, policy: str) -> Verdict:
    target = plan.unit.target
    shifts = plan.base(policy).shifts
    if all(s.covered.low >= target for s in shifts):
        return "within"
    return "close" if all(s.covered.mean >= target for s in shifts) else "over"


def _headline(plan: UnitPlan, policy: str, whole: bool) -> None:
    what, why = answer_parts(plan, policy)
    unit = plan.unit
    look = "" if whole else "First look: "
    end = f" {look}{plan.replications} runs of {plan.days} days; ranges are 95 % intervals of the runs."
    _shared.headline(_verdict(plan, policy), what, f"{why[:1].upper()}{why[1:]}{end}")
    _shared.where(
        "unit",
        [],
        [assumption(k) for k in ("on_time_target", "on_time_wait", "emergency_wait", "schedule_jitter")],
        _state.units(),
        f"Every move needs the smallest team within the limits of the assessment; its people stay for its whole time. "
        f"Patients: {_shared.plain(plan.patients)}. Seed {unit.seed}.",
    )


def show() -> None:
    """Show the page."""
    _plan_state.begin()
    st.title("How many people does the unit need?", anchor=False)
    slot, progress = st.container(), st.empty()
    _first_inputs()
    _more_inputs()
    _unit_files.show()
    policy = _policy()
    try:
        whole = _plan_state.full_plan()
        _plan_state.look_at()
        plan = whole or _first_look(policy, progress)
    except InputError as error:
        _shared.faults(error.shown)
        return
    if plan is None:
        return
    with slot:
        st.caption(_shared.plain(plan.unit.name))
        _headline(plan, policy, whole is not None)
    _answer(plan, policy)
    _request(plan, policy, whole is not None)
    if whole is None:
        _go_on(progress)


def _bar(place: DeltaGenerator, flag: str, said: str) -> Callable[[float], object]:
    """Show how far the work is, with a button that stops it."""
    with place.container():
        bar = st.progress(0.0, said)
        st.button("Stop", key=f"{flag}.stop", on_click=lambda: st.session_state.update({flag: True}))
    return lambda part: bar.progress(min(part, 1.0), said)


def _stopped(place: DeltaGenerator, flag: str, said: str) -> bool:
    """Return whether the reader stopped the work, with a button that begins it again."""
    if st.session_state.get(flag):
        place.button(said, key=f"{flag}.go", on_click=lambda: st.session_state.update({flag: False}))
        return True
    return False


def _first_look(policy: str, place: DeltaGenerator) -> UnitPlan | None:
    """Return a quick plan; None where the reader stopped before it was there."""
    if (kept := _plan_state.kept_look(policy)) is not None:
        return kept
    if _stopped(place, _LOOK, "Compute a first look"):
        return None
    found = _plan_state.first_look(policy, _bar(place, _LOOK, "A first look with one set of aids"))
    place.empty()
    return found


def _go_on(place: DeltaGenerator) -> None:
    """Compute the whole plan while the first look stays; a change on the page ends it, finished policies are kept."""
    unit = _plan_state.unit()
    if _stopped(place, _WHOLE, "Compute the whole plan"):
        return
    try:
        work = _plan_state.work()
    except InputError as error:
        with place.container():
            _shared.faults(error.shown)
        return
    said = f"First look. Computing {unit.replications} runs of {unit.days} days: {work}"
    _plan_state.work_on(_bar(place, _WHOLE, said))
    st.rerun()


def _answer(plan: UnitPlan, policy: str) -> None:
    units = _state.units()
    left, right = st.columns([3, 2], gap="large")
    with left:
        st.subheader("Moves covered, by people on the shift", anchor=False)
        _shared.figure(unit_coverage(plan, policy), "fig.coverage")
        st.caption("Covered: the whole team within limits is there, and the move starts on time.")
    with right:
        _shared.cautions(CAUTIONS)
        st.markdown("\n".join(f"- {c}" for c in plan.cautions[1:]))
    st.subheader("Waiting when moves collide", anchor=False)
    _shared.figure(unit_waits(plan, policy), "fig.wait")
    st.caption("The wait that 95 % of moves do not exceed, with its interval.")
    with st.expander("Coverage and waiting as a table"):
        _shared.table(shift_rows(plan, policy), "unit.shifts")
    st.subheader("The hours when it cannot be done", anchor=False)
    levels = [v.extra_people for v in plan.levels if v.policy == policy]
    names = {0: "present staffing", 1: "1 more", -1: "1 fewer"}
    start = 0 if 0 in levels else levels[0]
    extra = st.segmented_control(
        "People on every shift",
        levels,
        default=start,
        format_func=lambda n: names.get(n, f"{abs(n)} {'more' if n > 0 else 'fewer'}"),
        key=f"unit.hours.{levels}",
        required=True,
    )
    extra = start if extra is None else extra
    _shared.figure(hours_missed(plan.level(policy, extra).missed_by_hour, plan.unit.target), "fig.hours")
    with st.expander("The hours as a table"):
        _shared.table(hour_rows(plan, policy, extra), "unit.hours")
    st.subheader("What one person takes on in a shift", anchor=False)
    _shared.table(load_rows(plan, policy, units), "unit.loads")
    st.caption("Pull times time: steady force times how long it lasts, over all moves of one person in one shift.")
    st.subheader("Aids side by side", anchor=False)
    if len({level.policy for level in plan.levels}) < len(plan.unit.policies) or len(plan.unit.policies) == 1:
        _shared.table(policy_rows(plan), "unit.policies")
    else:
        _shared.figure(policy_coverage(plan), "fig.policies")
        _shared.table(policy_rows(plan), "unit.policies")
    with st.expander("People needed, shift by shift"):
        _shared.table(needed_rows(plan), "unit.needed")


def _policy_by_mass() -> None:
    """The people for each move and aid by the patient's mass, worked out once it is asked for, to print or to paste."""
    fold = _shared.fold("Policy by the patient's mass", "policy")
    if not fold.open:
        return
    with fold:
        unit, units = _plan_state.unit(), _state.units()
        said, place = "Looking at every move, aid and mass", st.empty()
        bar = place.progress(0.0, said)
        bands = _state.result(jobs.ask(jobs.LONG, jobs.policy, dump_unit(unit)), lambda part: bar.progress(part, said))
        place.empty()
        paper = policy_document(unit.name, bands, units)
        _shared.table(next(block for block in paper.blocks if isinstance(block, Table)), "unit.policy")
        for ending, label in (("html", "Policy to print (HTML)"), ("md", "Policy to paste (Markdown)")):
            name = _shared.file_name(f"policy {unit.name}", ending)
            _shared.save_document(label, lambda: paper, name, f"unit.policy.{ending}")


def _request(plan: UnitPlan, policy: str, whole: bool) -> None:
    units = _state.units()
    request: StaffingRequest = staffing_request(
        plan, policy, force=lambda procedure, aid: _force(plan.typical_patient, procedure, aid)
    )
    st.subheader("The staffing request", anchor=False)
    if not whole:
        st.caption("Made from the first look; print it once the whole plan is ready.")
    _shared.table(work_rows(request), "unit.work")
    st.markdown("**Asked of the most loaded person** of the unit's typical patient, with n people and more")
    _shared.table(force_rows(request, units), "unit.force")
    _shared.table(option_rows(request, units), "unit.options")
    pages, name = partial(staffing_document, request, plan, units), plan.unit.name
    html, markdown, figures = st.columns(3)
    with html:
        _shared.save_document("Request to print (HTML)", pages, _shared.file_name(name, "html"), "unit.html")
    with markdown:
        _shared.save_document("Request to paste (Markdown)", pages, _shared.file_name(name, "md"), "unit.md")
    with figures:
        _shared.save(
            "Every figure (CSV)", lambda: unit_csv(plan), _shared.file_name(name, "csv"), "unit.csv", wide=True
        )
    _policy_by_mass()
    with st.expander("Moves, published headcounts, and what the hours depend on"):
        for rows, key in (
            (task_rows(plan, policy), "unit.tasks"),
            (headcount_rows(request), "unit.headcounts"),
            (variation_rows(request), "unit.variations"),
        ):
            st.markdown(f"**{rows.title}**")
            _shared.table(rows, key)
    with st.expander("Starting values in use, with source and year"):
        _inputs.defaults(UNIT, plan.defaults)
        _shared.table(default_rows(plan.defaults), "unit.defaults")


if __name__ == "__main__":  # how the page runner executes this file
    show()
