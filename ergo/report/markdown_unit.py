"""The staffing request as Markdown."""

from __future__ import annotations

from ergo.report.markdown import cell, grid
from ergo.unit.staffing_request import StaffingRequest

__all__ = ["staffing_markdown"]


def staffing_markdown(request: StaffingRequest) -> str:
    """Return the staffing request as Markdown."""
    lines = [
        f"# Staffing request: {cell(request.unit)}",
        "",
        *([f"**{cell(request.answer)}**", ""] if request.answer else []),
        f"**Request.** {cell(request.ask)}",
        "",
        cell(request.setting),
        "",
    ]
    lines += grid(
        ("task", "aid", "events a day", "people", "minutes", "hours a day", "FTE", f"{request.currency} a year"),
        [
            (w.task, w.aid, f"{w.events:.1f}", f"{w.people:.2f}", f"{w.minutes:.1f}", f"{w.hours:.2f}",
             f"{w.fte:.2f}", f"{w.cost:,.0f}")
            for w in (*request.work, request.total)
        ],
    )  # fmt: skip
    lines += ["## Force with n, n+1 and n+2 people", ""]
    lines += grid(
        ("move", "people", "asked of one person", "limit", "allowed", "verdict", "source"),
        [
            (f.task, f"{f.people}", f"{f.force_n:.3g} {f.unit}", f.limit, f"{f.limit_n:.3g} {f.unit}",
             f.verdict, f.source)
            for f in request.force
        ],
    ) or ["No force was computed for this page.", ""]  # fmt: skip
    lines += ["## Published headcounts", ""]
    lines += grid(
        ("task", "patient", "people", "source"),
        [(p.task, p.condition, p.people, p.source) for p in request.published],
    )
    lines += ["## Options", ""]
    lines += grid(
        ("option", "covered (95 % interval)", "wait, 95th percentile",
         "pull a person and shift, 95th percentile", f"added pay, {request.currency} a year"),
        [
            (o.name, f"{o.covered.mean:.1%} ({o.covered.low:.1%} to {o.covered.high:.1%})",
             f"{o.wait_p95_min:.0f} min", f"{o.pull_p95_n_s / 1000:.1f} kN s", f"{o.people_to_pay_a_year:,.0f}")
            for o in request.options
        ],
    )  # fmt: skip
    lines += [*(f"- {cell(n)}" for n in request.needed), "", "## What the hours depend on", ""]
    lines += grid(
        ("input", "low", "high", "hours a day at low", "hours a day at high"),
        [
            (v.what, f"{v.low:g}", f"{v.high:g}", f"{v.hours_low:.1f}", f"{v.hours_high:.1f}")
            for v in request.sensitivity
        ],
    )
    lines += [
        "## Roles and backfill",
        "",
        cell(request.roles_and_backfill),
        "",
        "## Measures and review",
        "",
    ]
    lines += [*(f"- {cell(m)}" for m in request.measures), f"- review on {request.review_date}", ""]
    for title, said in (
        ("Assumptions", request.assumptions),
        ("Sources", request.sources),
        ("Caution", request.cautions),
    ):
        lines += [f"## {title}", "", *(f"- {cell(s)}" for s in said), ""]
    return "\n".join(lines)
