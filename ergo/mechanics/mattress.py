"""A mattress that gives: how deep a body sinks, where the mattress bears it, what a roll and a slide lose to it.

The mattress is a bed of springs side by side that do not know of each other (a Winkler foundation): each presses back
with k times the depth to which the body's outline presses it in. So the body sinks until k L ∫ δ dx = m g, with δ(x)
the depth of the outline below the unpressed surface and L the length along the patient. What is pressed ahead of a
rolling or sliding body is not all given back behind it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ergo.errors import checked_numbers
from ergo.evidence import Range, assumption, row
from ergo.mechanics.body import build_body
from ergo.mechanics.cross_section import Outline
from ergo.remembered import remembered

__all__ = [
    "HARD_SURFACE",
    "Mattress",
    "MattressSupport",
    "find_on_back",
    "hollow_drag",
    "mattress_range",
    "mattress_support",
    "mattress_under",
    "outline_support",
    "pressed_area",
    "rolled_support",
]

Floats = NDArray[np.float64]

SOURCES = ("thibault_2014", "christian_jordan_2012")

_POINTS = (
    64  # of the outline, dense where its flat sides are; more of them change no moment arm of a patient by over 0.1 %
)
_MOST_STEPS, _CLOSE = 40, 1e-12  # of the pressed-in area [m²]
_LEAST = 2e-4  # m² pressed in, about two millimetres: from here to a hard surface between the two
_QUARTER = np.radians(np.arange(0.0, 91.0, 2.0))
_MANY = 256  # immersions are looked up between some that were solved
_BLOCK = 2**15  # numbers worked on at once, so that they stay near the processor


@dataclass(frozen=True, slots=True, eq=False)
class Mattress:
    """A mattress under one patient.

    Attributes
    ----------
    pressed_m2 : ndarray, shape (...) [m²]
        ∫ δ dx = m g / (k L): how much of the outline lies below the unpressed surface; 0 on a hard surface.
    loss : ndarray, shape (...) [-]
        η, the part of the work of pressing that is not given back.
    """

    pressed_m2: Floats
    loss: Floats

    @property
    def gives(self) -> bool:
        """Whether anything is pressed in at all."""
        return bool(np.any(self.pressed_m2 > 0.0))

    def at_rest(self) -> Mattress:
        """Return the same under a patient who is held still: what foam keeps of the work is soon gone."""
        return Mattress(self.pressed_m2, np.zeros(()))


HARD_SURFACE = Mattress(np.zeros(()), np.zeros(()))
"""A table top, or a mattress that is left out of account."""


@dataclass(frozen=True, slots=True)
class MattressSupport:
    """How a mattress bears a body at each roll angle; all arrays of shape (..., angles) [m].

    Attributes
    ----------
    sink_m : ndarray
        How far the lowest point lies below the unpressed surface.
    centre_height_m : ndarray
        z, the centre above the unpressed surface.
    friction_depth_m : ndarray
        y_f, from the centre down to where friction acts: the depth of the outline, weighted by pressure. It takes the
        place of the centre's height in every moment arm about the contact; on a hard surface they are the same.
    moment_arm_m : ndarray
        p, gravity's moment arm: the centre of pressure ahead of the centre. Positive while gravity resists the roll.
    loss_arm_m : ndarray
        What a roll would lose if nothing were given back, as a moment arm of the weight; times η it always resists:
        half of what is pressed ahead and released behind in a radian.
    sources : tuple of str
    """

    sink_m: Floats
    centre_height_m: Floats
    friction_depth_m: Floats
    moment_arm_m: Floats
    loss_arm_m: Floats
    sources: tuple[str, ...] = SOURCES


def mattress_support(
    half_breadth_m: ArrayLike,
    half_depth_m: ArrayLike,
    *,
    immersion_m: ArrayLike,
    angle_rad: ArrayLike = np.radians(np.arange(181.0)),  # noqa: B008
    superellipse_exponent: ArrayLike | None = None,
) -> MattressSupport:
    """Return how a mattress bears a body of one section that sinks in by `immersion_m` lying on its back.

    k L ∫ δ dx = m g; p = ∫ δ x dx / ∫ δ dx; y_f = z + ∫ δ² dx / ∫ δ dx; loss arm = ∫ δ |v| dx / (2 ∫ δ dx), with
    v = x - x̄ + (z + δ - y_f) δ' the speed at which the roll presses the mattress in at x, x̄ the middle of the contact.

    Parameters
    ----------
    half_breadth_m, half_depth_m : array_like, shape (...) [m]
        Half of the patient's breadth and depth, 0.05 to 0.6.
    immersion_m : array_like, shape (...) [m]
        How far the lowest point lies below the unpressed surface with the patient on the back, 0 to 0.3; 0 is a hard
        surface. Nobody sinks deeper than to the centre.
    angle_rad : array_like, shape (angles,) [rad]
        Roll angles, 0 to π; by default by degrees.
    superellipse_exponent : array_like, shape (...) [-], optional
        Of the outline, 2 is an ellipse; by default assumption `chest_superellipse_exponent`.

    Returns
    -------
    MattressSupport
        Of shape (..., angles).

    Raises
    ------
    InputError
        With every argument that is not a number, out of range or of a length that does not fit.

    Notes
    -----
    Springs that are straight up and down, do not know of each other and are as stiff at every depth: a mattress that is
    pressed through to its base is stiffer than this. The moment m g p is the derivative of the energy
    m g z + k L ∫ δ² dx / 2; over a whole roll the mattress keeps η of all the work with which it was pressed in.
    Source: statics of a Winkler foundation; a roll without slip where friction acts.

    Examples
    --------
    A hard surface and one into which this patient sinks by 4 cm: gravity resists by less, and the loss adds to it.

    >>> hard, soft = (mattress_support(0.18, 0.12, immersion_m=sink) for sink in (0.0, 0.04))
    >>> round(float(hard.moment_arm_m.max()), 3), round(float(soft.moment_arm_m.max()), 3)
    (0.069, 0.049)
    >>> round(float(soft.sink_m[0]), 6), round(float(soft.loss_arm_m[0]), 3)
    (0.04, 0.032)
    """
    exponent = (
        assumption("chest_superellipse_exponent").typical if superellipse_exponent is None else superellipse_exponent
    )
    (angles,) = checked_numbers("mattress support", angle_rad=(np.atleast_1d(angle_rad), 0.0, np.pi, "rad"))
    breadth, depth, n, immersion = np.broadcast_arrays(
        *checked_numbers(
            "mattress support",
            half_breadth_m=(half_breadth_m, 0.05, 0.6, "m"),
            half_depth_m=(half_depth_m, 0.05, 0.6, "m"),
            superellipse_exponent=(exponent, 1.5, 60.0, "-"),
            immersion_m=(immersion_m, 0.0, 0.3, "m"),
        )
    )
    outline = Outline.single(breadth, depth, n)
    return outline_support(outline, pressed_area(outline, immersion), angles)


@cache
def mattress_range(kind: str, quantity: Literal["immersion", "loss"]) -> Range:
    """Return low, typical and high of a kind of mattress: its `immersion` at the reference patient [m], or its `loss`.

    >>> mattress_range("foam", "immersion").typical < mattress_range("alternating air", "immersion").typical
    True
    """
    found = row("mattress_types", mattress=kind, quantity=quantity)
    low, typical, high = (float(found[column]) for column in ("low", "typical", "high"))
    return Range(
        f"{quantity} of {kind}", low, typical, high, found["unit"], found["source"], found["known"], found["note"]
    )


def mattress_under(mass_kg: ArrayLike, stature_m: ArrayLike, immersion_m: ArrayLike, loss: ArrayLike) -> Mattress:
    """Return a mattress under a patient, from how deep the reference patient sinks into it and what it loses.

    ∫ δ dx = m g / (k L), with k from the reference patient and L in proportion to stature: the same mattress gives more
    to who is heavier or shorter.

    >>> light, heavy = (mattress_under(mass, 1.75, 0.06, 0.35) for mass in (60.0, 120.0))
    >>> round(float(heavy.pressed_m2 / light.pressed_m2), 9)
    2.0
    """
    outline, mass, stature = _reference()
    immersion = np.asarray(immersion_m, dtype=float)
    unlike, which = np.unique(immersion, return_inverse=True)
    areas = np.interp(unlike, *_reference_areas()) if unlike.size > _MANY else pressed_area(outline, unlike)
    of_reference = areas[which].reshape(immersion.shape)
    area = of_reference * np.asarray(mass_kg) / mass * stature / np.asarray(stature_m)
    return Mattress(np.asarray(area), np.asarray(loss, dtype=float))


@cache
def _reference() -> tuple[Outline, float, float]:
    """Outline, mass and stature of the patient for whom an immersion is stated."""
    mass, stature = assumption("immersion_mass").typical, assumption("immersion_stature").typical
    return build_body("M", mass, stature).outline, mass, stature


@cache
def _reference_areas() -> tuple[Floats, Floats]:
    """Immersions of the reference patient, and what of the outline they press in."""
    sinks = 0.15 * np.linspace(0.0, 1.0, 513) ** 2
    return sinks, pressed_area(_reference()[0], sinks)


def pressed_area(outline: Outline, immersion_m: ArrayLike) -> Floats:
    """Return ∫ δ dx [m²] of a body on its back whose lowest point is `immersion_m` below the unpressed surface.

    >>> chord = 2 * (0.15**2 - 0.11**2) ** 0.5  # of a circle: sector less triangle
    >>> exact = 0.15**2 * np.arccos(0.11 / 0.15) - 0.11 * chord / 2
    >>> bool(abs(pressed_area(Outline.single(0.15, 0.15, 2.0), 0.04) / exact - 1) < 1e-3)
    True
    """
    x, y = _points(outline)
    sink = np.asarray(immersion_m, dtype=float)
    depth = y - (outline.height(0.0) - sink)[..., None]
    area, _ = _area_and_width(*np.broadcast_arrays(x, depth))
    return np.asarray(np.where(sink > 0.0, area, 0.0))


def outline_support(outline: Outline, pressed_m2: ArrayLike, angle: ArrayLike) -> MattressSupport:
    """Return how a mattress bears an outline of shape (...) at every angle; where nothing is pressed in, rigidly.

    >>> circle = outline_support(Outline.single(0.15, 0.15, 2.0), [0.0, 0.004], [0.0, 0.5])
    >>> circle.moment_arm_m.shape, bool(np.abs(circle.moment_arm_m).max() < 1e-3), circle.sink_m[0].tolist()
    ((2, 2), True, [0.0, 0.0])
    """
    angle, area = np.asarray(angle, dtype=float), np.asarray(pressed_m2, dtype=float)
    return _with_hard_limit(outline, area, angle, _soft(outline, area, angle) if np.any(area > 0.0) else None)


def _with_hard_limit(outline: Outline, area: Floats, angle: Floats, soft: Floats | None) -> MattressSupport:
    """Complete what was found for soft surfaces with hard ones, and those that hardly give between the two."""
    shape = np.broadcast_shapes(outline.a.shape[:-1], area.shape)
    height, p = (np.broadcast_to(v, (*shape, len(angle))) for v in outline.over_angles().height_and_moment_arm(angle))
    none = np.zeros(height.shape)
    if soft is None:
        return MattressSupport(none, height, height, p, none)
    part = np.minimum(np.broadcast_to(area, shape) / _LEAST, 1.0)[..., None] ** (
        2.0 / 3.0
    )  # as a depth grows with area
    z, friction, centre, loss = (
        np.where(part < 1.0, on_hard + (on_soft - on_hard) * part, on_soft)
        for on_hard, on_soft in zip((height, height, p, none), soft, strict=True)
    )
    return MattressSupport(np.maximum(height - z, 0.0), z, friction, centre, loss)


def _soft(outline: Outline, area: Floats, angle: Floats) -> Floats:
    """z, friction depth, centre of pressure and loss arm, shape (4, ..., angles), of `_LEAST` pressed in or more."""
    shape = np.broadcast_shapes(outline.a.shape[:-1], area.shape)
    x, y = (np.broadcast_to(v, (*shape, _POINTS)).reshape(-1, _POINTS) for v in _points(outline))
    pressed = np.maximum(np.broadcast_to(area, shape), _LEAST).reshape(-1)
    found = np.empty((4, len(pressed), len(angle)))
    at_once = max(1, _BLOCK // (len(angle) * _POINTS))
    sine, cosine = np.sin(angle)[:, None], np.cos(angle)[:, None]
    for start in range(0, len(pressed), at_once):
        some = slice(start, start + at_once)
        across, down = x[some, None, :], y[some, None, :]
        found[:, some] = _settled(across * cosine - down * sine, across * sine + down * cosine, pressed[some, None])
    return found.reshape(4, *shape, len(angle))


def _points(outline: Outline) -> tuple[Floats, Floats]:
    """Points of the outline on its back: across the bed and below the centre, shape (..., points).

    The point with its normal at θ from straight down lies h(θ) along that normal and h'(θ) across it. Each is moved
    outwards by two thirds of the rise of the arcs beside it, chord · Δθ / 8, so that the polygon keeps the area.
    """
    height, slope = outline.over_angles().height_and_moment_arm(_NORMALS)
    sine, cosine = np.sin(_NORMALS), np.cos(_NORMALS)
    x, y = height * sine + slope * cosine, height * cosine - slope * sine
    turned = np.mod(np.roll(_NORMALS, -1) - _NORMALS, 2.0 * np.pi)
    rise = np.hypot(np.roll(x, -1, axis=-1) - x, np.roll(y, -1, axis=-1) - y) * turned / 8.0
    outwards = (rise + np.roll(rise, 1, axis=-1)) / 3.0
    return np.asarray(x + outwards * sine), np.asarray(y + outwards * cosine)


def _normals() -> Floats:
    """Normals all round, dense about the axes, where a flat side passes within a small angle."""
    u = np.linspace(-1.0, 1.0, _POINTS // 4 + 1)[:-1]
    within = np.pi / 4.0 * (1.0 + np.sign(u) * (1.0 - (1.0 - np.abs(u)) ** 2))
    return np.asarray((np.pi / 2.0 * np.arange(4)[:, None] + within).ravel())


_NORMALS = _normals()


def _area_and_width(x: Floats, depth: Floats) -> tuple[Floats, Floats]:
    """Area and width of what lies below the surface, of a polygon with its points at x and at these depths below it."""
    area, wet, *_ = _strips(x, depth)
    return np.asarray(area.sum(axis=-1)), np.asarray(wet.sum(axis=-1))


def _strips(x: Floats, depth: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Of the strip above each side of a polygon: area, width below the surface, and the depths at its two ends."""
    nearer, farther = depth, np.roll(depth, -1, axis=-1)
    a, b = np.maximum(nearer, 0.0), np.maximum(farther, 0.0)
    both = a + b
    crossing = (nearer > 0.0) != (farther > 0.0)
    part = np.where(crossing, both / np.where(crossing, np.abs(farther - nearer), 1.0), both > 0.0)
    wet = (np.roll(x, -1, axis=-1) - x) * part
    return 0.5 * wet * both, wet, a, b


def _settled(x: Floats, y: Floats, pressed: Floats) -> Floats:
    """Sink polygons until the area pressed in is right; return z, friction depth, centre of pressure and loss arm.

    Newton's steps: the area falls with z by the width that is wet, ever more slowly, so that no step from below goes
    too far. Nobody sinks deeper than to the centre.
    """
    top = y.max(axis=-1)
    # as if the body were flat over the width of a parabola through its lowest point
    z = top - np.minimum(2.0 * pressed / np.ptp(x, axis=-1) + 0.2 * np.sqrt(pressed), 0.9 * top)
    for _ in range(_MOST_STEPS):
        area, width = _area_and_width(x, y - z[..., None])
        over = area - pressed
        z = np.clip(z + over / np.maximum(width, 1e-3), 0.0, top - 1e-9)
        if np.all((np.abs(over) < _CLOSE) | (z <= 0.0)):
            break
    area, wet, a, b = _strips(x, y - z[..., None])
    ahead = np.roll(x, -1, axis=-1)
    first, last = np.where(a > 0.0, x, ahead - wet), np.where(b > 0.0, ahead, x + wet)
    moment = wet * (a * (2.0 * first + last) + b * (first + 2.0 * last)) / 6.0
    total = area.sum(axis=-1)
    centre = moment.sum(axis=-1) / total
    square = (wet * (a * a + a * b + b * b)).sum(axis=-1) / 3.0
    mean_depth = square / total
    # how fast the ends of each strip are pressed, times its width: what lies ahead goes down, what lies behind comes up
    middle = (wet * (first + last)).sum(axis=-1) / (2.0 * wet.sum(axis=-1))
    middle, usual = middle[..., None], mean_depth[..., None]
    start, end = (first - middle) * wet + (a - usual) * (b - a), (last - middle) * wet + (b - usual) * (b - a)
    worked = np.abs(a * (2.0 * start + end) + b * (start + 2.0 * end)) / 6.0
    # in a strip of which a part goes down and a part comes up both count
    lesser, both = np.minimum(np.abs(start), np.abs(end)), np.abs(start) + np.abs(end)
    worked += np.where(start * end < 0.0, 0.5 * (a + b) * lesser**2 / np.where(both > 0.0, both, 1.0), 0.0)
    loss = 0.5 * worked.sum(axis=-1) / total
    return np.stack([z, z + mean_depth, centre, loss])


@lru_cache(maxsize=64)  # an outline is its own key; all turns of a procedure share it
def _quarter_turn(outline: Outline, shape: tuple[int, ...], pressed: bytes) -> Floats:
    return _soft(outline, np.frombuffer(pressed).reshape(shape), _QUARTER)


def rolled_support(outline: Outline, mattress: Mattress, angle: ArrayLike) -> MattressSupport:
    """Return how a mattress bears an outline at any angles, from a quarter of a turn that is solved once.

    The outline is the same seen from either side, so the moment arm changes its sign about 0, 90° and 180°, and all
    else stays. Between the angles that were solved runs the cubic through the four nearest.

    >>> outline, mattress = Outline.single(0.18, 0.12, 2.7), Mattress(np.asarray(0.008), np.asarray(0.3))
    >>> between = rolled_support(outline, mattress, [0.51, np.pi - 0.51]).moment_arm_m
    >>> exact = outline_support(outline, 0.008, [0.51]).moment_arm_m[0]
    >>> bool(np.allclose(between, [exact, -exact], rtol=1e-3))
    True
    """
    angle, area = np.asarray(angle, dtype=float), np.asarray(mattress.pressed_m2, dtype=float)
    if not mattress.gives:
        return outline_support(outline, area, angle)
    solved = _quarter_turn(outline, area.shape, area.tobytes())
    last, at = len(_QUARTER) - 1, angle / _QUARTER[1]
    base = np.floor(at).astype(int)
    u = at - base
    weights = (
        -u * (u - 1.0) * (u - 2.0) / 6.0,
        (u + 1.0) * (u - 1.0) * (u - 2.0) / 2.0,
        -(u + 1.0) * u * (u - 2.0) / 2.0,
        (u + 1.0) * u * (u - 1.0) / 6.0,
    )
    found = np.zeros((*solved.shape[:-1], len(angle)))
    for step, weight in zip((-1, 0, 1, 2), weights, strict=True):
        place = np.mod(base + step, 2 * last)
        there = solved[..., np.where(place > last, 2 * last - place, place)]
        found += there * weight
        found[2] -= np.where(place > last, 2.0 * there[2] * weight, 0.0)  # of the four the moment arm alone is odd
    return _with_hard_limit(outline, area, angle, found)


def hollow_drag(outline: Outline, mattress: Mattress, length_m: ArrayLike | None = None) -> Floats:
    """Return what moving the hollow along costs in a slide, as a part of the weight: new foam is pressed all the time.

    η k L δ0² / 2 across the bed, η k ∫ δ² dx / 2 along it, over m g = k L ∫ δ dx; δ0 the depth of the lowest point.

    Parameters
    ----------
    length_m : array_like, optional [m]
        Length of the patient for a slide along the bed; left out, the slide goes across.

    >>> outline, mattress = Outline.single(0.18, 0.12, 2.7), Mattress(np.asarray(0.008), np.asarray(0.3))
    >>> across, along = float(hollow_drag(outline, mattress)), float(hollow_drag(outline, mattress, 1.7))
    >>> round(across, 3), round(along, 4)
    (0.023, 0.0027)
    """
    pressed = np.asarray(mattress.pressed_m2, dtype=float)
    if not mattress.gives:
        return np.asarray(0.0 * pressed * mattress.loss)
    if outline.a.ndim == 1 and pressed.ndim == 0:
        sink, mean = find_on_back([(outline, mattress)])[0]
    elif outline.a.ndim == 1 and pressed.size > 1:
        areas, sinks, means = _flat(outline)
        sink, mean = np.interp(pressed, areas, sinks), np.interp(pressed, areas, means)
    else:
        sink, mean = _on_back(outline, pressed)
    if length_m is None:
        return np.asarray(0.5 * mattress.loss * sink**2 / np.where(pressed > 0.0, pressed, 1.0))
    return np.asarray(0.5 * mattress.loss * mean / np.asarray(length_m, dtype=float))


@lru_cache(maxsize=64)
def _flat(outline: Outline) -> tuple[Floats, Floats, Floats]:
    """Of an outline on its back: pressed-in areas, how far it sinks, and the mean depth of what presses."""
    areas = float(pressed_area(outline, outline.height(0.0))) * np.linspace(0.0, 1.0, 65) ** 2
    return areas, *_on_back(outline, areas)


def _on_back(outline: Outline, pressed_m2: Floats) -> tuple[Floats, Floats]:
    """How far an outline sinks on its back, and the mean depth of what presses."""
    at = outline_support(outline, pressed_m2, np.zeros(1))
    return at.sink_m[..., 0], (at.friction_depth_m - at.centre_height_m)[..., 0]


_KNOWN: dict[tuple[Outline, Mattress], tuple[Floats, Floats]] = {}
_MOST_KNOWN = 1024


def find_on_back(asked: Sequence[tuple[Outline, Mattress]]) -> list[tuple[Floats, Floats]]:
    """Return how far each of many outlines sinks into its own mattress [m], and the mean depth of what presses [m].

    >>> outline, mattress = Outline.single(0.18, 0.12, 2.7), Mattress(np.asarray(0.008), np.asarray(0.3))
    >>> [round(float(depth), 3) for depth in find_on_back([(outline, mattress)])[0]]
    [0.035, 0.03]
    """
    return remembered(_KNOWN, zip(asked, asked, strict=True), _found_on_back, _MOST_KNOWN)


def _found_on_back(asked: Sequence[tuple[Outline, Mattress]]) -> list[tuple[Floats, Floats]]:
    found: dict[int, tuple[Floats, Floats]] = {}
    weights = [outline.weight.tobytes() for outline, _ in asked]
    for weight in set(weights):
        same = [k for k, other in enumerate(weights) if other == weight]
        a, b, n = (np.array([getattr(asked[k][0], name) for k in same]) for name in ("a", "b", "n"))
        pressed = np.array([float(asked[k][1].pressed_m2) for k in same])
        found |= zip(
            same, zip(*_on_back(Outline(a, b, n, asked[same[0]][0].weight), pressed), strict=True), strict=True
        )
    return [found[k] for k in range(len(asked))]
