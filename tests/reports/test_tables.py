"""Tables to take away: the numbers come back as they were, and no text runs as a formula."""

from __future__ import annotations

import csv
import io
import zipfile
from datetime import date

import openpyxl
import pandas as pd
import pytest

from analytics.reports.tables import KINDS, as_table, packed, shown_rows

ROWS = [
    {"pen": 'Älv, lower "run"', "rate": 1 / 3, "low": None, "on": date(2026, 3, 1), "trays": 4},
    {"pen": "B\nC", "rate": 1.0, "low": 0.5, "on": date(2026, 3, 2), "trays": 5},
]
# what a spreadsheet takes for a formula (OWASP, CSV injection; from memory)
RUNS = ("=1+1", "+1", "-1", "@SUM(1)", "\t=1", "\r=1", '=HYPERLINK("http://x","y")')


def _csv(made: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(made.decode("utf-8-sig"), newline="")))


def test_rows_come_back_from_csv_and_what_is_not_known_is_blank() -> None:
    made = as_table(ROWS, "csv")
    assert made.startswith(b"\xef\xbb\xbf"), "spreadsheets are told that it is UTF-8"
    found = _csv(made)
    assert [row["pen"] for row in found] == ['Älv, lower "run"', "B\nC"]
    assert float(found[0]["rate"]) == 1 / 3
    assert [row["low"] for row in found] == ["", "0.5"]


def test_rows_come_back_from_a_workbook() -> None:
    sheet = openpyxl.load_workbook(io.BytesIO(as_table(ROWS, "xlsx"))).active
    head, first, second = sheet.iter_rows(values_only=True)
    assert head == ("pen", "rate", "low", "on", "trays")
    assert first[:3] == ('Älv, lower "run"', 1 / 3, None)
    assert (first[3].date(), second[1], second[4]) == (date(2026, 3, 1), 1.0, 5)


def test_rows_come_back_from_parquet() -> None:
    frame = pd.read_parquet(io.BytesIO(as_table(ROWS, "parquet")))
    assert list(frame["pen"]) == ['Älv, lower "run"', "B\nC"]
    assert frame["rate"].tolist() == [1 / 3, 1.0]
    assert frame["low"].isna().tolist() == [True, False]


@pytest.mark.parametrize("text", RUNS)
def test_no_text_runs_as_a_formula(text: str) -> None:
    (row,) = _csv(as_table([{"pen": text, "points": -1.5}], "csv"))
    assert row["pen"].startswith("'")
    assert row["points"] == "-1.5", "a number below zero stays one"
    sheet = openpyxl.load_workbook(io.BytesIO(as_table([{"pen": text}], "xlsx"))).active
    assert sheet["A2"].data_type in {"s", "inlineStr"}


def test_no_rows_are_an_empty_table() -> None:
    assert as_table([], "csv").decode("utf-8-sig") == ""
    for kind in KINDS:
        as_table([], kind)


def test_a_heading_that_begins_like_a_formula_is_text_too() -> None:
    assert as_table([{"=1+1": 1}], "csv").decode("utf-8-sig").startswith("'=1+1")
    sheet = openpyxl.load_workbook(io.BytesIO(as_table([{"=1+1": 1}], "xlsx"))).active
    assert (sheet["A1"].value, sheet["A1"].data_type) == ("=1+1", "s")


def test_whole_numbers_stay_whole_where_some_are_not_known() -> None:
    frame = pd.read_parquet(io.BytesIO(as_table([{"eggs": 3}, {"eggs": None}], "parquet")))
    assert str(frame["eggs"].dtype) == "Int64"
    assert frame["eggs"].isna().tolist() == [False, True]


SHOWN = shown_rows(
    ("Pen", "Eggs", "Rate", "Range", "Range", ""),
    [("=Älv", "1,204", "65 %", "58\N{EN DASH}71 %", "1", "\N{MINUS SIGN}3.5"),
     ("B", "80", "\N{EN DASH}", "few", "2", "+1")],
)  # fmt: skip


def test_a_table_as_it_is_shown_has_numbers_where_a_column_is_all_numbers() -> None:
    first, second = SHOWN
    assert first == {
        "Pen": "=Älv", "Eggs": 1204, "Rate": 0.65, "Range": "58\N{EN DASH}71 %",
        "Range (5)": 1, "column 6": -3.5,
    }  # fmt: skip
    assert (second["Rate"], second["Range"], second["column 6"]) == (None, "few", 1)


def test_several_tables_stand_in_one_file_under_names_that_any_spreadsheet_takes() -> None:
    tables = [
        ("Pens: [all] / of 2026? A caption that is longer than a worksheet takes", SHOWN),
        ("pens", SHOWN),
        ("Pens", SHOWN),
    ]
    book = openpyxl.load_workbook(io.BytesIO(packed(tables, "xlsx")))
    assert book.sheetnames == ["Pens all of 2026 A caption that", "pens", "3 Pens"]
    assert all(sheet["A2"].data_type == "s" and sheet.page_setup.orientation == "landscape" for sheet in book)
    with zipfile.ZipFile(io.BytesIO(packed(tables, "csv"))) as files:
        assert files.namelist() == [f"{name}.csv" for name in book.sheetnames]
        assert _csv(files.read("pens.csv"))[0]["Pen"] == "'=Älv"
    with zipfile.ZipFile(io.BytesIO(packed(tables, "parquet"))) as files:
        frame = pd.read_parquet(io.BytesIO(files.read("pens.parquet")))
    assert frame["Eggs"].tolist() == [1204, 80]
