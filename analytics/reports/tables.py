"""Tables to take away, as CSV, as a workbook or as Parquet; no cell of them runs as a formula."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from analytics.errors import WrongUsage

Rows = Sequence[Mapping[str, object]]
KINDS: dict[str, str] = {
    "csv": "text/csv",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "parquet": "application/vnd.apache.parquet",
}
"""Ending of a file -> what it is called on the way (media type)."""
_RUNS = ("=", "+", "-", "@", "\t", "\r")
_WIDEST = 60
MOST_ROWS = 1_048_575
"""Rows of a worksheet beneath its headings."""


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
        table = csv.writer(text)
        table.writerow(map(_held, rows[0]))
        table.writerows(map(_held, row.values()) for row in rows)
    return text.getvalue().encode("utf-8-sig")


def _held(value: object) -> object:
    return f"'{value}" if isinstance(value, str) and value.startswith(_RUNS) else value


def as_workbook(rows: Rows) -> bytes:
    """A workbook with one sheet; its texts are texts, also those that begin like a formula."""
    return _workbook([("table", rows)])


def _workbook(tables: Sequence[tuple[str, Rows]]) -> bytes:
    from openpyxl import Workbook

    workbook = Workbook()
    workbook.remove(workbook.active)
    for name, rows in tables:
        _fill(workbook.create_sheet(name), rows)
    made = io.BytesIO()
    workbook.save(made)
    return made.getvalue()


def _fill(sheet: Any, rows: Rows) -> None:
    from openpyxl.utils import get_column_letter

    if len(rows) > MOST_ROWS:
        raise WrongUsage(
            f"{len(rows):,} rows of {sheet.title}", f"A worksheet holds {MOST_ROWS:,}", "Take them as Parquet"
        )

    headings = list(rows[0]) if rows else []
    for at, heading in enumerate(headings, 1):
        put(sheet.cell(1, at), heading)
        longest = max([len(heading), *(len(str(row[heading] or "")) for row in rows)])
        sheet.column_dimensions[get_column_letter(at)].width = min(longest + 2, _WIDEST)
        for number, row in enumerate(rows, 2):
            put(sheet.cell(number, at), _plain(row[heading]))
    sheet.freeze_panes = "A2"
    fit_to_paper(sheet)


def fit_to_paper(sheet: Any, *, headed: bool = True) -> None:
    """A worksheet that prints as wide as the paper, its headings on every page where it has some."""
    sheet.page_setup.orientation = "landscape" if headed else "portrait"
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    if headed:
        sheet.print_title_rows = "1:1"


def as_parquet(rows: Rows) -> bytes:
    """Parquet; what is not known is null."""
    import pandas as pd

    names = list(rows[0]) if rows else []
    frame = pd.DataFrame({name: _column([_plain(row[name]) for row in rows]) for name in names})
    made = io.BytesIO()
    frame.to_parquet(made, index=False)
    return made.getvalue()


def _column(values: list[Any]) -> Any:
    """The values of a column; whole numbers stay whole where some are not known."""
    import pandas as pd

    known = [value for value in values if value is not None]
    whole = bool(known) and all(isinstance(value, int) and not isinstance(value, bool) for value in known)
    return pd.array(values, dtype="Int64") if whole and len(known) < len(values) else values


PACKED: dict[str, tuple[str, str]] = {
    "xlsx": ("xlsx", KINDS["xlsx"]),
    "csv": ("zip", "application/zip"),
    "parquet": ("zip", "application/zip"),
}
"""Kind -> ending and media type of several tables in one file."""
_NO_NAME = re.compile(r"[^\w ,;.()%+-]+")
_SHEET_NAME = 31


def packed(tables: Sequence[tuple[str, Rows]], kind: str) -> bytes:
    """Several tables in one file: worksheets of a workbook, or files of a zip.

    Args:
        tables: name and rows of each.
        kind: one of `PACKED`.
    """
    named = list(zip(_names([name for name, _ in tables]), (rows for _, rows in tables), strict=True))
    if kind == "xlsx":
        return _workbook(named)
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, rows in named:
            archive.writestr(f"{name}.{kind}", as_table(rows, kind))
    return made.getvalue()


def _names(captions: Sequence[str]) -> list[str]:
    """Names that a worksheet and a file may have, each once whatever its capitals."""
    found: list[str] = []
    for place, caption in enumerate(captions, 1):
        said = " ".join(_NO_NAME.sub(" ", caption).split())[:_SHEET_NAME].strip(" .")
        taken = {name.casefold() for name in found}
        is_free = said and said.casefold() not in taken
        found.append(said if is_free else f"{place} {said}"[:_SHEET_NAME].strip(" ."))
    return found


def shown_rows(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> list[dict[str, object]]:
    """A table as it is shown; where a column is all numbers they become such: 65 % is .65, a dash blank."""
    names: list[str] = []
    for place, heading in enumerate(headings, 1):
        said = heading or f"column {place}"
        names.append(said if said not in names else f"{said} ({place})")
    columns = [_read([row[at] for row in rows]) for at in range(len(names))]
    return [dict(zip(names, cells, strict=True)) for cells in zip(*columns, strict=True)]


def _read(cells: Sequence[str]) -> list[object]:
    values = [_number(cell) for cell in cells]
    are_numbers = all(
        isinstance(value, (int, float)) or _is_blank(cell) for value, cell in zip(values, cells, strict=True)
    )
    return [
        None if _is_blank(cell) else value if are_numbers else cell
        for value, cell in zip(values, cells, strict=True)
    ]


def _is_blank(cell: str) -> bool:
    return cell.strip() in ("", "–", "—")


def _number(cell: str) -> int | float | None:
    """`1,234`, `−3.5` or `65 %` as a number; None where it is none."""
    found = _NUMBER.fullmatch(cell.strip().replace("\N{MINUS SIGN}", "-"))
    if not found:
        return None
    value = float(found[1].replace(",", ""))
    if found[2]:
        return round(value / 100, 10)
    return value if "." in found[1] else int(value)


_NUMBER = re.compile(r"([+-]?(?:\d{1,3}(?:,\d{3})+|\d+)(?:\.\d+)?)(\s?%)?")
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
