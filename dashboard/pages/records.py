"""Records: bring sheets in, take empty ones, see what is kept."""

from __future__ import annotations

import streamlit as st

from dashboard import data, words
from dashboard.components import blanks, bring, frame, kept, marks


def show() -> None:
    """The page."""
    frame.within(_page)


def _page(which: data.Shown) -> None:
    st.title(words.PAGE_RECORDS, anchor=False)
    marks.sentences((words.RECORDS_LEDE,))
    st.header(words.BRING_HEADING, anchor=False)
    marks.note(words.BRING_LEDE)
    bring.sheets(which)
    st.header(words.EMPTY_HEADING, anchor=False)
    marks.note(words.EMPTY_LEDE)
    blanks.offer()
    st.header(words.KEPT_IN_STORE, anchor=False)
    kept.overview(which)
