"""What lies between patient and bed: ordered interfaces, where they slip, and what the other side must hold."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ergo.evidence import Row, row, table
from ergo.inputs.scenario import WhoWorks

__all__ = [
    "Aid",
    "Contact",
    "along_last_axis",
    "counter_hold_friction",
    "find_aid",
    "registry",
    "skin_on_linen",
    "slip_friction",
]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Contact:
    """Friction between an upper and a lower layer: low, typical, high, with source and mark.

    `or_like` is what it may be like instead, low, typical, high, in the share `or_like_share` of cases.
    """

    upper: str
    lower: str
    mu_low: float
    mu: float
    mu_high: float
    source: str
    known: str
    note: str
    or_like: tuple[float, float, float] | None = None
    or_like_share: float = 0.0


@dataclass(frozen=True, slots=True)
class Aid:
    """An aid: its interfaces from the gripped layer down to the bed, and what it covers and serves.

    `overhang_m` is how far the gripped layer reaches beyond the patient's side, on each side: low, typical, high.
    """

    name: str
    contacts: tuple[Contact, ...]
    covers: tuple[str, ...]
    serves: tuple[str, ...]
    use: str
    flag: str
    rated_capacity_kg: float | None
    overhang_m: tuple[float, float, float]
    known: str
    note: str
    transfer_by: WhoWorks = "receiving side"
    """Who works in a transfer, as it is taught with this aid (common practice, no source)."""
    far_edge: bool = True
    """Whether a layer reaches out on the far side, to be paid out while the patient is lowered."""

    @property
    def two_layers(self) -> bool:
        """Whether one layer can be held while the other slides on it."""
        return len(self.contacts) > 1

    @property
    def unmeasured(self) -> bool:
        """Whether nobody has published a measured coefficient for this class."""
        return self.flag == "unmeasured"


def _contact(entry: Row) -> Contact:
    low, typical, high = _ends(entry, "mu")
    known, like, share = entry["known"], entry["or_like"], float(entry["or_like_share"] or 0.0)
    other = _ends(row("aid_interfaces", aid=like, order=entry["order"]), "mu") if like else None
    note = entry["note"]
    return Contact(entry["upper"], entry["lower"], low, typical, high, entry["source"], known, note, other, share)


def _ends(entry: Row, column: str) -> tuple[float, float, float]:
    return float(entry[f"{column}_low"]), float(entry[f"{column}_typical"]), float(entry[f"{column}_high"])


@cache
def registry() -> dict[str, Aid]:
    """Return every aid by its name.

    >>> registry()["two-layer turning pad"].two_layers
    True
    """
    found = {}
    for entry in table("aids"):
        layers = sorted((r for r in table("aid_interfaces") if r["aid"] == entry["key"]), key=lambda r: int(r["order"]))
        capacity = entry["rated_capacity_kg"]
        found[entry["name"]] = Aid(
            entry["name"],
            tuple(_contact(layer) for layer in layers),
            tuple(entry["covers"].split()),
            tuple(entry["moves"].split()),
            entry["use"],
            entry["flag"],
            float(capacity) if capacity else None,
            _ends(entry, "overhang"),
            entry["known"],
            entry["note"],
            "both sides" if entry["transfer_by"] == "both sides" else "receiving side",
            entry["far_edge"] == "yes",
        )
    return found


def find_aid(name: str) -> Aid:
    """Return the aid with this name.

    >>> find_aid("slide sheet").contacts[0].mu
    0.19
    """
    return registry()[name]


def skin_on_linen() -> Contact:
    """Return the contact of whatever lies off the aid: bare skin on bed linen.

    Source: derler_gerhardt_2012; which of its figures stand for a patient is a judgement.

    >>> skin = skin_on_linen()
    >>> skin.mu_low, skin.mu, skin.mu_high, skin.source
    (0.31, 0.5, 0.9, 'derler_gerhardt_2012')
    """
    return _contact(row("aid_interfaces", aid="bed_linen"))


def along_last_axis(*mu: ArrayLike) -> Floats:
    """Return the friction of several layers, or of several parts of the body, along the last axis.

    >>> along_last_axis(0.22, [0.19, 0.25]).tolist()
    [[0.22, 0.19], [0.22, 0.25]]
    """
    layers = [np.asarray(one, dtype=float) for one in mu]
    # each layer's values stand together in memory: the least of two in 16,384 draws takes 0.01 ms in place of 0.9
    found = np.empty((len(layers), *np.broadcast_shapes(*(layer.shape for layer in layers))))
    for k, layer in enumerate(layers):
        found[k] = layer
    return np.moveaxis(found, 0, -1)


def slip_friction(mu: ArrayLike) -> Floats:
    """Return the friction at which a stack slips when its top layer is pulled: the weakest interface.

    μ = min_i μ_i

    >>> float(slip_friction([0.22, 0.19]))
    0.19
    """
    return np.asarray(np.min(np.asarray(mu, dtype=float), axis=-1))


def counter_hold_friction(mu: ArrayLike) -> Floats:
    """Return the friction the other side must hold so that the top layer slides on the one below it.

    Δμ = max(0, μ_1 - min_{i>1} μ_i); the hold is Δμ N.

    >>> round(float(counter_hold_friction([0.22, 0.19])), 9)
    0.03
    """
    mu = np.asarray(mu, dtype=float)
    if mu.shape[-1] < 2:
        raise ValueError("a counter-hold needs at least two interfaces")
    return np.asarray(np.maximum(0.0, mu[..., 0] - np.min(mu[..., 1:], axis=-1)))
