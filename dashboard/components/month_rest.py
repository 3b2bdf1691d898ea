"""The later parts of a month's review: changes, breeders, what to do, what is ahead, and the files."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import streamlit as st

from analytics.breeders.ranking import CostRule
from analytics.errors import DataTooThin
from analytics.reports.month_html import review_page
from analytics.reports.month_xlsx import review_workbook
from analytics.reports.tables import KINDS
from analytics.studies.breeders_records import Breeders
from analytics.studies.changes_records import ChangesAnswer
from analytics.studies.month import MONTHS_BEFORE
from analytics.studies.month_attention import breeders_lines, next_steps
from analytics.studies.month_changes import changes_words, over_reviews
from analytics.studies.outlook_words import ahead_words
from analytics.studies.records import MonthRest, MonthReview
from dashboard import data, data_changes, words_month
from dashboard.components import frame, marks
from dashboard.state import Filters

if TYPE_CHECKING:
    from streamlit.delta_generator import DeltaGenerator


@dataclass(frozen=True, slots=True)
class Places:
    """Where the parts will stand.

    Attributes:
        changes: whether the changes worked.
        breeders: which breeders.
        ahead: what to do next, and what is ahead.
    """

    changes: DeltaGenerator
    breeders: DeltaGenerator
    ahead: DeltaGenerator


def begin() -> Places:
    """The headings, with a word where something is still worked out."""
    st.header(words_month.CHANGES_HEADING, anchor=False)
    changes = st.empty()
    st.header(words_month.BREEDERS_HEADING, anchor=False)
    breeders = st.empty()
    for place, words in ((changes, words_month.CHANGES_WAIT), (breeders, words_month.BREEDERS_WAIT)):
        with place.container():
            marks.note(words)
    return Places(changes, breeders, st.container())


def told(which: data.Shown, chosen: Filters, review: MonthReview, places: Places) -> MonthReview:
    """Works the parts out, shows each as soon as it is known, and gives the whole review."""
    month = review.month
    asked = replace(chosen, start=str(month.back(MONTHS_BEFORE)), end=str(month), target=None)
    changes, changes_why = _changes(which, asked)
    rest = MonthRest(changes, changes_why, None, "", data.outlook(which, chosen, review.as_of))
    with places.changes.container():
        marks.points(changes_words(rest))
        frame.link_to("changes", words_month.TO_CHANGES, {})
    breeders, breeders_why = _breeders(which, replace(asked, start=""))
    rest = replace(rest, breeders=breeders, breeders_why=breeders_why)
    with places.breeders.container():
        marks.points(breeders_lines(review, rest))
        frame.link_to("breeders", words_month.TO_BREEDERS, {"to": str(month)})
    review = replace(review, rest=rest)
    with places.ahead:
        _ahead(review, rest)
    return review


def _changes(which: data.Shown, asked: Filters) -> tuple[ChangesAnswer | None, str]:
    try:
        return over_reviews(data_changes.answer(which, asked)), ""
    except DataTooThin as error:
        return None, f"{error.given}."


def _breeders(which: data.Shown, asked: Filters) -> tuple[Breeders | None, str]:
    try:
        return data.breeders(which, asked, "pen", CostRule()), ""
    except DataTooThin as error:
        return None, error.sentence()


def _ahead(review: MonthReview, rest: MonthRest) -> None:
    st.header(words_month.NEXT_HEADING, anchor=False)
    marks.points(next_steps(review))
    frame.link_to("plan", words_month.TO_PLAN, {})
    st.header(words_month.AHEAD_HEADING, anchor=False)
    marks.points(ahead_words(rest.outlook))


def take_away(review: MonthReview) -> None:
    """The whole review as files, made when they are asked for."""
    st.header(words_month.TAKE_HEADING, anchor=False)
    marks.note(words_month.TAKE_LEDE)
    with st.container(horizontal=True):
        for label, make, ending, media in (
            (words_month.TAKE_PAGE, partial(_page, review), "html", "text/html"),
            (words_month.TAKE_BOOK, partial(review_workbook, review), "xlsx", KINDS["xlsx"]),
        ):
            name = words_month.file_name(review.month, ending)
            st.download_button(label, make, name, media, on_click="ignore")


def _page(review: MonthReview) -> bytes:
    return review_page(review).encode("utf-8")
