"""A unit as its file states it: checked, frozen, written back."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated, Any, Literal, TypeGuard

from pydantic import Field

from ergo.errors import Fault
from ergo.evidence import assumption
from ergo.inputs.formats import Tell, newest, upgraded
from ergo.inputs.scenario import known_aids
from ergo.inputs.schema import (
    Default,
    Stated,
    check,
    default_of,
    defaults_used,
    dump,
    listed,
    number,
    read_bytes,
    read_toml,
    visible_text,
)

__all__ = [
    "MINUTES_KEY",
    "AidFor",
    "AidPolicy",
    "Cost",
    "Patients",
    "People",
    "Planned",
    "Prone",
    "Request",
    "Rounds",
    "Shift",
    "Unit",
    "Unplanned",
    "cross_faults",
    "dump_unit",
    "load_unit",
    "parse_unit",
    "read_unit",
    "unit_defaults",
]

Routine = Literal["side-lying turn", "boost", "slide to the side", "lateral transfer", "limb hold"]
Task = Literal[
    "side-lying turn",
    "boost",
    "slide to the side",
    "lateral transfer",
    "limb hold",
    "prone turn",
    "return to supine",
]
Duty = Literal["handling", "airway lead"]

More = Annotated[int, Field(ge=-200, le=200)]

MINUTES_KEY = {
    "side-lying turn": "turn_minutes",
    "boost": "boost_minutes",
    "slide to the side": "slide_minutes",
    "lateral transfer": "lateral_transfer_minutes",
    "limb hold": "limb_hold_minutes",
    "prone turn": "prone_turn_minutes",
    "return to supine": "return_to_supine_minutes",
}


class Patients(Stated):
    """Who lies in the beds: a census file beside the unit file, or patients drawn from the population."""

    census: str = Field(default="", max_length=200)
    """Name of a CSV file in the unit file's folder; empty draws patients."""
    mass_unit: Literal["kg", "lb"] | None = None
    stature_unit: Literal["m", "cm", "in"] | None = None
    women_share: float = number("fraction", 0, 1, key="women_share")
    turnover: bool = True
    """False keeps the first patients in their beds for the whole time."""
    stay_days: float = number("days", 1, 365, key="stay_days")


class Rounds(Stated):
    """A move that comes for each patient every so many hours."""

    procedure: Routine
    every_h: float = number("h", 0.25, 168, key="turning_interval")
    share: float = number("fraction of patients", 0, 1, 1.0)
    """Share of patients who get it; a census with procedures decides by itself."""
    minutes: float | None = number("min", 0.5, 240, None)
    due: Literal["staggered", "together"] = "staggered"
    """Together: all patients at the same hour; staggered: bed after bed."""


class Planned(Stated):
    """A move that is planned some times a day on the unit, evenly over a part of the day."""

    procedure: Routine
    a_day: float = number("per unit and day", 0, 500)
    from_h: float = number("hour of the day", 0, 24)
    to_h: float = number("hour of the day", 0, 24)
    minutes: float | None = number("min", 0.5, 240, None)


class Unplanned(Stated):
    """A move that comes at any time."""

    procedure: Routine
    a_day: float = number("per unit and day", 0, 500)
    minutes: float | None = number("min", 0.5, 240, None)


class Prone(Stated):
    """Prone sessions: a prone turn at the start, a return to supine at the end or earlier as an emergency."""

    share: float = number("fraction of patients", 0, 1)
    start_h: float = number("hour of the day", 0, 24)
    session_h: float = number("h", 16, 22, key="prone_session_hours")
    prone_turn_minutes: float = number("min", 1, 240, key="prone_turn_minutes")
    return_minutes: float = number("min", 1, 240, key="return_to_supine_minutes")
    emergency_returns: float = number("per prone session", 0, 1, key="emergency_returns")


class People(Stated):
    """People of one role on a shift who can leave what they do and come to a move."""

    role: str = visible_text(60)
    count: int = Field(ge=0, le=200, json_schema_extra={"unit": "people"})
    duty: Duty = "handling"
    wage_per_h: float | None = number("currency per h", 0, 10_000, None)
    """Left out: the wage under cost."""


class Shift(Stated):
    """One shift of the day and the people on it."""

    name: str = visible_text(40)
    start_h: float = number("hour of the day", 0, 24)
    hours: float = number("h", 1, 24)
    people: Annotated[tuple[People, ...], Field(strict=False, min_length=1, max_length=20)]

    def count(self, duty: str) -> int:
        """Return the people on this shift with this duty."""
        return sum(p.count for p in self.people if p.duty == duty)


class AidFor(Stated):
    """The aid for one procedure where it differs from the policy's."""

    procedure: Task
    aid: str = visible_text(60)


class AidPolicy(Stated):
    """Which aid the unit uses for which move."""

    name: str = visible_text(80)
    aid: str = visible_text(60)
    other: Annotated[tuple[AidFor, ...], Field(strict=False, max_length=10)] = ()

    def aid_for(self, procedure: str) -> str:
        """Return the aid for a procedure."""
        return next((o.aid for o in self.other if o.procedure == procedure), self.aid)


class Cost(Stated):
    """What an hour costs and how many of them one full-time equivalent gives."""

    currency: str = visible_text(5, "US$")
    wage_per_h: float = number("currency per h", 0, 10_000, key="wage_registered_nurse")
    benefits_share: float = number("fraction of compensation", 0, 0.8, key="benefits_share")
    paid_hours_year: float = number("h per FTE", 500, 3000, key="paid_hours_year")
    productive_share: float = number("fraction of paid hours", 0.3, 1, key="productive_share")

    @property
    def loading(self) -> float:
        """Compensation over wage: 1 / (1 - benefits as a share of compensation)."""
        return 1.0 / (1.0 - self.benefits_share)


class Request(Stated):
    """The words of a staffing request that only the unit can give."""

    ask: str = Field(default="", max_length=400)
    role: str = Field(default="", max_length=60)
    """The role of the people asked for, as on a shift: they are priced at its wage. Empty: at the wage under cost."""
    roles_and_backfill: str = Field(default="", max_length=400)
    measures: Annotated[tuple[str, ...], Field(strict=False, max_length=10)] = ()
    review_date: date | None = None


class Unit(Stated):
    """One unit: everything a plan needs."""

    format: int = Field(newest("unit"), ge=1, le=newest("unit"))
    name: str = visible_text(120)
    question: str = Field(default="", max_length=300)
    beds: int = Field(ge=1, le=200, json_schema_extra={"unit": "beds"})
    occupied_beds: int | None = Field(default=None, ge=1, le=200, json_schema_extra={"unit": "beds"})
    """Left out: every bed is occupied."""
    patients: Patients = Field(default_factory=Patients)
    rounds: Annotated[tuple[Rounds, ...], Field(strict=False, max_length=20)] = ()
    planned: Annotated[tuple[Planned, ...], Field(strict=False, max_length=20)] = ()
    unplanned: Annotated[tuple[Unplanned, ...], Field(strict=False, max_length=20)] = ()
    prone: Prone | None = None
    shifts: Annotated[tuple[Shift, ...], Field(strict=False, min_length=1, max_length=6)]
    lifts: int = Field(ge=0, le=100, json_schema_extra={"unit": "lifts"})
    policies: Annotated[tuple[AidPolicy, ...], Field(strict=False, min_length=1, max_length=8)]
    extra_people: Annotated[tuple[More, ...], Field(strict=False, min_length=1, max_length=12)] = (0, 1, 2)
    """Staffing levels to compare: people for handling on every shift, more or fewer than stated."""
    cost: Cost = Field(default_factory=Cost)
    request: Request = Field(default_factory=Request)
    jitter_min: float = number("min", 0, 240, key="schedule_jitter")
    minutes_spread: float = number("fraction of the mean", 0, 2, key="task_minutes_spread")
    on_time_min: float = number("min", 0, 240, key="on_time_wait")
    emergency_on_time_min: float = number("min", 0, 60, key="emergency_wait")
    target: float = number("fraction of events", 0.5, 1, key="on_time_target")
    days: int = Field(default=28, ge=1, le=3660, json_schema_extra={"unit": "days"})
    replications: int = Field(default=10, ge=1, le=1000, json_schema_extra={"unit": "runs"})
    seed: int = Field(default=1, ge=0, le=2**31, json_schema_extra={"unit": "-"})

    @property
    def occupied(self) -> int:
        """Beds with a patient."""
        return self.beds if self.occupied_beds is None else self.occupied_beds


def unit_defaults(unit: Unit) -> tuple[Default, ...]:
    """List every default that stands in a unit, with source and year; minutes of a procedure as well.

    >>> from ergo.inputs.examples import scenario_folder
    >>> unit = load_unit(scenario_folder() / "units" / "example_hospital_icu.toml")
    >>> print(next(default for default in unit_defaults(unit) if default.field == "jitter_min"))
    jitter_min = 15 min (no source; judgement): how far before or after its due time a planned move comes up
    """
    # what no figure rests on is left out of the list: a census has its own women and men
    unused = "patients.women_share" if unit.patients.census else ""
    found = [d for d in defaults_used(unit) if d.field != unused]
    for kind in ("rounds", "planned", "unplanned"):
        for i, task in enumerate(getattr(unit, kind)):
            if task.minutes is None:
                found.append(default_of(MINUTES_KEY[task.procedure], f"{kind}.{i}.minutes"))
    return tuple(found)


def minutes_of(procedure: str, stated: float | None) -> float:
    """Return the minutes stated for a procedure, or the default in the assumptions."""
    return assumption(MINUTES_KEY[procedure]).typical if stated is None else stated


def load_unit(path: str | Path, tell: Tell | None = None) -> Unit:
    """Read a unit from a TOML file.

    Parameters
    ----------
    path : str or Path
    tell : callable, optional
        Called with what was changed in a file of an earlier format, in words.

    Returns
    -------
    Unit

    Raises
    ------
    InputError
        If the file cannot be read or is larger than 300 kB, and as `parse_unit`.

    Examples
    --------
    >>> from ergo.inputs.examples import scenario_folder
    >>> unit = load_unit(scenario_folder() / "units" / "example_hospital_icu.toml")
    >>> unit.beds, unit.occupied, [shift.count("handling") for shift in unit.shifts]
    (24, 24, [9, 7])
    """
    return read_unit(read_bytes(path), str(Path(path)), tell)


def read_unit(raw: bytes, what: str = "unit", tell: Tell | None = None) -> Unit:
    """Read a unit from the bytes of a TOML file."""
    return parse_unit(read_toml(raw, what), what, tell)


def parse_unit(data: dict[str, Any], what: str = "unit", tell: Tell | None = None) -> Unit:
    """Check a unit given as nested dictionaries, as TOML reads it."""
    return check(Unit, upgraded("unit", data, what, tell), what, cross_faults)


def dump_unit(unit: Unit) -> str:
    """Return the unit as TOML text that reads back to an equal unit.

    >>> from ergo.inputs.examples import scenario_folder
    >>> unit = load_unit(scenario_folder() / "units" / "example_hospital_icu.toml")
    >>> read_unit(dump_unit(unit).encode()) == unit
    True
    """
    return dump(unit)


DAY_H = 24.0


def cross_faults(data: dict[str, Any]) -> list[Fault]:
    """Find what is wrong between the fields of a unit."""
    faults = [*_shift_faults(listed(data, "shifts"))]
    beds, occupied = data.get("beds"), data.get("occupied_beds")
    if isinstance(beds, int) and isinstance(occupied, int) and occupied > beds:
        faults.append(Fault("occupied_beds", str(occupied), f"at most the {beds} beds", "beds"))
    if not any(data.get(kind) for kind in ("rounds", "planned", "unplanned", "prone")):
        faults.append(Fault("rounds, planned, unplanned, prone", "(left out)", "at least one must be given"))
    for i, task in enumerate(listed(data, "planned")):
        begin, end = task.get("from_h"), task.get("to_h")
        if _of_a_day(begin) and _of_a_day(end) and begin >= end:
            faults.append(Fault(f"planned.{i}.to_h", str(end), f"later than {begin}", "hour of the day"))
    names = [p.get("name") for p in listed(data, "policies")]
    faults += [
        Fault(f"policies.{i}.name", repr(name), "each policy needs a name of its own")
        for i, name in enumerate(names)
        if name in names[:i]
    ]
    for i, policy in enumerate(listed(data, "policies")):
        said = [("aid", policy.get("aid"))]
        said += [(f"other.{j}.aid", other.get("aid")) for j, other in enumerate(listed(policy, "other"))]
        faults += [
            Fault(f"policies.{i}.{field}", repr(aid), "one of " + ", ".join(known_aids()))
            for field, aid in said
            if isinstance(aid, str) and aid not in known_aids()
        ]
    faults += _census_faults(data.get("patients"))
    shifts = listed(data, "shifts")
    request = data.get("request")
    role = request.get("role", "") if isinstance(request, dict) else ""
    roles = dict.fromkeys(str(p.get("role")) for s in shifts for p in listed(s, "people"))
    if role and role not in roles:
        faults.append(Fault("request.role", repr(role), "one of the roles on the shifts: " + ", ".join(roles)))
    cost = data.get("cost")
    if isinstance(cost, dict) and cost.get("currency", "US$") != "US$" and "wage_per_h" not in cost:
        said_currency = f"must be given: the default is in US$, not {cost['currency']}"
        faults.append(Fault("cost.wage_per_h", "(left out)", said_currency, "currency per h"))
    return faults


def _of_a_day(hours: Any) -> TypeGuard[float]:
    return isinstance(hours, int | float) and 0 <= hours <= DAY_H


def _shift_faults(shifts: list[dict[str, Any]]) -> list[Fault]:
    spans = [(s.get("start_h"), s.get("hours"), i) for i, s in enumerate(shifts)]
    whole = [(float(a), float(b), i) for a, b, i in spans if _of_a_day(a) and _of_a_day(b)]
    if len(whole) < len(shifts) or not shifts:
        return []  # an hour that is none has a fault of its own
    whole.sort()
    for (start, hours, i), (following, _, _) in zip(whole, [*whole[1:], whole[0]], strict=True):
        if abs((start + hours - following + DAY_H / 2) % DAY_H - DAY_H / 2) > 1e-9 or sum(w[1] for w in whole) != DAY_H:
            said = "the shifts must follow each other and fill 24 h without a gap"
            return [Fault(f"shifts.{i}.hours", str(hours), said, "h")]
    return []


def _census_faults(patients: Any) -> list[Fault]:
    name = patients.get("census", "") if isinstance(patients, dict) else ""
    if isinstance(name, str) and (Path(name).name != name or "\\" in name or name in (".", "..")):
        return [Fault("patients.census", repr(name), "a file name without a folder: it lies beside the unit file")]
    return []
