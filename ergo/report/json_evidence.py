"""JSON of certainty, bed height and evidence."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from ergo.evidence import sources
from ergo.inputs.scenario import Scenario
from ergo.limits.policy import POLICIES
from ergo.limits.registry import LIMITS
from ergo.report.tables.handler import hardest_words, person_words
from ergo.teams.bed_height import TeamHeight
from ergo.teams.team_probabilities import Reliability, TeamProbability
from ergo.uncertainty.sensitivity import Drivers
from ergo.validation.cases import NOT_PREDICTED, validation_cases
from ergo.validation.credibility import credibility

__all__ = ["evidence_json", "height_json", "sure_json"]


def sure_json(scenario: Scenario, sure: Reliability, found: Drivers) -> dict[str, Any]:
    """Return probabilities, convergence, drivers and distributions as plain data.

    Keys: `scenario`, `probability_asked`, `people`, `left`, `right` (null where no team reaches it), `why`, `draws`,
    `seed`,
    `teams[]` (`people`, `left`, `right`, `probability`, `standard_error`, `ratio_5_50_95`, `force_n_5_50_95`),
    `convergence[]`, `drivers` (`left`, `right`, `typical_ratio`, `why`, `ranked[]`), `distributions[]`.

    A driver's `first` and `total` are estimates as they came out: a share near nothing may come out below it.
    """
    return {
        "scenario": scenario.name,
        "probability_asked": sure.probability_asked,
        "people": sure.people,
        "left": sure.left,
        "right": sure.right,
        "why": sure.why,
        "draws": sure.draws,
        "seed": sure.seed,
        "teams": [_team(c) for c in sure.every],
        "convergence": [{"draws": n, "probability": p, "standard_error": e} for n, p, e in sure.convergence],
        "drivers": {
            "left": found.left,
            "right": found.right,
            "typical_ratio": found.typical_ratio,
            "why": found.why,
            "ranked": [asdict(d) for d in found.ranked],
        },
        "distributions": [asdict(x) | {"basis": x.basis} for x in sure.inputs],
    }


def _team(c: TeamProbability) -> dict[str, Any]:
    return {
        "people": c.people,
        "left": c.left,
        "right": c.right,
        "probability": c.probability,
        "standard_error": c.standard_error,
        "ratio_5_50_95": list(c.ratio),
        "force_n_5_50_95": list(c.force_n),
    }


def height_json(scenario: Scenario, team: TeamHeight | None) -> dict[str, Any]:
    """Return the best bed height as plain data; `best` is null where nobody exerts a force."""
    if team is None:
        return {"scenario": scenario.name, "best": None, "why": "nobody exerts a force", "moves": [], "curve": []}
    return {
        "scenario": scenario.name,
        "best": {
            "found": team.found,
            "height_m": team.height_m,
            "present_height_m": team.present_height_m,
            "ratio": team.ratio,
            "present_ratio": team.present_ratio,
            "present_can_be_held": team.present_can_be_held,
            "saved_n": team.saved_n,
            "limit_n": team.limit_n,
            "decided_by": hardest_words(team.hardest),
        },
        "why": team.why,
        "moves": [
            {
                "move": m.move,
                "role": m.role,
                "people": m.people,
                "force_n": m.force_n,
                "found": m.best.found,
                "height_m": m.best.height_m,
                "ratio": m.best.ratio,
                "present_ratio": m.best.present_ratio,
                "saved_n": m.best.saved_n,
                "decided_by": person_words(m.best.decided_by),
            }
            for m in team.moves
        ],
        "curve": [
            {"height_m": float(h), "ratio": float(r), "can_be_held": bool(c)}
            for h, r, c in zip(team.heights_m, team.worst_ratio, team.can_be_held, strict=True)
        ],
        "source": list(team.source),
    }


def evidence_json() -> dict[str, Any]:
    """Return sources, limits, published cases and the statement of credibility as plain data."""
    return {
        "sources": [asdict(s) for s in sources().values()],
        "limits": [
            {
                "key": limit.key,
                "label": limit.label,
                "quantity": limit.quantity,
                "unit": limit.unit,
                "who": limit.who,
                "range": limit.range,
                "edition": limit.edition,
                "source": limit.source,
                "known": limit.known,
                "decides_under": [name for name, policy in POLICIES.items() if limit.key in policy.deciding],
            }
            for limit in LIMITS
        ],
        "validation": {"cases": [asdict(case) for case in validation_cases()]},
        "not_predicted": NOT_PREDICTED,
        "credibility": asdict(credibility()),
    }
