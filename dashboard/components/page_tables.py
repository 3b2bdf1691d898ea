"""Every table of a page to take away at once: as one workbook, as CSV or as Parquet."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

import streamlit as st

from analytics.reports.tables import PACKED, packed, shown_rows
from dashboard import words_tables
from dashboard.components import marks

Shown = tuple[str, Sequence[str], Sequence[Sequence[str]]]


def begin() -> None:
    """Forgets the tables of the page before."""
    st.session_state[marks.SHOWN_TABLES] = []


def take_all() -> None:
    """The tables that the page has shown, made into files when they are asked for; nothing without one."""
    shown: list[Shown] = st.session_state.get(marks.SHOWN_TABLES, [])
    if not shown:
        return
    with st.popover(words_tables.TAKE_ALL):
        for kind, label in words_tables.KINDS.items():
            ending, media = PACKED[kind]
            st.download_button(
                label,
                partial(files_of, tuple(shown), kind),
                f"{words_tables.FILE}.{ending}",
                media,
                on_click="ignore",
                key=f"take all {kind}",
            )


def files_of(shown: Sequence[Shown], kind: str) -> bytes:
    """The tables in one file of a kind."""
    return packed([(caption, shown_rows(headings, rows)) for caption, headings, rows in shown], kind)
