"""What the page of one batch reads, remembered as in dashboard/data.py."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import streamlit as st

from analytics.options import Selection
from analytics.store.batch import BatchName
from analytics.studies.batch import batches, one_batch
from analytics.studies.batch_records import BatchAnswer
from analytics.studies.causes_records import TrayRow
from analytics.studies.trays_behind import Behind, trays_behind
from dashboard import words
from dashboard.data import Shown


def names(which: Shown) -> tuple[BatchName, ...]:
    """Every batch, those that are out first, the latest on top."""
    return _names(str(which.store), which.mark)


def answer(which: Shown, batch: str) -> BatchAnswer:
    """One batch."""
    return _answer(str(which.store), which.mark, batch, which.today)


def trays(which: Shown, batch: str) -> tuple[TrayRow, ...]:
    """Its trays as they are written down; none while it is in the machine."""
    return _trays(str(which.store), which.mark, batch)


@st.cache_data(show_spinner=False, max_entries=16)
def _names(store: str, mark: str) -> tuple[BatchName, ...]:
    return batches(Path(store))


@st.cache_data(show_spinner=words.READING, max_entries=64)
def _answer(store: str, mark: str, batch: str, as_of: date) -> BatchAnswer:
    return one_batch(Path(store), batch, as_of)


@st.cache_data(show_spinner=words.READING, max_entries=64)
def _trays(store: str, mark: str, batch: str) -> tuple[TrayRow, ...]:
    return trays_behind(Path(store), Selection(), Behind(batches=(batch,))).rows
