"""Empty sheets: every heading, a note on each, drop-downs; they load as nothing and take rows at once."""

from __future__ import annotations

import csv

import openpyxl
import pytest

from analytics.errors import WrongUsage
from analytics.reference.species import species_table
from analytics.sheets.blank import write_tables, write_workbook
from analytics.sheets.contract import BY_NAME, SHEETS


@pytest.fixture(scope="module")
def book(tmp_path_factory):  # type: ignore[no-untyped-def]
    return openpyxl.load_workbook(write_workbook(tmp_path_factory.mktemp("blank") / "new" / "sheets.xlsx"))


def test_tables_have_every_heading(tmp_path) -> None:  # type: ignore[no-untyped-def]
    notes, *tables = write_tables(tmp_path / "new")
    assert [table.stem for table in tables] == [sheet.name for sheet in SHEETS]
    for table in tables:
        with table.open(encoding="utf-8", newline="") as handle:
            assert list(csv.reader(handle)) == [list(BY_NAME[table.stem].by_name)]
    text = notes.read_text(encoding="utf-8")
    assert notes.name == "how_to_fill.txt"
    for sheet in SHEETS:
        for column in sheet.columns:
            assert f"  {column.name}{'*' if column.required else ''}: {column.note}" in text


STAGES = {  # Hyankova and others 2012 for Coturnix quail; Mauldin for chicken
    "Coturnix quail": "early 1–7, mid 8–13, late from 14",
    "Chicken": "early 1–7, mid 8–14, late from 15",
}


def test_notes_say_which_days_are_early_middle_and_late(book, tmp_path) -> None:  # type: ignore[no-untyped-def]
    text = " ".join(write_tables(tmp_path / "new")[0].read_text(encoding="utf-8").split())
    told = [row[3].value or "" for row in book["how_to_fill"].iter_rows()]
    headings = {cell.value: cell.comment.text for name in ("trays", "opened_eggs") for cell in book[name][1]}
    for species, days in STAGES.items():
        assert f"{species}. Stages by day of incubation: {days} (" in text
        assert any(line.startswith(f"{species}. Stages by day of incubation: {days} (") for line in told)
        for column in ("early_dead", "mid_dead", "late_dead", "class"):
            assert f"{species} {days}" in headings[column]
    assert "Other species. No published division was found" in text


def test_blank_sheets_load_as_nothing(farm, tmp_path) -> None:  # type: ignore[no-untyped-def]
    write_tables(tmp_path / "new")
    for path in (tmp_path / "new", write_workbook(tmp_path / "new.xlsx")):
        report = farm.load(path)
        assert (report.added, report.warnings, report.ignored, report.kept) == (0, (), (), False)
    assert not farm.store.exists()


def test_nothing_is_written_over(tmp_path) -> None:  # type: ignore[no-untyped-def]
    (tmp_path / "trays.csv").write_text("mine")
    with pytest.raises(WrongUsage, match="there already"):
        write_tables(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["trays.csv"]
    with pytest.raises(WrongUsage, match="there already"):
        write_workbook(tmp_path / "trays.csv")
    assert (tmp_path / "trays.csv").read_text() == "mine"


def test_a_place_that_cannot_be_written_is_refused(tmp_path) -> None:  # type: ignore[no-untyped-def]
    (tmp_path / "file").write_text("mine")
    with pytest.raises(WrongUsage, match="file/new cannot be written: Not a directory"):
        write_tables(tmp_path / "file" / "new")
    with pytest.raises(WrongUsage, match=r"sheets\.xlsx cannot be written: File exists"):
        write_workbook(tmp_path / "file" / "sheets.xlsx")


def test_workbook_has_a_note_on_every_heading(book) -> None:  # type: ignore[no-untyped-def]
    for sheet in SHEETS:
        worksheet = book[sheet.name]
        assert worksheet.freeze_panes == "A2"
        for cell, column in zip(worksheet[1], sheet.columns, strict=True):
            assert cell.value == column.name
            assert column.note in cell.comment.text
            assert cell.font.bold == column.required


def _position(rule) -> int:  # type: ignore[no-untyped-def]
    (cells,) = rule.sqref.ranges
    return cells.min_col - 1


def _lists(book, sheet: str) -> dict[str, str]:  # type: ignore[no-untyped-def]
    rules = book[sheet].data_validations.dataValidation
    names = list(BY_NAME[sheet].by_name)
    return {names[_position(rule)]: rule.formula1 for rule in rules if rule.type == "list"}


def test_drop_downs(book) -> None:  # type: ignore[no-untyped-def]
    assert _lists(book, "incubators") == {"role": '"setter,hatcher,both"', "air": '"forced,still"'}
    assert _lists(book, "trays") == {
        "batch": "batches!$A$2:$A$2000",
        "pen": "pens!$A$2:$A$2000",
        "sire": "birds!$A$2:$A$2000",
        "dam": "birds!$A$2:$A$2000",
    }
    assert _lists(book, "opened_eggs")["smell"] == '"yes,no"'


def test_species_drop_down_has_every_species(book) -> None:  # type: ignore[no-untyped-def]
    within = _lists(book, "pens")["species"]
    if within.startswith('"'):
        offered = within.strip('"').split(",")
    else:
        sheet, cells = within.split("!")
        offered = [row[0].value for row in book[sheet][cells.replace("$", "")]]
    assert offered == list(species_table())


def test_lists_fit_into_a_rule(book) -> None:  # type: ignore[no-untyped-def]
    """255 letters is what the format of workbooks allows (ECMA-376, from memory)."""
    for sheet in SHEETS:
        for rule in book[sheet.name].data_validations.dataValidation:
            assert len(rule.formula1) <= 255


def test_checks_of_numbers_and_days(book) -> None:  # type: ignore[no-untyped-def]
    names = list(BY_NAME["trays"].by_name)
    rules = {
        names[_position(rule)]: (rule.type, rule.operator, rule.formula1, rule.formula2)
        for rule in book["trays"].data_validations.dataValidation
        if rule.type != "list"
    }
    assert rules["eggs_set"] == ("whole", "between", "1", "10000000")
    assert rules["hatched"] == ("whole", "between", "0", "10000000")
    assert rules["storage_rh"] == ("decimal", "between", "0", "100")
    assert rules["laid_from"][:2] == ("date", "greaterThan")
    (gravity,) = (rule for rule in book["shells"].data_validations.dataValidation if rule.formula2 == "1.3")
    assert gravity.formula1 == "0.9"


def test_a_filled_workbook_loads(farm, tmp_path, small_sheets) -> None:  # type: ignore[no-untyped-def]
    book = openpyxl.load_workbook(write_workbook(tmp_path / "new.xlsx"))
    for name, rows in small_sheets.items():
        for row in rows:
            book[name].append([row.get(column) or None for column in BY_NAME[name].by_name])
    book.save(tmp_path / "filled.xlsx")
    report = farm.load(tmp_path / "filled.xlsx")
    assert (report.added, report.warnings, report.ignored) == (10, (), ())
