"""The published cases beside the model and the statement of credibility, parts of the Evidence page."""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

import streamlit as st

from ergo.report.blocks import in_plain_words
from ergo.report.documents.evidence import credibility_statement
from ergo.report.figures.validation import validation_figure
from ergo.report.markdown import markdown_blocks
from ergo.report.tables.evidence import filtered, known_words, score_words, validation_rows
from ergo.validation.case import ValidationCase
from ergo.validation.cases import NOT_PREDICTED
from ergo.validation.credibility import Credibility
from ergo.validation.score import score_of
from ergo.web import _shared, _state, jobs

__all__ = ["show"]

_SHOWN: dict[str, tuple[str, Callable[[ValidationCase], bool]]] = {
    "all": ("All", lambda c: True),
    "testable": ("Could have failed", lambda c: c.kind != "by construction"),
    "met": ("Inside or met", lambda c: c.kind != "by construction" and c.inside),
    "missed": ("Missed", lambda c: not c.inside),
    "certain": ("Consistency checks", lambda c: c.kind == "by construction"),
}


def _found() -> tuple[tuple[ValidationCase, ...], Credibility]:
    """Have every case predicted, in another process; choosing something else ends it."""
    said = "Predicting every published case"
    bar = st.progress(0.0, said)
    found = _state.result(jobs.ask(jobs.ANSWER, jobs.published_cases, "all"), lambda part: bar.progress(part, said))
    bar.empty()
    return cast("tuple[tuple[ValidationCase, ...], Credibility]", found)


def show(view: str) -> None:
    """Show one of the two."""
    if view == "published":
        _validation()
    else:
        _credibility()


def _validation() -> None:
    cases, _ = _found()
    st.markdown(f"{score_words(score_of(cases))} Nothing was fitted to them, and each miss says why.")
    forces, heads = st.columns(2)
    with forces:
        st.markdown("Forces and loads of the low back")
        _shared.figure(validation_figure(cases), "fig.published_cases")
    with heads:
        st.markdown("Headcounts")
        _shared.figure(validation_figure(cases, "people"), "fig.headcounts")
    st.caption(
        "Published figures that could have been missed on either side: on the line they would be met exactly. Bars: 5 "
        "to 95 % of the draws; level lines: a range that was published."
    )
    shown, search, known = st.columns([1, 2, 2])
    which = shown.selectbox("Which", list(_SHOWN), format_func=lambda w: _SHOWN[w][0], key="published_cases.which")
    rows = validation_rows([c for c in cases if _SHOWN[which][1](c)])
    text = search.text_input("Search", key="published_cases.search")
    kinds = known.multiselect(
        "How it is known", known_words(rows), key="published_cases.known", format_func=in_plain_words
    )
    found = filtered(rows, text, kinds)
    st.caption(f"{len(found.rows)} of {len(cases)}")
    short = found.without("over what is left open", "source", "known")
    _shared.table(short, "published_cases.short", download=False)
    with st.expander("With sources and ranges"):
        _shared.table(found, "published_cases")
    with st.expander("Published forces that are not predicted, and why"):
        st.markdown("\n".join(f"- {key}: {_shared.plain(why)}" for key, why in NOT_PREDICTED.items()))


def _credibility() -> None:
    statement = credibility_statement(_found()[1])
    st.markdown(markdown_blocks(statement.blocks[1:], deeper=1))  # the page has a title of its own
    _shared.save_document("This statement (Markdown)", lambda: statement, "credibility.md", "credibility.md")
