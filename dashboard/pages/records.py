"""Records: bring sheets in, take empty ones, see what is kept and what was changed."""

from __future__ import annotations

import streamlit as st

from dashboard import data, words, words_bench, words_records
from dashboard.components import bench, blanks, bring, frame, kept, lookback, marks


def show() -> None:
    """The page."""
    frame.within(_page)


def _page(which: data.Shown) -> None:
    st.title(words.PAGE_RECORDS, anchor=False)
    marks.sentences((words.RECORDS_LEDE,))
    st.header(words.BRING_HEADING, anchor=False)
    marks.note(words.BRING_LEDE)
    bring.sheets(which)
    st.header(words_bench.TYPE_HEADING, anchor=False)
    marks.note(words_bench.TYPE_LEDE)
    bench.any_row(which, "record row")
    st.header(words.EMPTY_HEADING, anchor=False)
    marks.note(words.EMPTY_LEDE)
    blanks.offer()
    st.header(words.KEPT_IN_STORE, anchor=False)
    kept.overview(which)
    if not which.mark:
        return
    st.header(words_records.CHANGES_HEADING, anchor=False)
    lookback.changes(which)
    st.header(words_records.ROW_HEADING, anchor=False)
    lookback.one_row(which)
