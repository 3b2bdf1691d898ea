"""The heading row of a file: which of its columns is which column of the sheet."""

from __future__ import annotations

import difflib
import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import islice

from analytics.errors import SheetProblem, WrongUsage
from analytics.sheets.contract import BY_NAME, Column, Sheet
from analytics.sheets.keys import BLANKS, normal_label

NOTES_SHEET = "how_to_fill"
"""Name of the notes that come with blank sheets; never read."""
HEADING_WITHIN = 50
"""Rows within which the headings must stand."""
LONGEST_HEADING = 200
"""Letters of a heading that are looked at and shown."""


@dataclass(frozen=True, slots=True)
class Logger:
    """How the file of a logger is to be understood.

    Attributes:
        mapping: climate column -> heading in the file.
        fahrenheit: whether its temperatures are °F.
        incubator: the machine it hung in, where the file has no column for it.
    """

    mapping: Mapping[str, str] = field(default_factory=dict)
    fahrenheit: bool = False
    incubator: str | None = None

    def __post_init__(self) -> None:
        climate = BY_NAME["climate"]
        for name in self.mapping:
            if name not in climate.by_name:
                raise WrongUsage(
                    f"A mapping of {name!r}",
                    "Only the columns of climate can be mapped",
                    f"Use one of: {', '.join(climate.by_name)}",
                )
        headings = [word_of(heading) for heading in self.mapping.values()]
        if len(set(headings)) < len(headings):
            raise WrongUsage(
                "One heading mapped to two columns",
                "A column of the file is one column of climate",
                "Leave one of the mappings out",
            )
        if self.incubator is not None and "incubator" in self.mapping:
            raise WrongUsage(
                "Both an incubator and a mapping of the column incubator",
                "The machine comes from one of them",
                "Leave one out",
            )

    @property
    def given(self) -> bool:
        """Whether a file of any name is to be read as climate."""
        return bool(self.mapping) or self.incubator is not None


@dataclass(frozen=True, slots=True)
class Headings:
    """The columns of one file.

    Attributes:
        columns: what each column of the file is, in the file's order; None = not read.
        constants: columns that have one value for the whole file.
        unnamed: positions of columns without a heading.
        problems: why the file cannot be read.
        warnings: columns that are not read.
    """

    columns: tuple[Column | None, ...]
    constants: tuple[tuple[Column, str], ...]
    unnamed: tuple[int, ...]
    problems: tuple[SheetProblem, ...]
    warnings: tuple[SheetProblem, ...]


def word_of(text: str) -> str:
    """A heading, file or worksheet name in the form in which it is compared."""
    return re.sub(r"[\s\-]+", "_", normal_label(text))


def sheet_named(name: str) -> Sheet | None:
    """The sheet that a file or worksheet is named after, or None."""
    return BY_NAME.get(word_of(name))


def known_sheet(name: str) -> Sheet:
    """The sheet of that name.

    Raises:
        WrongUsage: there is none.
    """
    found = sheet_named(name)
    if found is None:
        near = near_sheet(name)
        raise WrongUsage(
            f"The sheet {name!r}",
            f"A sheet is one of {', '.join(BY_NAME)}",
            f"Did you mean {near}?" if near else "Look at its name",
        )
    return found


def sheet_within(name: str) -> str:
    """A sheet whose name stands whole within that, as in copies and downloads, or ""."""
    letters = re.sub(r"[^a-z]+", "_", word_of(name)).strip("_")
    within = [sheet for sheet in BY_NAME if f"_{sheet}_" in f"_{letters}_"]
    return max(within, key=len, default="")


def near_sheet(name: str) -> str:
    """A sheet whose name is nearly that, or ""."""
    near = difflib.get_close_matches(word_of(name), list(BY_NAME), 1, cutoff=0.75)
    return near[0] if near else ""


def known_words(sheet: Sheet, logger: Logger) -> set[str]:
    """Every heading that the sheet understands."""
    words = set(sheet.by_name)
    if sheet.name == "climate":
        words |= {word_of(heading) for heading in logger.mapping.values()}
    return words


def find_headings(
    rows: Iterable[Sequence[str]], known: Collection[str]
) -> tuple[int, tuple[str, ...]] | None:
    """The row of headings among the first rows: titles and notes may stand above it.

    Args:
        rows: the rows from the top.
        known: headings that the sheet understands.

    Returns:
        Its number from 1 and its cells: the row with most known headings, else the first that is not blank;
        None when all are blank.
    """
    best, most = None, -1
    for number, cells in enumerate(islice(rows, HEADING_WITHIN), 1):
        texts = tuple(cell.strip(BLANKS)[:LONGEST_HEADING] for cell in cells)
        hits = sum(word_of(text) in known for text in texts)
        if any(texts) and hits > most:
            best, most = (number, texts), hits
    return best


def match_headings(sheet: Sheet, given: Sequence[str], row: int, logger: Logger) -> Headings:
    """Finds the sheet's columns among the headings of a file.

    Args:
        sheet: the sheet.
        given: the headings as they stand.
        row: the row in which they stand.
        logger: mapping and machine of a logger file; used for climate only.
    """
    climate = sheet.name == "climate"
    mapped = {word_of(heading): name for name, heading in logger.mapping.items()} if climate else {}
    words = [word_of(text) for text in given]
    names = [mapped.get(word, word if word not in mapped.values() else "") for word in words]
    columns = tuple(sheet.by_name.get(name) for name in names)
    constants: tuple[tuple[Column, str], ...] = ()
    if climate and logger.incubator is not None:
        constants = ((sheet.by_name["incubator"], logger.incubator),)
    there = [column.name for column in columns if column] + [column.name for column, _ in constants]
    strangers = [
        text for text, word, column in zip(given, words, columns, strict=True) if word and not column
    ]
    problems = (
        *_missing_mapped(sheet, mapped, words, given, row),
        *_missing(sheet, there, strangers, row),
        *_twice(sheet, there, row),
    )
    unnamed = tuple(position for position, word in enumerate(words) if not word)
    return Headings(columns, constants, unnamed, problems, tuple(_strange(sheet, strangers, there, row)))


def _missing(sheet: Sheet, there: list[str], strangers: list[str], row: int) -> list[SheetProblem]:
    problems = []
    for column in sheet.columns:
        if not column.required or column.name in there:
            continue
        near = difflib.get_close_matches(column.name, [word_of(text) for text in strangers], 1, cutoff=0.7)
        hint = next((text for text in strangers if near and word_of(text) == near[0]), "")
        also = " or name it with --map or --incubator" if sheet.name == "climate" else ""
        repair = f"Did you mean the heading `{hint}`? Name it {column.name}{also}" if hint else ""
        problems.append(
            SheetProblem(
                sheet.name,
                row,
                column.name,
                "There is no such column",
                f"{sheet.name} needs the columns {', '.join(c.name for c in sheet.columns if c.required)}",
                repair or f"Add a column {column.name}{also}",
            )
        )
    return problems


def _missing_mapped(
    sheet: Sheet, mapped: Mapping[str, str], words: list[str], given: Sequence[str], row: int
) -> list[SheetProblem]:
    return [
        SheetProblem(
            sheet.name,
            row,
            name,
            f"There is no heading `{heading}` in the file",
            "A mapping names a heading of the file",
            f"Its headings are: {', '.join(text for text in given if text.strip())}",
        )
        for heading, name in mapped.items()
        if heading not in words
    ]


def _twice(sheet: Sheet, there: list[str], row: int) -> list[SheetProblem]:
    return [
        SheetProblem(
            sheet.name,
            row,
            name,
            f"The column stands there {there.count(name)} times",
            "A column stands once",
            "Delete or rename the others",
        )
        for name in dict.fromkeys(there)
        if there.count(name) > 1
    ]


def _strange(sheet: Sheet, strangers: list[str], there: list[str], row: int) -> list[SheetProblem]:
    free = [name for name in sheet.by_name if name not in there]
    problems = []
    for text in dict.fromkeys(strangers):
        near = difflib.get_close_matches(word_of(text), free, 1, cutoff=0.7)
        repair = f"Did you mean {near[0]}? Rename it" if near else "Nothing to do if it is only for you"
        problems.append(
            SheetProblem(
                sheet.name, row, text, "This column was not read", f"{sheet.name} has no such column", repair
            )
        )
    return problems
