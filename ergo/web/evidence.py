"""Evidence: every source, limit, starting value and table, and how each is known."""

from __future__ import annotations

from typing import get_args

import streamlit as st

from ergo.evidence import table_names
from ergo.limits.policy import WHAT_DECIDES
from ergo.limits.registry import LIMITS
from ergo.report.blocks import Table, in_plain_words
from ergo.report.figures.limit_curve import Along, limit_curve
from ergo.report.tables.evidence import (
    all_limit_rows,
    assumption_rows,
    condition_of,
    filtered,
    known_words,
    source_rows,
    table_rows,
)
from ergo.web import _shared, _state, _validation

_VIEWS = {
    "published": "Published cases",
    "credibility": "Credibility",
    "limits": "Limits",
    "values": "Starting values",
    "sources": "Sources",
    "tables": "Tables",
}


def _rows(view: str) -> Table:
    if view == "limits":
        return all_limit_rows(condition_of(_state.scenario()))
    if view == "values":
        return assumption_rows()
    if view == "sources":
        return source_rows()
    name = st.selectbox("Table", table_names(), format_func=lambda n: n.replace("_", " "), key="evidence.table")
    return table_rows(name)


def show() -> None:
    """Show the page."""
    st.title("Where the figures come from", anchor=False)
    st.markdown(
        "Every figure carries its source and how it is known. “Judgement” and “common-practice” mean that nobody "
        "published it: replace it with your own where you can."
    )
    view = st.segmented_control(
        "Show", list(_VIEWS), default="limits", format_func=_VIEWS.__getitem__, key="evidence.view", required=True
    )
    if view in ("published", "credibility"):
        _validation.show(view)
        return
    if view == "limits":
        _curve()
    rows = _rows(view or "limits")
    search, known = st.columns(2)
    text = search.text_input("Search", key="evidence.search")
    kinds = known.multiselect(
        "How it is known", known_words(rows), key=f"evidence.known.{rows.title}", format_func=in_plain_words
    )
    found = filtered(rows, text, kinds)
    _shared.note(f"{len(found.rows)} of {len(rows.rows)}")
    _shared.table(found, "evidence")


def _curve() -> None:
    """Show one limit over the height of the hands or the time between efforts, with the present case on it."""
    st.subheader("A limit and the present case", anchor=False)
    st.markdown(WHAT_DECIDES)
    which, over = st.columns(2)
    curved = [limit for limit in LIMITS if limit.key in _CURVED]
    limit = which.selectbox("Limit", curved, format_func=lambda limit: limit.label, key="evidence.limit")
    along = over.selectbox("Over", get_args(Along), key="evidence.along")
    _shared.figure(limit_curve(limit, condition_of(_state.scenario()), along), "fig.limit")
    st.caption("Diamond: the present case, hands as they are at first. A gap: nothing was published there.")


_CURVED = ("pull_initial", "pull_guideline", "pull_sustained", "pull_initial_1991", "lift")


if __name__ == "__main__":  # how the page runner executes this file
    show()
