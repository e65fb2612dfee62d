"""What the pages on a unit and on a purchase remember, and plans kept between runs.

The unit, its patients and the purchase are the only truth; every widget is a view of them. Plans are kept by what
they were made of and hold nothing that identifies anybody.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import Any, Literal, cast

import streamlit as st
from pydantic import BaseModel

from ergo.errors import Fault, InputError
from ergo.inputs.census import Census
from ergo.inputs.examples import scenario_folder
from ergo.inputs.purchase import Purchase, load_purchase, parse_purchase
from ergo.inputs.unit import Unit, dump_unit, load_unit, parse_unit
from ergo.unit.computing_time import Work, check_work
from ergo.unit.plan import UnitPlan, joined_plans, patients_of
from ergo.web import _state, jobs
from ergo.web._inputs import Owner, field_of

__all__ = [
    "OWN_UNIT",
    "PURCHASE",
    "UNIT",
    "begin",
    "census",
    "change",
    "first_look",
    "full_plan",
    "kept_look",
    "look_at",
    "opened_plan",
    "patients",
    "purchase",
    "replace_purchase",
    "replace_unit",
    "unit",
    "use_census",
    "work",
    "work_on",
]

_UNIT, _CENSUS, _PURCHASE = "plan.unit", "plan.census", "plan.purchase"
_LOOKED_AT = "plan.unit.looked_at"
_QUICK_DAYS, _QUICK_RUNS = 7, 2
OWN_UNIT = "A unit of our own"


@cache
def _folder(name: str) -> Path:
    return (scenario_folder() or Path()) / name


@cache
def _example() -> Unit:
    return load_unit(_folder("units") / "example_hospital_icu.toml")


def work() -> Work:
    """Return the work of the whole plan of the open unit; InputError where it is above the bound."""
    return check_work(unit(), patients())


def begin() -> None:
    """Open the examples where nothing is open yet."""
    state = st.session_state
    if _UNIT not in state:
        replace_unit(_example())
    if _PURCHASE not in state:
        state[_PURCHASE] = load_purchase(_folder("purchases") / "turning_pad.toml")


def unit() -> Unit:
    """Return the unit that is open."""
    return cast(Unit, st.session_state[_UNIT])


def purchase() -> Purchase:
    """Return the purchase that is open."""
    return cast(Purchase, st.session_state[_PURCHASE])


def census() -> Census | None:
    """Return the patients out of a file that was uploaded, if one was."""
    return cast("Census | None", st.session_state.get(_CENSUS))


def replace_unit(new: Unit) -> None:
    """Show another unit; an uploaded census belonged to the one before."""
    st.session_state[_UNIT] = new
    st.session_state[_CENSUS] = None


def replace_purchase(new: Purchase) -> None:
    """Show another purchase."""
    st.session_state[_PURCHASE] = new


def use_census(new: Census) -> None:
    """Take uploaded patients; none goes back to the unit's own."""
    st.session_state[_CENSUS] = new
    if unit().patients.census != new.origin:
        change("unit", {"patients.census": new.origin})


def _open_up(value: Any) -> Any:
    """Turn tuples into lists, so that a field in one of them can be changed."""
    if isinstance(value, dict):
        return {k: _open_up(v) for k, v in value.items()}
    return [_open_up(v) for v in value] if isinstance(value, list | tuple) else value


def change(kind: Literal["unit", "purchase"], updates: Mapping[str, Any]) -> None:
    """Change fields by dotted name, None leaves a field out; a fault changes nothing and is told."""
    stated: BaseModel = unit() if kind == "unit" else purchase()
    data = _open_up(stated.model_dump(mode="python", exclude_none=True, exclude_unset=True))
    for path, value in updates.items():
        *parents, last = path.split(".")
        owner = data
        for part in parents:
            owner = owner[int(part)] if part.isdigit() else owner.setdefault(part, {})
        if value is None:
            owner.pop(last, None)
        else:
            owner[last] = value
    if kind == "unit" and "name" not in updates and stated == _example():
        # what is changed is the example no more: its name and its words are not those of the reader's unit
        data["name"], data["question"] = OWN_UNIT, ""
        said = {path.removeprefix("request."): value for path, value in updates.items() if path.startswith("request.")}
        data["request"] = {k: v for k, v in said.items() if v is not None}
    try:
        if kind == "unit":
            st.session_state[_UNIT] = parse_unit(data, "the unit")
        else:
            st.session_state[_PURCHASE] = parse_purchase(data, "the purchase")
        _state.tell(InputError("", ()))
    except InputError as error:
        _state.tell(error)


UNIT = Owner("plan.unit", lambda path: field_of(unit(), path), lambda new: change("unit", new))
PURCHASE = Owner("plan.purchase", lambda path: field_of(purchase(), path), lambda new: change("purchase", new))


def patients() -> Census:
    """Return the patients of the open unit; InputError where its census file was not uploaded."""
    own = census()
    if own is not None and unit().patients.census == own.origin:
        return own
    name = unit().patients.census
    if name and not (_folder("units") / name).is_file():
        raise InputError("the unit", [Fault("patients.census", name, "upload this file below, or leave the field out")])
    return patients_of(unit(), _folder("units"))


def _one_policy(stated: Unit, name: str) -> Unit:
    chosen = next((p for p in stated.policies if p.name == name), stated.policies[0])
    return stated.model_copy(update={"policies": (chosen,)})


def _look(policy: str) -> tuple[str, jobs.Patients]:
    """A quick plan of one policy: fewer runs and days, so that the page answers at once."""
    stated = _one_policy(unit(), policy)
    short = {"days": min(stated.days, _QUICK_DAYS), "replications": min(stated.replications, _QUICK_RUNS)}
    return dump_unit(stated.model_copy(update=short)), jobs.Patients.of(patients())


def kept_look(policy: str) -> UnitPlan | None:
    """Return the quick plan of one policy where it is there."""
    job = jobs.kept(jobs.unit_plan, *_look(policy))
    return None if job is None else cast(UnitPlan, job.result())


def first_look(policy: str, told: Callable[[float], object]) -> UnitPlan:
    """Return the quick plan of one policy, telling how far it is."""
    return cast(UnitPlan, _state.result(jobs.ask(jobs.LOOK, jobs.unit_plan, *_look(policy)), told))


def _parts() -> list[Unit]:
    return [_one_policy(unit(), policy.name) for policy in unit().policies]


def full_plan() -> UnitPlan | None:
    """Return the whole plan of the open unit where it is finished."""
    who = jobs.Patients.of(patients())
    found = [jobs.kept(jobs.unit_plan, dump_unit(part), who) for part in _parts()]
    whole = [job.result() for job in found if job is not None]
    return joined_plans(unit(), whole) if len(whole) == len(found) else None


def work_on(told: Callable[[float], object]) -> None:
    """Have what the whole plan still lacks computed, policy beside policy."""
    who = jobs.Patients.of(patients())
    asked = [jobs.ask(jobs.LONG, jobs.unit_plan, dump_unit(part), who) for part in _parts()]
    for job in asked:
        _state.result(job, lambda _: told(sum(1.0 if one.done() else one.part for one in asked) / len(asked)))


def look_at() -> None:
    """Remember that the reader opened the unit's plan."""
    st.session_state[_LOOKED_AT] = True


def opened_plan() -> UnitPlan | None:
    """Return the finished plan of the unit that the reader looked at, None where there is none yet."""
    if not st.session_state.get(_LOOKED_AT):
        return None
    try:
        return full_plan()
    except InputError:
        return None
