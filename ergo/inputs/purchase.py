"""What a user states for a purchase: the aids side by side, how often they are used, and what things cost."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field

from ergo.errors import Fault
from ergo.inputs.formats import Tell, newest, upgraded
from ergo.inputs.scenario import known_aids
from ergo.inputs.schema import (
    Default,
    Stated,
    check,
    defaults_used,
    dump,
    listed,
    number,
    read_bytes,
    read_toml,
    visible_text,
)
from ergo.inputs.unit import Task

__all__ = [
    "Injury",
    "MoveWith",
    "Option",
    "Purchase",
    "Ranged",
    "Volume",
    "dump_purchase",
    "load_purchase",
    "parse_purchase",
    "purchase_defaults",
    "read_purchase",
]

MONEY = (0, 100_000_000)


class Ranged(Stated):
    """A number with its range: what is typical, and how low and high it may be."""

    typical: float = number("-", 0, 1e9)
    low: float | None = number("-", 0, 1e9, None)
    high: float | None = number("-", 0, 1e9, None)

    @property
    def ends(self) -> tuple[float, float, float]:
        """Low, typical and high; an end left out is the typical value."""
        return (
            self.typical if self.low is None else self.low,
            self.typical,
            self.typical if self.high is None else self.high,
        )


class Volume(Stated):
    """How often a move is done; from a unit's plan, or counted."""

    procedure: Task
    events_a_year: Ranged


class MoveWith(Stated):
    """People and minutes of one move with one option; left out, they come from the model for the option's aid."""

    procedure: Task
    people: Ranged | None = None
    minutes: Ranged | None = None
    basis: str = Field(default="", max_length=200)
    """Where people and minutes come from; empty says it is not stated."""


class Option(Stated):
    """One way to do the moves: an aid, a dedicated turning bed, a ceiling lift, or the present practice."""

    name: str = visible_text(80)
    kind: Literal["present practice", "aid", "turning bed", "ceiling lift"]
    aid: str = Field(default="", max_length=60)
    """The aid whose people and minutes the model finds where a move does not state them."""
    use: Literal["reusable", "single-patient"] = "reusable"
    price: Ranged
    """Of one item [currency]; 0 for what is rented or there already."""
    items: int = Field(default=0, ge=0, le=100_000, json_schema_extra={"unit": "items"})
    """Bought at the start; of single-patient items none, they are bought by the patient."""
    uses_per_item: Ranged | None = None
    """Moves until a reusable item is replaced; left out: it outlasts the years looked at."""
    laundering_per_use: Ranged | None = None
    pumps: int = Field(default=0, ge=0, le=10_000, json_schema_extra={"unit": "pumps"})
    pump_price: Ranged | None = None
    training_hours: Ranged | None = None
    """Hours of all people together, at the start, paid at the wage."""
    start_cost: Ranged | None = None
    """Installing and anything else that is paid once."""
    yearly_cost: Ranged | None = None
    """Service, inspection and anything else that is paid every year."""
    rent_per_day: Ranged | None = None
    rented_days_a_year: Ranged | None = None
    rated_capacity_kg: float | None = number("kg", 50, 600, None)
    friction: float | None = number("-", 0.01, 3, None)
    friction_known: Literal["measured", "class", "unmeasured", "does not apply"] = "unmeasured"
    moves: Annotated[tuple[MoveWith, ...], Field(strict=False, min_length=1, max_length=10)]


class Injury(Stated):
    """The user's own assumption on injuries; without it injuries cost nothing in any option."""

    claims_a_year: Ranged
    reduction: Ranged
    """Share of the claims that an option avoids, 0 to 1."""
    claim_cost: float = number("currency", *MONEY, key="claim_cost")
    option: str = visible_text(80)
    reason: str = visible_text(300)


class Purchase(Stated):
    """One purchase: the first option is what is done at present."""

    format: int = Field(newest("purchase"), ge=1, le=newest("purchase"))
    name: str = visible_text(120)
    question: str = Field(default="", max_length=300)
    currency: str = visible_text(5)
    wage_per_h: Ranged
    wage_basis: str = visible_text(120)
    """Source and year of the wage."""
    benefits_share: float = number("fraction of compensation", 0, 0.8, key="benefits_share")
    realised_share: Ranged
    """Share of the time saved that becomes money or other work, 0 to 1: minutes here and there may not."""
    patients_a_year: Ranged
    heaviest_patient_kg: float = number("kg", 25, 350)
    volumes: Annotated[tuple[Volume, ...], Field(strict=False, min_length=1, max_length=10)]
    options: Annotated[tuple[Option, ...], Field(strict=False, min_length=2, max_length=8)]
    injury: Injury | None = None
    horizon_years: float = number("years", 1, 20, key="horizon_years")
    discount_rate: float = number("per year", 0, 0.2, key="discount_rate")
    use: str = Field(default="", max_length=600)
    patient_safety: str = Field(default="", max_length=600)
    staff_safety: str = Field(default="", max_length=600)
    trial_plan: Annotated[tuple[str, ...], Field(strict=False, max_length=10)] = ()
    seed: int = Field(default=1, ge=0, le=2**31, json_schema_extra={"unit": "-"})


def purchase_defaults(purchase: Purchase) -> tuple[Default, ...]:
    """List every default that stands in a purchase, with source and year.

    >>> from ergo.inputs.examples import scenario_folder
    >>> pads = load_purchase(scenario_folder() / "purchases" / "turning_pad.toml")
    >>> [default.field for default in purchase_defaults(pads)]
    ['benefits_share', 'horizon_years', 'discount_rate']
    """
    return defaults_used(purchase)


def load_purchase(path: str | Path, tell: Tell | None = None) -> Purchase:
    """Read a purchase from a TOML file.

    Parameters
    ----------
    path : str or Path
    tell : callable, optional
        Called with what was changed in a file of an earlier format, in words.

    Returns
    -------
    Purchase

    Raises
    ------
    InputError
        If the file cannot be read or is larger than 300 kB, and as `parse_purchase`.

    Examples
    --------
    >>> from ergo.errors import InputError
    >>> try:
    ...     load_purchase("no such file.toml")
    ... except InputError as error:
    ...     print(error.what, error.faults[0].field)
    no such file.toml file
    """
    return read_purchase(read_bytes(path), str(Path(path)), tell)


def read_purchase(raw: bytes, what: str = "purchase", tell: Tell | None = None) -> Purchase:
    """Read a purchase from the bytes of a TOML file."""
    return parse_purchase(read_toml(raw, what), what, tell)


def parse_purchase(data: dict[str, Any], what: str = "purchase", tell: Tell | None = None) -> Purchase:
    r"""Check a purchase given as nested dictionaries, as TOML reads it."""
    return check(Purchase, upgraded("purchase", data, what, tell), what, _cross_faults)


def dump_purchase(purchase: Purchase) -> str:
    """Return the purchase as TOML text that reads back to an equal purchase.

    >>> from ergo.inputs.examples import scenario_folder
    >>> pads = load_purchase(scenario_folder() / "purchases" / "turning_pad.toml")
    >>> read_purchase(dump_purchase(pads).encode()) == pads
    True
    """
    return dump(purchase)


def _cross_faults(data: dict[str, Any]) -> list[Fault]:
    """Find what is wrong between fields."""
    faults = list(_range_faults(data, ""))
    options = listed(data, "options")
    names = [o.get("name") for o in options]
    wanted = [v.get("procedure") for v in listed(data, "volumes")]
    faults += [
        Fault(f"volumes.{i}.procedure", repr(p), "each procedure once") for i, p in enumerate(wanted) if p in wanted[:i]
    ]
    for i, option in enumerate(options):
        if names[i] in names[:i]:
            faults.append(Fault(f"options.{i}.name", repr(names[i]), "each option needs a name of its own"))
        if option.get("kind") and (option["kind"] == "present practice") != (i == 0):
            said = "the first option is 'present practice', and no other"
            faults.append(Fault(f"options.{i}.kind", repr(option["kind"]), said))
        has = [m.get("procedure") for m in listed(option, "moves")]
        if sorted(map(str, has)) != sorted(map(str, wanted)):
            said = "one entry for every procedure of the volumes: " + ", ".join(map(str, wanted))
            faults.append(Fault(f"options.{i}.moves", ", ".join(map(str, has)) or "(left out)", said))
        for one, other in (("rent_per_day", "rented_days_a_year"), ("pump_price", "pumps")):
            if bool(option.get(one)) != bool(option.get(other)):
                faults.append(Fault(f"options.{i}.{other}", str(option.get(other)), f"goes with {one}"))
        if option.get("use") == "single-patient" and (option.get("items") or option.get("uses_per_item")):
            said = "none: single-patient items are bought by the patient"
            faults.append(Fault(f"options.{i}.items", str(option.get("items")), said, "items"))
        aid = option.get("aid", "")
        if isinstance(aid, str) and aid and aid not in known_aids():
            faults.append(Fault(f"options.{i}.aid", repr(aid), "one of " + ", ".join(known_aids())))
        if not aid and option.get("kind") != "ceiling lift":
            said = "must be given, or the aid of the option from which the model finds it"
            faults += [
                Fault(f"options.{i}.moves.{j}.{what}", "(left out)", said)
                for j, move in enumerate(listed(option, "moves"))
                for what in ("people", "minutes")
                if what not in move
            ]
        uses = option.get("uses_per_item")
        if isinstance(uses, dict) and any(isinstance(v, int | float) and v < 1 for v in uses.values()):
            faults.append(Fault(f"options.{i}.uses_per_item", str(tuple(uses.values())), "at least 1", "moves"))
    years = data.get("horizon_years")
    if isinstance(years, float) and math.isfinite(years) and years != int(years):
        faults.append(Fault("horizon_years", str(years), "a whole number: costs are counted by the year", "years"))
    injury = data.get("injury")
    if isinstance(injury, dict):
        if injury.get("option") not in names[1:]:
            faults.append(Fault("injury.option", repr(injury.get("option")), "one of the options but the first"))
        if data.get("currency") != "US$" and "claim_cost" not in injury:
            faults.append(Fault("injury.claim_cost", "(left out)", "must be given: the default is in US$", "currency"))
    for field, share in (
        ("realised_share", data.get("realised_share")),
        ("injury.reduction", (injury or {}).get("reduction") if isinstance(injury, dict) else None),
    ):
        if isinstance(share, dict) and any(isinstance(v, int | float) and v > 1 for v in share.values()):
            faults.append(Fault(field, str(tuple(share.values())), "0 to 1", "fraction"))
    return faults


def _range_faults(value: Any, where: str) -> list[Fault]:
    """Find every range that is not in order, anywhere in the file."""
    found = []
    if isinstance(value, dict):
        low, mid, high = (value.get(k) for k in ("low", "typical", "high"))
        if isinstance(mid, int | float):
            ends = [v for v in (low, mid, high) if isinstance(v, int | float)]
            if ends != sorted(ends):
                found.append(Fault(where, ", ".join(map(str, ends)), "low <= typical <= high"))
        for key, inner in value.items():
            found += _range_faults(inner, f"{where}.{key}" if where else str(key))
    elif isinstance(value, list):
        for i, inner in enumerate(value):
            found += _range_faults(inner, f"{where}.{i}")
    return found
