"""Workbooks and text files that are small and unpack, or read, to very much; each is loaded in a process of
its own.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from random import Random

from bad_books import _book, _saved, _texts, parts
from bad_kinds import Bad, csv_bytes
from farm_sheets import good

_PIECE = 1 << 20


def _with(members: dict[str, bytes], name: str, pieces: Iterator[bytes]) -> bytes:
    """A workbook one part of which is written piece by piece."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as into:
        for other, content in members.items():
            if other != name:
                into.writestr(other, content)
        with into.open(name, "w", force_zip64=True) as part:
            for piece in pieces:
                part.write(piece)
    return out.getvalue()


def _pens() -> dict[str, bytes]:
    return parts(_saved(_book({"pens": _texts(good("pens"))})))


_PAGE = "xl/worksheets/sheet1.xml"
_OPEN = b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
_CLOSE = b"</sheetData></worksheet>"


def _page(dice: Random, row: bytes, megabytes: int) -> Bad:
    cell = b'<c t="inlineStr"><is><t>'
    head = b"<row>" + cell + b"pen</t></is></c>" + cell + b"species</t></is></c></row>"
    many = row * (_PIECE // len(row) + 1)

    def pieces() -> Iterator[bytes]:
        yield _OPEN + head
        for _ in range(megabytes):
            yield many
        yield _CLOSE

    return Bad("pens", "records.xlsx", _with(_pens(), _PAGE, pieces()), None)


def blanks(dice: Random) -> Bad:
    """A part of nothing but blanks."""
    name = dice.choice(
        (_PAGE, "xl/styles.xml", "xl/workbook.xml", "docProps/core.xml", "xl/sharedStrings.xml", "xl/x.bin")
    )
    size = dice.choice((60, 300, 900, 1500))
    return Bad("pens", "records.xlsx", _with(_pens(), name, (b" " * _PIECE for _ in range(size))), None)


def empty_rows(dice: Random) -> Bad:
    """Millions of rows with nothing in them."""
    return _page(dice, b"<row/>", dice.choice((5, 40, 200)))


def full_rows(dice: Random) -> Bad:
    """Millions of equal rows."""
    row = b'<row><c t="inlineStr"><is><t>Rowan</t></is></c><c t="inlineStr"><is><t>chicken</t></is></c></row>'
    return _page(dice, row, dice.choice((5, 40, 200)))


def wide_row(dice: Random) -> Bad:
    """One row of millions of cells."""
    return _page(dice, b"<c><v>1</v></c>", dice.choice((5, 60)))


def one_text(dice: Random) -> Bad:
    """One text of hundreds of megabytes in a cell."""
    size = dice.choice((30, 150, 400))

    def pieces() -> Iterator[bytes]:
        yield _OPEN + b'<row><c t="inlineStr"><is><t>pen</t></is></c></row><row><c t="inlineStr"><is><t>'
        for _ in range(size):
            yield b"x" * _PIECE
        yield b"</t></is></c></row>" + _CLOSE

    return Bad("pens", "records.xlsx", _with(_pens(), _PAGE, pieces()), None)


def texts(dice: Random) -> Bad:
    """A table of millions of texts."""
    size, one = dice.choice((30, 150, 250)), b"<si><t>a</t></si>"

    def pieces() -> Iterator[bytes]:
        yield b'<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
        for _ in range(size):
            yield one * (_PIECE // len(one))
        yield b"</sst>"

    return Bad("pens", "records.xlsx", _with(_pens(), "xl/sharedStrings.xml", pieces()), None)


def deep(dice: Random) -> Bad:
    """Elements within elements, many thousand deep."""
    levels = dice.choice((10_000, 500_000))
    pieces = iter((_OPEN, b"<row><c>" * levels, b"</c></row>" * levels, _CLOSE))
    return Bad("pens", "records.xlsx", _with(_pens(), _PAGE, pieces), None)


def nested(dice: Random) -> Bad:
    """Packed files within a packed file, named as a workbook."""
    content = b"0" * 10_000_000
    for _ in range(dice.randint(2, 5)):
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as into:
            for number in range(10):
                into.writestr(f"{number}.xlsx", content)
        content = out.getvalue()
    return Bad("pens", "records.xlsx", content, None)


def many_pages(dice: Random) -> Bad:
    """Thousands of worksheets."""
    return Bad(
        "pens", "records.xlsx", _saved(_book({f"pens {number}": [["pen"]] for number in range(1500)})), None
    )


def many_columns(dice: Random) -> Bad:
    """A text file with tens of thousands of headings."""
    grid = good("pens")
    many = dice.choice((9_000, 60_000))
    grid[0] += [f"c{number}" for number in range(many)]
    return Bad("pens", "pens.csv", csv_bytes(grid), None)


def long_line(dice: Random) -> Bad:
    """One line of a hundred megabytes, within quotation marks or without."""
    start = b"pen,species\nRowan," + dice.choice((b"", b'"'))
    return Bad("pens", "pens.csv", start + dice.choice((b"x", b",", b'"')) * 100_000_000, None)


def many_rows(dice: Random) -> Bad:
    """Some million rows that are all wrong in the same way."""
    line = dice.choice((b"Rowan,none\n", b",\n", b"Rowan,chicken\n", b"Rowan,chicken,7\n"))
    return Bad("pens", "pens.csv", b"pen,species\n" + line * 2_000_000, None)


BOMBS = (
    blanks, empty_rows, full_rows, wide_row, one_text, texts, deep, nested, many_pages, many_columns,
    long_line, many_rows,
)  # fmt: skip
