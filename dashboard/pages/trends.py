"""Trends: does it go with the months, with storage, with the hens' age, with the males?"""

from __future__ import annotations

import streamlit as st

from analytics.errors import DataTooThin
from dashboard import data, words, words_trends
from dashboard.components import along, filters, frame, marks, welcome


def show() -> None:
    """The page."""
    frame.within(_page)


def _page(which: data.Shown) -> None:
    if data.contents(which).is_empty:
        welcome.begin()
        return
    known = data.known(which)
    if not known.months:
        st.title(words.MONTH_NONE_TITLE, anchor=False)
        marks.sentences((words.PERIOD_NONE_LEDE,))
        return
    above = st.container()
    chosen = filters.choose_along(known)
    with above:
        st.title(words_trends.title(chosen.measure, chosen.along), anchor=False)
    try:
        answer = data.trends(which, chosen)
    except DataTooThin as error:
        with above:
            marks.notice(words_trends.TOO_THIN, (error.sentence(),))
        return
    with above:
        marks.sentences(words_trends.answer_lines(answer))
    along.drawn(answer, frame.look())
    along.changes(answer)
    along.besides(answer)
    if answer.points:
        along.numbers(answer)
    along.tested(answer)
