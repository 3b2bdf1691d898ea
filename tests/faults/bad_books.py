"""Bad workbooks: cells of other types, broken parts, entities that unfold, macros and links."""

from __future__ import annotations

import io
import zipfile
from datetime import date, datetime, time, timedelta
from random import Random
from typing import Any

import openpyxl
from bad_cells import ORDERS
from bad_kinds import NASTY, Bad
from farm_sheets import SHEET_NAMES, Grid, good

# fmt: off
NATIVE: tuple[Any, ...] = (
    7, -3, 3.5, 1e308, 2**53 + 1, True, False, None, date(2026, 3, 5), time(6, 30), timedelta(hours=30),
    datetime(2026, 3, 5, 6, 30), datetime(1900, 1, 1), datetime(9999, 12, 31, 23, 59, 59),  # noqa: DTZ001
    46086, 0.1 + 0.2, "#N/A", "#REF!",
)
# fmt: on


def _book(sheets: dict[str, list[list[Any]]]) -> openpyxl.Workbook:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for title, rows in sheets.items():
        page = book.create_sheet(title)
        for row in rows:
            page.append(row)
    return book


def _saved(book: openpyxl.Workbook) -> bytes:
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _texts(rows: list[list[Any]]) -> list[list[Any]]:
    """As text cells, which openpyxl would otherwise take for formulas where they begin with =."""
    return [[cell or None for cell in row] for row in rows]


def _any(dice: Random) -> tuple[str, Grid]:
    sheet = dice.choice(SHEET_NAMES)
    return sheet, good(sheet)


def typed(dice: Random) -> Bad:
    """Cells as numbers, days, yes and no, formulas that were never computed, and error values."""
    sheet, grid = _any(dice)
    rows = _texts(grid)
    for _ in range(dice.randint(1, 4)):
        row, column = dice.randrange(1, len(rows)), dice.randrange(len(rows[0]))
        rows[row][column] = dice.choice(
            (dice.choice(NATIVE), dice.choice(NATIVE), dice.choice(("=1+1", "=A2", "=NOW()")))
        )
    return Bad(sheet, "records.xlsx", _saved(_book({sheet: rows})), None)


def as_text(dice: Random) -> Bad:
    """The bad cells of text files in a workbook, each as text."""
    sheet, grid = _any(dice)
    book = _book({sheet: _texts(grid)})
    for _ in range(dice.randint(1, 4)):
        cell = book[sheet].cell(dice.randrange(2, len(grid) + 1), dice.randrange(1, len(grid[0]) + 1))
        text = dice.choice(NASTY)
        if not openpyxl.cell.cell.ILLEGAL_CHARACTERS_RE.search(text):
            cell.value, cell.data_type = text, "s"
    return Bad(sheet, "records.xlsx", _saved(book), None)


def _late(kind: int) -> int:
    """Merged cells and far ones come last: openpyxl moves values into those, and all cells up to these."""
    return {0: 1, 5: 2}.get(kind, 0)


def arranged(dice: Random) -> Bad:
    """Merged cells, titles above, blank rows between, sheets twice, hidden or unknown, cells far away."""
    sheet, grid = _any(dice)
    book = _book({sheet: _texts(grid)})
    page = book[sheet]
    kinds = [dice.randrange(8) for _ in range(dice.randint(1, 3))]
    for kind in sorted(kinds, key=_late):
        if kind == 0:
            first, column = dice.randrange(1, 4), dice.randrange(1, 5)
            page.merge_cells(
                start_row=first, end_row=first + dice.randrange(2), start_column=column, end_column=column + 1
            )
        elif kind == 1:
            page.insert_rows(1, dice.choice((1, 2, 60)))
            page.cell(1, 1, "My hatch records")
        elif kind == 2:
            page.insert_rows(dice.randrange(2, len(grid) + 1), dice.randint(1, 3))
        elif kind == 3:
            other = book.create_sheet(
                dice.choice((sheet.upper(), f"{sheet} ", "Sheet2", "how_to_fill", "pens (2)", "trays"))
            )
            for row in grid:
                other.append(row)
        elif kind == 4:
            book.create_sheet("notes")
            page.sheet_state = dice.choice(("hidden", "veryHidden"))
        elif kind == 5:
            page.cell(dice.choice((500, 1_048_576)), dice.choice((1, 3, 16_384)), dice.choice(("x", 7, None)))
        elif kind == 6:
            book.create_sheet("notes").append(list(ORDERS[:3]))
        else:
            page.title = dice.choice((sheet, sheet.title(), "Sheet1", sheet[:-1], sheet + "_2026"))
    return Bad(sheet, "records.xlsx", _saved(book), None)


def parts(content: bytes) -> dict[str, bytes]:
    """The parts of a workbook."""
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        return {name: packed.read(name) for name in packed.namelist()}


def packed(members: dict[str, bytes]) -> bytes:
    """Parts as a workbook."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as into:
        for name, content in members.items():
            into.writestr(name, content)
    return out.getvalue()


_DTD = '<?xml version="1.0"?><!DOCTYPE x [{0}]>'
_LAUGHS = "".join(
    f'<!ENTITY a{number} "{"&a" + str(number - 1) + ";" if number else "ha"}'
    f'{("&a" + str(number - 1) + ";") * 9 if number else ""}">'
    for number in range(9)
)
_OUTSIDE = '<!ENTITY a8 SYSTEM "file:///etc/hostname">'
MACRO = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b'Attribut\0e VB_Nam\0e = "Auto\0_Open"' * 20


def broken_parts(dice: Random) -> Bad:
    """A part missing, cut, spoilt, of another kind, or with entities that unfold or point outside."""
    sheet, grid = _any(dice)
    members = parts(_saved(_book({sheet: _texts(grid)})))
    for _ in range(dice.randint(1, 2)):
        name = dice.choice(list(members))
        content, kind = members[name], dice.randrange(7)
        place = dice.randrange(max(len(content), 1))
        if kind == 0:
            del members[name]
            if not members:
                break
        elif kind == 1:
            members[name] = content[:place]
        elif kind == 2:
            members[name] = content[:place] + bytes([dice.randrange(256)]) + content[place + 1 :]
        elif kind == 3:
            members[name] = dice.choice((b"", b"<x/>", b"not xml", b"\0" * 50, content * 2))
        elif kind == 4:
            head = _DTD.format(dice.choice((_LAUGHS, _OUTSIDE))).encode()
            body = content.split(b"?>", 1)[-1] if content.startswith(b"<?xml") else content
            members[name] = head + body.replace(b"<v>", b"<v>&a8;", 1).replace(b"<t>", b"<t>&a8;", 1)
        elif kind == 5:
            members["xl/" + dice.choice(ORDERS).strip() + ".xml"] = b"<x/>"
            members["../../outside.xml"] = b"<x/>"
        else:
            members[name] = content.replace(b'r="A2"', b'r="ZZZZ2"')
    return Bad(sheet, "records.xlsx", packed(members), None)


def zip_bytes(dice: Random) -> Bad:
    """Bytes of the packed file flipped or cut."""
    sheet, grid = _any(dice)
    content = bytearray(_saved(_book({sheet: _texts(grid)})))
    for _ in range(dice.randint(1, 8)):
        content[dice.randrange(len(content))] = dice.randrange(256)
    if dice.random() < 0.3:
        del content[dice.randrange(len(content)) :]
    return Bad(sheet, "records.xlsx", bytes(content), None)


def macros(dice: Random) -> Bad:
    """Macros, links to other workbooks, data connections and pictures beside sound or spoilt sheets."""
    sheet, grid = _any(dice)
    if dice.random() < 0.4:
        grid[dice.randrange(1, len(grid))][dice.randrange(len(grid[0]))] = "=cmd|' /C calc'!A0"
    members = parts(_saved(_book({sheet: _texts(grid)})))
    kinds = members["[Content_Types].xml"]
    members["xl/vbaProject.bin"] = MACRO
    members["[Content_Types].xml"] = (
        kinds.replace(
            b"</Types>",
            b'<Default Extension="bin" ContentType="application/vnd.ms-office.vbaProject"/></Types>',
        ).replace(b"spreadsheetml.sheet.main+xml", b"sheet.macroEnabled.main+xml")
        if dice.random() < 0.5
        else kinds
    )
    members["xl/externalLinks/externalLink1.xml"] = b"<externalLink/>"
    members["xl/connections.xml"] = (
        b'<connections><connection odcFile="https://example.org/x"/></connections>'
    )
    members["xl/embeddings/oleObject1.bin"] = MACRO
    return Bad(sheet, dice.choice(("records.xlsm", "records.xlsx")), packed(members), None)
