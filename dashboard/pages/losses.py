"""Losses: whose loss is it, the flock's, the handling's or the incubator's?"""

from __future__ import annotations

import streamlit as st

from analytics.errors import DataTooThin
from analytics.studies.causes_records import Causes, CausesAnswer
from dashboard import data, words, words_losses
from dashboard.components import filters, frame, losses, losses_map, losses_trays, marks, welcome
from dashboard.state import Filters


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
    chosen = filters.choose_losses(known)
    with above:
        st.title(words_losses.TITLE, anchor=False)
    try:
        found = losses.worked_out(which, chosen)
    except DataTooThin as error:
        with above:
            marks.notice(words_losses.TOO_THIN, (error.sentence(),))
        return
    if len(found.answers) > 1:
        filters.choose_bird([answer.species for answer in found.answers])
    answer = losses.answer_of(found, chosen.bird)
    with above:
        losses.answered(answer)
    _answered(which, chosen, found, answer)


def _answered(which: data.Shown, chosen: Filters, found: Causes, answer: CausesAnswer) -> None:
    look = frame.look()
    losses.steps(answer, look)
    losses.shares(answer, look)
    losses_map.stripes(answer)
    losses.findings(answer)
    losses.apart(answer)
    losses.clears(answer, found.clears.of(answer.species))
    losses.numbers(answer)
    losses.made(answer, found.without)
    losses_trays.asked(which, chosen, answer)
