"""The smallest team at typical values: fast, for tables of many cases; a single answer uses the chance as well."""

from __future__ import annotations

from ergo.assessment import Assessment, Demand, judge, largest_team
from ergo.limits.policy import ENOUGH

__all__ = ["smallest_typical"]


def smallest_typical(asked: Demand) -> Assessment | None:
    """Return the smallest team of which every move is within the deciding limits at typical values.

    Neither side depends on the other's number, so each is made smaller for itself from a team that is enough.

    Parameters
    ----------
    asked : Demand

    Returns
    -------
    Assessment or None
        None where no team is enough, or where the case is refused.

    Examples
    --------
    >>> from ergo.assessment import demand_of
    >>> from ergo.scenario import parse_scenario
    >>> patient = {"sex": "F", "mass_kg": 70.0, "stature_m": 1.6}
    >>> found = smallest_typical(demand_of(parse_scenario({"name": "x", "procedure": "boost", "patient": patient})))
    >>> found.left, found.right
    (2, 2)
    """
    if asked.refusals:
        return None
    left_most, right_most = largest_team(asked)
    best = None
    for n in range(1, max(left_most, right_most) + 1):
        best = _enough(asked, min(n, left_most), min(n, right_most))
        if best is not None:
            break
    if best is None:
        return None
    for fewer_left, fewer_right in ((1, 0), (0, 1)):
        while best.left >= fewer_left and best.right >= fewer_right:
            fewer = _enough(asked, best.left - fewer_left, best.right - fewer_right)
            if fewer is None:
                break
            best = fewer
    return best


def _enough(asked: Demand, left: int, right: int) -> Assessment | None:
    if left + right == 0:
        return None
    result = judge(asked, left, right)
    return result if result.verdict in ENOUGH else None
