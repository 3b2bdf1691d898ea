"""Tables to take away."""

from __future__ import annotations

import csv
import io

from dashboard.downloads import as_csv


def test_rows_come_back_as_they_were_and_what_is_not_known_is_blank() -> None:
    rows = [{"pen": 'Älv, lower "run"', "rate": 1 / 3, "low": None}, {"pen": "B\nC", "rate": 1.0, "low": 0.5}]
    found = list(csv.DictReader(io.StringIO(as_csv(rows).decode("utf-8-sig"), newline="")))
    assert [row["pen"] for row in found] == ['Älv, lower "run"', "B\nC"]
    assert float(found[0]["rate"]) == 1 / 3
    assert [row["low"] for row in found] == ["", "0.5"]


def test_spreadsheets_are_told_that_it_is_utf_8() -> None:
    assert as_csv([{"pen": "Älv"}]).startswith(b"\xef\xbb\xbf")


def test_no_rows_are_an_empty_file() -> None:
    assert as_csv([]).decode("utf-8-sig") == ""
