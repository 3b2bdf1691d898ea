"""Shells, water and cleaning on a page."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from analytics.reports.signs_shells import pen_rows
from analytics.studies.hygiene import SIGNS, HygieneAnswer
from analytics.studies.shells import ShellsAnswer
from analytics.studies.wording import percent
from dashboard import words_shells as told
from dashboard.components import marks


def shells(found: Sequence[ShellsAnswer]) -> None:
    """Whose shells or which machine's air may be behind little water lost and late deaths."""
    if not found:
        return
    st.header(told.SHELLS_HEADING, anchor=False)
    for one in found:
        if told.bird(one, found):
            st.subheader(told.bird(one, found), anchor=False)
        marks.points(told.shells_points(one))
        with st.expander(told.SHELLS_TABLE):
            marks.note(told.COLUMNS_KEY)
            marks.table(told.SHELLS_TABLE, told.COLUMNS, pen_rows(one), told.COLUMNS[1:])
    with st.expander(told.SOURCES):
        marks.points(found[0].sources)


def cleaning(found: Sequence[HygieneAnswer]) -> None:
    """Whether losses go with the days since cleaning, and the usual care."""
    if not found:
        return
    st.header(told.CLEANING_HEADING, anchor=False)
    for one in found:
        if told.bird(one, found):
            st.subheader(told.bird(one, found), anchor=False)
        said = [row.sentence for row in one.rows] or [one.sentence]
        marks.points([*said, *one.not_known])
        if one.rows:
            with st.expander(told.CLEANING_TABLE):
                _bands(one)
    for text in dict.fromkeys(text for one in found for text in one.cautions):
        marks.note(text)


def _bands(one: HygieneAnswer) -> None:
    rows = [
        (
            SIGNS[row.sign],
            f"{band.first:.0f} to {band.last:.0f}",
            f"{percent(band.share.rate)} % ({percent(band.share.low)}–{percent(band.share.high)} %)",
            str(band.share.batches),
        )
        for row in one.rows
        for band in row.bands
    ]
    headings = (told.COL_LOSS, told.COL_DAYS, told.COL_SHARE, told.COL_BATCHES)
    marks.table(told.CLEANING_TABLE, headings, rows, headings[1:])
