"""One hatch: what became of these eggs, what to look at now, and what to write down next?"""

from __future__ import annotations

import streamlit as st

from dashboard import data, data_batch, words_batch
from dashboard.components import batch, batch_choice, frame, marks, welcome


def show() -> None:
    """The page."""
    frame.within(_page)


def _page(which: data.Shown) -> None:
    if data.contents(which).is_empty:
        welcome.begin()
        return
    names = data_batch.names(which)
    if not names:
        st.title(words_batch.NONE_TITLE, anchor=False)
        marks.sentences((words_batch.NONE_LEDE,))
        return
    above = st.container()
    chosen = batch_choice.choose(names)
    answer = data_batch.answer(which, chosen)
    with above:
        st.title(words_batch.title(answer.head.batch), anchor=False)
        marks.sentences(answer.words.sentences)
    if answer.words.warnings:
        marks.notice(words_batch.WARNING_HEADING, answer.words.warnings)
    look = frame.look()
    batch.due(answer)
    batch.eggs(answer, look)
    batch.look_now(answer)
    batch.hours(answer, look)
    batch.signs(answer)
    batch.record_next(answer)
    batch.cannot_tell(answer)
    batch.published(answer)
    batch.others(answer)
    batch.made(which, answer)
