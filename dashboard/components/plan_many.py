"""How many eggs show a difference, and what two pens' eggs could have shown."""

from __future__ import annotations

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from analytics.errors import DataTooThin, WrongUsage
from analytics.reports.plan_json import size_values
from analytics.studies.plan_records import SizeAnswer, SizeAsked
from dashboard import charts_plan, data, data_plan, words, words_plan
from dashboard.components import frame, marks, plan
from dashboard.components.rates import picture, take

_POWERS = (0.7, 0.8, 0.9, 0.95)
_WIDE, _NARROW = 230, 150


def section(which: data.Shown, above: DeltaGenerator) -> None:
    """Everything beneath the title."""
    with plan.choices():
        species = plan.birds(which)
        asked = _asked()
    answer = plan.told(
        above,
        words_plan.MANY,
        lambda: data_plan.size(which, asked, species),
        lambda found: (found.words.sentence,),
    )
    if answer is not None:
        marks.figures(words_plan.size_figures(answer))
        _table(answer)
    _at_hand(which, asked, species)
    if answer is not None:
        plan.heading(words_plan.RESTS_HEADING)
        marks.points(answer.words.notes)


def _asked() -> SizeAsked:
    measure = st.selectbox(
        words_plan.MEASURE, list(words.MEANINGS), format_func=words.measure_name, key="rate of",
        width=_WIDE - 40, **plan.IN_LINK,
    )  # fmt: skip
    points = st.number_input(
        words_plan.POINTS, 1.0, 90.0, 10.0, 1.0, key="points", format="%.4g", width=_NARROW, **plan.IN_LINK
    )
    power = st.selectbox(
        words_plan.POWER, _POWERS, index=1, format_func=words_plan.power_choice, key="seen in",
        width=_NARROW, **plan.IN_LINK,
    )  # fmt: skip
    with st.popover(words_plan.HOW_SET):
        usual = st.number_input(
            words_plan.USUAL, 0.1, 99.9, None, 1.0, key="usual", format="%.4g",
            placeholder=words_plan.AS_RECORDED, width=_WIDE, **plan.IN_LINK,
        )  # fmt: skip
        eggs = _whole(words_plan.TRAY_EGGS, "tray eggs", words_plan.AS_RECORDED, 10_000)
        trays = st.number_input(
            words_plan.TRAYS_EACH, 1, 1_000, 1, key="trays each", width=_WIDE, **plan.IN_LINK
        )
        shared = st.checkbox(words_plan.SIDE_BY_SIDE, value=True, key="side by side", **plan.IN_LINK)
        batches = _whole(words_plan.BATCHES_ASKED, "batches", words_plan.NOT_ASKED, 2_000)
    rate = None if usual is None else usual / 100
    return SizeAsked(measure, points / 100, rate, power, eggs, trays, shared, batches)


def _whole(label: str, key: str, blank: str, most: int) -> int | None:
    number: int | None = st.number_input(
        label, 1, most, None, key=key, placeholder=blank, width=_WIDE, **plan.IN_LINK
    )
    return number


def _table(answer: SizeAnswer) -> None:
    plan.heading(words_plan.TABLE_HEADING)
    look = frame.look()
    picture(charts_plan.eggs_figure(answer, look), words_plan.eggs_alt(answer), "plan eggs")
    marks.key(
        [
            (charts_plan.SET, look.accent, words_plan.KEY_TOLD),
            (charts_plan.ALONE, look.faded, words_plan.KEY_ALONE),
        ]
    )
    headings = (
        words_plan.COL_POINTS,
        words_plan.COL_BATCHES,
        words_plan.COL_TRAYS,
        words_plan.COL_SET,
        words_plan.COL_ALONE,
    )
    rows = [words_plan.size_cells(row) for row in answer.rows]
    marks.table(words_plan.TABLE_HEADING, headings, rows, headings[1:])
    take(words_plan.SIZE_CSV, "penwise-plan-size", size_values(answer)["differences"])


def _at_hand(which: data.Shown, asked: SizeAsked, species: str) -> None:
    plan.heading(words_plan.AT_HAND_HEADING)
    marks.note(words_plan.AT_HAND_LEDE)
    pens = data.contents(which).pens
    with st.container(horizontal=True, key="two"):
        first = st.selectbox(
            words_plan.PEN_ONE, pens, index=None, placeholder=words.CHOOSE, key="one pen", width=_WIDE,
            **plan.IN_LINK,
        )  # fmt: skip
        other = st.selectbox(
            words_plan.PEN_OTHER, pens, index=None, placeholder=words.CHOOSE, key="another pen", width=_WIDE,
            **plan.IN_LINK,
        )  # fmt: skip
    if not first or not other:
        return
    if first == other:
        marks.notice("", (words_plan.SAME_PEN,))
        return
    try:
        found = data_plan.size(which, asked, species, (first, other)).at_hand
    except (DataTooThin, WrongUsage) as error:
        marks.notice("", (words_plan.on_page(error.sentence()),))
        return
    if found:
        marks.plain_sentences((found.sentence,))
