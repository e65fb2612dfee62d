"""JSON for programs: stable keys, SI units, nothing rounded."""

from __future__ import annotations

import json
from typing import Any

from ergo.assessment import CAUTIONS, Assessment, LimitCheck, MoveResult, PersonLoad
from ergo.teams.smallest_team import TeamAnswer

__all__ = ["assessment_json", "team_json", "to_json"]


def assessment_json(result: Assessment) -> dict[str, Any]:
    """Return an assessment as plain data.

    Keys: `scenario`, `verdict`, `why`, `deciding` (a limit, or null), `deciding_move`, `people`, `left`, `right`,
    `roles`, `refusals`, `direction`, `landing`, `moves[]` (`name`, `kind`, `team_force_n`, `worst_person_force_n`,
    `worst_person`, `counter_hold_n`, `brake_force_n`, `verdict`, `why`, `persons[]` (`who`, `side`, `index` on that
    side from the head, force, posture, `compression_n`, `shear_n`, `shoulder_moment_nm`, `floor_friction`,
    `share_strong_enough`), `limits[]` with `key`, `amount`, `limit`, `unit`, `ratio`, `verdict`, `source`, `known`,
    `who`, `decides`, `note`), `cautions`.
    """
    room = result.landing
    return {
        "scenario": result.scenario.name,
        "question": result.scenario.question,
        "verdict": result.verdict,
        "why": result.why,
        "deciding": _limit(result.deciding) if result.deciding else None,
        "deciding_move": result.deciding_move,
        "people": result.people,
        "left": result.left,
        "right": result.right,
        "roles": [{"name": r.name, "people": r.people, "reason": r.reason} for r in result.roles],
        "refusals": list(result.refusals),
        "direction": {"receiving": result.direction.receiving, "reason": result.direction.reason},
        "landing": None
        if room is None
        else {
            "roll_m": float(room.roll_m),
            "needed_m": float(room.needed_m),
            "room_m": float(room.room_m),
            "slide_m": float(room.slide_m),
            "counter_slide_m": float(room.counter_slide_m),
            "fits": bool(room.fits),
        },
        "policy": {"protect": result.policy.name, "deciding": list(result.policy.deciding)},
        "moves": [_move(m) for m in result.moves],
        "cautions": list(CAUTIONS),
    }


def _move(move: MoveResult) -> dict[str, Any]:
    worst = move.worst_load
    return {
        "name": move.move.name,
        "kind": move.move.kind,
        "towards": move.move.towards,
        "team_force_n": move.team_force_n,
        "worst_person_force_n": move.worst_person_force_n,
        "worst_person": worst.person.words if worst else None,
        "counter_hold_n": move.counter_hold_n,
        "brake_force_n": move.brake_force_n,
        "verdict": move.verdict,
        "why": move.why,
        "persons": [_person(load) for load in move.loads],
        "limits": [_limit(check) for check in move.limits],
    }


def _person(load: PersonLoad) -> dict[str, Any]:
    body = load.body
    return {
        "who": load.person.words,
        "side": load.person.side,
        "index": load.person.index,
        "role": load.role,
        "sex": load.person.sex,
        "stature_m": load.person.stature_m,
        "mass_kg": load.person.mass_kg,
        "share": load.fraction,
        "start_n": load.start_n,
        "steady_n": load.steady_n,
        "pull_n": load.pull_n,
        "lift_n": load.lift_n,
        "held_kg": load.held_kg,
        "reach_m": load.reach_m,
        "hand_height_m": load.hand_height_m,
        "can_be_held": body.can_be_held,
        "reason": body.reason,
        "compression_n": body.compression_n,
        "shear_n": body.shear_n,
        "muscle_n": body.muscle_n,
        "l5s1_moment_nm": body.l5s1_moment_nm,
        "shoulder_moment_nm": body.shoulder_moment_nm,
        "elbow_moment_nm": body.elbow_moment_nm,
        "floor_friction": body.floor_friction,
        "extended_arm": body.extended_arm,
        "share_strong_enough": body.share_strong_enough,
    }


def _limit(check: LimitCheck) -> dict[str, Any]:
    return {
        "key": check.key,
        "label": check.label,
        "who": check.person.words,
        "amount": check.amount,
        "limit": check.limit,
        "unit": check.unit,
        "ratio": check.ratio,
        "verdict": check.verdict,
        "source": check.source,
        "known": check.known,
        "decides": check.decides,
        "outside_range": check.outside,
        "note": check.note,
    }


def team_json(answer: TeamAnswer) -> dict[str, Any]:
    """Return a team answer as plain data.

    Keys: `scenario`, `people` (null when a lift is the answer or no limit covers the case), `left`, `right`, `roles`,
    `use_lift`, `probability_asked`, `probability`, `why`, `gains`, `curve[]` (with `probability` and spans),
    `one_more`, `aids[]`,
    `published[]`, `assessment`.
    """
    return {
        "scenario": answer.scenario.name,
        "people": answer.people,
        "left": answer.left,
        "right": answer.right,
        "roles": [{"name": r.name, "people": r.people, "reason": r.reason} for r in answer.roles],
        "use_lift": answer.use_lift,
        "probability_asked": answer.probability_asked,
        "probability": answer.probability,
        "why": answer.why,
        "gains": list(answer.gains),
        "curve": [
            {
                "a_side": p.a_side,
                "people": p.people,
                "probability": p.probability,
                "ratio_span": p.ratio_span,
                "force_span_n": p.force_span_n,
                "verdict": p.verdict,
                "worst_ratio": p.worst_ratio,
                "worst_person_force_n": p.worst_person_force_n,
                "deciding": p.deciding,
                "deciding_move": p.deciding_move,
                "possible": p.possible,
            }
            for p in answer.curve
        ],
        "one_more": None
        if answer.one_more is None
        else {
            "left": answer.one_more.left,
            "right": answer.one_more.right,
            "people": answer.one_more.people,
            "worst_ratio": answer.one_more.worst_ratio,
        },
        "aids": [
            {
                "aid": o.aid,
                "people": o.people,
                "left": o.left,
                "right": o.right,
                "probability": o.probability,
                "worst_ratio": o.worst_ratio,
                "worst_person_force_n": o.worst_person_force_n,
                "deciding": o.deciding,
                "unmeasured": o.unmeasured,
            }
            for o in answer.aids
        ],
        "published": [
            {
                "task": p.task,
                "condition": p.condition,
                "aid": p.aid,
                "people": p.people,
                "source": p.source,
                "known": p.known,
                "fits_mass": p.fits_mass,
            }
            for p in answer.published
        ],
        "assessment": assessment_json(answer.assessment),
    }


def to_json(data: dict[str, Any]) -> str:
    """Return data as JSON text; a NaN would be a defect and raises."""
    return json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False)
