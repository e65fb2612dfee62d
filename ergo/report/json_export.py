"""JSON for programs, out of the frozen results themselves: stable keys, SI units, nothing rounded.

A key is the name of a field, and its meaning and unit stand in the docstring of the class; what differs from that is
listed in `_SHAPES`. `ergo assess` prints a `ThisTeam` with its `Assessment`, `purchase` a `PurchaseCase`; the functions
below put together what `team`, `sure`, `height`, `unit` and `evidence` print. A null among figures says "never".
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields, is_dataclass
from datetime import date
from enum import Enum
from operator import attrgetter
from typing import Any

import numpy as np

__all__ = ["evidence_json", "height_json", "plain_data", "sure_json", "team_json", "to_json", "unit_json"]


@dataclass(frozen=True, slots=True)
class _Shape:
    """How a class differs from its fields: keys added, fields left out, renamed, or merged into those around them."""

    added: Mapping[str, Callable[[Any], Any]] = field(default_factory=dict)
    dropped: tuple[str, ...] = ()
    renamed: Mapping[str, str] = field(default_factory=dict)
    merged: tuple[str, ...] = ()


def _of(*names: str) -> dict[str, Callable[[Any], Any]]:
    return {name: attrgetter(name) for name in names}


_NAMES: dict[str, Callable[[Any], Any]] = {
    "scenario": attrgetter("scenario.name"),
    "question": attrgetter("scenario.question"),
}


def _worst_person(move: Any) -> str | None:
    return move.worst_load.person.words if move.worst_load else None


def _persons(move: Any) -> list[dict[str, Any]]:
    """Everybody in a move, once for each action; who idles has a place, no force, and nothing that was computed."""
    doing = [plain_data(load) for load in move.loads]
    none = dict.fromkeys(_keys("PersonLoad", "BodyLoad"))
    still = {"action": "idle", "part": "", "share": 0.0, "start_n": 0.0, "steady_n": 0.0, "hold_n": 0.0, "held_kg": 0.0}
    return doing + [none | still | plain_data(person) for person in move.idle]


def _keys(*names: str) -> list[str]:
    from ergo.assessment import BodyLoad, PersonLoad

    classes = {"PersonLoad": PersonLoad, "BodyLoad": BodyLoad}
    found = []
    for name in names:
        shape = _SHAPES[name]
        left_out = (*shape.dropped, *shape.merged)
        found += [shape.renamed.get(f.name, f.name) for f in fields(classes[name]) if f.name not in left_out]
    return found


def _people_by_guidance(result: Any) -> int | None:
    from ergo.limits.guidance import guidance_of

    return guidance_of(result.scenario).people


def _guidance_source(result: Any) -> str | None:
    """Who published the number that guidance asks for; null where nobody did."""
    from ergo.limits.guidance import guidance_of

    standing = guidance_of(result.scenario).standing
    return standing[0].source or standing[0].known if standing else None


def _band_end(end: str) -> Callable[[Any], Any]:
    """How far the probability may move; null where nothing was drawn for it."""
    return lambda found: getattr(found.band, f"probability_{end}") if found.band else None


def _one_more(answer: Any) -> dict[str, Any] | None:
    more = answer.one_more
    return None if more is None else {k: getattr(more, k) for k in ("left", "right", "people", "worst_ratio")}


def _probability(found: Any) -> float | None:
    """None where no draw is covered by the limits that decide."""
    return None if found.uncovered == 1.0 else found.probability


def _convergence(sure: Any) -> list[dict[str, Any]]:
    return [{"draws": n, "probability": p, "standard_error": e} for n, p, e in sure.convergence]


def _height_curve(team: Any) -> list[dict[str, Any]]:
    points = zip(team.heights_m, team.worst_ratio, team.can_be_held, strict=True)
    return [{"height_m": h, "ratio": r, "can_be_held": c} for h, r, c in points]


def _decided_by(best: Any) -> str:
    return f"{best.decided_by.sex_word}, {best.decided_by.words}"


def _hardest(team: Any) -> str:
    return f"{_decided_by(team.hardest.best)}, in “{team.hardest.move}”"


def _cautions(result: Any) -> tuple[str, ...]:
    from ergo.assessment import cautions_of

    return cautions_of(result.scenario)


def _used_besides(result: Any) -> tuple[str, ...]:
    """What the case uses besides people and aid; empty where nothing."""
    from ergo.assessment import used_besides

    return used_besides(result.scenario)


def _decides_under(limit: Any) -> list[str]:
    from ergo.limits.policy import POLICIES

    return [name for name, policy in POLICIES.items() if limit.key in policy.deciding]


def _refused_columns(plan: Any) -> list[dict[str, str]]:
    return [{"column": column, "reason": reason} for column, reason in plan.refused_columns]


_ARRAYS = ("heights_m", "worst_ratio", "can_be_held")

# By the name of the class, so that a command loads no class that it does not need.
_SHAPES = {
    "Assessment": _Shape(
        _NAMES
        | _of("people", "worst_ratio", "decided_by")
        | {"people_by_guidance": _people_by_guidance, "guidance_source": _guidance_source, "cautions": _cautions}
        | {"used_besides": _used_besides},
        ("scenario",),
    ),
    "DecidingPolicy": _Shape(renamed={"name": "protect"}),
    "MoveResult": _Shape(
        _of("worst_person_force_n") | {"worst_person": _worst_person, "persons": _persons},
        ("idle",),  # they are among the persons
        {"effort": "least_effort"},
        merged=("move",),
    ),
    "EffortResult": _Shape(dropped=("loads",), merged=("effort",)),  # the loads are the move's persons
    "Effort": _Shape(renamed={"role": "action"}),
    "PersonLoad": _Shape(renamed={"fraction": "share", "role": "action"}, merged=("person", "body")),
    "Person": _Shape({"who": attrgetter("words")}, ("numbered",)),
    "BodyLoad": _Shape(dropped=("share_strong_enough",)),
    "LimitCheck": _Shape({"who": attrgetter("person.words")}, ("person", "found"), {"outside": "outside_range"}),
    "ThisTeam": _Shape(
        {"guidance_source": _guidance_source, **{f"probability_{e}": _band_end(e) for e in ("low", "high")}}
        | {"unmeasured": lambda found: found.band.unmeasured if found.band else ()},
        ("scenario", "band"),
        merged=("assessment", "reasons"),
    ),
    "TeamAnswer": _Shape(
        _NAMES
        | _of("use_lift", "needs")
        | {"one_more": _one_more, "probability": _probability, "guidance_source": _guidance_source},
        dropped=("scenario", "sure", "one_more"),
        merged=("reasons",),
    ),
    # the answer has the others itself
    "Reasons": _Shape(dropped=("left", "right", "people", "guidance"), renamed={"effort": "least_effort"}),
    "CurvePoint": _Shape(dropped=("check",)),
    "AidOption": _Shape(_of("needs")),
    "ValidationCase": _Shape(_of("error", "error_factor")),
    "Reliability": _Shape({"convergence": _convergence}, ("chosen",), {"curve": "teams", "inputs": "distributions"}),
    "TeamProbability": _Shape(
        {"convergence": _convergence, "probability": _probability},
        renamed={"ratio": "ratio_5_50_95", "force_n": "force_n_5_50_95"},
    ),
    "UncertainInput": _Shape(_of("basis")),
    "TeamHeight": _Shape({"curve": _height_curve, "decided_by": _hardest}, (*_ARRAYS, "hardest")),
    "MoveHeight": _Shape(merged=("best",)),
    "BedHeight": _Shape({"decided_by": _decided_by}, (*_ARRAYS, "decided_by")),
    "Limit": _Shape(_of("source", "known") | {"decides_under": _decides_under}, ("value", "standing")),
    "UnitPlan": _Shape(
        {
            "unit": attrgetter("unit.name"),
            "question": attrgetter("unit.question"),
            "target": attrgetter("unit.target"),
            "currency": attrgetter("unit.cost.currency"),
            "refused_columns": _refused_columns,
        },
        ("unit", "refused_columns"),
    ),
    "ForceRow": _Shape(renamed={"force_n": "asked", "limit_n": "allowed"}),
    "PurchaseCase": _Shape(
        {
            "purchase": attrgetter("purchase.name"),
            **{n: attrgetter(f"purchase.{n}") for n in ("question", "currency", "horizon_years", "discount_rate")},
        },
        ("purchase",),
    ),
}


def plain_data(value: Any) -> Any:
    """Return a result as dictionaries, lists, numbers, texts and None.

    >>> plain_data({"mass_kg": np.float64(70.0), "at_m": np.array([0.1, 0.2]), "years": math.inf})
    {'mass_kg': 70.0, 'at_m': [0.1, 0.2], 'years': None}
    """
    match value:
        case None | bool() | str():
            return value.value if isinstance(value, Enum) else value
        case Enum():
            return plain_data(value.value)
        case np.ndarray() | np.generic():
            return plain_data(value.tolist())
        case int():
            return value
        case float():
            if math.isnan(value):
                raise ValueError("a figure is not a number")
            return value if math.isfinite(value) else None
        case Mapping():
            return {str(key): plain_data(part) for key, part in value.items()}
        case tuple() | list():
            return [plain_data(part) for part in value]
        case date():
            return value.isoformat()
    if is_dataclass(value):
        return _fields(value)
    raise TypeError(f"no JSON for {type(value).__name__}")


def _fields(value: Any) -> dict[str, Any]:
    shape = _SHAPES.get(type(value).__name__, _Shape())
    found: dict[str, Any] = {}
    for f in fields(value):
        if f.name in shape.dropped:
            continue
        part = plain_data(getattr(value, f.name))
        if f.name in shape.merged:
            found |= {key: held for key, held in part.items() if key not in found}
        else:
            found[shape.renamed.get(f.name, f.name)] = part
    return found | {key: plain_data(make(value)) for key, make in shape.added.items()}


def to_json(result: Any) -> str:
    r"""Return a result as JSON text in plain ASCII."""
    return json.dumps(plain_data(result), indent=2, allow_nan=False)


def team_json(answer: Any, shift: Any = None) -> dict[str, Any]:
    """Return a `TeamAnswer`, which is for the usual people, and as `on_shift` what `assess` prints for those stated.

    `on_shift` is null where a case states nobody.

    >>> from ergo.inputs import examples
    >>> from ergo.teams.smallest_team import smallest_team
    >>> from ergo.teams.this_team import this_team
    >>> case = examples.boost(110.0, team={"members": [{"size": "small"}] * 2})
    >>> found = team_json(smallest_team(case, with_aids=False), this_team(case, with_band=False))
    >>> found["people"], found["on_shift"]["people"], found["on_shift"]["enough"]
    (4, 2, False)
    """
    return {**plain_data(answer), "on_shift": plain_data(shift)}


def sure_json(scenario: Any, sure: Any, found: Any) -> dict[str, Any]:
    """Return the `Reliability` of a scenario, and what drives it as `drivers`.

    A driver's `first` and `total` are estimates as they came out: a share near nothing may come out below it.
    """
    return {"scenario": scenario.name, **plain_data(sure), "drivers": plain_data(found)}


def height_json(scenario: Any, team: Any) -> dict[str, Any]:
    """Return a `TeamHeight` as `best`, null where no height answers, with `why`, `moves`, `curve` and `source`."""
    from ergo.teams.bed_height import NoHeight

    if isinstance(team, NoHeight):
        return {"scenario": scenario.name, "best": None, "why": team.why, "moves": [], "curve": [], "source": []}
    best = plain_data(team)
    apart = {key: best.pop(key) for key in ("why", "moves", "curve", "source")}
    return {"scenario": scenario.name, "best": best} | apart


def unit_json(plan: Any, request: Any = None) -> dict[str, Any]:
    """Return a `UnitPlan`; of its staffing request `answer`, or null, and `force`.

    A figure of the simulation is `mean`, `low` and `high` (95 % interval) and `runs`; all are for a day.
    """
    answer, force = (request.answer, plain_data(request.force)) if request else (None, [])
    return {**plain_data(plan), "answer": answer, "force": force}


def evidence_json() -> dict[str, Any]:
    """Return sources, limits, published cases and the statement of credibility."""
    from ergo.evidence import sources
    from ergo.limits.registry import LIMITS
    from ergo.validation.cases import NOT_PREDICTED, validation_cases
    from ergo.validation.credibility import credibility
    from ergo.validation.score import score_of

    cases = validation_cases()
    return {
        "sources": plain_data(list(sources().values())),
        "limits": plain_data(LIMITS),
        "validation": {"cases": plain_data(cases), "score": plain_data(score_of(cases))},
        "not_predicted": plain_data(NOT_PREDICTED),
        "credibility": plain_data(credibility()),
    }
