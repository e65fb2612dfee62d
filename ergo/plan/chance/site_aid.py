"""A site's own friction as an aid of its own in a scenario."""

from __future__ import annotations

from ergo.mechanics.layers import Aid
from ergo.plan.chance.site_friction import FrictionUpdate
from ergo.scenario import Interface, OwnAid

__all__ = ["measured_aid"]

_ENDING = ", measured here"


def measured_aid(aid: Aid, layer: int, found: FrictionUpdate) -> OwnAid:
    """Return an aid like another, with the friction of one of its layers as measured on site.

    Parameters
    ----------
    aid : Aid
    layer : int
        Which of its contacts was pulled.
    found : FrictionUpdate

    Returns
    -------
    OwnAid
        Its `measured` says which layer was pulled, how often and with which mass.

    Examples
    --------
    >>> from ergo.mechanics.layers import find_aid
    >>> from ergo.plan.chance.site_friction import update_friction
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
