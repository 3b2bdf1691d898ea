"""What a load that was taken must have kept, read from the file by other means than the loader's.

Text files are read by Python's csv, workbooks by openpyxl as a whole; cells become values by the rules that
the empty sheets tell. A cell that was taken and means nothing by these rules is a miss.
"""

from __future__ import annotations

import csv
import io
import re
import unicodedata
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from math import isclose
from pathlib import Path
from typing import Any

import duckdb
import openpyxl
from bad_kinds import Bad

from analytics.reference.species import species_table
from analytics.sheets.contract import BY_NAME, Column, Kind

BLANKS = " \t\n\r\u00a0\ufeff\u200b"
_NUMBER = re.compile(r"[-+]?(\d[\d_]*\.?\d*|\.\d+)([eE][-+]?\d+)?")
_DAY = re.compile(
    r"(\d{4})[-/ ](\d{1,2})[-/ ](\d{1,2})(?:[ T]\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?(?:Z|[+-]\d{2}:\d{2})?)?"
)
"""A day, written with an hour or without; the hour says nothing in a column of days."""
_MOMENT = re.compile(r"(\d{4})[-/ ](\d{1,2})[-/ ](\d{1,2})(?:[ T]+(\d{1,2}):(\d{2})(?::(\d{2})(\.\d+)?)?)?")
_YES, _NO = {"yes", "y", "true", "t", "1"}, {"no", "n", "false", "f", "0"}

Cells = dict[str, Any]
Rows = dict[tuple[Any, ...], Cells]


@dataclass(frozen=True, slots=True)
class Table:
    """One table of a file: its sheet, its cells with the heading row first, whether commas part them."""

    sheet: str
    grid: list[list[str]]
    comma: bool


class Meaningless(Exception):  # noqa: N818 - a finding
    """A cell that was taken, and should not have been."""


def word(text: str) -> str:
    """A heading or sheet name as it is compared."""
    label = unicodedata.normalize("NFC", text).strip(BLANKS)
    return re.sub(r"[\s\-]+", "_", "".join(letter.lower()[:1] for letter in label))


def stored(store: Path) -> dict[str, Rows]:
    """Every live row of every sheet by its key."""
    found: dict[str, Rows] = {}
    with duckdb.connect(str(store), read_only=True) as connection:
        for name, sheet in BY_NAME.items():
            columns = list(sheet.by_name)
            names = ", ".join(f'"{column}"' for column in columns)
            rows = connection.execute(f"SELECT {names} FROM {name} WHERE withdrawn_in IS NULL").fetchall()
            cells = [dict(zip(columns, row, strict=True)) for row in rows]
            found[name] = {key_of(name, row): row for row in cells}
            if len(found[name]) != len(rows):
                raise Meaningless(f"{name} holds a key twice")
    return found


def key_of(sheet: str, row: Cells) -> tuple[Any, ...]:
    """The key of a row: labels without case and outer blanks, composed."""
    return tuple(
        _plain(cell) if isinstance(cell := row.get(name), str) else cell or ("" if cell is None else cell)
        for name in BY_NAME[sheet].key
    )


def tables_of(bad: Bad) -> list[Table]:
    """What stands in a file."""
    if bad.name.lower().endswith((".xlsx", ".xlsm")):
        return _of_book(bad)
    if bad.grid is not None:
        return [Table(bad.sheet, _from_heading(bad.sheet, bad.grid), bad.comma)]
    text = _decoded(bad.content)
    announced = re.match(r"sep=(.)\r?\n", text)
    marks = (announced[1],) if announced else (",", ";", "\t")
    text = text[announced.end() :] if announced else text
    found = [(_rows(text, mark), mark) for mark in marks]
    grids = [(_from_heading(bad.sheet, rows), mark) for rows, mark in found if rows]
    known = set(BY_NAME[bad.sheet].by_name)
    best = max(
        grids, key=lambda one: (sum(word(text) in known for text in one[0][0]), len(one[0][0])), default=None
    )
    return [Table(bad.sheet, best[0], best[1] == ",")] if best else []


def _decoded(content: bytes) -> str:
    for mark, encoding in ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16")):
        if content.startswith(mark):
            try:
                return content.decode(encoding)
            except UnicodeDecodeError:
                return content.removeprefix(mark).decode("cp1252")
    if b"\0" in content:
        return content.decode("utf-16-le" if content[1:2] == b"\0" else "utf-16-be", "replace")
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError:
        return content.decode("cp1252")


def _rows(text: str, mark: str) -> list[list[str]]:
    before = csv.field_size_limit(10_000_000)
    try:
        return list(csv.reader(io.StringIO(text, newline=""), delimiter=mark))
    finally:
        csv.field_size_limit(before)


def _from_heading(sheet: str, rows: list[list[str]]) -> list[list[str]]:
    known = set(BY_NAME[sheet].by_name)
    hits = [
        sum(word(text) in known for text in row) if any(c.strip(BLANKS) for c in row) else -1
        for row in rows[:50]
    ]
    best = max(range(len(hits)), key=lambda number: (hits[number], -number))
    return rows[best:]


def _of_book(bad: Bad) -> list[Table]:
    book = openpyxl.load_workbook(io.BytesIO(bad.content), data_only=True)
    tables = []
    for page in book.worksheets:
        name = word(page.title)
        if name in BY_NAME:
            rows = _rows_of_page(page)
            if any(any(row) for row in rows):
                tables.append(Table(name, _from_heading(name, rows), True))
    return tables


def _rows_of_page(page: Any) -> list[list[str]]:
    """Only rows that have cells, and those among which the headings stand; a cell may lie very far off."""
    cells: dict[int, dict[int, str]] = {}
    for (row, column), cell in page._cells.items():
        if column <= 256:
            cells.setdefault(row or 2, {})[column] = _text(cell.value)  # `A0` was `A2`, within row 2
    rows = sorted({*cells, *range(1, min(max(cells, default=0), 50) + 1)})
    width = {row: max(cells.get(row, {}), default=0) for row in rows}
    return [[cells.get(row, {}).get(column, "") for column in range(1, width[row] + 1)] for row in rows]


def _text(cell: Any) -> str:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return str(int(cell))
    if isinstance(cell, datetime):
        whole = (cell + timedelta(milliseconds=500)).replace(microsecond=0) if cell.year < 9999 else cell
        return whole.date().isoformat() if whole.time() == time() else whole.isoformat()
    if isinstance(cell, (date, time)):
        return cell.isoformat()
    return str(cell)


def expected(before: dict[str, Rows], tables: list[Table]) -> dict[str, Rows]:
    """The rows that the store must hold after the tables were taken, corrections included."""
    after = {name: dict(rows) for name, rows in before.items()}
    for table in tables:
        columns = [BY_NAME[table.sheet].by_name.get(word(text)) for text in table.grid[0]]
        for cells in table.grid[1:]:
            given = {
                column.name: value(column, cell, table.comma)
                for column, cell in zip(columns, [*cells, *[""] * len(columns)], strict=False)
                if column
            }
            if all(cell is None for cell in given.values()):
                continue
            key = key_of(table.sheet, given)
            there = after[table.sheet].get(key, dict.fromkeys(BY_NAME[table.sheet].by_name))
            spelt = {name: there[name] for name in BY_NAME[table.sheet].key if there[name] is not None}
            after[table.sheet][key] = there | given | spelt
    return after


def value(column: Column, text: str, comma: bool) -> Any:
    """The value that a cell stands for; None where blank."""
    word_ = text.strip(BLANKS)
    if not word_:
        return None
    kind = column.kind
    if kind in (Kind.LABEL, Kind.TEXT):
        choices = tuple(species_table()) if column.name == "species" else column.choices
        return word_.lower().replace(" ", "_") if choices else word_
    if kind is Kind.DAY:
        found = _DAY.fullmatch(word_)
        return date(*map(int, found.groups())) if found else _meaningless(column, text)
    if kind is Kind.MOMENT:
        found = _MOMENT.fullmatch(word_)
        if not found:
            return _meaningless(column, text)
        year, month, day, hour, minute, second = (int(part or 0) for part in found.groups()[:6])
        past = timedelta(
            hours=hour, minutes=minute, seconds=second, microseconds=round(float(found[7] or 0) * 1e6)
        )
        return datetime(year, month, day) + past  # noqa: DTZ001 - 24:00 is the next day
    if kind is Kind.YES_NO:
        low = word_.lower()
        return low in _YES if low in _YES | _NO else _meaningless(column, text)
    number = word_ if comma or kind.sql == "INTEGER" else word_.replace(",", ".")
    if not _NUMBER.fullmatch(number):
        return _meaningless(column, text)
    amount = float(number)
    return int(amount) if kind.sql == "INTEGER" else amount


def _meaningless(column: Column, text: str) -> Any:
    raise Meaningless(f"{column.name} {text[:60]!r} was taken")


def differences(wanted: dict[str, Rows], found: dict[str, Rows]) -> list[str]:
    """Where the store differs from what it must hold."""
    told = []
    for name in BY_NAME:
        for key in wanted[name].keys() | found[name].keys():
            one, other = wanted[name].get(key), found[name].get(key)
            if one is None or other is None:
                told.append(f"{name} {key!r:.80} {'is not kept' if other is None else 'stands in no file'}")
                continue
            told += [
                f"{name} {key!r:.80} {column}: {one[column]!r:.60} given, {other[column]!r:.60} kept"
                for column in one
                if not _same(one[column], other[column], BY_NAME[name].by_name[column].kind is Kind.LABEL)
            ]
    return told


def _plain(label: str) -> str:
    composed = unicodedata.normalize("NFC", label).strip(BLANKS)
    return "".join(letter.lower()[:1] for letter in composed)


def _same(one: Any, other: Any, label: bool) -> bool:
    if label and isinstance(one, str) and isinstance(other, str):
        return _plain(one) == _plain(other)  # a name takes the spelling of the row that it names
    if isinstance(one, float) and isinstance(other, float):
        return isclose(one, other, rel_tol=1e-9, abs_tol=1e-300)
    return bool(one == other)
