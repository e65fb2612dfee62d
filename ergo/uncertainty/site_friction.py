"""Friction measured on site: what own pulls of some patients say, and the aid that they make."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist, median

import numpy as np
from numpy.typing import NDArray

from ergo.errors import Fault, InputError
from ergo.evidence import assumption
from ergo.inputs.scenario import Interface, OwnAid
from ergo.mechanics.body import REGION, SEGMENTS, segment_fractions
from ergo.mechanics.friction import Aid, Contact, skin_on_linen
from ergo.mechanics.sliding import steady_pull
from ergo.uncertainty.distributions import triangle_value
from ergo.units import G

__all__ = ["FrictionUpdate", "Outlier", "PulledPatient", "mass_off", "measured_aid", "pull_of", "update_friction"]

Floats = NDArray[np.float64]
_Z = NormalDist().inv_cdf(0.95)
_ENDS = (0.05, 0.95)
_LEAST = 0.01  # the least friction that a file may state


@dataclass(frozen=True, slots=True)
class PulledPatient:
    """One patient or volunteer and every steady pull of them; `off_kg` of them lay beside the aid, on the bed."""

    pulls_n: tuple[float, ...]
    mass_kg: float
    pull_deg: float = 0.0
    off_kg: float = 0.0


@dataclass(frozen=True, slots=True)
class Outlier:
    """A pull, or a patient where `pull` is None, far from the middle of the others: so many times it."""

    patient: int
    pull: int | None
    times: float


@dataclass(frozen=True, slots=True)
class FrictionUpdate:
    """Friction of the next patient before and after a site's own pulls.

    `before_5_50_95` and `after_5_50_95` are its percentiles; `before` and `after` the contacts whose low, typical and
    high the draws take, with just these 5th and 95th percentiles. `measured` is the friction of each pull by patient,
    `means` that of each patient; `mu` the grid on which the two densities are given.
    """

    before: Contact
    after: Contact
    before_5_50_95: tuple[float, float, float]
    after_5_50_95: tuple[float, float, float]
    measured: tuple[tuple[float, ...], ...]
    means: tuple[float, ...]
    outliers: tuple[Outlier, ...]
    mu: Floats
    density_before: Floats
    density_after: Floats


def update_friction(
    prior: Contact, patients: Sequence[PulledPatient], *, repeat: float | None = None, between: float | None = None
) -> FrictionUpdate:
    """Return the friction of a contact after a site has pulled some patients on it.

    With x = ln μ: the site's middle θ ~ N(x0, σ0² - τ²), a patient's own N(θ, τ²), each pull of theirs spread by s. The
    mean of a patient's n pulls is one observation of variance τ² + s²/n, so the next patient's x has variance v + τ²,
    1/v = 1/(σ0² - τ²) + Σ 1/(τ² + s²/n). `repeat` is s, `between` τ; τ² is at most half of σ0².

    Source: conjugate normal update (identity), tested against conditioning of the joint normal distribution.

    >>> sheet = Contact("sheet", "linen", 0.33, 0.43, 0.55, "", "judgement", "")
    >>> pulled = [PulledPatient((250.0, 262.0, 247.0), 74.0), PulledPatient((301.0,), 88.0)]
    >>> found = update_friction(sheet, pulled)
    >>> [round(m, 3) for m in found.after_5_50_95], found.after.known
    ([0.334, 0.388, 0.451], 'site measurement')
    """
    s = assumption("scale_repeat").typical if repeat is None else repeat
    tau = assumption("friction_between_patients").typical if between is None else between
    measured = _measured(patients)
    low, high = (float(q) for q in triangle_value(_ENDS, prior.mu_low, prior.mu, prior.mu_high))
    centre, sigma = float(np.log(low * high)) / 2, max(float(np.log(high / low)) / (2 * _Z), 1e-6)
    shared = min(tau**2, sigma**2 / 2)  # of one patient and not of the next
    means = [float(np.mean(np.log(one))) for one in measured]
    weights = [1.0 / (shared + s**2 / len(one)) for one in measured]
    own = 1.0 / (sigma**2 - shared)
    precision = own + sum(weights)
    mean = (centre * own + float(np.dot(weights, means))) / precision
    width = float(np.sqrt(1.0 / precision + shared))
    before, after = _percentiles(centre, sigma), _percentiles(mean, width)
    ends = _triangle_ends(*after)
    contact = Contact(prior.upper, prior.lower, ends[0], after[1], ends[1], "", "site measurement", _note(patients))
    grid = np.linspace(min(before[0], after[0]) * 0.6, max(before[2], after[2]) * 1.4, 241)
    return FrictionUpdate(
        before=prior,
        after=contact,
        before_5_50_95=before,
        after_5_50_95=after,
        measured=tuple(tuple(one) for one in measured),
        means=tuple(float(np.exp(m)) for m in means),
        outliers=_outliers(measured, means, s, float(np.sqrt(shared))),
        mu=grid,
        density_before=_density(grid, centre, sigma),
        density_after=_density(grid, mean, width),
    )


def mass_off(sex: str, mass_kg: float, regions: Sequence[str]) -> float:
    """Return how much of a patient some regions of the body are [kg].

    Source: deleva_1996, Table 4.

    >>> round(mass_off("F", 70.0, ["shanks", "feet"]), 1)
    8.5
    """
    there = [REGION[segment] in regions for segment in SEGMENTS]
    return float(mass_kg * segment_fractions(sex)[there].sum())


def _percentiles(mean: float, sigma: float) -> tuple[float, float, float]:
    low, middle, high = (float(np.exp(mean + z * sigma)) for z in (-_Z, 0.0, _Z))
    return low, middle, high


def _triangle_ends(low: float, typical: float, high: float) -> tuple[float, float]:
    """Return the ends of a triangle about a peak from its 5th and 95th percentiles: what the draws are made of."""
    ends = np.array([low, high])
    for _ in range(60):
        ends = ends + np.array([low, high]) - triangle_value(_ENDS, ends[0], typical, ends[1])
    return max(float(ends[0]), _LEAST), float(ends[1])


def _note(patients: Sequence[PulledPatient]) -> str:
    pulls, people = sum(len(one.pulls_n) for one in patients), len(patients)
    masses = sorted({round(one.mass_kg) for one in patients})
    said = f"{masses[0]} kg" if len(masses) == 1 else f"{masses[0]} to {masses[-1]} kg"
    who = f" of {people} patients" if people > 1 else ""
    return f"{pulls} pull{'s' if pulls > 1 else ''}{who}, {said}, on site"


def _measured(patients: Sequence[PulledPatient]) -> list[list[float]]:
    """Turn pulls into friction; refuse what cannot be a pull of a patient on a sheet."""
    faults = [] if patients else [Fault("patients", "(left out)", "at least one")]
    for i, one in enumerate(patients):
        if not 10.0 <= one.mass_kg <= 350.0:
            faults.append(Fault(f"patients.{i}.mass_kg", f"{one.mass_kg}", "10 to 350", "kg"))
        elif not 0.0 <= one.off_kg < one.mass_kg:
            faults.append(Fault(f"patients.{i}.off_kg", f"{one.off_kg}", f"0 to less than {one.mass_kg:g}", "kg"))
        if not -10.0 <= one.pull_deg <= 60.0:
            faults.append(Fault(f"patients.{i}.pull_deg", f"{one.pull_deg}", "-10 to 60", "deg"))
        if not one.pulls_n:
            faults.append(Fault(f"patients.{i}.pulls_n", "(left out)", "at least one pull", "N"))
    if faults:
        raise InputError("measured pull", faults)
    found = []
    bounds = assumption("absurd_friction")
    for i, one in enumerate(patients):
        found.append([_friction(pull, one) for pull in one.pulls_n])
        for j, (pull, mu) in enumerate(zip(one.pulls_n, found[-1], strict=True)):
            if not bounds.low <= mu <= bounds.high:
                low, high = (pull_of(mu, one) for mu in (bounds.low, bounds.high))
                said = f"{low:.0f} to {high:.0f}: {bounds.note}"
                faults.append(Fault(f"patients.{i}.pulls_n.{j}", f"{pull}", said, "N"))
    if faults:
        raise InputError("measured pull", faults)
    return found


def _beside(one: PulledPatient) -> float:
    """What the part of a patient that lies beside the aid takes of a pull: it drags over the bed linen."""
    return float(steady_pull(one.off_kg, skin_on_linen().mu, np.radians(one.pull_deg)))


def _friction(pull_n: float, one: PulledPatient) -> float:
    """Return μ = F cos θ / (m g - F sin θ) of what lies on the aid, infinite where the pull would lift it."""
    force, angle = pull_n - _beside(one), np.radians(one.pull_deg)
    below = (one.mass_kg - one.off_kg) * G - force * np.sin(angle)
    return float(force * np.cos(angle) / below) if below > 0 else float("inf")


def pull_of(mu: float, one: PulledPatient) -> float:
    """Return the steady pull [N] of a patient where the aid has a friction, what lies beside it dragged along.

    >>> round(pull_of(0.2, PulledPatient((), 75.0)), 1), round(pull_of(0.2, PulledPatient((), 75.0, 0.0, 10.0)), 1)
    (147.1, 176.5)
    """
    return _beside(one) + float(steady_pull(one.mass_kg - one.off_kg, mu, np.radians(one.pull_deg)))


def _outliers(
    measured: Sequence[Sequence[float]], means: Sequence[float], repeat: float, between: float
) -> tuple[Outlier, ...]:
    """Find pulls far from their patient's middle, and patients far from the middle of all, by what may be expected."""
    far = assumption("pull_outlier").typical
    found = []
    for i, one in enumerate(measured):
        logs = [float(np.log(mu)) for mu in one]
        found += [
            Outlier(i, j, float(np.exp(x - median(logs))))
            for j, x in enumerate(logs)
            if len(logs) > 1 and abs(x - median(logs)) > far * repeat * (1.0 if len(logs) > 2 else 0.5**0.5)
        ]
    for i, x in enumerate(means):
        spread = float(np.sqrt(between**2 + repeat**2 / len(measured[i])))
        if len(means) > 2 and abs(x - median(means)) > far * spread:
            found.append(Outlier(i, None, float(np.exp(x - median(means)))))
    return tuple(found)


def _density(mu: Floats, mean: float, sigma: float) -> Floats:
    z = (np.log(mu) - mean) / sigma
    return np.asarray(np.exp(-0.5 * z * z) / (mu * sigma * np.sqrt(2.0 * np.pi)))


_ENDING = ", measured here"


def measured_aid(aid: Aid, layer: int, found: FrictionUpdate) -> OwnAid:
    """Return an aid like another in everything but the friction of one of its layers, as measured on site.

    >>> from ergo.mechanics.friction import find_aid
    >>> sheet = find_aid("slide sheet")
    >>> own = measured_aid(sheet, 0, update_friction(sheet.contacts[0], [PulledPatient((150.0, 160.0), 75.0)]))
    >>> own.name, own.measured
    ('slide sheet, measured here', 'slide sheet on slide sheet underside: 2 pulls, 75 kg, on site')
    """
    contacts = [found.after if i == layer else contact for i, contact in enumerate(aid.contacts)]
    pulled = aid.contacts[layer]
    rest = "" if len(contacts) == 1 else "; the other layers as before"
    name = aid.name.removesuffix(_ENDING)
    return OwnAid(
        name=name[: 60 - len(_ENDING)] + _ENDING,
        interfaces=tuple(
            Interface(upper=c.upper, lower=c.lower, mu_low=c.mu_low, mu=c.mu, mu_high=c.mu_high) for c in contacts
        ),
        covers=aid.covers,  # type: ignore[arg-type]  # regions out of the registry
        rated_capacity_kg=aid.rated_capacity_kg,
        overhang_m=aid.overhang_m[1],
        far_edge=aid.far_edge,
        transfer_by="both sides" if aid.transfer_by == "both sides" else "receiving side",
        use="single-patient" if aid.use == "single-patient" else "reusable",
        measured=f"{pulled.upper} on {pulled.lower}: {found.after.note}{rest}",
    )
