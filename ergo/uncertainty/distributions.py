"""Which inputs of a scenario are not known exactly, and how each is spread."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ergo.evidence import Range, assumption, table
from ergo.handlers.normal_distribution import normal_value
from ergo.inputs.scenario import Scenario
from ergo.mechanics.case import aid_of
from ergo.mechanics.friction import skin_on_linen
from ergo.mechanics.mattress import mattress_range

__all__ = ["UncertainInput", "triangle_value", "uncertain_inputs"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class UncertainInput:
    """One input with its distribution.

    kind "triangular" runs from low over typical to high; "normal" has mean typical and standard deviation
    (high - low) / 2. `basis` is "published" where a source gives the spread, otherwise "assumption".
    """

    name: str
    label: str
    kind: Literal["triangular", "normal"]
    low: float
    typical: float
    high: float
    unit: str
    source: str
    known: str
    or_like: tuple[float, float, float] | None = None
    or_like_share: float = 0.0
    """In this share of the draws it is triangular over `or_like` instead, whose values are the higher ones."""

    @property
    def basis(self) -> str:
        """Whether the spread was published, recalled, measured on site, or assumed."""
        if self.known.startswith("memory"):
            return "from memory"
        if self.known == "site measurement":
            return "measured on site"
        return "published" if self.source and self.known != "judgement" else "assumption"

    def at(self, u: ArrayLike) -> Floats:
        """Return the value below which the fraction `u` of draws lies.

        >>> spread = UncertainInput("x", "x", "triangular", 0.0, 1.0, 2.0, "-", "", "judgement")
        >>> [float(v) for v in spread.at([0.0, 0.5, 1.0])]
        [0.0, 1.0, 2.0]
        """
        u = np.asarray(u, dtype=float)
        if self.kind == "normal":
            return np.asarray(self.typical + normal_value(np.clip(u, 1e-12, 1 - 1e-12)) * (self.high - self.low) / 2.0)
        if self.or_like is None:
            return triangle_value(u, self.low, self.typical, self.high)
        own = 1.0 - self.or_like_share
        usual = triangle_value(np.minimum(u / own, 1.0), self.low, self.typical, self.high)
        other = triangle_value(np.clip((u - own) / self.or_like_share, 0.0, 1.0), *self.or_like)
        return np.asarray(np.where(u < own, usual, other))


def triangle_value(u: ArrayLike, low: float, typical: float, high: float) -> Floats:
    """Return the value below which a fraction of a triangle's area lies.

    low + √(u w (typical - low)) while the density rises, high - √((1 - u) w (high - typical)) beyond; w = high - low

    >>> triangle_value([0.0, 0.125, 0.5, 1.0], 0.0, 1.0, 2.0).tolist()
    [0.0, 0.5, 1.0, 2.0]
    """
    u, width = np.asarray(u, dtype=float), high - low
    if width <= 0:
        return np.full(u.shape, typical)
    rising = low + np.sqrt(u * width * (typical - low))
    falling = high - np.sqrt((1.0 - u) * width * (high - typical))
    return np.asarray(np.where(u < (typical - low) / width, rising, falling))


def uncertain_inputs(scenario: Scenario) -> tuple[UncertainInput, ...]:
    """Return every input of a scenario that is drawn, with its distribution and source.

    What the user stated keeps its own value as the typical one and the width of the assumed range around it; what the
    user measured on the patient is not drawn.

    Source: each input names its own; the scatter of breadth and depth at one mass is that of gordon_2014.

    >>> from ergo.inputs import examples
    >>> found = uncertain_inputs(examples.boost())
    >>> found[0].label, found[0].low, found[0].high
    ('friction of draw sheet on bed linen', 0.33, 0.55)
    """
    handling = scenario.handling
    aid, linen = aid_of(scenario), skin_on_linen()
    found = [
        UncertainInput(
            f"mu_{i}",
            f"friction of {c.upper} on {c.lower}",
            "triangular",
            c.mu_low,
            c.mu,
            c.mu_high,
            "-",
            c.source,
            c.known,
            c.or_like,
            c.or_like_share,
        )
        for i, c in enumerate(aid.contacts)
    ]
    found.append(
        UncertainInput(
            "linen_mu",
            "friction of what lies off the aid",
            "triangular",
            linen.mu_low,
            linen.mu,
            linen.mu_high,
            "-",
            linen.source,
            linen.known,
        )
    )
    found += [
        _assumed("breakaway", "start over steady force", assumption("breakaway_ratio")),
        _assumed("pull_deg", "angle of the pull", assumption("pull_angle"), handling.pull_angle_deg),
        _assumed("hand_height_m", "height of the hands", assumption("hand_height"), handling.hand_height_m),
        _slide_time(handling.slide_time_s),
        _assumed(
            "turned_fraction", "part of the body that turns", assumption("turned_fraction"), handling.turned_fraction
        ),
        _assumed("back_arm_m", "moment arm of the back muscles", assumption("extensor_arm"), handling.back_arm_m),
        _assumed("posture", "posture, from stated to best", assumption("posture_towards_best")),
    ]
    if scenario.bed.immersion_m is None:
        found.append(
            _assumed("immersion_m", "how deep the patient sinks in", mattress_range(scenario.bed.mattress, "immersion"))
        )
    if scenario.bed.immersion_m != 0.0:
        lost = mattress_range(scenario.bed.mattress, "loss")
        found.append(_assumed("mattress_loss", "work that the mattress does not give back", lost))
    found += _body(scenario)
    return tuple(found)


def _assumed(name: str, label: str, given: Range, stated: float | None = None) -> UncertainInput:
    typical = given.typical if stated is None else stated
    low, high = typical + (given.low - given.typical), typical + (given.high - given.typical)  # so that nil stays nil
    floor = 0.0 if given.low >= 0 and typical >= 0 else low  # a pull that is stated downwards stays downwards
    ceiling = 1.0 if name == "turned_fraction" else high
    return UncertainInput(
        name, label, "triangular", max(low, floor), typical, min(high, ceiling), given.unit, given.source, given.known
    )


def _slide_time(stated: float | None) -> UncertainInput:
    """As many times shorter or longer than the typical time as is assumed: no pull takes no time."""
    given = assumption("slide_time")
    times = 1.0 if stated is None else stated / given.typical
    label = "time of one pull" if stated is not None else "time of one pull, of a short one"
    return UncertainInput(
        "slide_time_s", label, "triangular", times * given.low, times * given.typical, times * given.high, given.unit,
        given.source, given.known,
    )  # fmt: skip


def _body(scenario: Scenario) -> list[UncertainInput]:
    """Spread of breadth and depth between people of the same mass and stature, from the survey's residuals."""
    patient = scenario.patient
    found = []
    for name, what, measures, stated in (
        ("breadth_scale", "breadth", ("chest_breadth", "waist_breadth", "hip_breadth"), patient.hip_breadth_m),
        ("depth_scale", "depth", ("chest_depth", "waist_depth", "buttock_depth"), patient.hip_depth_m),
    ):
        if stated is not None:
            continue
        rows = [r for r in table("body_breadths_ansur2") if r["sex"] == patient.sex and r["measure"] in measures]
        sd = float(np.mean([float(r["see_mm"]) / float(r["mean_mm"]) for r in rows]))
        label = f"body {what} at this mass"
        found.append(UncertainInput(name, label, "normal", 1 - sd, 1.0, 1 + sd, "ratio", "gordon_2014", "derived"))
    return found
