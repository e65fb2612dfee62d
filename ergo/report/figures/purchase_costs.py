"""The cost of each option over some years, with its range."""

from __future__ import annotations

from ergo.purchases.cost_model import PurchaseCase
from ergo.report.figures.drawing import Drawing
from ergo.report.figures.intervals import IntervalRow, interval_rows
from ergo.report.tables.purchase import option_verdict

__all__ = ["purchase_costs"]


def purchase_costs(case: PurchaseCase) -> Drawing:
    """Return the cost over the years looked at by option, people and injuries included."""
    currency, years = case.purchase.currency, int(case.purchase.horizon_years)
    highest = max(o.total_with.p95 for o in case.options)
    scale, word = (1e6, "million") if highest >= 2e6 else (1e3, "thousand") if highest >= 2e3 else (1.0, "")
    rows = []
    for i, o in enumerate(case.options):
        low, value, high = (v / scale for v in (o.total_with.p5, o.total_with.typical, o.total_with.p95))
        said = f"{value:.1f} ({low:.1f} to {high:.1f})"
        rows.append(IntervalRow(o.name, low, value, high, said, "not applicable" if i == 0 else option_verdict(o)))
    now = case.options[0].total_with.typical / scale
    unit = f"{word} {currency}".strip()
    alt = f"Cost over {years} years in {unit}, people included. " + "; ".join(f"{r.name} {r.said}" for r in rows) + "."
    return interval_rows(rows, unit, alt, (now, "present practice"))
