"""Plans: which question is asked, and how every answer begins; choices stand in the link."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from typing import Any, TypeVar

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from analytics.errors import DataTooThin, WrongUsage
from analytics.reference.species import species_table
from dashboard import data, words, words_plan
from dashboard.components import marks
from dashboard.state import MOST, shortened

Answer = TypeVar("Answer")
IN_LINK: dict[str, Any] = {"bind": "query-params", "persist_state": "session"}
"""How a choice is kept: in the link while it is shown, and until the browser's tab is closed."""


def question() -> str:
    """Which question is asked."""
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


def link(which: data.Shown) -> None:
    """Says what a link asks for in vain, before the choices forget it."""
    held = data.contents(which)
    known = (
        ("next", words_plan.ASK, words_plan.QUESTIONS),
        ("birds", words_plan.BIRDS, [words_plan.bird_choice(key) for key in ("", *held.species)]),
        ("kinds", words_plan.KINDS, [bird.name for bird in species_table().values()]),
        ("in", words_plan.MACHINE, (*held.incubators, words_plan.NOT_SAID)),
        ("one pen", words_plan.PEN_ONE, held.pens),
        ("another pen", words_plan.PEN_OTHER, held.pens),
    )
    for field, name, offered in known:
        unknown = [shortened(one) for one in st.query_params.get_all(field)[:MOST] if one not in offered]
        if unknown:
            marks.notice("", (words.unknown_in_link(name, unknown),))


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
        width=210,
        **IN_LINK,
    )
    return chosen


def day_of_setting(which: data.Shown) -> date:
    """Asks for the day on which eggs are set; today where none is given."""
    day: date | None = st.date_input(
        words_plan.SET_ON, which.today, key="set", format="YYYY-MM-DD", width=150, **IN_LINK
    )
    return day or which.today


def told(
    above: DeltaGenerator, asked: str, answer: Callable[[], Answer], lines: Callable[[Answer], Sequence[str]]
) -> Answer | None:
    """The answer in sentences beneath the title; why there is none, where there is none."""
    with above:
        try:
            found = answer()
        except (DataTooThin, WrongUsage) as error:
            title = words_plan.ASKED_WRONG if isinstance(error, WrongUsage) else words_plan.CANNOT[asked]
            marks.notice(title, (words_plan.on_page(error.sentence()),))
            return None
        marks.sentences([line for line in lines(found) if line])
    return found


def heading(text: str) -> None:
    """A heading within the page."""
    st.header(text, anchor=False)
