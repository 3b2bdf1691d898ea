"""Problems that differ in their row alone are told once."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analytics.errors import SheetProblem
from analytics.sheets.report import told_once

ONE = SheetProblem("trays", 2, "pen", "pen `X` is unknown", "pen names a row of pens", "Add it")


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ((0,), ""),
        ((2,), "row 2"),
        ((2, 3), "rows 2 and 3"),
        ((2, 3, 9), "rows 2, 3 and 9"),
        ((2, 3, 9, 10), "4 rows (2, 3, 9, …)"),
    ],
)
def test_rows_in_words(rows: tuple[int, ...], words: str) -> None:
    (told,) = told_once([replace(ONE, row=row) for row in rows])
    assert (told.rows, told.rows_words()) == (rows, words)
    assert told.sentence().startswith(f"trays, {words}, pen: pen" if words else "trays, pen: pen")


def test_what_differs_stays_apart_and_in_order() -> None:
    other = replace(ONE, given="pen `Y` is unknown")
    told = told_once([ONE, other, replace(ONE, row=7)])
    assert [(one.problem.given, one.rows) for one in told] == [(ONE.given, (2, 7)), (other.given, (2,))]
