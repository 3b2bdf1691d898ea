"""Workbooks: the same store as from CSV, cells as spreadsheets keep them, and hostile files refused."""

from __future__ import annotations

import re
import zipfile
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from analytics.sheets import workbook as workbook_module
from analytics.sheets.contract import BY_NAME, Kind
from analytics.sheets.workbook import text_of

Cells = list[list[Any]]


def write(path: Path, **sheets: Cells) -> Path:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        worksheet = book.create_sheet(name)
        for row in rows:
            worksheet.append(row)
    book.save(path)
    return path


def _typed(sheet: str, column: str, text: str) -> Any:
    """A cell as a spreadsheet would hold it."""
    if not text:
        return None
    kind = BY_NAME[sheet].by_name[column].kind
    if kind in (Kind.DAY, Kind.MOMENT):
        return datetime.fromisoformat(text)
    if kind in (Kind.COUNT, Kind.WHOLE):
        return int(text)
    return float(text) if kind is Kind.NUMBER else text


def test_a_workbook_gives_the_same_store_as_csv(farm, tmp_path, small_sheets) -> None:  # type: ignore[no-untyped-def]
    more = {
        "lay": [{"pen": "Rowan", "on": "2026-03-02", "eggs": "5"}],
        "hatch_counts": [{"batch": "B1", "counted_at": "2026-03-18T18:20", "out_so_far": "4"}],
        "shells": [{"pen": "Rowan", "sampled_on": "2026-03-02", "thickness_mm": "0.21"}],
    }
    farm.small(**more).load()
    from_csv = farm.everything()
    book = {
        name: [
            list(BY_NAME[name].by_name),
            *(
                [_typed(name, column, row.get(column, "")) for column in BY_NAME[name].by_name]
                for row in rows
            ),
        ]
        for name, rows in {**small_sheets, **more}.items()
    }
    farm.store = tmp_path / "twin.duckdb"
    report = farm.load(write(tmp_path / "all.xlsx", **book))
    assert report.added == 13
    assert farm.everything() == from_csv
    assert farm.load().kept is False


def test_rows_are_numbered_as_shown(kept, tmp_path) -> None:  # type: ignore[no-untyped-def]
    rows = [[], ["pen", "species"], ["A", "chicken"], [], [None, None], ["B", "griffin"], [], []]
    (problem,) = kept.problems(write(tmp_path / "x.xlsx", pens=rows))
    assert (problem.sheet, problem.row, problem.column) == ("pens", 6, "species")


def test_names_of_worksheets_and_what_is_not_read(kept, tmp_path) -> None:  # type: ignore[no-untyped-def]
    path = write(
        tmp_path / "x.xlsx",
        **{"Fresh Eggs": [["pen", "opened_on", "eggs", "fertile"], ["Rowan", date(2026, 3, 2), 5, 4]]},
        **{"Sheet1": [["x"]], "how_to_fill": [["x"]], "tray": [["x"]], "Trays": []},
    )
    report = kept.load(path)
    assert report.added_by_sheet == {"fresh_eggs": 1}
    assert report.ignored == (
        "x.xlsx: Sheet1: no record sheet has this name",
        "x.xlsx: tray: no record sheet has this name; did you mean trays?",
    )


def test_numbers_for_labels_and_blank_columns(kept, tmp_path) -> None:  # type: ignore[no-untyped-def]
    rows = [
        ["pen", None, "species", "males", None],
        [7, None, "duck", 2.0, None],
        [8.0, None, "duck", None, None],
    ]
    assert kept.load(write(tmp_path / "x.xlsx", pens=rows)).added == 2
    assert kept.ask("SELECT pen, males FROM pens WHERE species = 'duck' ORDER BY pen") == [
        ("7", 2),
        ("8", None),
    ]


def test_a_date_in_the_wrong_column_is_told(kept, tmp_path) -> None:  # type: ignore[no-untyped-def]
    rows = [["pen", "species", "males", "from"], ["A", "duck", datetime(2026, 3, 2), 46083]]  # noqa: DTZ001
    problems = kept.problems(write(tmp_path / "x.xlsx", pens=rows))
    assert [(problem.column, problem.given) for problem in problems] == [
        ("males", '"2026-03-02"'),
        ("from", '"46083"'),
    ]
    assert problems[1].repair == "Format the cell as a date; as a number it would be 2026-03-02"


def test_cells_under_no_heading_and_errors(kept, tmp_path) -> None:  # type: ignore[no-untyped-def]
    rows = [["pen", "species"], ["A", "duck", "why"], ["B", "#N/A"]]
    problems = kept.problems(write(tmp_path / "x.xlsx", pens=rows))
    told = [(problem.row, problem.column, problem.given) for problem in problems]
    assert (2, "", "`why` stands under no heading") in told
    assert (3, "species", "The error #N/A") in told


def test_a_formula_counts_by_its_result(kept, tmp_path) -> None:  # type: ignore[no-untyped-def]
    """openpyxl writes formulas without results; a result is put beside one by hand, as spreadsheets do."""
    rows = [["pen", "species", "males", "females"], ["A", "duck", "=1+1", "=2+2"]]
    path = write(tmp_path / "x.xlsx", pens=rows)
    computed = tmp_path / "computed.xlsx"
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(computed, "w") as new:
        for part in old.infolist():
            content = old.read(part)
            for formula, result in ((b"1+1", b"2"), (b"2+2", b"4")):
                without = re.compile(b"<f>" + re.escape(formula) + b"</f><v ?/>")
                content = without.sub(b"<f>" + formula + b"</f><v>" + result + b"</v>", content)
            new.writestr(part, content)
    problems = kept.problems(path)
    assert [(problem.row, problem.column, problem.given) for problem in problems] == [
        (2, "males", "The formula =1+1 has no result"),
        (2, "females", "The formula =2+2 has no result"),
    ]
    assert kept.load(computed).added == 1
    assert kept.ask("SELECT males, females FROM pens WHERE pen = 'A'") == [(2, 4)]


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (None, ""),
        ("x", "x"),
        (True, "yes"),
        (12, "12"),
        (12.0, "12"),
        (0.1 + 0.2, "0.30000000000000004"),
        (datetime(2026, 3, 14), "2026-03-14"),  # noqa: DTZ001
        (datetime(2026, 3, 14, 18, 29, 59, 999_600), "2026-03-14T18:30:00"),  # noqa: DTZ001
        (datetime(2026, 3, 14, 23, 59, 59, 999_600), "2026-03-15"),  # noqa: DTZ001
        (date(2026, 3, 14), "2026-03-14"),
        (time(18, 30), "18:30:00"),
    ],
)
def test_text_of_cells(value: Any, text: str) -> None:
    assert text_of(value) == text


def test_no_workbook(kept, tmp_path) -> None:  # type: ignore[no-untyped-def]
    for name, content in {"a.xlsx": b"not a zip", "b.xlsx": b"PK\x03\x04broken"}.items():
        (tmp_path / name).write_bytes(content)
        (problem,) = kept.problems(tmp_path / name)
        assert "cannot be read" in problem.given
    with zipfile.ZipFile(tmp_path / "c.xlsx", "w") as packed:
        packed.writestr("readme.txt", "hello")
    (problem,) = kept.problems(tmp_path / "c.xlsx")
    assert "cannot be read" in problem.given


def test_a_workbook_that_unpacks_to_too_much_is_not_read(kept, tmp_path, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    monkeypatch.setattr(workbook_module, "MOST_BYTES", 50_000_000)
    path = tmp_path / "bomb.xlsx"
    with (
        zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed,
        packed.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as part,
    ):
        for _ in range(6):
            part.write(b"\0" * 10_000_000)
    assert path.stat().st_size < 200_000
    (problem,) = kept.problems(path)
    assert "unpacks to 60 MB" in problem.given


def test_texts_that_unpack_to_too_much_are_not_read(kept, tmp_path, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    monkeypatch.setattr(workbook_module, "MOST_TEXT_BYTES", 100)
    path = tmp_path / "texts.xlsx"
    with zipfile.ZipFile(path, "w") as packed:
        packed.writestr("xl/sharedStrings.xml", "x" * 101)
    (problem,) = kept.problems(path)
    assert "more than record sheets hold" in problem.given


def test_a_worksheet_with_too_many_rows(kept, tmp_path, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    monkeypatch.setattr(workbook_module, "MOST_ROWS", 10)
    path = write(tmp_path / "x.xlsx", pens=[["pen", "species"], *([f"P{n}", "duck"] for n in range(10))])
    (problem,) = kept.problems(path)
    assert "more than 10 rows" in problem.given


def test_a_part_that_is_packed_beyond_all_sheets_is_not_read(kept, tmp_path) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / "folded.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/worksheets/sheet1.xml", b" " * 11_000_000)
    (problem,) = kept.problems(path)
    assert "A part of it unpacks to 11 MB" in problem.given


def test_styles_of_many_megabytes_are_not_read(kept, tmp_path, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    monkeypatch.setattr(workbook_module, "MOST_OTHER_BYTES", 1000)
    path = tmp_path / "styles.xlsx"
    with zipfile.ZipFile(path, "w") as packed:
        packed.writestr("xl/styles.xml", "x" * 1001)
    (problem,) = kept.problems(path)
    assert "more than record sheets hold" in problem.given


def test_an_old_workbook_is_told_from_a_broken_one(kept, tmp_path) -> None:  # type: ignore[no-untyped-def]
    (tmp_path / "old.xlsx").write_bytes(b"\xd0\xcf\x11\xe0" + b"\0" * 2000)
    (problem,) = kept.problems(tmp_path / "old.xlsx")
    assert "an old .xls workbook, or one with a password" in problem.given


def test_a_formula_is_found_whatever_the_parts_and_marks_are_called() -> None:
    for mark in (b"<f>", b"<x:f>", b'<f t="shared" si="0"/>', b"<f/>"):
        assert workbook_module._FORMULA.search(b"<c>" + mark)
    for mark in (b"<font>", b"<x:filter>", b"<v>f</v>"):
        assert not workbook_module._FORMULA.search(b"<c>" + mark)


def test_after_so_many_faults_no_more_of_a_worksheet_is_read(kept, tmp_path, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    monkeypatch.setattr(workbook_module, "MOST_FAULTS", 20)
    monkeypatch.setattr("analytics.sheets.files.MOST_FAULTS", 20)
    path = write(tmp_path / "x.xlsx", pens=[["pen", "species"], *(["#N/A", "duck"] for _ in range(50))])
    problems = kept.problems(path)
    assert sum(one.given == "The error #N/A" for one in problems) == 20
    assert "From here on x.xlsx, pens was not read" in {one.given for one in problems}
