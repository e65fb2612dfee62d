"""Low-back loads of our boosts beside what laboratories measured: `python tests/tools/bench_boosts.py`.

M14 (lee_2024): L5/S1 peaks over boost, lateral transfer and roll at two bed heights. M16 (larson_2023): correlation of
bed height with L5/S1 compression in boosts. Neither prints force, reach and posture together, so these are the model's
own, one handler a side; "one plane" is the load before side bend and twist are added.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np

from ergo.assessment import demand_of, judge
from ergo.evidence import assumption, row
from ergo.handlers.posture import hold_posture
from ergo.inputs.scenario import Sex, Technique, parse_scenario

AIDS = ("doubled slide sheet", "cotton draw sheet")
SEXES: tuple[Sex, ...] = ("F", "M")
TECHNIQUES: tuple[Technique, ...] = ("best", "typical")


@dataclass(frozen=True)
class Boost:
    """One handler's low back in one boost: L5/S1 compression in one plane and in all [N], shear [N]."""

    aid: str
    sex: Sex
    technique: Technique
    bed_m: float
    one_plane_n: float
    compression_n: float
    shear_n: float


def median(measure: str, sex: str) -> float:
    """A median of the people of the evidence."""
    return float(row("body_mass_percentiles_us", measure=measure, sex=sex)["p50"])


def measured(key: str, quantity: str) -> tuple[float, float]:
    """What a study measured, from and to."""
    found = row("measured_forces", id=key, quantity=quantity)
    return float(found["value"]), float(found["value_to"] or found["value"])


def boost(aid: str, sex: Sex, technique: Technique, bed_m: float, mass_kg: float) -> Boost:
    """Return one boost of a patient by two median handlers, one a side."""
    patient = {"sex": "F", "mass_kg": mass_kg, "stature_m": median("stature_cm", "F") / 100}
    case = parse_scenario({"name": "x", "procedure": "boost", "patient": patient, "aid": aid})
    hardest = max(judge(demand_of(case), 1, 1).moves[0].loads, key=lambda load: load.start_n)
    held = hold_posture(
        stature_m=median("stature_cm", sex) / 100,
        mass_kg=median("mass_kg", sex),
        sex=sex,
        reach_m=hardest.reach_m,
        hand_height_m=bed_m + hardest.hand_height_m - case.bed.height_m,
        bed_height_m=bed_m,
        pull_n=hardest.pull_n,
        lift_n=hardest.lift_n,
        technique=technique,
        facing_rad=float(np.radians(float(row("techniques", technique=technique)["facing_deg"]))),
    )
    back = held.low_back
    beside = float(back.compression_from_side_bend_n) + float(back.compression_from_twist_n)
    whole = held.compression_n
    return Boost(aid, sex, technique, bed_m, whole - beside, whole, abs(held.shear_n))


def boosts(beds_m: tuple[float, ...], aids: tuple[str, ...] = AIDS, mass_kg: float | None = None) -> list[Boost]:
    """Return the boosts of a median woman, or of a patient of a mass, with each aid, sex, technique and bed height."""
    mass = median("mass_kg", "F") if mass_kg is None else mass_kg
    return [boost(*one, mass) for one in product(aids, SEXES, TECHNIQUES, beds_m)]


def height_correlation(beds_m: tuple[float, ...], *, one_plane: bool) -> dict[tuple[str, str], float]:
    """Return the correlation of bed height with compression by sex and technique, of the study's patient on cotton."""
    mass = float(row("measured_forces", id="M16")["patient_kg_mean"])
    found = boosts(beds_m, (AIDS[1],), mass)
    return {
        (sex, how): float(
            np.corrcoef(
                [b.bed_m for b in found if (b.sex, b.technique) == (sex, how)],
                [b.one_plane_n if one_plane else b.compression_n for b in found if (b.sex, b.technique) == (sex, how)],
            )[0, 1]
        )
        for sex, how in product(SEXES, TECHNIQUES)
    }


def main() -> None:
    """Print both."""
    beds = assumption("bed_height")
    compression, shear = (measured("M14", f"L5/S1 peak {what}") for what in ("compression", "shear"))
    print(f"measured (M14): compression {compression[0]:.0f} to {compression[1]:.0f} N, shear {shear}")
    head = ("aid", "handler", "technique", "bed cm", "one plane N", "all N", "shear N")
    print(f"| {' | '.join(head)} |\n|{' --- |' * len(head)}")
    for b in boosts((beds.low, beds.typical)):
        figures = f"{b.one_plane_n:.0f} | {b.compression_n:.0f} | {b.shear_n:.0f}"
        print(f"| {b.aid} | {b.sex} | {b.technique} | {100 * b.bed_m:.0f} | {figures} |")
    print(f"measured (M16): r = {measured('M16', row('measured_forces', id='M16')['quantity'])[0]}")
    for name, (low, high) in {"up to the hips": (beds.low, beds.typical), "above": (beds.typical, beds.high)}.items():
        heights = tuple(np.linspace(low, high, 11).tolist())
        for plane in (True, False):
            found = height_correlation(heights, one_plane=plane)
            said = ", ".join(f"{sex} {how} {r:+.2f}" for (sex, how), r in found.items())
            print(f"{name} ({'one plane' if plane else 'all'}): {said}")


if __name__ == "__main__":
    main()
