"""What the page of changes reads, remembered as in dashboard/data.py."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from analytics.options import Selection
from analytics.studies.changes import changes
from analytics.studies.changes_records import ChangesAnswer
from dashboard import words_changes
from dashboard.data import Shown
from dashboard.state import Filters


def answer(which: Shown, filters: Filters) -> ChangesAnswer:
    """Whether the dated changes worked."""
    return _answer(str(which.store), which.mark, filters.in_period())


@st.cache_data(show_spinner=words_changes.WORKING, max_entries=32)
def _answer(store: str, mark: str, selection: Selection) -> ChangesAnswer:
    return changes(Path(store), selection)
