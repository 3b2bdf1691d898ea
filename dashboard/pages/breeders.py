"""Breeders: which pens, sires and dams to keep, to watch or to replace?"""

from __future__ import annotations

import streamlit as st

from analytics.errors import DataTooThin
from dashboard import data, words, words_batch, words_breeders
from dashboard.components import breeders, filters, frame, marks, welcome


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
    chosen, by, rule = breeders.choose(known)
    if not chosen.start:
        marks.note(words_breeders.LATEST)
    with above:
        st.title(words_breeders.TITLES[by], anchor=False)
    try:
        found = breeders.worked_out(which, chosen, by, rule)
    except DataTooThin as error:
        with above:
            marks.notice(words_breeders.TOO_THIN, (error.sentence(),))
            frame.link_to("batch", words_batch.TO_ONE_HATCH, {})
        return
    if len(found.answers) > 1:
        filters.choose_bird([answer.species for answer in found.answers])
    bird = st.session_state.get("bird")
    answer = next((one for one in found.answers if one.species == bird), found.answers[0])
    with above:
        marks.sentences((answer.sentence,))
    breeders.answered(found, answer, known)
    for one in found.without:
        marks.note(one.why)
