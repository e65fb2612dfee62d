"""Friction measured on site: what own pulls say, and the aid that they make."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from ergo.errors import Fault, InputError
from ergo.evidence import assumption
from ergo.inputs.scenario import Interface, OwnAid
from ergo.mechanics.friction import Aid, Contact
from ergo.units import G

__all__ = ["FrictionUpdate", "measured_aid", "update_friction"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class FrictionUpdate:
    """Friction before and after a site's own pulls.

    `before` and `after` are contacts with low, typical and high (5th, 50th and 95th percentile); `mu` the grid on which
    the two densities are given.
    """

    before: Contact
    after: Contact
    measured: tuple[float, ...]
    mu: Floats
    density_before: Floats
    density_after: Floats


def update_friction(
    prior: Contact,
    pulls_n: Sequence[float],
    mass_kg: float,
    *,
    pull_deg: float = 0.0,
    repeat: float | None = None,
) -> FrictionUpdate:
    """Return the friction of a contact after a site has pulled one patient on it.

    Each pull gives μ = F cos θ / (m g - F sin θ). With a lognormal prior ln μ ~ N(ln μ0, σ0²) and pulls that repeat
    with a log standard deviation s, the posterior is lognormal with 1/σ² = 1/σ0² + n/s² (conjugate).

    Source: conjugate normal update (identity), tested against a grid.

    >>> sheet = Contact("sheet", "linen", 0.33, 0.43, 0.55, "", "judgement", "")
    >>> after = update_friction(sheet, [250.0, 262.0, 247.0], 74.0).after
    >>> round(after.mu, 2), after.known
    (0.36, 'site measurement')
    """
    spread = assumption("scale_repeat").typical if repeat is None else repeat
    measured = _measured(pulls_n, mass_kg, pull_deg)
    nine_in_ten = NormalDist().inv_cdf(0.95)
    centre, sigma = float(np.log(prior.mu)), float(np.log(prior.mu_high / prior.mu_low)) / (2 * nine_in_ten)
    sigma = max(sigma, 1e-6)
    precision = 1.0 / sigma**2 + len(measured) / spread**2
    mean = (centre / sigma**2 + float(np.sum(np.log(measured))) / spread**2) / precision
    width = precision**-0.5
    low, typical, high = (float(np.exp(mean + z * width)) for z in (-nine_in_ten, 0.0, nine_in_ten))
    grid = np.linspace(min(prior.mu_low, low) * 0.6, max(prior.mu_high, high) * 1.4, 241)
    count = len(measured)
    note = f"{count} pull{'s' if count > 1 else ''} of {mass_kg:.0f} kg on site"
    after = Contact(prior.upper, prior.lower, low, typical, high, "", "site measurement", note)
    return FrictionUpdate(
        prior, after, tuple(measured), grid, _density(grid, centre, sigma), _density(grid, mean, width)
    )


def _measured(pulls_n: Sequence[float], mass_kg: float, pull_deg: float) -> list[float]:
    """Turn pulls into friction; refuse what cannot be a pull of a patient on a sheet."""
    faults = []
    if not 10.0 <= mass_kg <= 350.0:
        faults.append(Fault("mass_kg", f"{mass_kg}", "10 to 350", "kg"))
    if not -10.0 <= pull_deg <= 60.0:
        faults.append(Fault("pull_deg", f"{pull_deg}", "-10 to 60", "deg"))
    if not pulls_n:
        faults.append(Fault("pulls_n", "(left out)", "at least one pull", "N"))
    if faults:
        raise InputError("measured pull", faults)
    bounds, angle = assumption("absurd_friction"), np.radians(pull_deg)
    found = []
    for i, pull in enumerate(pulls_n):
        below = mass_kg * G - pull * np.sin(angle)
        mu = float(pull * np.cos(angle) / below) if below > 0 else float("inf")
        if not bounds.low <= mu <= bounds.high:
            said = f"{bounds.low * mass_kg * G:.0f} to {bounds.high * mass_kg * G:.0f}: {bounds.note}"
            faults.append(Fault(f"pulls_n.{i}", f"{pull}", said, "N"))
        found.append(mu)
    if faults:
        raise InputError("measured pull", faults)
    return found


def _density(mu: Floats, mean: float, sigma: float) -> Floats:
    z = (np.log(mu) - mean) / sigma
    return np.asarray(np.exp(-0.5 * z * z) / (mu * sigma * np.sqrt(2.0 * np.pi)))


_ENDING = ", measured here"


def measured_aid(aid: Aid, layer: int, found: FrictionUpdate) -> OwnAid:
    """Return an aid like another, with the friction of one of its layers as measured on site.

    >>> from ergo.mechanics.friction import find_aid
    >>> from ergo.uncertainty.site_friction import update_friction
    >>> sheet = find_aid("slide sheet")
    >>> own = measured_aid(sheet, 0, update_friction(sheet.contacts[0], [150.0, 160.0], 75.0))
    >>> own.name, own.measured
    ('slide sheet, measured here', 'slide sheet on slide sheet underside: 2 pulls of 75 kg on site')
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
        use="single-patient" if aid.use == "single-patient" else "reusable",
        measured=f"{pulled.upper} on {pulled.lower}: {found.after.note}{rest}",
    )
