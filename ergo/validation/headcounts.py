"""Published headcounts beside the smallest team of the model for the same task, mass and aid.

The model's people are those by force, and those if one must break off. Guidance is left out: it is what is compared.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

from ergo.assessment import Assessment, demand_of, judge, largest_team, possible_teams, roles_of
from ergo.evidence import Row, body_percentile
from ergo.inputs.scenario import Scenario, dump_scenario, parse_scenario, read_scenario
from ergo.limits.policy import ENOUGH
from ergo.teams.published_headcounts import headcount_range, headcount_words, mass_range_kg
from ergo.teams.team_search import Reasons, reasons_of
from ergo.validation.case import Kind, ValidationCase
from ergo.validation.prediction_bands import drawn_heads

__all__ = ["headcount"]

# Who is in the published number besides those who hold the patient, where it says so.
_BESIDES = {"icu_prone_checklist_2020": {"lines_and_drains": 1}}

_LOW = 0.05  # the lower end of the band; the upper is as far from one

# The procedure and the aid that stand for each published task. A published aid that names two is read as the first.
_PROCEDURE = {
    "lateral transfer": "lateral transfer",
    "bed to trolley": "lateral transfer",
    "boost or side to side": "boost",
    "log roll": "side-lying turn",
    "prone turn": "prone turn",
}
_AID = {
    "none": "no aid",
    "with an assistive device": "transfer board",
    "with a lateral transfer device": "transfer board",
    "lift, mechanical or air-assisted device": "air-assisted mattress",
    "two slide sheets": "doubled slide sheet",
    "sliding aid": "transfer board",
    "sliding aid or friction-reducing device": "transfer board",
    "friction-reducing device": "slide sheet",
    "friction-reducing device (or a full-sling lift)": "slide sheet",
    "": "cotton draw sheet",
}


def _masses(entry: Row, sex: str) -> tuple[float, ...]:
    """The masses that are published [kg]: their ends, or the median adult where none is named."""
    stated = mass_range_kg(entry)
    if stated is None:
        return (body_percentile("mass", sex),)
    low, high = stated
    if not np.isfinite(high):
        return (low,)
    return (high,) if low == 0.0 else (low, high)


def _scenario(entry: Row, sex: str, mass_kg: float) -> Scenario:
    procedure = _PROCEDURE[entry["task"]]
    patient = {
        "sex": sex,
        "mass_kg": mass_kg,
        "stature_m": body_percentile("stature", sex),
        "intubated": procedure == "prone turn",
    }
    case: dict[str, Any] = {
        "name": "published case",
        "procedure": procedure,
        "aid": _AID[entry["aid"]],
        "patient": patient,
        "policy": {"count_guidance": False},
        "team": _BESIDES.get(entry["source"], {}),
    }
    if entry["task"] == "log roll":
        case |= {  # the roll alone: the spine stays in line, and nobody slides the patient back
            "procedure": "own sequence",
            "moves": [{"kind": "side-lying turn"}],
            "aid": "no aid",
            "handling": {"turn_grip": "hands", "head_carried": True},
            "team": {"airway_lead": True},
        }
    return parse_scenario(case)


@cache
def _reasons(text: str) -> Reasons:
    return reasons_of(demand_of(read_scenario(text.encode())))


def _team(text: str) -> Assessment:
    """Judge the smallest team of a scenario, given as TOML, or the largest where none is enough."""
    demand, found = demand_of(read_scenario(text.encode())), _reasons(text)
    return judge(demand, *(found.team or largest_team(demand)))


def headcount(number: int, entry: Row) -> ValidationCase:
    """Return one published headcount beside the smallest teams of the model, over what the publication leaves open.

    Source: the entry's own, in its column `source`.
    """
    scenarios = [_scenario(entry, sex, mass) for sex in ("F", "M") for mass in _masses(entry, sex)]
    teams = [_team(dump_scenario(scenario)) for scenario in scenarios]
    counts = [t.people for t in teams if t.verdict in ENOUGH]
    fewest, most = headcount_range(entry)
    lift = len(counts) < len(teams)
    low, high = _band(scenarios)
    reached = (high is None or high >= fewest) and low is not None
    inside = reached and (most is None or (low is not None and low <= most))
    middle = 0.5 * (min(counts) + max(counts)) if counts else None
    task = ", ".join(filter(None, [entry["task"], entry["patient_condition"], entry["aid"] or "aid not named"]))
    return ValidationCase(
        id=f"H{number:02d}",
        task=f"{task}: {headcount_words(entry)}",
        kind=_kind(fewest, most, scenarios),
        published=float(fewest),
        published_to=float(most) if most not in (None, fewest) else None,
        predicted=middle,
        predicted_low=min(counts, default=None),
        predicted_high=max(counts, default=None),
        low=low,
        high=high,
        unit="people",
        inside=inside,
        cause="" if inside else "rule" if middle is not None and middle < fewest else "criterion",
        reason=_reason(inside, lift, most, teams),
        source=entry["source"],
        known=entry["known"],
    )


def _kind(fewest: int, most: int | None, scenarios: list[Scenario]) -> Kind:
    """Tell whether the model could have had too few people, never below the smallest team there is, or too many."""
    least = min(sum(possible_teams(demand_of(s))[0]) + sum(role.people for role in roles_of(s)) for s in scenarios)
    could_fail = (fewest > least) + (most is not None)
    kinds: tuple[Kind, ...] = ("by construction", "one-sided", "two-sided")
    return kinds[could_fail]


def _band(scenarios: list[Scenario]) -> tuple[float | None, float | None]:
    """5th and 95th percentile of the smallest team over all patients meant; None where a lift is the answer.

    Breaking off is looked at with typical values only, so it is a floor under the draws.
    """
    drawn = []
    for text in map(dump_scenario, scenarios):
        drawn.append(np.maximum(drawn_heads(text), _reasons(text).people_if_one_breaks_off or 0))
    heads = np.sort(np.concatenate(drawn))
    last = len(heads) - 1
    low, high = (float(heads[round(q * last)]) for q in (_LOW, 1.0 - _LOW))
    return (low if np.isfinite(low) else None), (high if np.isfinite(high) else None)


def _reason(inside: bool, lift: bool, most: int | None, teams: list[Assessment]) -> str:
    """Say in plain words why the model agrees or not, with the limit that decides."""
    heaviest = max(teams, key=lambda t: (t.verdict == "over", t.people, t.worst_ratio))
    if lift:
        return f"The model finds no team for at least one of these patients: {heaviest.why}"
    if inside:
        return f"Inside. {_decided(heaviest)}."
    if most is None or heaviest.people <= most:
        return (
            f"Fewer here. {_decided(heaviest)}. The source counts control of head, limbs and lines too, and leaves "
            "room for what no force shows, such as a patient who resists."
        )
    said = _decided(_best_with(heaviest.scenario, most))
    return (
        f"More here: with {most}, {said[0].lower()}{said[1:]}. The source names neither a force nor whom it protects."
    )


def _decided(result: Assessment) -> str:
    """Say what decides: what no limit can express first, a side without people or no posture that holds the force."""
    unmet = next(((move.unmet[0], move.move.name) for move in result.moves if move.unmet), None)
    if unmet is not None:
        return f"{unmet[0][0].upper()}{unmet[0][1:]} in “{unmet[1]}”"
    limit = result.deciding
    if limit is None:
        return result.why.rstrip(".")
    return f"The nearest limit is {limit.label} in “{result.deciding_move}”, at {result.worst_ratio:.2f} of it"


def _best_with(scenario: Scenario, people: int) -> Assessment:
    """Return the best team of this many people, roles among them: least that is unmet, then lowest ratio."""
    demand = demand_of(scenario)
    pulling = max(people - sum(role.people for role in roles_of(scenario)), 0)
    teams = [judge(demand, left, pulling - left) for left in range(pulling + 1)]
    return min(teams, key=lambda team: (sum(len(move.unmet) for move in team.moves), team.worst_ratio))
