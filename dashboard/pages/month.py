"""This month: how did we do?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import streamlit as st

from analytics.studies.headline import fertility_note
from analytics.studies.records import MonthReview, SpeciesMonth
from dashboard import data, words
from dashboard.components import (
    bench,
    filters,
    first,
    frame,
    marks,
    month_rest,
    rates,
    signals,
    waiting,
    welcome,
)
from dashboard.state import Filters


def show() -> None:
    """The page."""
    frame.within(_page)


def _page(which: data.Shown) -> None:
    held = data.contents(which)
    if held.is_empty:
        welcome.begin()
        return
    known = data.known(which)
    if not known.months:
        _answer(words.MONTH_NONE_TITLE, (words.MONTH_NONE_LEDE,))
        _rest(which, data.review(which, Filters()))
        return
    above = st.container()
    chosen = filters.choose(known)
    review = data.review(which, chosen)
    hatched = any(species.eggs_set for species in review.species)
    with above:
        st.title(words.month_name(review.month), anchor=False)
        place, waits = st.empty(), st.container()
        with place.container():
            first.answered(review)
    places = {label: place for place, label in enumerate(held.pens)}
    for species in review.species:
        _species(species, review, chosen.measure, places)
    if not review.species:
        marks.note(words.NOTHING_SELECTED)
    review = replace(review, signals=signals.section(which, chosen, review.month))
    later = month_rest.begin()
    _rest(which, review)
    below = st.container()
    if hatched:
        with waits:
            review = first.told(which, chosen, review)
        with place.container():
            first.answered(review)
    review = month_rest.told(which, chosen, review, later)
    with below:
        month_rest.take_away(review)


def _answer(title: str, lines: Sequence[str]) -> None:
    st.title(title, anchor=False)
    marks.sentences(lines)


def _species(species: SpeciesMonth, review: MonthReview, measure: str, places: dict[str, int]) -> None:
    look = frame.look()
    st.header(rates.name_of(species.species), anchor=False)
    if not species.rates:
        marks.note(words.NONE_THIS_MONTH)
        rates.months(species, review.month, measure, look)
        return
    rates.strip(species)
    if note := fertility_note(species):
        marks.note(note)
    rates.months(species, review.month, measure, look)
    rates.pens(species, measure, look, places, review.against)
    st.subheader(words.TABLE_HEADING, anchor=False)
    with st.expander(words.TABLE_FOLDED):
        rates.numbers(species, review.against)
    with st.expander(words.MADE_HEADING):
        marks.note(words.MADE_INTRO)
        rates.how_made(species)


def _rest(which: data.Shown, review: MonthReview) -> None:
    st.header(words.OPEN_HEADING, anchor=False)
    waiting.open_batches(review.open_batches, review.as_of)
    st.header(words.GAPS_HEADING, anchor=False)
    waiting.gaps(review.data_gaps)
    bench.drafts_waiting(which)
