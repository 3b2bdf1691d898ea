"""Kinds of bad sheets: sound ones spoilt in one way each, drawn by a seeded dice.

What stands in the file is known for most (`Bad.grid`), so that a load that is taken can be compared with
it.
"""

from __future__ import annotations

import csv
import io
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from random import Random

from bad_cells import DAYS, HIDDEN, LOOK_ALIKES, NUMBERS, ORDERS
from farm_sheets import SHEET_NAMES, Grid, good

NASTY = (*NUMBERS, *DAYS, *ORDERS)


@dataclass(frozen=True, slots=True)
class Bad:
    """One file to be loaded.

    Attributes:
        sheet: the record sheet that it stands for.
        name: file name.
        content: its bytes.
        grid: cells as text from the heading row on, or None when they have to be read from the bytes.
        comma: whether cells are separated by commas (otherwise 1,5 is a number).
    """

    sheet: str
    name: str
    content: bytes
    grid: Grid | None
    comma: bool = True


Maker = Callable[[Random], Bad]


def csv_bytes(grid: Grid, encoding: str = "utf-8", mark: str = ",", end: str = "\r\n") -> bytes:
    """A grid as a CSV file."""
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=mark, lineterminator=end).writerows(grid)
    return out.getvalue().encode(encoding, "replace")


def _as_csv(sheet: str, grid: Grid) -> Bad:
    return Bad(sheet, f"{sheet}.csv", csv_bytes(grid), grid)


def _any(dice: Random) -> tuple[str, Grid]:
    sheet = dice.choice(SHEET_NAMES)
    return sheet, good(sheet)


def _cell(dice: Random, grid: Grid) -> tuple[int, int]:
    return dice.randrange(1, len(grid)), dice.randrange(len(grid[0]))


def cells(dice: Random) -> Bad:
    """One to four cells hold what does not belong there; or a new row does."""
    sheet, grid = _any(dice)
    if dice.random() < 0.3:
        grid.append(list(dice.choice(grid[1:])))
    for _ in range(dice.randint(1, 4)):
        row, column = _cell(dice, grid)
        grid[row][column] = dice.choice(NASTY)
    return _as_csv(sheet, grid)


def new_labels(dice: Random) -> Bad:
    """New pens, machines, batches, trays or birds whose labels look like orders, paths or formulas."""
    sheet = dice.choice(("pens", "incubators", "batches", "trays", "birds"))
    grid = good(sheet)
    place = 1 if sheet == "trays" else 0
    for _ in range(dice.randint(1, 3)):
        grid.append(list(dice.choice(grid[1:])))
        grid[-1][place] = dice.choice(ORDERS)
    return _as_csv(sheet, grid)


def look_alikes(dice: Random) -> Bad:
    """Labels with a letter of another alphabet, or one that cannot be seen."""
    sheet, grid = _any(dice)
    row, column = _cell(dice, grid)
    column = dice.choice((0, column))
    if dice.random() < 0.5:
        grid.append(list(grid[row]))
        row = len(grid) - 1
    text = grid[row][column] or "Rowan"
    place = dice.randrange(len(text) + 1)
    kind = dice.random()
    if kind < 0.45:
        letters = [index for index, letter in enumerate(text) if letter in LOOK_ALIKES] or [0]
        place = dice.choice(letters)
        text = text[:place] + LOOK_ALIKES.get(text[place], "\u043e") + text[place + 1 :]
    elif kind < 0.9:
        text = text[:place] + dice.choice(HIDDEN) + text[place:]
    else:
        form = dice.choice(("NFD", "NFKD"))
        text = unicodedata.normalize(form, text.replace("a", "\u00e4"))
    grid[row][column] = text
    return _as_csv(sheet, grid)


def twice(dice: Random) -> Bad:
    """Rows with one key, the same or not, spelt otherwise or not."""
    sheet, grid = _any(dice)
    row = list(dice.choice(grid[1:]))
    if dice.random() < 0.6:
        row[dice.randrange(len(row))] = dice.choice(("", "7", "B1", "Rowan", "2026-03-05", "x"))
    if dice.random() < 0.4:
        row[0] = dice.choice((row[0].upper(), row[0].lower(), f" {row[0]} ", row[0] + "\u00a0"))
    grid.insert(dice.randrange(1, len(grid) + 1), row)
    return _as_csv(sheet, grid)


def headings(dice: Random) -> Bad:
    """Columns missing, twice, unnamed, renamed, in another order or of another sheet."""
    sheet, grid = _any(dice)
    for _ in range(dice.randint(1, 3)):
        column = dice.randrange(len(grid[0]))
        kind = dice.randrange(6)
        if kind == 0:
            for line in grid:
                line.append(line[column])
        elif kind == 1 and len(grid[0]) > 1:
            for line in grid:
                del line[column]
        elif kind == 2:
            grid[0][column] = dice.choice(("", " ", "Eggs", "sire;dam", *ORDERS))
        elif kind == 3:
            grid[0][column] = grid[0][column].upper().replace("_", dice.choice((" ", "-", "_", "  ")))
        elif kind == 4:
            order = dice.sample(range(len(grid[0])), len(grid[0]))
            grid = [[line[index] for index in order] for line in grid]
        else:
            other = good(dice.choice(SHEET_NAMES))
            grid[0][column] = dice.choice(other[0])
    return _as_csv(sheet, grid)


_KNOWN = ("Rowan", "B2", "North", "R3", "T2")


def counts(dice: Random) -> Bad:
    """Numbers that do not go together: sums, periods, days before others, unknown names."""
    sheet, grid = _any(dice)
    for _ in range(dice.randint(1, 3)):
        row, column = _cell(dice, grid)
        grid[row][column] = dice.choice(
            ("0", "1", "9", "51", "1000", "", "2026-01-01", "2026-03-30", "2027-06-01", *_KNOWN)
        )
    return _as_csv(sheet, grid)


def long_text(dice: Random) -> Bad:
    """Cells of up to 5 MB, up to 20,000 rows, or up to 3,000 columns."""
    sheet, grid = _any(dice)
    kind = dice.randrange(4)
    row, column = _cell(dice, grid)
    if kind == 0:
        grid[row][column] = dice.choice("x9 \u00e4\U0001f425") * int(10 ** dice.uniform(2, 6.1))
    elif kind == 1:
        grid += [list(dice.choice(grid[1:])) for _ in range(int(10 ** dice.uniform(2, 4.3)))]
    elif kind == 2:
        many = int(10 ** dice.uniform(1.5, 3.5))
        grid[0] += [f"c{number}" for number in range(many)]
        for line in grid[1:]:
            line += [dice.choice(("", "7"))] * many
    else:
        grid[0][column] = dice.choice("xe_ ") * int(10 ** dice.uniform(2, 5.3))
    return _as_csv(sheet, grid)


ENCODINGS = (
    "utf-16", "utf-16-le", "utf-16-be", "utf-32", "utf-32-le", "cp1252", "latin-1", "utf-8-sig", "utf-7",
    "cp037", "cp437", "koi8-r", "shift_jis", "gb18030", "mac-roman",
)  # fmt: skip


def encodings(dice: Random) -> Bad:
    """Other encodings, byte marks twice, zero bytes, two encodings in one file, a packed file."""
    sheet, grid = _any(dice)
    row, column = _cell(dice, grid)
    grid[row][column] = dice.choice(("Mûrier", "Größe", "№ 5", "père", "20 °C", "naïve", "東", "plain"))
    mark = dice.choice((",", ";", "\t"))
    content = csv_bytes(grid, dice.choice(ENCODINGS), mark)
    kind = dice.random()
    if kind < 0.1:
        content = b"\xef\xbb\xbf" * dice.randint(1, 3) + content
    elif kind < 0.2:
        place = dice.randrange(len(content))
        content = content[:place] + b"\0" * dice.randint(1, 3) + content[place:]
    elif kind < 0.3:
        place = dice.randrange(len(content))
        content = (
            content[:place]
            + dice.choice((b"\xff", b"\xe9", b"\xc3\x28", b"\xed\xa0\x80", b"\xf5"))
            + content[place:]
        )
    elif kind < 0.35:
        content += csv_bytes(grid[1:], "utf-16")
    elif kind < 0.4:
        import gzip

        content = gzip.compress(content)
    return Bad(sheet, f"{sheet}.csv", content, None, mark == ",")


def layout(dice: Random) -> Bad:
    """Separators, line ends, titles above, blank lines, short and long rows, quotation marks left open."""
    sheet, grid = _any(dice)
    mark = dice.choice((",", ",", ";", "\t", "|", " "))
    text = csv_bytes(grid, mark=mark, end=dice.choice(("\n", "\r\n", "\r"))).decode()
    lines = text.splitlines(keepends=True)
    for _ in range(dice.randint(1, 3)):
        place = dice.randrange(len(lines) + 1)
        kind = dice.randrange(7)
        if kind == 0:
            lines.insert(
                place, dice.choice(("\n", "\r\n", mark * 3 + "\n", " \n", "# a note\n", "My hatch records\n"))
            )
        elif place == len(lines):
            lines.append(dice.choice(('"', "'", "total,99\n", "\x1a", '"a"b,c\n')))
        elif kind == 1:
            lines[place] = lines[place].rstrip("\r\n") + mark * dice.randint(1, 5) + "\n"
        elif kind == 2:
            lines[place] = lines[place].rstrip("\r\n") + mark + "7\n"
        elif kind == 3:
            lines[place] = mark.join(lines[place].split(mark)[:-1]) + "\n"
        elif kind == 4:
            lines[place] = lines[place].replace(mark, f'{mark}"', 1)
        elif kind == 5:
            lines[place] = f'"{lines[place].strip()}"\n'
        else:
            lines.insert(0, f"sep={dice.choice((mark, ';', 'x'))}\n")
    return Bad(sheet, f"{sheet}.csv", "".join(lines).encode(), None, mark == ",")


def raw_bytes(dice: Random) -> Bad:
    """Bytes of a CSV file flipped, cut, doubled or mixed."""
    sheet, grid = _any(dice)
    content = bytearray(csv_bytes(grid, dice.choice(("utf-8", "utf-8", "utf-16"))))
    for _ in range(dice.randint(1, 6)):
        place, kind = dice.randrange(len(content) or 1), dice.randrange(4)
        if kind == 0 and content:
            content[place] = dice.randrange(256)
        elif kind == 1:
            content[place:place] = bytes(dice.choices((34, 44, 10, 13, 59, 48, 255), k=dice.randint(1, 4)))
        elif kind == 2:
            del content[place : place + dice.randint(1, 20)]
        else:
            content[place:place] = content[max(place - 30, 0) : place]
    return Bad(sheet, f"{sheet}.csv", bytes(content), None)


NAMES = (
    "{0}.CSV", " {0} .csv", "{0}.txt", "{0}.tsv", "{0}(1).csv", "{0}*.csv", "{0}[1].csv", "{0}?.csv",
    "{{{0}}}.csv", "{0}'.csv", "{0};.csv", "{0}\n.csv", "../{0}.csv", "..\\{0}.csv", "{0}.csv.csv",
    "{0}.xlsx", "{0}.xlsm", "{0}.xls", "{0}.ods", "{0}", ".csv", "{0}.csv\u202e", "\u0440{0}.csv",
    "{0}.csv ", "$HOME.csv", "-{0}.csv", "{0}%s.csv", "CON.csv", "{0}.parquet", "{0}.json", "{0}.duckdb",
    "~${0}.csv",
)  # fmt: skip


def names(dice: Random) -> Bad:
    """File names that lead elsewhere, mean something to a shell or a pattern, or promise another form."""
    sheet, grid = _any(dice)
    name = dice.choice(NAMES).format(sheet)
    mark = "\t" if name.endswith(".tsv") else ","
    return Bad(sheet, name, csv_bytes(grid, mark=mark), grid if mark == "," else None, mark == ",")
