"""Published headcounts for the same task, beside the answer, with what they leave unsaid."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ergo.evidence import Row, table
from ergo.inputs.scenario import Scenario
from ergo.units import LB

__all__ = [
    "PublishedHeadcount",
    "headcount_range",
    "headcount_words",
    "mass_range_kg",
    "published_headcounts",
    "usual_headcounts",
]

_TASKS = {
    "prone turn": ("prone turn",),
    "return to supine": ("prone turn",),
    "lateral transfer": ("lateral transfer", "bed to trolley"),
    "boost": ("boost or side to side",),
    "slide to the side": ("boost or side to side",),
    "side-lying turn": ("log roll",),
}


@dataclass(frozen=True, slots=True)
class PublishedHeadcount:
    """One published headcount.

    `fits_mass` is None where the source names no mass; `made_of` says why there are as many, where known.
    """

    task: str
    condition: str
    aid: str
    people: str
    source: str
    known: str
    fits_mass: bool | None
    made_of: str


def mass_range_kg(entry: Row) -> tuple[float, float] | None:
    """Return the masses of which a headcount speaks [kg], or None where it names none.

    >>> mass_range_kg({"mass_from_lb": "", "mass_to_lb": ""}) is None
    True
    >>> [round(v) for v in mass_range_kg({"mass_from_lb": "100", "mass_to_lb": "200"})]
    [45, 91]
    """
    low, high = entry["mass_from_lb"], entry["mass_to_lb"]
    if not low and not high:
        return None
    return float(low or 0.0) * LB, float(high) * LB if high else float("inf")


def headcount_range(entry: Row) -> tuple[int, int | None]:
    """Return the fewest and most people of a headcount; None for the most where it is open.

    >>> headcount_range({"people_from": "4", "people_to": "5"}), headcount_range({"people_from": "3", "people_to": ""})
    ((4, 5), (3, None))
    """
    return int(entry["people_from"]), int(entry["people_to"]) if entry["people_to"] else None


def headcount_words(entry: Row) -> str:
    """Return a headcount in words.

    >>> [headcount_words({"people_from": "4", "people_to": most}) for most in ("4", "5", "")]
    ['4', '4-5', 'at least 4']
    """
    fewest, most = headcount_range(entry)
    if most is None:
        return f"at least {fewest}"
    return str(fewest) if most == fewest else f"{fewest}-{most}"


def published_headcounts(scenario: Scenario) -> tuple[PublishedHeadcount, ...]:
    """Return the published headcounts for the scenario's task; each entry names its source.

    >>> from ergo.inputs import examples
    >>> found = published_headcounts(examples.lateral_transfer())
    >>> [(entry.people, entry.condition) for entry in found if entry.fits_mass and entry.source == "osha_3182"]
    [('2', '100-200 lb')]
    """
    return _headcounts("guidance_headcounts", scenario)


def usual_headcounts(scenario: Scenario) -> tuple[PublishedHeadcount, ...]:
    """Return the headcounts of common practice for the scenario's task, which nobody published.

    >>> from ergo.inputs import examples
    >>> [entry.people for entry in usual_headcounts(examples.prone_turn())]
    ['at least 5', '6-8']
    """
    return _headcounts("usual_headcounts", scenario)


def _fits(entry: Row, entries: Sequence[Row], mass_kg: float) -> bool:
    """Whether a headcount speaks of a mass: where a source goes up by steps, the highest step reached does."""
    low, high = mass_range_kg(entry) or (0.0, 0.0)
    of_source = [mass_range_kg(one) for one in entries if one["source"] == entry["source"]]
    reached = [masses[0] for masses in of_source if masses is not None and masses[0] <= mass_kg]
    return low == max(reached, default=0.0) and mass_kg < high


def _headcounts(name: str, scenario: Scenario) -> tuple[PublishedHeadcount, ...]:
    found = []
    entries = [entry for entry in table(name) if entry["task"] in _TASKS.get(scenario.procedure, ())]
    for entry in entries:
        masses = mass_range_kg(entry)
        fits = None if masses is None else _fits(entry, entries, scenario.patient.mass_kg)
        found.append(
            PublishedHeadcount(
                entry["task"],
                entry["patient_condition"],
                entry["aid"],
                headcount_words(entry),
                entry["source"],
                entry["known"],
                fits,
                entry["made_of"],
            )
        )
    return tuple(found)
