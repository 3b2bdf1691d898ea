"""Everything the pages read, and the only functions that remember: keyed by the changes of the store.

Their number is read anew on every run of a page (a few milliseconds), so that a load from another window or
from the command line is seen at once, and nothing is worked out twice while nothing has changed. The time of
the last entry goes with it: a copy brought back may have as many. Taps at the bench are drafts, and change
no answer.
"""

from __future__ import annotations

import io
import os
import tempfile
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import streamlit as st

from analytics.breeders.ranking import CostRule
from analytics.errors import StoreMissing
from analytics.options import Selection
from analytics.sheets.blank import write_tables, write_workbook
from analytics.sheets.contents import Contents, store_contents
from analytics.sheets.contract import SHEETS
from analytics.store.audit import records_mark
from analytics.studies.breeders import breeders as which_to_keep
from analytics.studies.breeders_records import Breeders
from analytics.studies.causes import causes
from analytics.studies.causes_records import Causes
from analytics.studies.ledger_drawn import Kept
from analytics.studies.month import month_review
from analytics.studies.outlook import Outlook
from analytics.studies.outlook import outlook as look_ahead
from analytics.studies.pen_data import pen_data
from analytics.studies.pen_funnel import PenFunnel, pen_funnels
from analytics.studies.pen_records import By, PairAnswer, PensAnswer
from analytics.studies.pens import compared, pen_comparison
from analytics.studies.records import MonthReview
from analytics.studies.signal_records import MonthSignals
from analytics.studies.signals import month_signals
from analytics.studies.trend_records import Along, TrendAnswer
from analytics.studies.trends import trend
from analytics.values import Month
from dashboard import words
from dashboard.components import reader
from dashboard.launch import EXAMPLE, STORE
from dashboard.state import Filters, Known
from seed_demo.build import build_demo, is_demo
from seed_demo.world import TODAY

NOTHING = Contents((), (), (), (), dict.fromkeys((sheet.name for sheet in SHEETS), 0), ())
"""What a store that does not exist yet holds."""
LossesKey = tuple[str, str, Selection, float | None]
"""Store, its mark, what is chosen and the chicks wanted."""
_MOST_LOSSES = 32
WANTS_EXAMPLE = "farm"
"""Field of the link that says the invented smallholding is shown: farm=example."""


@dataclass(frozen=True, slots=True)
class Shown:
    """The store a page shows.

    Attributes:
        store: the file.
        mark: changes whenever the store does, or the reader wants its sentences otherwise; "" when there is
            no file yet.
        is_example: whether it is the invented smallholding.
        invented_today: the day on which the invented records end, None where any record is somebody's own.
    """

    store: Path
    mark: str
    is_example: bool
    invented_today: date | None

    @property
    def today(self) -> date:
        """The day that counts as today."""
        return self.invented_today or date.today()  # noqa: DTZ011


def shown() -> Shown | None:
    """Which store to show, or None when the dashboard was not started by `penwise`.

    Raises:
        StoreError: the store is busy, damaged, too new or something else.
    """
    given = os.environ.get(STORE, "")
    if not given:
        return None
    example = example_store()
    store = example if example and example.exists() and wants_example() else Path(given)
    mark = _mark(store)
    invented = bool(mark) and _is_demo(str(store), mark)
    read = f"{mark}{reader.mark()}" if mark else ""
    return Shown(store, read, store == example, TODAY if invented else None)


def wants_example() -> bool:
    """Whether the link, or an earlier link of this visit, asks for the invented smallholding."""
    asked = st.query_params.get(WANTS_EXAMPLE)
    if asked is not None:
        st.session_state[WANTS_EXAMPLE] = asked == "example"
    return bool(st.session_state.get(WANTS_EXAMPLE, False))


def show_example(wanted: bool) -> None:
    """Turns to the invented smallholding, or back to the breeder's own records."""
    st.session_state[WANTS_EXAMPLE] = wanted
    st.query_params.clear()


def example_store() -> Path | None:
    """Where the invented smallholding is kept, if the dashboard was told."""
    given = os.environ.get(EXAMPLE, "")
    return Path(given) if given else None


def has_own_store() -> bool:
    """Whether there is another store to go to than the invented smallholding."""
    example = example_store()
    return example is None or Path(os.environ.get(STORE, "")) != example


def contents(which: Shown) -> Contents:
    """What the store holds."""
    return _contents(str(which.store), which.mark) if which.mark else NOTHING


def known(which: Shown) -> Known:
    """What can be chosen in the filters."""
    held = contents(which)
    months = review(which, Filters()).months if held.rows["batches"] else ()
    return Known(months, held.species, held.pens, held.incubators, held.lines)


def review(which: Shown, filters: Filters) -> MonthReview:
    """How the month went."""
    return _review(
        str(which.store),
        which.mark,
        filters.month,
        filters.species,
        filters.pens,
        filters.incubators,
        filters.against,
        which.today,
    )


def outlook(which: Shown, filters: Filters, day: date) -> Outlook:
    """Chicks to expect and birds present on a day."""
    return _outlook(str(which.store), which.mark, filters.selection(), day)


def signals(which: Shown, filters: Filters, month: Month) -> MonthSignals:
    """Pens and machines outside their limits in a month."""
    return _signals(str(which.store), which.mark, month, filters.selection())


def pens(which: Shown, filters: Filters) -> tuple[PensAnswer, tuple[PenFunnel, ...]]:
    """Pen against pen, or line against line, and their rates against their eggs."""
    return _pens(str(which.store), which.mark, filters.measure, filters.in_period(), filters.by)


def pair(which: Shown, filters: Filters) -> PairAnswer | None:
    """The answer about the two that are chosen, if two are."""
    if filters.pair is None:
        return None
    selection = filters.in_period()
    return _pair(str(which.store), which.mark, filters.measure, selection, filters.by, filters.pair)


def trends(which: Shown, filters: Filters) -> TrendAnswer:
    """Whether a rate goes with a number of the trays."""
    return _trends(str(which.store), which.mark, filters.measure, filters.in_period(), filters.along)


def losses_kept(which: Shown, filters: Filters) -> Causes | None:
    """Whose loss it is, if it was worked out before and nothing has changed."""
    return _kept_losses().get(_losses_key(which, filters))


def losses(which: Shown, filters: Filters, progress: Callable[[float, str], None]) -> Causes:
    """Whose loss it is, species by species.

    Kept by hand: what is shown of the progress meanwhile must not be shown again with a kept answer.

    Args:
        which: the store.
        filters: what is chosen.
        progress: told the share done and what is being done.
    """
    kept, key = _kept_losses(), _losses_key(which, filters)
    if key not in kept:
        wanted = None if filters.target is None else filters.target / 100
        learnt = _learnt(str(which.store), which.mark)
        found = causes(which.store, filters.in_period(), target=wanted, progress=progress, kept=learnt)
        while len(kept) >= _MOST_LOSSES:
            kept.pop(next(iter(kept)), None)
        kept[key] = found
    return kept[key]


def breeders(which: Shown, filters: Filters, by: str, rule: CostRule) -> Breeders:
    """Which breeders to keep, species by species."""
    return _breeders(str(which.store), which.mark, filters.in_period(), by, filters.target, rule)


def _losses_key(which: Shown, filters: Filters) -> LossesKey:
    return str(which.store), which.mark, filters.in_period(), filters.target


@st.cache_resource(show_spinner=False)
def _kept_losses() -> dict[LossesKey, Causes]:
    return {}


@st.cache_resource(show_spinner=False, max_entries=2)
def _learnt(store: str, mark: str) -> Kept:
    """What losses and breeders learn from the same trays, worked out once for both."""
    return Kept()


def _mark(store: Path) -> str:
    try:
        return records_mark(store)
    except StoreMissing:
        return ""


@st.cache_data(show_spinner=False, max_entries=32)
def _is_demo(store: str, mark: str) -> bool:
    return is_demo(Path(store))


@st.cache_data(show_spinner=False, max_entries=32)
def _contents(store: str, mark: str) -> Contents:
    return store_contents(Path(store))


def build_example() -> None:
    """Builds the invented smallholding at its place."""
    place = example_store()
    if place is not None and not place.exists():
        build_demo(place)


@st.cache_data(show_spinner=False)
def blank_workbook() -> bytes:
    """The empty record sheets as one workbook."""
    with tempfile.TemporaryDirectory() as folder:
        return write_workbook(Path(folder) / words.BLANK_WORKBOOK_FILE).read_bytes()


@st.cache_data(show_spinner=False)
def blank_tables() -> bytes:
    """The empty record sheets as CSV in a zip file."""
    packed = io.BytesIO()
    with (
        tempfile.TemporaryDirectory() as folder,
        zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive,
    ):
        for table in write_tables(Path(folder)):
            archive.write(table, table.name)
    return packed.getvalue()


@st.cache_data(show_spinner=words.READING, max_entries=64)
def _review(
    store: str,
    mark: str,
    month: str,
    species: tuple[str, ...],
    pens: tuple[str, ...],
    incubators: tuple[str, ...],
    against: str,
    as_of: date,
) -> MonthReview:
    filters = Filters(month, species, pens, incubators, against=against)
    asked = Month.parse(month) if month else None
    beside = filters.beside(asked) if asked else None
    return month_review(Path(store), asked, filters.selection(), as_of, against=beside, looking_back=True)


@st.cache_data(show_spinner=words.READING, max_entries=64)
def _outlook(store: str, mark: str, selection: Selection, day: date) -> Outlook:
    return look_ahead(Path(store), selection, day)


@st.cache_data(show_spinner=words.READING, max_entries=64)
def _signals(store: str, mark: str, month: Month, selection: Selection) -> MonthSignals:
    return month_signals(Path(store), month, selection)


@st.cache_data(show_spinner=words.READING, max_entries=64)
def _pens(
    store: str, mark: str, measure: str, selection: Selection, by: By
) -> tuple[PensAnswer, tuple[PenFunnel, ...]]:
    asked = pen_data(Path(store), measure, selection, by)
    return compared(asked, selection), pen_funnels(asked)


@st.cache_data(show_spinner=words.READING, max_entries=64)
def _pair(
    store: str, mark: str, measure: str, selection: Selection, by: By, asked: tuple[str, str]
) -> PairAnswer | None:
    return pen_comparison(Path(store), measure, selection, by=by, pair=asked).pair


@st.cache_data(show_spinner=words.READING, max_entries=64)
def _trends(store: str, mark: str, measure: str, selection: Selection, along: Along) -> TrendAnswer:
    return trend(Path(store), measure, along, selection)


@st.cache_data(show_spinner=False, max_entries=32)
def _breeders(
    store: str, mark: str, selection: Selection, by: str, target: float | None, rule: CostRule
) -> Breeders:
    wanted = None if target is None else target / 100
    learnt = _learnt(store, mark)
    return which_to_keep(Path(store), selection, by=by, target=wanted, rule=rule, kept=learnt)
