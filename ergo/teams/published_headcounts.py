"""Published headcounts for the same task, beside the answer, with what they leave unsaid."""

from __future__ import annotations

import re
from dataclasses import dataclass

from ergo.evidence import table
from ergo.inputs.scenario import Scenario
from ergo.units import LB

__all__ = ["PublishedHeadcount", "headcount_range", "published_headcounts"]

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
    """One published headcount. `fits_mass` is None where the source names no mass."""

    task: str
    condition: str
    aid: str
    people: str
    source: str
    known: str
    fits_mass: bool | None


def mass_range_kg(condition: str) -> tuple[float, float] | None:
    """Return the masses a published condition speaks of [kg], or None where it names none.

    Examples
    --------
    >>> mass_range_kg("not able") is None
    True
    >>> [round(v) for v in mass_range_kg("100-200 lb")]
    [45, 91]
    """
    numbers = [float(n) * LB for n in re.findall(r"(\d+(?:\.\d+)?)(?=(?:-\d+)? lb)", condition)]
    span = re.search(r"(\d+)-(\d+) lb", condition)
    if span:
        return float(span[1]) * LB, float(span[2]) * LB
    if not numbers:
        return None
    if "under" in condition:
        return 0.0, numbers[0]
    return numbers[0], float("inf")


def headcount_range(people: str) -> tuple[int, int | None] | None:
    """Return the fewest and most people a published phrase allows.

    Parameters
    ----------
    people : str
        As in the column `people` of guidance_headcounts: digits, or four, five, six, eight in words.

    Returns
    -------
    (int, int or None) or None
        None for the most where it is open; None in all where the phrase holds no number.

    Examples
    --------
    >>> headcount_range("4-5"), headcount_range("at least 3"), headcount_range("six to eight people")
    ((4, 5), (3, None), (6, 8))
    >>> headcount_range("as many as needed") is None
    True
    """
    words = {"four": 4, "five": 5, "six": 6, "eight": 8}
    found = [int(t) if t.isdigit() else words[t] for t in re.findall(r"\d+|four|five|six|eight", people)]
    if not found:
        return None
    if "at least" in people or "or more" in people:
        return found[0], None
    return found[0], found[1] if len(found) > 1 else found[0]


def published_headcounts(scenario: Scenario) -> tuple[PublishedHeadcount, ...]:
    """Return the published headcounts for the scenario's task.

    Parameters
    ----------
    scenario : Scenario

    Returns
    -------
    tuple of PublishedHeadcount
        Those that name a mass say whether this patient's fits; none for a task of which nothing was published.

    Source: table guidance_headcounts; each entry names its own.

    Examples
    --------
    >>> from ergo.inputs.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> found = published_headcounts(parse_scenario({"name": "x", "procedure": "lateral transfer", "patient": patient}))
    >>> [(entry.people, entry.condition) for entry in found if entry.fits_mass and entry.source == "osha_3182"]
    [('2', '100-200 lb')]
    """
    found = []
    for entry in table("guidance_headcounts"):
        if entry["task"] not in _TASKS.get(scenario.procedure, ()):
            continue
        masses = mass_range_kg(entry["patient_condition"])
        fits = None if masses is None else masses[0] <= scenario.patient.mass_kg < masses[1]
        found.append(
            PublishedHeadcount(
                entry["task"],
                entry["patient_condition"],
                entry["aid"],
                entry["people"],
                entry["source"],
                entry["known"],
                fits,
            )
        )
    return tuple(found)
