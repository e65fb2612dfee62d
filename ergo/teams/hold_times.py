"""How long a hold lasts against how long the muscles last: micro-turns, limbs, the head, a layer held back."""

from __future__ import annotations

from dataclasses import dataclass

from ergo.assessment import Assessment, Person, PersonLoad
from ergo.evidence import assumption
from ergo.handlers.strength import endurance_time, shoulder_action, strength
from ergo.limits.policy import severity

__all__ = ["HoldTime", "hold_times"]


@dataclass(frozen=True, slots=True)
class HoldTime:
    """One hold and one joint: the moment over the median strength of the person's sex, and the time it can be held.

    The moment is the part of the peak's that is held at the end. `at_least` says that the effort is below the fit,
    where `endurance_s` is the time at its lower end; `ratio` is held over endurance.
    """

    move: str
    role: str
    person: Person
    region: str
    seconds: float
    fraction: float
    endurance_s: float
    within_range: bool
    at_least: bool
    ratio: float
    note: str
    source: tuple[str, ...]


def hold_times(result: Assessment) -> tuple[HoldTime, ...]:
    """Return every hold of an assessment against endurance, for the person who can hold it the shortest time.

    Source: frey_law_avin_2010, stobbe_1982 (memory fair).
    """
    found = []
    for move in result.moves:
        for done in move.efforts:
            if float(done.effort.hold_n) <= 0.0 or not done.loads:
                continue
            for i in range(len(_joints(done.loads[0]))):
                held = [_hold(move.move.name, done.effort.role, done.effort.seconds, load, i) for load in done.loads]
                found.append(max(held, key=lambda h: severity(h.fraction)))
    return tuple(found)


def _joints(load: PersonLoad) -> tuple[tuple[str, str, float], ...]:
    """Region of the endurance fit, joint action that carries the moment, moment [N m]."""
    body = load.body
    elbow = "elbow flexion" if body.elbow_moment_nm > 0 else "elbow extension"
    trunk = "torso extension" if body.l5s1_moment_nm > 0 else "torso flexion"
    return (
        ("shoulder", shoulder_action(body.shoulder_moment_nm), body.shoulder_moment_nm),
        ("elbow", elbow, body.elbow_moment_nm),
        ("trunk", trunk, body.l5s1_moment_nm),
    )


def _hold(move: str, role: str, seconds: float, load: PersonLoad, joint: int) -> HoldTime:
    region, action, moment = _joints(load)[joint]
    fraction = load.held_share * abs(moment) / strength(action, load.sex).p50
    lasts = endurance_time(fraction, region)
    time = float(lasts.time_s)
    return HoldTime(
        move,
        role,
        load.person,
        region,
        seconds,
        fraction,
        time,
        bool(lasts.within_range),
        fraction < assumption("endurance_valid_fraction").low,
        seconds / time if time > 0 else float("inf"),
        lasts.note,
        (*lasts.source, "stobbe_1982"),
    )
