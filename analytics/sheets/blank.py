"""Empty record sheets to fill in: CSV files with a page of notes, or a workbook that helps while typing."""

from __future__ import annotations

import csv
import textwrap
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from analytics.errors import WrongUsage
from analytics.reference.species import species_name, species_table, stage_words
from analytics.sheets.cells import bounds_of, choices_of
from analytics.sheets.contract import REQUIRED_SHEETS, SHEETS, Column, Kind, Sheet
from analytics.sheets.headings import NOTES_SHEET

ROWS_HELPED = 2_000
"""Rows of a worksheet that have drop-downs and checks."""
_LONG_NOTE = 160
"""Letters of a note beyond which it is given more room."""
_LONGEST_LIST = 250
"""Letters that a spreadsheet allows for a list written into a cell's rule."""

_HOW = {
    Kind.LABEL: "your own label",
    Kind.TEXT: "text",
    Kind.DAY: "day, like 2026-03-14",
    Kind.MOMENT: "day, or day and time like 2026-03-14T18:30",
    Kind.COUNT: "whole number, 0 or more",
    Kind.WHOLE: "whole number, 1 or more",
    Kind.NUMBER: "number",
    Kind.SHARE: "number from 0 to 1",
    Kind.YES_NO: "yes or no",
}
_BY_STAGE = ("class", "early_dead", "mid_dead", "late_dead")
"""Columns whose cells depend on the day of death."""
_NO_DIVISION = (
    "Other species. No published division was found: divide the days your own way, always the same, "
    "and write the day into opened_eggs."
)
_GENERAL = """\
How to fill in the record sheets

Only pens, incubators, batches and trays are needed; every other sheet adds evidence. A column
marked * may not be blank. Days are written like 2026-03-14, times like 2026-03-14T18:30, in local
time. Temperatures are in °C, humidity in %, masses in g, thickness in mm.

A blank count means: not recorded. 0 means: counted, there were none. That is not the same.

Names of pens, machines, batches, trays and birds are your own. Write them alike everywhere; capital
letters and blanks around them make no difference. A row is known by the columns of its key: load
the sheet again with other values under the same key, and it is a correction, shown to you before it
is taken. Rows that you leave out of a later load stay as they are; to set a row aside use penwise
withdraw.

Rotten eggs, dust and droppings can carry germs such as Salmonella: wear gloves, wash your hands,
keep food away, and follow your local rules. Unusual losses may have to be reported: ask a
veterinarian.
"""


def write_tables(folder: Path) -> list[Path]:
    """Writes one CSV file with headings for each sheet, and the notes.

    Args:
        folder: made when it is not there.

    Returns:
        The files.

    Raises:
        WrongUsage: one of the files is there already, or the folder may not be written.
    """
    notes = folder / f"{NOTES_SHEET}.txt"
    tables = {folder / f"{sheet.name}.csv": sheet for sheet in SHEETS}
    for path in (notes, *tables):
        _refuse_there(path)
    with _refusing_unwritable(folder):
        folder.mkdir(parents=True, exist_ok=True)
        notes.write_text(notes_text(), encoding="utf-8")
        for path, sheet in tables.items():
            with path.open("w", encoding="utf-8", newline="") as handle:
                csv.writer(handle).writerow([column.name for column in sheet.columns])
    return [notes, *tables]


def _refuse_there(path: Path) -> None:
    if path.exists():
        raise WrongUsage(f"{path} is there already", "Empty sheets never replace a file", "Give another name")


@contextmanager
def _refusing_unwritable(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as reason:
        raise WrongUsage(
            f"{path} cannot be written: {reason.strerror or reason}",
            "Empty sheets go where you may write",
            "Give another place",
        ) from reason


def notes_text() -> str:
    """The notes: what every sheet and column means."""
    stages = "\n\n".join(textwrap.fill(line, 96) for line in _stage_lines()) + "\n"
    return "\n".join([_GENERAL, stages, *(_sheet_notes(sheet) for sheet in SHEETS)])


def _sheet_notes(sheet: Sheet) -> str:
    needed = " (needed)" if sheet.name in REQUIRED_SHEETS else ""
    lines = [f"{sheet.name}{needed}: one row is {sheet.row_is}", f"  key: {', '.join(sheet.key)}"]
    lines += [
        f"  {column.name}{'*' if column.required else ''}: {note_of(column)}" for column in sheet.columns
    ]
    return "\n".join(lines) + "\n"


def note_of(column: Column) -> str:
    """What a column means and how it is written, in one line."""
    how = _HOW[column.kind]
    if column.refers_to:
        how = f"as in {column.refers_to}"
    choices = choices_of(column)
    if choices:
        how = "one of " + ", ".join(choices)
    days = f" By day of death: {_stage_days()}." if column.name in _BY_STAGE else ""
    return f"{column.note}. {how[0].upper()}{how[1:]}.{days}"


def _stage_days() -> str:
    """The days of early, middle and late death of every species for which they are published."""
    known = [one for one in species_table().values() if one.stages]
    return "; ".join(f"{one.name} {one.stages.words()}" for one in known if one.stages).replace("-", "–")


def _stage_lines() -> list[str]:
    """What counts as early, middle and late, species by species, with the sources."""
    known = [key for key, one in species_table().items() if one.stages]
    lines = [f"{species_name(key)}. {stage_words(key)}" for key in known]
    return ["What counts as early, middle and late death", *lines, _NO_DIVISION]


def write_workbook(path: Path) -> Path:
    """Writes a workbook with a worksheet for each sheet: notes on headings, drop-downs, checks of cells.

    Args:
        path: a file that is not there yet.

    Returns:
        The file.

    Raises:
        WrongUsage: the file is there already, or may not be written.
    """
    import openpyxl

    _refuse_there(path)
    book = openpyxl.Workbook()
    book.remove(book.active)
    for sheet in SHEETS:
        _fill_worksheet(book.create_sheet(sheet.name), sheet)
    _fill_notes(book.create_sheet(NOTES_SHEET))
    with _refusing_unwritable(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        book.save(path)
    return path


def _fill_worksheet(worksheet: Any, sheet: Sheet) -> None:
    from openpyxl.comments import Comment
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    worksheet.freeze_panes = "A2"
    for number, column in enumerate(sheet.columns, 1):
        heading = worksheet.cell(1, number, column.name)
        heading.font = Font(bold=column.required)
        note = note_of(column)
        heading.comment = Comment(note, "penwise", width=260, height=110 if len(note) < _LONG_NOTE else 260)
        letter = get_column_letter(number)
        worksheet.column_dimensions[letter].width = max(11, len(column.name) + 3)
        _help_cells(worksheet, column, f"{letter}2:{letter}{ROWS_HELPED}")
        _format_cells(worksheet, column, number)


def _format_cells(worksheet: Any, column: Column, number: int) -> None:
    """Days and times are shown as ISO, whatever the spreadsheet's country; labels stay text."""
    shown = {Kind.DAY: "yyyy-mm-dd", Kind.MOMENT: "yyyy-mm-dd hh:mm", Kind.LABEL: "@"}.get(column.kind)
    if shown:
        from openpyxl.utils import get_column_letter

        worksheet.column_dimensions[get_column_letter(number)].number_format = shown


def _help_cells(worksheet: Any, column: Column, cells: str) -> None:
    from openpyxl.worksheet.datavalidation import DataValidation

    rule = _cell_rule(column)
    if not rule:
        return
    helping = DataValidation(**rule, allow_blank=True)
    helping.error = note_of(column)[:250]
    helping.errorTitle = column.name
    helping.showErrorMessage = True
    worksheet.add_data_validation(helping)
    helping.add(cells)


def _cell_rule(column: Column) -> dict[str, str]:
    """The check of a cell in the spreadsheet's own words; {} = none."""
    choices = choices_of(column)
    if column.kind is Kind.YES_NO:
        choices = ("yes", "no")
    if choices:
        listed = ",".join(choices)
        within = f'"{listed}"' if len(listed) <= _LONGEST_LIST else _listed_in_notes(choices)
        return {"type": "list", "formula1": within}
    if column.refers_to:
        return {
            "type": "list",
            "formula1": f"{column.refers_to}!$A$2:$A${ROWS_HELPED}",
            "errorStyle": "warning",
        }
    if column.kind in (Kind.DAY, Kind.MOMENT):
        return {"type": "date", "operator": "greaterThan", "formula1": "DATE(1900,1,1)"}
    if column.kind in (Kind.LABEL, Kind.TEXT):
        return {}
    low, high = bounds_of(column)
    kind = "whole" if column.kind.sql == "INTEGER" else "decimal"
    return {"type": kind, "operator": "between", "formula1": f"{low:.10g}", "formula2": f"{high:.10g}"}


def _listed_in_notes(choices: tuple[str, ...]) -> str:
    return f"{NOTES_SHEET}!$H$2:$H${len(choices) + 1}"


def _fill_notes(worksheet: Any) -> None:
    from openpyxl.styles import Alignment, Font

    worksheet.append(["sheet", "column", "needed", "what it means"])
    for sheet in SHEETS:
        worksheet.append([sheet.name, "", "yes" if sheet.name in REQUIRED_SHEETS else "", sheet.row_is])
        for column in sheet.columns:
            worksheet.append([sheet.name, column.name, "yes" if column.required else "", note_of(column)])
    worksheet.append([])
    for line in (*_GENERAL.splitlines(), "", *_stage_lines()):
        worksheet.append(["", "", "", line])
    for number, key in enumerate(("species", *_species()), 1):
        worksheet.cell(number, 8, key)
    for cell in worksheet[1]:
        cell.font = Font(bold=True)
    worksheet.freeze_panes = "A2"
    for letter, width in zip("ABCDH", (18, 22, 9, 100, 24), strict=True):
        worksheet.column_dimensions[letter].width = width
    for row in worksheet.iter_rows(min_col=4, max_col=4):
        row[0].alignment = Alignment(wrap_text=True, vertical="top")


def _species() -> tuple[str, ...]:
    return choices_of(SHEETS[0].by_name["species"])
