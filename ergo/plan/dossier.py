"""Published cases, predicted: what the model says for the same mass, friction and aid, with the error stated.

Every figure is computed from the evidence tables and the model, none is written by hand.
"""

from __future__ import annotations

from functools import cache

from ergo.evidence import table
from ergo.plan.dossier_backs import BACKS
from ergo.plan.dossier_case import DossierCase
from ergo.plan.dossier_forces import FORCES, NOT_PREDICTED
from ergo.plan.dossier_heads import headcount

__all__ = ["NOT_PREDICTED", "DossierCase", "dossier"]


@cache
def dossier() -> tuple[DossierCase, ...]:
    """Return every published case beside its prediction.

    Returns
    -------
    tuple of DossierCase
        Forces first, in the order of measured_forces, then headcounts in the order of guidance_headcounts.

    Examples
    --------
    >>> cases = {case.id: case for case in dossier()}
    >>> cases["M01"].agrees, cases["M02"].agrees
    (False, True)
    """
    forces = [predict() for predict in (*FORCES, *BACKS)]
    heads = [headcount(i, entry) for i, entry in enumerate(table("guidance_headcounts"), start=1)]
    return tuple(forces + heads)
