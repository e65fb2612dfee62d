"""A lying patient's body: segment masses along the body, and the trunk's cross-section."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ergo.evidence import assumption, row, table
from ergo.mechanics.cross_section import Outline, exponent_from_perimeter_ratio, largest_perimeter_ratio

__all__ = [
    "LEVELS",
    "REGION",
    "SEGMENTS",
    "Body",
    "breadths",
    "build_body",
    "limb_mass",
    "limbs_laid_over",
    "segment_fractions",
]

Floats = NDArray[np.float64]

SEGMENTS = (
    "head",
    "upper_trunk",
    "middle_trunk",
    "lower_trunk",
    "upper_arm",
    "forearm",
    "hand",
    "thigh",
    "shank",
    "foot",
)
_PAIRED = ("upper_arm", "forearm", "hand", "thigh", "shank", "foot")
REGION = {
    "head": "head",
    "upper_trunk": "trunk",
    "middle_trunk": "trunk",
    "lower_trunk": "trunk",
    "upper_arm": "arms",
    "forearm": "arms",
    "hand": "arms",
    "thigh": "thighs",
    "shank": "shanks",
    "foot": "feet",
}
LEVELS = ("chest", "waist", "hip")
# Which trunk section each segment rides on when the body rolls as one.
_RIDES_ON = {
    "upper_trunk": "chest",
    "head": "chest",
    "upper_arm": "chest",
    "forearm": "chest",
    "hand": "chest",
    "middle_trunk": "waist",
    "lower_trunk": "hip",
    "thigh": "hip",
    "shank": "hip",
    "foot": "hip",
}
_MEASURES = {
    "chest": ("chest_breadth", "chest_depth"),
    "waist": ("waist_breadth", "waist_depth"),
    "hip": ("hip_breadth", "buttock_depth"),
}


@dataclass(frozen=True, slots=True)
class Body:
    """A patient's body on the mattress.

    Attributes
    ----------
    mass_kg : ndarray, shape (..., segments)
        Mass of each entry of `SEGMENTS`, both sides together.
    position_m : ndarray, shape (..., segments)
        Its place from the top of the head towards the feet.
    outline : Outline
        Mean cross-section for rolling.
    half_breadth : ndarray [m]
        Half of the widest trunk section: how much bed the patient takes.
    stature_m : ndarray [m]
    sources : tuple of str
    """

    mass_kg: Floats
    position_m: Floats
    outline: Outline
    half_breadth: Floats
    stature_m: Floats
    sources: tuple[str, ...]

    def each(self) -> list[Body]:
        """Return the bodies of many patients one by one."""
        outlines = (
            Outline(a, b, n, self.outline.weight)
            for a, b, n in zip(self.outline.a, self.outline.b, self.outline.n, strict=True)
        )
        rows = zip(self.mass_kg, self.position_m, outlines, self.half_breadth, self.stature_m, strict=True)
        return [
            Body(mass, position, outline, np.asarray(half), stature, self.sources)
            for mass, position, outline, half, stature in rows
        ]


def segment_fractions(sex: str) -> Floats:
    """Return each segment's share of body mass, paired segments together, summing to 1.

    Source: deleva_1996, Table 4.

    >>> round(float(segment_fractions("F").sum()), 12)
    1.0
    """
    raw = np.array(
        [float(row("segments_deleva_1996", segment=s)[f"mass_{sex}"]) * (2 if s in _PAIRED else 1) for s in SEGMENTS]
    )
    return np.asarray(raw / raw.sum())


def _along(sex: str) -> Floats:
    """Place of each segment's centre below the top of the head, as a fraction of stature."""
    heights = {r["item"]: float(r["fraction_of_stature"]) for r in table("stature_fractions")}
    parts = {r["segment"]: r for r in table("segments_deleva_1996")}

    def centre(name: str) -> float:
        return float(parts[name][f"cm_{sex}"])

    def length(name: str) -> float:
        return float(parts[name][f"length_{sex}_m"])

    shoulder, hip = 1 - heights["shoulder height"], 1 - heights["hip height"]
    knee, ankle = 1 - heights["knee height"], 1 - heights["ankle height"]
    trunk = ("upper_trunk", "middle_trunk", "lower_trunk")
    scale = (hip - shoulder) / sum(length(t) for t in trunk)
    places = {"head": shoulder * centre("head")}
    top = shoulder
    for part in trunk:
        places[part] = top + scale * length(part) * centre(part)
        top += scale * length(part)
    elbow = shoulder + heights["upper arm"]
    wrist = elbow + heights["forearm"]
    places["upper_arm"] = shoulder + heights["upper arm"] * centre("upper_arm")
    places["forearm"] = elbow + heights["forearm"] * centre("forearm")
    places["hand"] = wrist + heights["hand"] / 2
    places["thigh"] = hip + (knee - hip) * centre("thigh")
    places["shank"] = knee + (ankle - knee) * centre("shank")
    places["foot"] = (ankle + 1.0) / 2
    return np.array([places[s] for s in SEGMENTS])


def _power(measure: str, sex: str, mass_kg: Floats, stature_m: Floats) -> Floats:
    entry = row("body_breadths_ansur2", sex=sex, measure=measure)
    return np.asarray(float(entry["power_k"]) * (mass_kg / stature_m) ** float(entry["power_p"]))


def breadths(sex: str, mass_kg: ArrayLike, stature_m: ArrayLike) -> dict[str, tuple[Floats, Floats]]:
    """Return breadth and depth of the trunk at chest, waist and hip.

    value = k (m/H)^p from the army survey; at the waist it blends, without a jump, into the supine survey between
    the low and high end of `bmi_ansur_end`, because the army survey holds few people above it.

    Valid for BMI 18.5 to 70. Sources: gordon_2014, nhanes_2015_16.

    >>> breadth, depth = breadths("F", 80.0, 1.65)["hip"]
    >>> round(float(breadth), 3), round(float(depth), 3)
    (0.379, 0.257)
    """
    mass, stature = np.asarray(mass_kg, dtype=float), np.asarray(stature_m, dtype=float)
    bmi = mass / stature**2
    supine_depth, supine_breadth = _supine_waist(sex, mass, stature)
    ends = assumption("bmi_ansur_end")
    t = np.clip((bmi - ends.low) / (ends.high - ends.low), 0.0, 1.0)
    blend = t * t * (3.0 - 2.0 * t)
    found = {}
    for level, (across, deep) in _MEASURES.items():
        breadth, depth = _power(across, sex, mass, stature), _power(deep, sex, mass, stature)
        if level == "waist":
            breadth = (1.0 - blend) * breadth + blend * supine_breadth
            depth = (1.0 - blend) * depth + blend * supine_depth
        found[level] = (breadth, depth)
    return found


def _supine_waist(sex: str, mass_kg: Floats, stature_m: Floats) -> tuple[Floats, Floats]:
    """Depth [m] of the abdomen lying on the back, and breadth [m] that goes with it."""
    fit = row("supine_depth_fits", sex=sex)
    start, slope = float(fit["depth_cm"]), float(fit["depth_cm_per_bmi"])
    factor, power = float(fit["breadth_m"]), float(fit["breadth_power"])
    return (
        np.asarray((start + slope * mass_kg / stature_m**2) / 100.0),
        np.asarray(factor * (mass_kg / stature_m) ** power),
    )


def _exponents(sex: str, half_breadth: Floats, half_depth: Floats) -> Floats:
    """Of chest, waist and hip, the last axis; no perimeter of a chest was measured."""
    found = np.full(half_breadth.shape, assumption("chest_superellipse_exponent").typical)
    rows = [row("body_shape_ratios_ansur2", level=level, sex=sex) for level in LEVELS[1:]]
    ratio = np.array([float(one["circumference_over_ellipse_perimeter"]) for one in rows])
    a, b = half_breadth[..., 1:], half_depth[..., 1:]
    # A section stated much flatter than any in the survey cannot have the survey's ratio: then the squarest one.
    found[..., 1:] = exponent_from_perimeter_ratio(a, b, np.minimum(ratio, largest_perimeter_ratio(a, b)))
    return found


def build_body(
    sex: str,
    mass_kg: ArrayLike,
    stature_m: ArrayLike,
    *,
    measured: Mapping[str, tuple[ArrayLike | None, ArrayLike | None]] | None = None,
    breadth_scale: ArrayLike = 1.0,
    depth_scale: ArrayLike = 1.0,
) -> Body:
    """Return the body of a patient from sex, mass and stature, and from breadths where they were measured.

    Of many patients of one sex with arrays; a breadth that is not a number was not measured.

    >>> body = build_body("M", 80.0, 1.75)
    >>> round(float(body.mass_kg.sum()), 9), round(float(body.outline.height(0.0)), 3)
    (80.0, 0.119)
    """
    mass, stature, wider, deeper = (
        np.asarray(v, dtype=float) for v in (mass_kg, stature_m, breadth_scale, depth_scale)
    )
    sections = breadths(sex, mass, stature)
    share = segment_fractions(sex)
    a, b, weight = [], [], []
    for level in LEVELS:
        own = (np.asarray(v, dtype=float) for v in (measured or {}).get(level, (None, None)))
        drawn = sections[level][0] * wider, sections[level][1] * deeper
        breadth, depth = (np.where(np.isnan(o), d, o) for o, d in zip(own, drawn, strict=True))
        a.append(breadth / 2.0)
        b.append(depth / 2.0)
        weight.append(sum(f for s, f in zip(SEGMENTS, share, strict=True) if _RIDES_ON[s] == level))
    both = np.stack(np.broadcast_arrays(*a, *b), axis=-1)
    across, deep = both[..., : len(LEVELS)], both[..., len(LEVELS) :]
    return Body(
        mass_kg=mass[..., None] * share,
        position_m=_along(sex) * stature[..., None],
        outline=Outline(across, deep, _exponents(sex, across, deep), np.array(weight)),
        half_breadth=np.max(across, axis=-1),
        stature_m=stature,
        sources=("deleva_1996", "drillis_contini_1966", "gordon_2014", "nhanes_2015_16"),
    )


def limbs_laid_over(body: Body, arm: Literal["across the chest", "under the hip"]) -> Floats:
    """Return how far limbs that are laid over move the centre of mass towards the side turned to [m].

    c = Σ m_i Δ_i / m. The far leg swings about its hip until its ankle lies on the near one: each segment goes aside by
    the distance between the ankles times its own distance from the hip over the ankle's. The far forearm and hand
    across the chest swing about the elbow by their distance from it; the near ones under the hip go the other way by a
    hand's breadth. The upper arms stay, and that limbs lie higher, which helps too, is not counted.
    Sources: deleva_1996, drillis_contini_1966.

    >>> body = build_body("M", 82.0, 1.75)
    >>> [round(100 * float(limbs_laid_over(body, arm)), 1) for arm in ("across the chest", "under the hip")]
    [1.6, 1.0]
    """
    one = dict(zip(SEGMENTS, np.moveaxis(body.mass_kg / 2.0, -1, 0) / body.mass_kg.sum(axis=-1), strict=True))
    heights = {r["item"]: float(r["fraction_of_stature"]) for r in table("stature_fractions")}
    tall, at = body.stature_m, dict(zip(SEGMENTS, body.position_m, strict=True))
    hip, ankle = (1.0 - heights["hip height"]) * tall, (1.0 - heights["ankle height"]) * tall
    leg = sum(one[s] * (at[s] - hip) / (ankle - hip) for s in ("thigh", "shank", "foot"))
    aside = leg * assumption("ankles_apart").typical * tall
    if arm == "under the hip":
        return np.asarray(aside - (one["forearm"] + one["hand"]) * assumption("arm_under_hip").typical * tall)
    elbow = (1.0 - heights["shoulder height"] + heights["upper arm"]) * tall
    return np.asarray(aside + sum(one[s] * (at[s] - elbow) for s in ("forearm", "hand")))


_LIMBS = {"arm": "total_arm", "leg": "total_leg", "head": "head_neck"}


def limb_mass(limb: str, mass_kg: ArrayLike, stature_m: ArrayLike) -> Floats:
    """Return the mass of one arm, one leg, or head and neck.

    m = share · body mass; for the head the body mass counts only up to that of BMI `head_reference_bmi`.

    Winter's cut of the thigh is used because the published limb-holding limits use 15.7 to 16 % for a leg
    (aorn_2011, waters_2007). Source: winter_2009, Table 4.1.

    >>> round(float(limb_mass("leg", 80.0, 1.7)), 2)
    12.88
    """
    mass = np.asarray(mass_kg, dtype=float)
    if limb == "head":
        mass = np.minimum(mass, assumption("head_reference_bmi").typical * np.asarray(stature_m, dtype=float) ** 2)
    return np.asarray(float(row("segments_winter", segment=_LIMBS[limb])["mass"]) * mass)
