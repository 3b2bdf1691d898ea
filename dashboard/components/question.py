"""What pages that answer one question have in common: choices, title, answer, or why there is none."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

import streamlit as st

from analytics.errors import DataTooThin
from dashboard import data, words, words_batch
from dashboard.components import frame, marks, welcome
from dashboard.state import Filters, Known

Answer = TypeVar("Answer")


@dataclass(frozen=True, slots=True)
class Question(Generic[Answer]):
    """One question.

    Attributes:
        choose: draws the choices.
        title: the page's title for what is chosen.
        answer: asks the study.
        lines: the answer in sentences, the first one large.
        points: what stands beneath them, one beneath the other.
        too_thin: heading where the records do not allow an answer.
    """

    choose: Callable[[Known], Filters]
    title: Callable[[Filters], str]
    answer: Callable[[data.Shown, Filters], Answer]
    lines: Callable[[Answer], Sequence[str]]
    too_thin: str
    points: Callable[[Answer], Sequence[str]] = lambda _: ()


def asked(which: data.Shown, question: Question[Answer]) -> tuple[Known, Filters, Answer] | None:
    """Draws the head of the page: title and answer above the choices.

    Returns:
        What is known, what is chosen and the answer; None where there is none, which has then been said.
    """
    if data.contents(which).is_empty:
        welcome.begin()
        return None
    known = data.known(which)
    if not known.months:
        st.title(words.MONTH_NONE_TITLE, anchor=False)
        marks.sentences((words.PERIOD_NONE_LEDE,))
        return None
    above = st.container()
    chosen = question.choose(known)
    with above:
        st.title(question.title(chosen), anchor=False)
    try:
        answer = question.answer(which, chosen)
    except DataTooThin as error:
        with above:
            marks.notice(question.too_thin, (error.sentence(),))
            frame.link_to("batch", words_batch.TO_ONE_HATCH, {})
        return None
    with above:
        marks.sentences(question.lines(answer))
        marks.points(question.points(answer))
    return known, chosen, answer
