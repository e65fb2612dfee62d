"""Probabilities, drivers, distributions and a site's own friction as tables."""

from __future__ import annotations

from ergo.evidence import assumption
from ergo.report.blocks import Table
from ergo.report.tables.case import citation
from ergo.teams.team_probabilities import Reliability
from ergo.uncertainty.sensitivity import Drivers
from ergo.uncertainty.site_friction import FrictionUpdate
from ergo.units import DEFAULT_UNITS, Units, percent

__all__ = ["convergence_rows", "distribution_rows", "driver_rows", "friction_rows", "probability_rows"]


def probability_rows(sure: Reliability, units: Units = DEFAULT_UNITS) -> Table:
    """Return every team drawn with its probability and its bands."""
    rows = [
        (
            str(c.people),
            f"{c.left} left, {c.right} right",
            "–" if c.uncovered == 1.0 else percent(c.probability),
            f"{100 * c.standard_error:.1f} %",
            percent(c.uncovered) if c.uncovered else "none",
            "–" if c.uncovered == 1.0 else f"{c.ratio[0]:.2f} to {c.ratio[2]:.2f}",
            "–" if c.uncovered == 1.0 else f"{c.ratio[1]:.2f}",
            f"{units.show_force(c.force_n[0])} to {units.show_force(c.force_n[2])}",
        )
        for c in sure.curve
    ]
    head = (
        "people",
        "sides",
        "probability nobody is over",
        "standard error",
        "cases that a limit does not cover",
        "ratio, 5 to 95 % (2.00: no posture holds it)",
        "median ratio",
        "largest force, 5 to 95 %",
    )
    return Table("Probability by team", head, tuple(rows))


def convergence_rows(sure: Reliability) -> Table:
    """Return the running probability by number of draws, from as many as a probability needs."""
    least = assumption("draws_least").typical
    rows = [(str(n), percent(p, 2), f"{100 * e:.2f} %") for n, p, e in sure.convergence if n >= least]
    return Table("Convergence", ("draws", "probability", "standard error"), tuple(rows))


def driver_rows(found: Drivers) -> Table:
    """Return every input with what it does to the ratio."""
    rows = [
        (
            d.label,
            f"{d.low_ratio:.3f}",
            f"{d.high_ratio:.3f}",
            _share(d.first),
            _share(d.total),
            d.basis,
            citation(d.source) if d.source else "none",
            d.known,
        )
        for d in found.ranked
    ]
    head = (
        "input",
        "ratio at its low end",
        "ratio at its high end",
        "share of variance, alone",
        "share with interactions",
        "spread",
        "source",
        "known",
    )
    return Table("What drives the answer", head, tuple(rows))


def _share(estimated: float) -> str:
    """A share of the variance: below nothing and above all of it there is only the noise of the estimate."""
    return f"{100 * min(max(0.0, estimated), 1.0):.1f} %"


def distribution_rows(sure: Reliability) -> Table:
    """Return every distribution: kind, parameters, basis and source."""
    rows: list[tuple[str, ...]] = [
        (
            x.label,
            x.kind,
            f"{x.low:.3g}",
            f"{x.typical:.3g}",
            f"{x.high:.3g}",
            x.unit,
            x.basis,
            citation(x.source) if x.source else "none",
            x.known,
        )
        for x in sure.inputs
    ]
    spread = assumption("share_spread")
    rows.append(
        (
            "how evenly the team shares the force",
            "lognormal effort of each person, renormalised",
            "–",
            f"{spread.typical:.3g}",
            "–",
            spread.unit,
            "assumption",
            citation(spread.source),
            spread.known,
        )
    )
    head = ("input", "kind", "low", "typical", "high", "unit", "spread", "source", "known")
    return Table("Distributions", head, tuple(rows))


def friction_rows(found: FrictionUpdate) -> Table:
    """Return friction before and after the site's own pulls, and the friction of each patient and pull."""
    figures = [[f"{mu:.3f}" for mu in three] for three in (found.before_5_50_95, found.after_5_50_95)]
    rows: list[tuple[str, ...]] = [
        ("before", *figures[0], _source(found.before.source, found.before.known)),
        ("after", *figures[1], found.after.note),
    ]
    several = len(found.measured) > 1
    for i, (one, mean) in enumerate(zip(found.measured, found.means, strict=True), 1):
        of = f", patient {i}" if several else ""
        rows += [(f"pull {j}{of}", "", f"{mu:.3f}", "", "measured on site") for j, mu in enumerate(one, 1)]
        if len(one) > 1:
            rows.append((f"patient {i}" if several else "the patient", "", f"{mean:.3f}", "", "mean of the pulls"))
    return Table("Friction before and after", ("when", "5 %", "middle", "95 %", "from"), tuple(rows))


def _source(key: str, known: str) -> str:
    return f"{citation(key)}, {known}" if key else known
