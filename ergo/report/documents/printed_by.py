"""What every paper carries so that its sheet can be worked out again."""

from __future__ import annotations

from ergo import __version__
from ergo.evidence import evidence_edition
from ergo.uncertainty.monte_carlo import SEED

__all__ = ["printed_by"]


def printed_by(seed: int = SEED) -> str:
    """Return program version, edition of the evidence, and seed.

    >>> printed_by(7).endswith(", seed 7"), "evidence to 20" in printed_by()
    (True, True)
    """
    return f"ergo {__version__}, evidence {evidence_edition()}, seed {seed}"
