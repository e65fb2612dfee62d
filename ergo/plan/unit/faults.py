"""What can be wrong between the fields of a unit: shifts with a gap, an unknown aid, more patients than beds."""

from __future__ import annotations

from pathlib import Path
from typing import Any, TypeGuard

from ergo.errors import Fault
from ergo.scenario import known_aids

__all__ = ["cross_faults"]

DAY_H = 24.0


def cross_faults(data: dict[str, Any]) -> list[Fault]:
    """Find what is wrong between the fields of a unit.

    Parameters
    ----------
    data : dict
        As TOML reads it, also where single fields are wrong: those have faults of their own.

    Returns
    -------
    list of Fault
        Empty where the fields fit each other.

    Examples
    --------
    >>> rounds = [{"procedure": "boost"}]
    >>> night = {"name": "night", "start_h": 19.0, "hours": 10.0}
    >>> for fault in cross_faults({"beds": 4, "occupied_beds": 5, "rounds": rounds, "shifts": [night]}):
    ...     print(fault)
    shifts.0.hours = 10.0: the shifts must follow each other and fill 24 h without a gap [h]
    occupied_beds = 5: at most the 4 beds [beds]
    """
    faults = [*_shift_faults(_listed(data, "shifts"))]
    beds, occupied = data.get("beds"), data.get("occupied_beds")
    if isinstance(beds, int) and isinstance(occupied, int) and occupied > beds:
        faults.append(Fault("occupied_beds", str(occupied), f"at most the {beds} beds", "beds"))
    if not any(data.get(kind) for kind in ("rounds", "planned", "unplanned", "prone")):
        faults.append(Fault("rounds, planned, unplanned, prone", "(left out)", "at least one must be given"))
    for i, task in enumerate(_listed(data, "planned")):
        begin, end = task.get("from_h"), task.get("to_h")
        if _of_a_day(begin) and _of_a_day(end) and begin >= end:
            faults.append(Fault(f"planned.{i}.to_h", str(end), f"later than {begin}", "hour of the day"))
    names = [p.get("name") for p in _listed(data, "policies")]
    faults += [
        Fault(f"policies.{i}.name", repr(name), "each policy needs a name of its own")
        for i, name in enumerate(names)
        if name in names[:i]
    ]
    for i, policy in enumerate(_listed(data, "policies")):
        said = [("aid", policy.get("aid"))]
        said += [(f"other.{j}.aid", other.get("aid")) for j, other in enumerate(_listed(policy, "other"))]
        faults += [
            Fault(f"policies.{i}.{field}", repr(aid), "one of " + ", ".join(known_aids()))
            for field, aid in said
            if isinstance(aid, str) and aid not in known_aids()
        ]
    faults += _census_faults(data.get("patients"))
    cost = data.get("cost")
    if isinstance(cost, dict) and cost.get("currency", "US$") != "US$" and "wage_per_h" not in cost:
        said_currency = f"must be given: the default is in US$, not {cost['currency']}"
        faults.append(Fault("cost.wage_per_h", "(left out)", said_currency, "currency per h"))
    return faults


def _listed(owner: dict[str, Any], name: str) -> list[dict[str, Any]]:
    value = owner.get(name, [])
    return [v for v in value if isinstance(v, dict)] if isinstance(value, list | tuple) else []


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
