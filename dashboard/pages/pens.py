"""Pens: is this pen really worse, or was it chance, its machine, or its storage?"""

from __future__ import annotations

import streamlit as st

from analytics.errors import DataTooThin
from analytics.studies.pen_funnel import PenFunnel
from analytics.studies.pen_records import PensAnswer
from dashboard import data, words, words_pens
from dashboard.components import filters, frame, marks, sides, welcome
from dashboard.state import Filters, Known


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
    chosen = filters.choose_sides(known)
    with above:
        st.title(words_pens.title(chosen.measure, chosen.by), anchor=False)
    try:
        answer, funnels = data.pens(which, chosen)
    except DataTooThin as error:
        with above:
            marks.notice(words_pens.TOO_THIN, (error.sentence(),))
        return
    with above:
        marks.sentences(words_pens.answer_lines(answer))
    _answered(which, known, chosen, answer, funnels)


def _answered(
    which: data.Shown, known: Known, chosen: Filters, answer: PensAnswer, funnels: tuple[PenFunnel, ...]
) -> None:
    look = frame.look()
    places = {label: place for place, label in enumerate(known.labels(chosen.by))}
    if answer.words.remedy:
        marks.notice(words_pens.NO_TEST, (answer.words.remedy,))
    st.header(words_pens.ranked_heading(chosen.by), anchor=False)
    sides.ranked(answer, funnels, look, places)
    if len(answer.rows) < 2:
        st.header(words_pens.NUMBERS_HEADING, anchor=False)
        sides.numbers(answer)
        return
    if answer.pairs:
        st.header(words_pens.TWO_HEADING, anchor=False)
        sides.two(which, chosen, known)
    st.header(words_pens.FUNNEL_HEADING, anchor=False)
    sides.funnels(answer, funnels, look, places)
    st.header(words_pens.NUMBERS_HEADING, anchor=False)
    sides.numbers(answer)
    if answer.pairs:
        sides.pairs(answer)
    if answer.tests.any_made:
        st.header(words_pens.TESTED_HEADING, anchor=False)
        sides.tested(answer)
    else:
        sides.rests(answer)
