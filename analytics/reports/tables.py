"""A table to take away, as CSV, as a workbook or as Parquet; no cell of it runs as a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

Rows = Sequence[Mapping[str, object]]
KINDS: dict[str, str] = {
    "csv": "text/csv",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "parquet": "application/vnd.apache.parquet",
}
"""Ending of a file -> what it is called on the way (media type)."""
_RUNS = ("=", "+", "-", "@", "\t", "\r")
_WIDEST = 60


def as_table(rows: Rows, kind: str) -> bytes:
    """The rows with their keys as headings; what is not known is blank.

    Args:
        rows: equal keys; texts, numbers, days and None; anything else becomes text.
        kind: one of `KINDS`.
    """
    return _MAKERS[kind](rows)


def as_csv(rows: Rows) -> bytes:
    """In UTF-8 with the mark by which spreadsheets know it.

    A text that a spreadsheet would take for a formula gets an apostrophe before it (OWASP, CSV injection).
    """
    text = io.StringIO()
    if rows:
        table = csv.DictWriter(text, list(rows[0]))
        table.writeheader()
        table.writerows({name: _held(value) for name, value in row.items()} for row in rows)
    return text.getvalue().encode("utf-8-sig")


def _held(value: object) -> object:
    return f"'{value}" if isinstance(value, str) and value.startswith(_RUNS) else value


def as_workbook(rows: Rows) -> bytes:
    """A workbook with one sheet; its texts are texts, also those that begin like a formula."""
    from openpyxl import Workbook
    from openpyxl.utils import get_column_letter

    workbook = Workbook()
    sheet = workbook.active
    headings = list(rows[0]) if rows else []
    for at, heading in enumerate(headings, 1):
        put(sheet.cell(1, at), heading)
        longest = max([len(heading), *(len(str(row[heading] or "")) for row in rows)])
        sheet.column_dimensions[get_column_letter(at)].width = min(longest + 2, _WIDEST)
        for number, row in enumerate(rows, 2):
            put(sheet.cell(number, at), _plain(row[heading]))
    sheet.freeze_panes = "A2"
    made = io.BytesIO()
    workbook.save(made)
    return made.getvalue()


def as_parquet(rows: Rows) -> bytes:
    """Parquet; what is not known is null."""
    import pandas as pd

    frame = pd.DataFrame([{name: _plain(value) for name, value in row.items()} for row in rows])
    made = io.BytesIO()
    frame.to_parquet(made, index=False)
    return made.getvalue()


_MAKERS = {"csv": as_csv, "xlsx": as_workbook, "parquet": as_parquet}


def put(cell: Any, value: object) -> None:
    """A value into a cell of a workbook; a text is text, also one that begins like a formula."""
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    if isinstance(value, str):
        cell.value = ILLEGAL_CHARACTERS_RE.sub("", value)
        cell.data_type = "s"
    else:
        cell.value = value


def _plain(value: object) -> object:
    return value if value is None or isinstance(value, (str, int, float, date)) else str(value)
