"""Breeders: the choices, the picture, the numbers, the reasons, and how they were worked out."""

from __future__ import annotations

import streamlit as st

from analytics.breeders.ranking import CostRule
from analytics.reports.breeders_json import breeders_values
from analytics.studies.breeders_records import Breeders, BreedersAnswer
from dashboard import charts_breeders, data, words_breeders
from dashboard.components import filters, frame, marks
from dashboard.components.rates import picture, take
from dashboard.state import Filters, Known

_KEPT = "costs asked"
_USUAL = CostRule()


def choose(known: Known) -> Filters:
    """The filters, and the costs, which stay while the browser's tab is open."""
    chosen, rule = filters.choose_breeders(known), _costs()
    with st.container(key="costs"), st.popover(words_breeders.COSTS):
        marks.note(words_breeders.COSTS_LEDE)
        st.session_state[_KEPT] = CostRule(
            chick_value=_money(words_breeders.CHICK_VALUE, rule.chick_value, 0.01),
            egg_cost=_money(words_breeders.EGG_COST, rule.egg_cost, 0.0),
            replacement_cost=_money(words_breeders.REPLACEMENT_COST, rule.replacement_cost, 0.0),
        )
    return chosen


def _costs() -> CostRule:
    kept: CostRule = st.session_state.get(_KEPT, _USUAL)
    return kept


def answer(which: data.Shown, chosen: Filters) -> tuple[Breeders, BreedersAnswer]:
    """The answer, and that of the bird chosen; with a word while it is worked out."""
    with st.spinner(words_breeders.WORKING):
        found = data.breeders(which, chosen, chosen.rank, _costs())
    return found, next((one for one in found.answers if one.species == chosen.bird), found.answers[0])


def _money(label: str, value: float, least: float) -> float:
    given: float = st.number_input(label, min_value=least, value=value, step=0.1, format="%.4g")
    return given


def answered(found: Breeders, answer: BreedersAnswer, known: Known) -> None:
    """Everything about one species beneath its sentence."""
    look = frame.look()
    places = {label: place for place, label in enumerate(known.pens)}
    st.header(words_breeders.RANKED_HEADING, anchor=False)
    picture(
        charts_breeders.ranked_figure(answer, look, places),
        words_breeders.ranked_alt(answer),
        f"breeders {answer.species}",
    )
    marks.note(words_breeders.RANKED_KEY)
    told = words_breeders.reasons(answer.rows)
    if told:
        st.header(words_breeders.WHY_HEADING, anchor=False)
        for label, why in told:
            marks.labelled(label, why)
    _numbers(found, answer)
    st.header(words_breeders.NOTES_HEADING, anchor=False)
    marks.points((*answer.notes, words_breeders.CARE))
    st.header(words_breeders.HOW_HEADING, anchor=False)
    marks.note(answer.how)


def _numbers(found: Breeders, answer: BreedersAnswer) -> None:
    st.header(words_breeders.TABLE_HEADING, anchor=False)
    numbers = (
        words_breeders.COL_EGGS,
        words_breeders.COL_RATE,
        words_breeders.COL_RANGE,
        words_breeders.COL_BELOW,
        words_breeders.COL_PAYS,
        words_breeders.COL_LOST,
        words_breeders.COL_HEN,
    )
    marks.table(
        words_breeders.TITLES[found.by],
        (words_breeders.BY_NAMES[found.by][:-1].capitalize(), words_breeders.COL_ADVICE, *numbers),
        [words_breeders.cells(row) for row in answer.rows],
        numbers,
    )
    values = breeders_values(found)
    rows = next(one["rows"] for one in (values, *values["others"]) if one["species"] == answer.species)
    take(words_breeders.DOWNLOAD, f"penwise-breeders-{answer.species}", rows)
