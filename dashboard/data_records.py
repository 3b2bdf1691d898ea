"""What the page of records reads, remembered as in `data`: by the mark of the store, and files by content."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from pathlib import Path

import streamlit as st

from analytics.errors import InputRejected, SheetProblem
from analytics.sheets.headings import Logger
from analytics.sheets.history import FoundRows, History, find_rows, history, sheets_with_rows
from analytics.sheets.load import LoadRejected, LoadReport
from dashboard.data import Shown
from dashboard.intake import Given, take

SHOWN_CHANGES = 20
"""Changes of the whole store that are listed."""
MOST_OFFERED = 200
"""Rows of a sheet that are offered at once."""


@dataclass(frozen=True, slots=True)
class Checked:
    """What a check of sheets found.

    Attributes:
        report: what keeping them would do; None when they are rejected.
        problems: for which they are rejected, the first of them.
        total: all of these.
        ignored: files of rejected sheets that were no record sheets.
    """

    report: LoadReport | None
    problems: tuple[SheetProblem, ...] = ()
    total: int = 0
    ignored: tuple[str, ...] = ()


def checked(which: Shown, given: Sequence[Given], logger: Logger) -> Checked:
    """Checks the files, once for each content however often the page is drawn.

    Raises:
        as `analytics.sheets.load.load`, but for rejected sheets.
    """
    day = date.today().isoformat()  # noqa: DTZ011
    return _checked(str(which.store), which.mark, day, _mark_of(given, logger), given, logger)


def changes(which: Shown) -> History:
    """The last changes of the store."""
    return _history(str(which.store), which.mark, "", (), SHOWN_CHANGES)


def row(which: Shown, sheet: str, parts: tuple[str, ...]) -> History:
    """One row as it is now, with everything that was changed in it."""
    return _history(str(which.store), which.mark, sheet, parts, MOST_OFFERED)


def sheets(which: Shown) -> tuple[str, ...]:
    """Sheets that have a row, set aside or not."""
    return _sheets(str(which.store), which.mark)


def rows(which: Shown, sheet: str, part: str) -> FoundRows:
    """Rows of a sheet whose labels hold that."""
    return _rows(str(which.store), which.mark, sheet, part)


def _mark_of(given: Sequence[Given], logger: Logger) -> str:
    """Names and contents of the files, and how a logger's file is to be read."""
    mark = sha256(repr((sorted(logger.mapping.items()), logger.fahrenheit, logger.incubator)).encode())
    for file in given:
        mark.update(sha256(file.name.encode()).digest() + sha256(file.content).digest())
    return mark.hexdigest()


@st.cache_data(show_spinner=False, max_entries=8)
def _checked(
    store: str, mark: str, day: str, files: str, _given: Sequence[Given], _logger: Logger
) -> Checked:
    try:
        return Checked(take(Path(store), _given, _logger, keep=False, accept_corrections=False))
    except InputRejected as error:
        ignored = error.report.ignored if isinstance(error, LoadRejected) else ()
        return Checked(None, error.problems, error.total, ignored)


@st.cache_data(show_spinner=False, max_entries=64)
def _history(store: str, mark: str, sheet: str, parts: tuple[str, ...], last: int) -> History:
    return history(Path(store), sheet, parts, last)


@st.cache_data(show_spinner=False, max_entries=64)
def _rows(store: str, mark: str, sheet: str, part: str) -> FoundRows:
    return find_rows(Path(store), sheet, part, MOST_OFFERED)


@st.cache_data(show_spinner=False, max_entries=8)
def _sheets(store: str, mark: str) -> tuple[str, ...]:
    return sheets_with_rows(Path(store))
