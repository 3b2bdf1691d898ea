"""Plan: which eggs go where next, how many show a difference, which days, and whom with whom?"""

from __future__ import annotations

import streamlit as st

from dashboard import data, words_plan
from dashboard.components import frame, marks, plan, plan_days, plan_many, plan_mates, plan_where

_SECTIONS = {
    words_plan.WHERE: plan_where.section,
    words_plan.MANY: plan_many.section,
    words_plan.DAYS: plan_days.section,
    words_plan.MATES: plan_mates.section,
}


def show() -> None:
    """The page."""
    frame.within(_page)


def _page(which: data.Shown) -> None:
    plan.link(which)
    asked = plan.question()
    above = st.container()
    with above:
        st.title(words_plan.TITLES[asked], anchor=False)
    if asked != words_plan.DAYS and data.contents(which).is_empty:
        marks.sentences((words_plan.EMPTY, words_plan.EMPTY_DAYS))
        if st.button(words_plan.TO_RECORDS):
            frame.go_to("records")
        return
    _SECTIONS[asked](which, above)
