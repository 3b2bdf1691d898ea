"""Incubators: if it is the incubator, what about it?"""

from __future__ import annotations

import streamlit as st

from dashboard import data, data_incubators, words_incubators
from dashboard.components import filters, frame, incubators, signs
from dashboard.components.question import Question, asked


def show() -> None:
    """The page."""
    frame.within(_page)


def _page(which: data.Shown) -> None:
    found = asked(
        which,
        Question(
            choose=filters.choose_machines,
            title=lambda _: words_incubators.TITLE,
            answer=data_incubators.answer,
            lines=words_incubators.answer_lines,
            too_thin=words_incubators.TOO_THIN,
        ),
    )
    if found is None:
        return
    _, chosen, answer = found
    look = frame.look()
    incubators.hours(answer, look)
    incubators.air(answer, look)
    incubators.displays(answer, look)
    incubators.water(answer)
    incubators.rivals(answer)
    st.header(words_incubators.SIGNS_HEADING, anchor=False)
    place = st.container()
    incubators.made(answer)
    with place:
        signs.signs(data_incubators.signs(which, chosen))
