"""Worksheets of an .xlsx workbook as CSV files, so that they are read like any other sheet.

What is read is what the breeder sees: of a formula its last result (one that was never computed is refused),
of a date its ISO form. Workbooks that unpack to more than a sheet can hold are refused before they are read.
"""

from __future__ import annotations

import csv
import re
import struct
import warnings
import zipfile
import zlib
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import islice
from pathlib import Path
from typing import Any

from analytics.sheets.headings import HEADING_WITHIN, find_headings
from analytics.sheets.keys import BLANKS
from analytics.sheets.text_files import MOST_FAULTS

MOST_BYTES = 400_000_000
"""Bytes that a workbook may unpack to; it is read at some 15 MB a second."""
MOST_TEXT_BYTES = 100_000_000
"""Bytes that its table of texts may unpack to, which is held in memory."""
MOST_OTHER_BYTES = 20_000_000
"""Bytes that any other part which is read, such as its styles, may unpack to."""
MOST_FOLDED, FOLDED_FROM = 100, 10_000_000
"""A part of so many bytes and more that is packed smaller than so many times was made to fill a memory."""
MOST_ROWS = 1_048_576
MOST_COLUMNS = 256
_FORMULA = re.compile(rb"<(?:\w{1,30}:)?f[\s/>]")
ERRORS = frozenset({"#N/A", "#REF!", "#VALUE!", "#DIV/0!", "#NAME?", "#NUM!", "#NULL!", "#SPILL!", "#CALC!"})


class NotAWorkbook(Exception):  # noqa: N818 - turned into a problem by the caller
    """The file cannot be read as a workbook; the argument says why."""


@dataclass(frozen=True, slots=True)
class CellProblem:
    """A cell that cannot be read.

    Attributes:
        row: as the spreadsheet counts.
        column: position, from 0.
        given: what is wrong with it.
        repair: how to mend it.
    """

    row: int
    column: int
    given: str
    repair: str


@dataclass(frozen=True, slots=True)
class Worksheet:
    """One worksheet with something in it.

    Attributes:
        title: its name.
        heading_row: row of the headings.
        headings: their texts.
    """

    title: str
    heading_row: int
    headings: tuple[str, ...]


class Workbook:
    """An open workbook; close it after use."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._formulas = _check_size(path)
        self._book = _open(path, values=True)

    def close(self) -> None:
        """Closes the file."""
        self._book.close()

    def titles(self) -> list[str]:
        """The name of every worksheet, empty ones too."""
        return [sheet.title for sheet in self._book.worksheets]

    def headings(self, title: str, known: Collection[str]) -> Worksheet | None:
        """Finds the headings of a worksheet; None when nothing is in it.

        Args:
            title: its name.
            known: headings that tell the right row.
        """
        sheet = self._book[title]
        sheet.reset_dimensions()
        rows = _rows(sheet, HEADING_WITHIN, MOST_COLUMNS)
        found = find_headings(([text_of(cell) for cell in cells] for cells in rows), known)
        if found is None:
            return None
        number, texts = found
        width = max(position for position, text in enumerate(texts, 1) if text)
        return Worksheet(title, number, texts[:width])

    def write_csv(self, sheet: Worksheet, target: Path) -> list[CellProblem]:
        """Writes a worksheet from its heading row on as CSV, blank rows too.

        Returns:
            The cells that cannot be read; after `MOST_FAULTS` no more is read.
        """
        problems = self._uncomputed(sheet) if self._formulas else []
        width = len(sheet.headings)
        blank_rows = 0
        with target.open("w", encoding="utf-8", newline="") as handle:
            writer = csv.writer(handle, quoting=csv.QUOTE_ALL)
            for row, cells in self._body(self._book, sheet):
                texts = [text_of(cell) for cell in cells]
                problems.extend(_unfit(row, texts, width))
                if len(problems) >= MOST_FAULTS:
                    break
                if not any(texts):
                    blank_rows += 1
                    continue
                writer.writerows([[""] * width] * blank_rows)
                blank_rows = 0
                writer.writerow([*texts[:width], *[""] * (width - len(texts))])
        return problems

    def _body(self, book: Any, sheet: Worksheet) -> Iterator[tuple[int, Sequence[Any]]]:
        rows = _rows(book[sheet.title], MOST_ROWS + 1, len(sheet.headings) + 1)
        for row, cells in enumerate(rows, 1):
            if row > MOST_ROWS:
                raise NotAWorkbook(f"The worksheet {sheet.title} has more than {MOST_ROWS} rows")
            if row >= sheet.heading_row:
                yield row, cells

    def _uncomputed(self, sheet: Worksheet) -> list[CellProblem]:
        book = _open(self._path, values=False)
        try:
            book[sheet.title].reset_dimensions()
            pairs = zip(self._body(book, sheet), self._body(self._book, sheet), strict=False)
            found = (
                CellProblem(
                    row,
                    column,
                    f"The formula {getattr(formula, 'text', formula)!s:.60} has no result",
                    "Write the value",
                )
                for (row, formulas), (_, values) in pairs
                for column, (formula, value) in enumerate(zip(formulas, values, strict=False))
                if value is None and formula is not None
            )
            return list(islice(found, MOST_FAULTS))
        finally:
            book.close()


def _formula(cell: Any) -> str:
    return str(getattr(cell, "text", cell))[:60]


def _unfit(row: int, texts: list[str], width: int) -> Iterator[CellProblem]:
    if len(texts) > width and texts[width].strip(BLANKS):
        yield CellProblem(row, width, f"`{texts[width][:60]}` stands under no heading", "Give it a heading")
    for column, text in enumerate(texts):
        if text in ERRORS:
            yield CellProblem(row, column, f"The error {text}", "Mend the formula or write the value")


def _rows(sheet: Any, last: int, width: int) -> Iterator[Sequence[Any]]:
    try:
        yield from sheet.iter_rows(max_row=last, max_col=width, values_only=True)
    except Exception as error:
        raise NotAWorkbook(f"The worksheet {sheet.title} is broken") from error


def _open(path: Path, *, values: bool) -> Any:
    import openpyxl

    try:
        with warnings.catch_warnings(action="ignore"):  # of styles and other things that are not read
            return openpyxl.load_workbook(path, read_only=True, data_only=values, keep_links=False)
    except Exception as error:  # openpyxl raises whatever it stumbles over
        raise NotAWorkbook("A part of it is missing or broken") from error


def _check_size(path: Path) -> bool:
    """Refuses what unpacks to too much; returns whether any worksheet has a formula."""
    try:
        with zipfile.ZipFile(path) as packed:
            parts = packed.infolist()
            _refuse_too_much(parts)
            return any(_holds_formula(packed, part) for part in parts if part.filename.endswith(".xml"))
    except zipfile.BadZipFile as error:
        raise NotAWorkbook(_other_form(path)) from error
    except (EOFError, NotImplementedError, RuntimeError, zlib.error, struct.error) as error:
        raise NotAWorkbook("A part of it is broken, or locked with a password") from error


def _refuse_too_much(parts: Sequence[zipfile.ZipInfo]) -> None:
    total = sum(part.file_size for part in parts)
    if total > MOST_BYTES:
        raise NotAWorkbook(f"It unpacks to {total / 1e6:.0f} MB, more than record sheets hold")
    for part in parts:
        size = part.file_size
        most = MOST_TEXT_BYTES if "sharedstrings" in part.filename.lower() else MOST_OTHER_BYTES
        folded = size > FOLDED_FROM and size > MOST_FOLDED * part.compress_size
        if folded or (
            size > most and not _is_page(part) and part.filename.lower().endswith((".xml", ".rels"))
        ):
            raise NotAWorkbook(f"A part of it unpacks to {size / 1e6:.0f} MB, more than record sheets hold")


def _is_page(part: zipfile.ZipInfo) -> bool:
    return "worksheets/" in part.filename.lower()


def _other_form(path: Path) -> str:
    with path.open("rb") as handle:
        old = handle.read(4) == b"\xd0\xcf\x11\xe0"
    if old:
        return "It is an old .xls workbook, or one with a password"
    return "It is no .xlsx file, or a damaged one"


def _holds_formula(packed: zipfile.ZipFile, part: zipfile.ZipInfo) -> bool:
    before = b""
    with packed.open(part) as handle:
        while piece := handle.read(1 << 20):
            text = before + piece
            if _FORMULA.search(text):
                return True
            before = text[-40:]
    return False


def text_of(value: Any) -> str:
    """A cell's value as a record sheet writes it."""
    if value is None:
        return ""
    if isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, datetime):
        return _moment_text(value)
    if isinstance(value, (date, time)):
        return value.isoformat()
    return str(value)


def _moment_text(value: datetime) -> str:
    """To the second, because a spreadsheet keeps times as fractions of a day; midnight is a day alone."""
    rounded = (value + timedelta(milliseconds=500)).replace(microsecond=0, tzinfo=None)
    return rounded.date().isoformat() if rounded.time() == time() else rounded.isoformat()
