"""Published loads of the low back, predicted with the posture model from the model's own forces.

None of these studies prints forces, reach and posture together. So the forces are the model's own for the same task,
the handlers the median woman and man, and the bed heights those of evidence; what the study says of them is used.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import product
from typing import Any, get_args

import numpy as np
from numpy.typing import NDArray

from ergo.assessment import demand_of, judge
from ergo.evidence import Row, assumption, body_percentile, row
from ergo.handlers.posture import sweep
from ergo.inputs.scenario import Sex, parse_scenario
from ergo.units import G
from ergo.validation.case import Cause, Kind, ValidationCase
from ergo.validation.prediction_bands import DRAWS, band, drawn_hands, spread

__all__ = ["BACKS"]

Floats = NDArray[np.float64]
_SEXES: tuple[Sex, ...] = get_args(Sex)
_TECHNIQUES = ("best", "typical")


@dataclass(frozen=True, slots=True)
class _Task:
    """What one handler does: pull and lift at the peak, place of the hands, and the spread of the force in draws."""

    pull_n: float
    lift_n: float
    reach_m: float
    above_bed_m: float
    scale: Floats
    along_bed: bool

    def held_so(self, technique: str) -> dict[str, Any]:
        """How it is held in a technique: facing only matters along the bed, the edge may be leaned on across it."""
        degrees = float(row("techniques", technique=technique)["facing_deg"])
        facing = float(np.radians(degrees)) if self.along_bed else None
        return {"technique": technique, "facing_rad": facing, "brace": "thigh"}


def _who(sex: str) -> dict[str, Any]:
    return {"stature_m": body_percentile("stature", sex), "mass_kg": body_percentile("mass", sex), "sex": sex}


@cache
def _task(move: str, mass_kg: float, a_side: int, aid: str, role: str = "") -> _Task:
    """Work out the hardest part of one handler in a move at the usual bed height, `a_side` people on each side.

    Of those who do one thing where it is named, with both sides at work.
    """
    case: dict[str, Any] = {
        "name": "published case",
        "procedure": "own sequence",
        "moves": [{"kind": move}],
        "aid": aid,
        "patient": {"sex": "F", "mass_kg": mass_kg, "stature_m": body_percentile("stature", "F")},
        "team": {"who_works": "both sides" if role else "as taught"},
    }
    scenario = parse_scenario(case)
    result = judge(demand_of(scenario), a_side, a_side).moves[0]
    hardest = max((load for load in result.loads if role in ("", load.role)), key=lambda load: load.start_n)
    drawn = drawn_hands(scenario, a_side, a_side)
    drawn = drawn[np.isfinite(drawn)]  # where they can at all
    above = hardest.hand_height_m - scenario.bed.height_m
    forces = np.resize(drawn, DRAWS) / float(np.median(drawn))
    return _Task(hardest.pull_n, hardest.lift_n, hardest.reach_m, above, forces, move == "boost")


def _drawn(task: _Task, sex: str, bed_m: float) -> tuple[Floats, Floats]:
    """Return compression and shear when force, back arm and posture are drawn."""
    arm, posture = assumption("extensor_arm"), assumption("posture_towards_best")
    arms = spread("back arm", arm.low, arm.typical, arm.high, 0)
    towards = spread("posture", posture.low, posture.typical, posture.high, 1)
    loads = [
        sweep(
            **_who(sex),
            reach_m=task.reach_m,
            hand_height_m=bed_m + task.above_bed_m,
            bed_height_m=bed_m,
            pull_n=task.pull_n * task.scale,
            lift_n=task.lift_n * task.scale,
            **task.held_so(technique),
            back_arm_m=arms,
        )
        for technique in _TECHNIQUES
    ]
    best, typical = loads
    compression = typical.compression_n + towards * (best.compression_n - typical.compression_n)
    return compression, np.abs(typical.shear_n + towards * (best.shear_n - typical.shear_n))


def _typical(task: _Task, sex: str, bed_m: Any, technique: str = "typical", part: float = 1.0) -> tuple[Floats, Floats]:
    beds = np.asarray(bed_m, dtype=float)
    found = sweep(
        **_who(sex),
        reach_m=task.reach_m,
        hand_height_m=beds + task.above_bed_m,
        bed_height_m=beds,
        pull_n=part * task.pull_n,
        lift_n=part * task.lift_n,
        **task.held_so(technique),
    )
    return np.asarray(found.compression_n), np.abs(np.asarray(found.shear_n))


def _case(
    entry: Row,
    key: str,
    task: str,
    kind: Kind,
    predicted: Sequence[float],
    bands: tuple[float, float],
    inside: bool,
    cause: Cause,
    reason: str,
    *,
    unit: str,
    published: float | None = None,
    published_to: float | None = None,
) -> ValidationCase:
    low, typical, high = predicted
    return ValidationCase(
        id=key,
        task=task,
        kind=kind,
        published=published,
        published_to=published_to,
        predicted=typical,
        predicted_low=low,
        predicted_high=high,
        low=bands[0],
        high=bands[1],
        unit=unit,
        inside=inside,
        cause="" if inside else cause,
        reason=reason,
        source=entry["source"],
        known=entry["known"],
    )


# The three tasks of the study; one handler on each side, who is enough with a slide sheet.
_LEE = (("boost", 1), ("lateral transfer", 1), ("side-lying turn", 1))


@cache
def _lee() -> tuple[tuple[tuple[Floats, Floats], tuple[Floats, Floats]], ...]:
    """Typical and drawn loads of every task, handler and bed height."""
    heights = assumption("bed_height")
    found = []
    for move, a_side in _LEE:
        task = _task(move, body_percentile("mass", "F"), a_side, "slide sheet")
        for sex in _SEXES:
            for bed in (heights.low, heights.typical):
                found.append((_typical(task, sex, bed), _drawn(task, sex, bed)))
    return tuple(found)


def _within_range(index: int, what: str) -> ValidationCase:
    entry = row("measured_forces", id="M14", quantity=f"L5/S1 peak {what}")
    low, high = float(entry["value"]), float(entry["value_to"])
    typical = np.array([float(here[index]) for here, _ in _lee()])
    drawn = np.concatenate([there[index] for _, there in _lee()])
    predicted = float(np.min(typical)), float(np.median(typical)), float(np.max(typical))
    bands = band(drawn)
    inside = low <= bands[0] and bands[1] <= high
    return _case(
        entry,
        f"M14 {what}",
        f"boost, lateral transfer, roll at two bed heights: L5/S1 peak {what}, measured {low:.0f} to {high:.0f} N",
        "two-sided",
        predicted,
        bands,
        inside,
        "unknown input",
        f"{'Inside' if inside else 'Not all inside'} the measured range ({predicted[0]:.0f} to {predicted[2]:.0f} N "
        "here, with a slide sheet and the median woman and man); the study's own forces and handlers are not printed.",
        unit="N",
        published=low,
        published_to=high,
    )


def _compression_range() -> ValidationCase:
    return _within_range(0, "compression")


def _shear_range() -> ValidationCase:
    return _within_range(1, "shear")


def _height_not_tilt() -> ValidationCase:
    entry = row("measured_forces", id="M14", quantity="L5/S1 peak compression")
    heights = assumption("bed_height")
    gains, tilts = [], []
    for move, a_side in _LEE[:2]:
        task = _task(move, body_percentile("mass", "F"), a_side, "slide sheet")
        for sex in _SEXES:
            low, high, less = (
                float(_typical(task, sex, bed, part=part)[0])
                for bed, part in ((heights.low, 1.0), (heights.typical, 1.0), (heights.typical, 0.9))
            )
            gains.append(abs(high / low - 1.0))
            tilts.append(abs(less / high - 1.0))
    ratios = np.array(tilts) / np.maximum(np.array(gains), 1e-6)
    agrees = bool(np.median(tilts) < np.median(gains))
    return _case(
        entry,
        "M14 height",
        "boost and lateral transfer: bed height changes compression, tilt hardly; change by tilt over change by "
        "height, below 1",
        "one-sided",
        (float(np.min(ratios)), float(np.median(tilts) / np.median(gains)), float(np.max(ratios))),
        band(ratios),
        agrees,
        "physics",
        "A tilt is taken as a tenth less force, because the study's angle is not printed; compared at the median of "
        "the tasks and handlers.",
        unit="ratio",
    )


def _hardest_push() -> ValidationCase:
    entry = row("measured_forces", id="M15")
    published = float(entry["value"])
    shoes, arm, bed = assumption("shoe_friction"), assumption("extensor_arm"), assumption("bed_height")
    task = _task("lateral transfer", body_percentile("mass", "F"), 2, "cotton draw sheet", "pushes")
    rubs = spread("shoes", shoes.low, shoes.typical, shoes.high, 0)
    arms = spread("back arm", arm.low, arm.typical, arm.high, 1)

    def hardest(sex: str, shoe: Any, back_arm: Any) -> Floats:
        """The largest push that the floor lets a person exert, a hair below slipping."""
        found = sweep(
            **_who(sex),
            reach_m=task.reach_m,
            hand_height_m=bed.typical + task.above_bed_m,
            bed_height_m=bed.typical,
            pull_n=-0.99 * np.asarray(shoe) * _weight(sex),
            shoe_friction=shoe,
            back_arm_m=back_arm,
        )
        return np.asarray(found.compression_n)

    each = [float(hardest(sex, shoes.typical, arm.typical)) for sex in _SEXES]
    predicted = min(each), float(np.mean(each)), max(each)
    bands = band(np.concatenate([hardest(sex, rubs, arms) for sex in _SEXES]))
    return _case(
        entry,
        "M15",
        "bed-trolley transfer, hardest push: L5/S1 peak compression",
        "two-sided",
        predicted,
        bands,
        bands[0] <= published <= bands[1],
        "physics",
        "Too low even for the hardest push that shoes on the floor allow: the model stands still in one plane, so the "
        "jerk, the twist and the muscles that work against each other are missing.",
        unit="N",
        published=published,
    )


def _weight(sex: str) -> float:
    return body_percentile("mass", sex) * G


def _height_correlation(key: str, beds: tuple[float, float], reason: str) -> ValidationCase:
    entry = row("measured_forces", id="M16")
    published = float(entry["value"])
    task = _task("boost", float(entry["patient_kg_mean"]), 1, "cotton draw sheet")
    heights = np.linspace(*beds, 11)

    def correlations(technique: str) -> list[float]:
        return [float(np.corrcoef(heights, _typical(task, sex, heights, technique)[0])[0, 1]) for sex in _SEXES]

    found = correlations("typical")
    every = np.array(found + correlations("best"))
    middle = float(np.mean(found))
    return _case(
        entry,
        key,
        f"boost: correlation of bed height with L5/S1 compression, beds {beds[0] * 100:.0f} to {beds[1] * 100:.0f} cm; "
        "the same direction, below 0",
        "one-sided",
        (min(found), middle, max(found)),
        (float(np.min(every)), float(np.max(every))),
        middle < 0,
        "physics",
        reason,
        unit="r",
        published=published,
    )


def _below_the_hips() -> ValidationCase:
    heights = assumption("bed_height")
    return _height_correlation(
        "M16 low",
        (heights.low, heights.typical),
        "Same direction up to the usual height: the upright trunk of a raised bed is spared in flexion, though twisted "
        "more. The bands are the techniques, because nothing else is drawn here.",
    )


def _above_the_hips() -> ValidationCase:
    heights = assumption("bed_height")
    return _height_correlation(
        "M16 high",
        (heights.typical, heights.high),
        "Opposite direction: a pull above L5/S1 bends the trunk forward, so the model's load rises again above the "
        "hips. How high the study's beds went is not printed in the abstract.",
    )


def _half_the_friction() -> ValidationCase:
    entry = row("measured_forces", id="M17")
    heights = assumption("bed_height")
    ratios: list[float] = []
    drawn: list[float] = []
    task = _task("lateral transfer", body_percentile("mass", "F"), 2, "slide sheet")
    beds, signs = (heights.low, heights.typical, heights.high), (1.0, -1.0)  # a pull and a push
    for sex, sign, bed, technique in product(_SEXES, signs, beds, _TECHNIQUES):
        whole, half = (float(_typical(task, sex, bed, technique, sign * part)[0]) for part in (1.0, 0.5))
        (ratios if technique == "typical" else drawn).append(half / whole)
    low, middle, high = float(np.min(ratios)), float(np.median(ratios)), float(np.max(ratios))
    agrees = max(ratios + drawn) >= 1.0
    return _case(
        entry,
        "M17",
        "lateral push and pull: friction halved but compression not consistently lower; compression with half the "
        "force over that with all of it, reaching 1",
        "one-sided",
        (low, middle, high),
        band(np.array(ratios + drawn)),
        agrees,
        "physics",
        (
            "Not consistently lower here either: in some postures half the force leaves compression as it was."
            if agrees
            else "The model always finds a lower load with half the force, because each handler takes the posture of "
            "least effort. Compared in one posture, a pull below L5/S1 can load the back more when it is halved."
        ),
        unit="ratio",
    )


BACKS: tuple[Callable[[], ValidationCase], ...] = (
    _compression_range,
    _shear_range,
    _height_not_tilt,
    _hardest_push,
    _below_the_hips,
    _above_the_hips,
    _half_the_friction,
)
