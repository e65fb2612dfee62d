"""The published cases beside the model and the statement of credibility, parts of the Evidence page."""

from __future__ import annotations

from typing import cast

import streamlit as st

from ergo.report.documents.evidence import credibility_statement
from ergo.report.figures.validation import validation_figure
from ergo.report.markdown import markdown_blocks
from ergo.report.tables.evidence import filtered, known_words, validation_rows
from ergo.validation.case import ValidationCase
from ergo.validation.cases import NOT_PREDICTED
from ergo.validation.credibility import Credibility
from ergo.web import _parts, _state, jobs

__all__ = ["show"]

_SHOWN = {"all": "All", "agree": "Agree", "miss": "Miss"}


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
    agree = sum(c.agrees for c in cases)
    st.markdown(
        f"Every published force, load of the back and headcount beside the model’s prediction: "
        f"**{agree} of {len(cases)} agree**. Nothing was fitted to them, and each miss says why."
    )
    _parts.figure(validation_figure(cases), "fig.published_cases")
    st.caption("Predicted over published, where both are figures; bars: 5 to 95 % of the draws.")
    shown, search, known = st.columns([1, 2, 2])
    which = shown.selectbox("Which", list(_SHOWN), format_func=_SHOWN.__getitem__, key="published_cases.which")
    rows = validation_rows([c for c in cases if which == "all" or c.agrees == (which == "agree")])
    text = search.text_input("Search", key="published_cases.search")
    kinds = known.multiselect("How it is known", known_words(rows), key="published_cases.known")
    found = filtered(rows, text, kinds)
    st.caption(f"{len(found.rows)} of {len(cases)}")
    short = found.without("over what is left open", "source", "known")
    _parts.table(short, "published_cases.short", download=False)
    with st.expander("With sources and ranges"):
        _parts.table(found, "published_cases")
    with st.expander("Published forces that are not predicted, and why"):
        st.markdown("\n".join(f"- {key}: {_parts.plain(why)}" for key, why in NOT_PREDICTED.items()))


def _credibility() -> None:
    statement = credibility_statement(_found()[1])
    st.markdown(markdown_blocks(statement.blocks[1:], deeper=1))  # the page has a title of its own
    _parts.save_document("This statement (Markdown)", lambda: statement, "credibility.md", "credibility.md")
