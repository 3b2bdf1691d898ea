"""What the page of plans reads, remembered as in dashboard/data.py."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path

import streamlit as st

from analytics.options import Selection
from analytics.studies.kinship import plan_matings
from analytics.studies.kinship_records import MatingsAnswer, MatingsAsked
from analytics.studies.plan_dates import plan_dates
from analytics.studies.plan_records import DatesAnswer, SizeAnswer, SizeAsked, SplitAnswer, SplitAsked
from analytics.studies.plan_size import plan_size
from analytics.studies.plan_split import plan_split
from dashboard.data import Shown
from dashboard.words_plan import DAYS, MANY, MATES, WHERE, WORKING


def split(which: Shown, asked: SplitAsked, species: str) -> SplitAnswer:
    """Who goes where at the next set; species "" = the most numerous."""
    return _split(str(which.store), which.mark, asked, _of(species))


def size(which: Shown, asked: SizeAsked, species: str, pens: tuple[str, ...] = ()) -> SizeAnswer:
    """How many eggs show a difference; with two pens, what theirs could have shown."""
    return _size(str(which.store), which.mark, asked, _of(species, pens))


def dates(
    which: Shown, set_on: date, species: Sequence[str], machine: str, storage_days: float | None
) -> DatesAnswer:
    """The days of a batch; an empty store does."""
    return _dates(str(which.store), which.mark, set_on, tuple(species), machine, storage_days)


def matings(which: Shown, asked: MatingsAsked, as_of: date | None) -> MatingsAnswer:
    """Who with whom."""
    return _matings(str(which.store), which.mark, asked, as_of)


def _of(species: str, pens: tuple[str, ...] = ()) -> Selection:
    return Selection(species=(species,) if species else (), pens=pens)


@st.cache_data(show_spinner=WORKING[WHERE], max_entries=32)
def _split(store: str, mark: str, asked: SplitAsked, selection: Selection) -> SplitAnswer:
    return plan_split(Path(store), asked, selection)


@st.cache_data(show_spinner=WORKING[MANY], max_entries=64)
def _size(store: str, mark: str, asked: SizeAsked, selection: Selection) -> SizeAnswer:
    return plan_size(Path(store), asked, selection)


@st.cache_data(show_spinner=WORKING[DAYS], max_entries=64)
def _dates(
    store: str, mark: str, set_on: date, species: tuple[str, ...], machine: str, storage_days: float | None
) -> DatesAnswer:
    return plan_dates(Path(store), set_on, species, machine, storage_days)


@st.cache_data(show_spinner=WORKING[MATES], max_entries=32)
def _matings(store: str, mark: str, asked: MatingsAsked, as_of: date | None) -> MatingsAnswer:
    return plan_matings(Path(store), asked, as_of)
