"""Pens: is this pen really worse, or was it chance, its machine, or its storage?"""

from __future__ import annotations

import streamlit as st

from analytics.studies.pen_funnel import PenFunnel
from analytics.studies.pen_records import PensAnswer
from dashboard import data, words_pens
from dashboard.components import filters, frame, marks, sides
from dashboard.components.question import Question, asked
from dashboard.state import Filters, Known


def show() -> None:
    """The page."""
    frame.within(_page)


def _page(which: data.Shown) -> None:
    found = asked(
        which,
        Question(
            choose=filters.choose_sides,
            title=lambda chosen: words_pens.title(chosen.measure, chosen.by),
            answer=data.pens,
            lines=lambda both: words_pens.answer_lines(both[0]),
            too_thin=words_pens.TOO_THIN,
        ),
    )
    if found:
        known, chosen, (answer, funnels) = found
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
