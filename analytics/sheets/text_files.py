"""CSV as spreadsheets and loggers write it: encoding, delimiter, blank lines, and where a row stands.

Only the head of a file is looked at here. A file that is not plain UTF-8 with the heading in its first row
and as many cells in every row as there are headings is rewritten as one that is (`rewrite`), row for row.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path

from analytics.errors import SheetProblem
from analytics.sheets.contract import Sheet
from analytics.sheets.headings import Headings, find_headings, word_of
from analytics.sheets.keys import BLANKS

HEAD_BYTES = 65_536
DELIMITERS = (",", ";", "\t")
UTF8 = "utf-8-sig"
_LONGEST_LINE = 4_000_000
MOST_FAULTS = 10_000
"""Rows of one file that cannot be read, after which no more is read."""
_PIECE = 1 << 20
_MOST_WITHOUT_END = 2 * _PIECE
"""Bytes without the end of a line; one longer than its buffer of 32 MB DuckDB passes over without a word."""


@dataclass(frozen=True, slots=True)
class Source:
    """One file that holds rows of one sheet.

    Attributes:
        sheet: the sheet.
        name: file, and worksheet, as the user knows it.
        path: the CSV file to read.
        encoding: of that file.
        delimiter: between its cells.
        heading_row: row in which the headings stand, as a spreadsheet counts.
        headings: what its columns are.
        plain: whether DuckDB may read it as it is; otherwise `rewrite` first.
        rectangular: whether each line after the heading is the next row of the sheet, blank or not.
    """

    sheet: Sheet
    name: str
    path: Path
    encoding: str
    delimiter: str
    heading_row: int
    headings: Headings
    plain: bool
    rectangular: bool


@dataclass(frozen=True, slots=True)
class Head:
    """What the beginning of a text file shows.

    Attributes:
        encoding: the file's encoding, as far as its beginning tells.
        delimiter: between cells.
        heading_row: row of the headings.
        headings: that row's cells.
        tidy: whether quotation marks in the first line stand around whole cells only.
    """

    encoding: str
    delimiter: str
    heading_row: int
    headings: tuple[str, ...]
    tidy: bool


class NotText(Exception):  # noqa: N818 - turned into a problem of the sheet by the caller
    """The file is no text, or no CSV; the argument says what was found."""


def look_at_head(path: Path, known: Collection[str]) -> Head | None:
    """Reads the beginning of a CSV file; None when nothing is in it.

    Args:
        path: the file.
        known: headings that tell the right row and delimiter.

    Raises:
        NotText: it is no text.
    """
    with path.open("rb") as handle:
        raw = handle.read(HEAD_BYTES)
        _refuse_endless_line(handle)
    encoding = _encoding_of(raw)
    text = codecs.getincrementaldecoder(encoding)("replace").decode(raw)
    announced = re.match(r"sep=(.)\r?\n", text)
    if announced:
        return _head(text, encoding, announced[1], 1, known)
    heads = [_head(text, encoding, delimiter, 0, known) for delimiter in DELIMITERS]
    found = [head for head in heads if head]
    return max(found, key=lambda head: _fit(head, known), default=None)


def _refuse_endless_line(handle: io.BufferedReader) -> None:
    """Looks through the file for a line of some megabytes; no record sheet has one."""
    without_end = 0
    while piece := handle.read(_PIECE):
        end = piece.rfind(b"\n")
        end = end if end >= 0 else piece.rfind(b"\r")
        without_end = without_end + len(piece) if end < 0 else len(piece) - end
        if without_end > _MOST_WITHOUT_END:
            raise NotText("It holds a line of more than two million letters")


def _fit(head: Head, known: Collection[str]) -> tuple[int, int]:
    return sum(word_of(text) in known for text in head.headings), len(head.headings)


def _head(text: str, encoding: str, delimiter: str, skip: int, known: Collection[str]) -> Head | None:
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        found = find_headings(islice(rows, skip, None), known)
    except csv.Error as error:
        raise NotText("Its lines cannot be told apart") from error
    return Head(encoding, delimiter, skip + found[0], found[1], _tidy(text, delimiter)) if found else None


def _tidy(text: str, delimiter: str) -> bool:
    """DuckDB takes a heading like `""eggs` for the beginning of a text, and passes over the rows within."""
    first, mark = re.split(r"[\r\n]", text, maxsplit=1)[0], re.escape(delimiter)
    return '"' not in re.sub(rf'(?:^|(?<={mark}))"[^"]*"(?={mark}|$)', "", first)


def _encoding_of(raw: bytes) -> str:
    for mark, encoding in (
        (codecs.BOM_UTF8, UTF8),
        (codecs.BOM_UTF16_LE, "utf-16"),
        (codecs.BOM_UTF16_BE, "utf-16"),
    ):
        if raw.startswith(mark):
            return encoding
    if b"\0" in raw:
        for start, encoding in ((1, "utf-16-le"), (0, "utf-16-be")):
            if raw[start::2].count(0) > 0.8 * len(raw[start::2]):
                return encoding
        raise NotText("It holds zero bytes")
    try:
        codecs.getincrementaldecoder("utf-8")().decode(raw)
    except UnicodeDecodeError:
        return "cp1252"
    return UTF8


def is_blank(cells: Sequence[str]) -> bool:
    """Whether a row has nothing in it."""
    return not any(cell.strip(BLANKS) for cell in cells)


def may_be_plain(path: Path, head: Head) -> bool:
    """Whether DuckDB can probably read the file as it is."""
    readable = head.encoding == UTF8 and head.heading_row == 1 and head.tidy
    return readable and not re.search(r"[*?\[\]{}]", str(path))


def rewrite(source: Source, target: Path) -> tuple[Source, list[SheetProblem]]:
    """Writes the file anew as UTF-8 with commas and equally many cells in every row; blank rows stay.

    Returns:
        The source to read instead, and the rows that cannot be read.
    """
    encodings = [source.encoding] + (["cp1252"] if source.encoding == UTF8 else [])
    for encoding in encodings:
        try:
            problems = _rewrite_as(source, encoding, target)
        except UnicodeError:
            continue
        anew = replace(source, path=target, encoding="utf-8", delimiter=",", plain=True, rectangular=True)
        return anew, problems
    unreadable = SheetProblem(
        source.sheet.name,
        0,
        "",
        f"{source.name} is no text that can be read",
        "A record sheet is a CSV file in UTF-8, or an .xlsx workbook",
        "Save it again as CSV UTF-8",
    )
    return source, [unreadable]


def _rewrite_as(source: Source, encoding: str, target: Path) -> list[SheetProblem]:
    width = len(source.headings.columns)
    problems: list[SheetProblem] = []
    with (
        source.path.open(encoding=encoding, newline="") as handle,
        target.open("w", encoding="utf-8", newline="") as out,
    ):
        writer = csv.writer(out, quoting=csv.QUOTE_ALL)
        row = source.heading_row
        try:
            for row, cells in numbered_rows(handle, source.delimiter):
                if row < source.heading_row:
                    continue
                if row > source.heading_row and not is_blank(cells[width:]):
                    problems.append(_too_many(source, row, cells, width))
                    if len(problems) == MOST_FAULTS:
                        problems.append(not_read_on(source.sheet.name, row, source.name))
                        break
                writer.writerow([*cells[:width], *[""] * (width - len(cells))])
        except csv.Error as error:
            problems.append(_broken(source, row + 1, error))
    return problems


def numbered_rows(handle: io.TextIOWrapper, delimiter: str) -> Iterator[tuple[int, list[str]]]:
    """The rows of a CSV file with their numbers as a spreadsheet shows them, from 1."""
    yield from enumerate(csv.reader(handle, delimiter=delimiter, strict=True), 1)


def _too_many(source: Source, row: int, cells: list[str], width: int) -> SheetProblem:
    extra = next(cell for cell in cells[width:] if cell.strip(BLANKS))
    return SheetProblem(
        source.sheet.name,
        row,
        "",
        f"{len(cells)} cells under {width} headings, the first without a heading is `{extra[:60]}`",
        "Every cell stands under a heading",
        "Put a text with the separator in it into quotation marks, or mend the row",
    )


def not_read_on(sheet: str, row: int, name: str) -> SheetProblem:
    """Said where so much is wrong that the rest is not looked at."""
    return SheetProblem(
        sheet,
        row,
        "",
        f"From here on {name} was not read",
        f"{MOST_FAULTS:,} faults are enough",
        "Mend these first",
    )


def _broken(source: Source, row: int, error: csv.Error) -> SheetProblem:
    if "field larger" in str(error):
        rule, repair = "A cell holds at most 131072 letters", "Shorten it; look for a missing quotation mark"
    else:
        rule = "A text in quotation marks ends with one, and one inside is written twice"
        repair = 'Close the quotation mark, or write "" for one inside the text'
    return SheetProblem(
        source.sheet.name, row, "", f"From here on {source.name} cannot be read", rule, repair
    )


def rows_of(source: Source, records: Collection[int]) -> dict[int, int]:
    """Where records stand, as a spreadsheet counts rows.

    Args:
        source: the file they were read from.
        records: their numbers, counted from 0 as DuckDB read them.
    """
    if source.rectangular or not records:
        return {record: source.heading_row + 1 + record for record in records}
    opened = source.path.open(encoding=source.encoding, errors="replace", newline="")
    with opened as handle, _long_cells(), suppress(csv.Error):
        return _find_rows(handle, source, set(records))
    return {}


def _find_rows(handle: io.TextIOWrapper, source: Source, wanted: set[int]) -> dict[int, int]:
    found: dict[int, int] = {}
    one_column = len(source.headings.columns) == 1
    record = -1
    for row, cells in numbered_rows(handle, source.delimiter):
        if row <= source.heading_row or not (cells or one_column):
            continue
        record += 1
        if record in wanted:
            found[record] = row
            if len(found) == len(wanted):
                break
    return found


@contextmanager
def _long_cells() -> Iterator[None]:
    """Lets the CSV reader pass cells as long as DuckDB's."""
    before = csv.field_size_limit(_LONGEST_LINE)
    try:
        yield
    finally:
        csv.field_size_limit(before)
