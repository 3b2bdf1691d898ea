"""What the page of incubators reads, remembered as in dashboard/data.py."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import streamlit as st

from analytics.options import Selection
from analytics.studies.causes_records import Causes
from analytics.studies.incubators import incubators
from analytics.studies.incubators_records import Incubators
from analytics.studies.incubators_signs import signs_beside
from analytics.studies.signs_records import SignsAnswer
from dashboard import words_incubators
from dashboard.data import Shown, losses_kept
from dashboard.state import Filters


def answer(which: Shown, filters: Filters) -> Incubators:
    """What about each machine."""
    return _answer(str(which.store), which.mark, filters.in_period())


def signs(which: Shown, filters: Filters) -> SignsAnswer | None:
    """What opened eggs and chicks show; None where no tray tells any."""
    whole = replace(filters, pens=(), incubators=(), target=None)
    return _signs(str(which.store), which.mark, filters.in_period(), losses_kept(which, whole))


@st.cache_data(show_spinner=words_incubators.WORKING, max_entries=32)
def _answer(store: str, mark: str, selection: Selection) -> Incubators:
    return incubators(Path(store), selection)


@st.cache_data(show_spinner=words_incubators.SIGNS_WORKING, max_entries=32)
def _signs(store: str, mark: str, selection: Selection, _losses: Causes | None) -> SignsAnswer | None:
    return signs_beside(Path(store), selection, _losses)
