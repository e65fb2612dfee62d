"""What a move asks of one person with the smallest team, one more and two more, for a unit's typical patient."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from ergo.assessment import Assessment, Demand, demand_of, judge, largest_team
from ergo.plan.typical import smallest_typical
from ergo.plan.unit.census import Census
from ergo.plan.unit.need import AssessedNeed
from ergo.plan.unit.staffing import ForceRow

__all__ = ["AssessedForce", "typical_patient"]

_MORE = 2  # n, n + 1 and n + 2 people


def typical_patient(patients: Census) -> tuple[float, str, float]:
    """Return median mass [kg], the more frequent sex, and that sex's median stature [m].

    Parameters
    ----------
    patients : Census
        At least one; where women and men are as many, a woman.

    Returns
    -------
    (float [kg], "F" or "M", float [m])
        The mass is the median of all, not of that sex.

    Examples
    --------
    >>> from ergo.plan.unit.population import draw_population
    >>> mass, sex, stature = typical_patient(draw_population(400, 0.9, 1))
    >>> sex, 60 < mass < 95, 1.5 < stature < 1.7
    ('F', True, True)
    """
    woman = bool(patients.women.mean() >= 0.5)
    alike = patients.women == woman
    return float(np.median(patients.mass_kg)), "F" if woman else "M", float(np.median(patients.stature_m[alike]))


@dataclass(frozen=True, slots=True)
class AssessedForce:
    """force(procedure, aid) -> rows at n, n + 1 and n + 2 people, against the limit that decides with n.

    n is the smallest team of the unit's typical patient, roles included. Where no team is enough the largest one
    is shown, with what it is over.

    Parameters
    ----------
    patient : (float, str, float)
        Mass [kg], sex and stature [m]; see `typical_patient`.
    need : AssessedNeed
        Whose template says bed, places, sharing and policy.

    Examples
    --------
    >>> from ergo.plan.unit.population import draw_population
    >>> rows = AssessedForce(typical_patient(draw_population(50, 0.5, 1)))("boost", "slide sheet")
    >>> [row.people - rows[0].people for row in rows], rows[0].verdict in ("within", "close")
    ([0, 1, 2], True)
    """

    patient: tuple[float, str, float]
    need: AssessedNeed = field(default_factory=AssessedNeed)

    def __call__(self, procedure: str, aid: str) -> Sequence[ForceRow]:
        """Return the rows of one move with one aid; InputError if the aid cannot serve it."""
        asked = demand_of(self.need.scenario(procedure, aid, *self.patient))
        found = smallest_typical(asked)
        if found is None:
            teams = [judge(asked, *largest_team(asked))]
        else:
            teams = [found]
            while len(teams) <= _MORE and (following := _one_more(asked, teams[-1])):
                teams.append(following)
        first = teams[0].deciding
        return [_row(procedure, team, first.key if first else "") for team in teams]


def _one_more(asked: Demand, team: Assessment) -> Assessment | None:
    """Return the better of the two teams with one more person, where there is a place."""
    most = largest_team(asked)
    bigger = [(team.left + 1, team.right), (team.left, team.right + 1)]
    possible = [judge(asked, *t) for t in bigger if t[0] <= most[0] and t[1] <= most[1]]
    return min(possible, key=lambda a: a.worst_ratio, default=None)


def _row(procedure: str, team: Assessment, key: str) -> ForceRow:
    """Hold a team against one limit; its verdict is that of all limits."""
    checks = [c for move in team.moves for c in move.limits if c.key == key and c.ratio is not None]
    top = max(checks, key=lambda c: c.ratio or 0.0, default=None)
    if top is None or top.limit is None:
        return ForceRow(procedure, team.people, 0.0, "no limit covers this move", 0.0, team.verdict, "", "N")
    return ForceRow(procedure, team.people, top.demand, top.label, top.limit, team.verdict, top.source, top.unit)
