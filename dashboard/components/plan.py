"""Plans: which question is asked, and how every answer begins; choices stand in the link."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from typing import Any, TypeVar

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from analytics.errors import DataTooThin, WrongUsage
from analytics.studies.plan_records import SplitAnswer, SplitAsked
from dashboard import data, data_plan, words_plan
from dashboard.components import marks

Answer = TypeVar("Answer")
IN_LINK: dict[str, Any] = {"bind": "query-params", "persist_state": "session"}
"""How a choice is kept: in the link while it is shown, and until the browser's tab is closed."""


def question() -> str:
    """Which question is asked."""
    _keep_example()
    asked: str = st.segmented_control(
        words_plan.ASK,
        words_plan.QUESTIONS,
        default=words_plan.WHERE,
        required=True,
        key="next",
        label_visibility="collapsed",
        **IN_LINK,
    )
    return asked


def choices() -> DeltaGenerator:
    """A row of choices."""
    return st.container(key="choices", horizontal=True, vertical_alignment="bottom")


def birds(which: data.Shown) -> str:
    """Asks for the kind of bird where there are several; "" = the most numerous."""
    kinds = data.contents(which).species
    if len(kinds) < 2:
        return ""
    chosen: str = st.selectbox(
        words_plan.BIRDS,
        ("", *kinds),
        format_func=words_plan.bird_choice,
        key="birds",
        width=190,
        **IN_LINK,
    )
    return chosen


def day_of_setting(which: data.Shown) -> date:
    """Asks for the day on which eggs are set; today where none is given."""
    day: date | None = st.date_input(
        words_plan.SET_ON, which.today, key="set", format="YYYY-MM-DD", width=150, **IN_LINK
    )
    return day or which.today


def usual_split(which: data.Shown, species: str) -> SplitAnswer | None:
    """The next set as the records alone make it, for what can be chosen; None where they do not."""
    try:
        return data_plan.split(which, SplitAsked(0), species)
    except (DataTooThin, WrongUsage):
        return None


def told(
    above: DeltaGenerator, asked: str, answer: Callable[[], Answer], lines: Callable[[Answer], Sequence[str]]
) -> Answer | None:
    """The answer in sentences beneath the title; why there is none, where there is none."""
    with above:
        try:
            found = answer()
        except (DataTooThin, WrongUsage) as error:
            marks.notice(words_plan.CANNOT[asked], (words_plan.on_page(error.sentence()),))
            return None
        marks.sentences([line for line in lines(found) if line])
    return found


def heading(text: str) -> None:
    """A heading within the page."""
    st.header(text, anchor=False)


def _keep_example() -> None:
    """Keeps in the link that the invented smallholding is shown."""
    if st.session_state.get(data.WANTS_EXAMPLE) and data.WANTS_EXAMPLE not in st.query_params:
        st.query_params[data.WANTS_EXAMPLE] = "example"
