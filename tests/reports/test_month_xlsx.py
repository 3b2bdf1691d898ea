"""The workbook of the review, read back: every table, its notes, and labels that stay text."""

from __future__ import annotations

import io
from datetime import date
from typing import Any

import openpyxl
import pytest

from analytics.measures.counts import Families, LadderCounts, Stages
from analytics.measures.ladder import rates
from analytics.options import Selection
from analytics.reports.month_xlsx import LINE, review_workbook
from analytics.studies.records import DataGap, MonthReview, OpenBatch, PenMonth, Rates, SpeciesMonth
from analytics.values import Month, Used

MARCH = Month(2026, 3)
FORMULA = "=1+1"


def _rates(eggs: int, hatched: int) -> Rates:
    counts = LadderCounts(
        used=Used(4, 2, 1),
        eggs_set=eggs,
        hatched=hatched,
        opened=Stages(infertile=eggs - hatched - 10, clear=5, late=5),
        opened_squares=eggs - hatched,
        tray_squares=eggs**2 / 4,
        batch_squares=eggs**2 / 2,
    )
    return rates(Families(counts, counts, counts, counts, counts), {})


@pytest.fixture(scope="module")
def book() -> Any:
    quail = SpeciesMonth(
        species="coturnix_quail",
        eggs_set=200,
        chicks=150,
        batches=2,
        rates=_rates(200, 150),
        months_before=((MARCH.back(2), {}), (MARCH.back(1), _rates(80, 40))),
        pens=(PenMonth(FORMULA, 200, 150, _rates(200, 150), {}, _rates(80, 40)),),
        targets={"hatch_of_set": 0.8},
        before={},
        against=_rates(80, 40),
    )
    review = MonthReview(
        month=MARCH,
        selection=Selection(),
        headline=("First sentence.", "Second\x07 one."),
        species=(quail,),
        open_batches=(OpenBatch("B7", "North", ("chicken",), 30, date(2026, 3, 1), None, None, 0),),
        data_gaps=(DataGap("Missing.", ("B1 / 1", "B1 / 2"), 12, "Write it."),),
        months=(MARCH,),
        as_of=date(2026, 3, 23),
        against=MARCH.back(1),
    )
    return openpyxl.load_workbook(io.BytesIO(review_workbook(review)))


def _rows(book: Any, name: str) -> list[dict[str, Any]]:
    heading, *rows = book[name].iter_rows(values_only=True)
    return [dict(zip(heading, row, strict=True)) for row in rows]


def test_worksheets_and_their_notes(book: Any) -> None:
    tables = [
        "attention", "rates", "pens", "months", "signals", "changes", "breeders", "outlook", "open batches",
        "gaps", "sources", "method",
    ]  # fmt: skip
    assert book.sheetnames == ["review", *tables, "notes"]
    notes = {row[0]: row[1] for row in book["notes"].iter_rows(values_only=True)}
    assert notes["beside"] == "the rate of February 2026"
    for name in tables:
        assert book[name].freeze_panes == "A2"
        for cell in book[name][1]:
            assert cell.comment.text
            assert cell.value in notes


def test_the_answer_in_words(book: Any) -> None:
    said = [row[0] for row in book["review"].iter_rows(values_only=True)]
    assert said == ["March 2026", "Records as of 23 March 2026.", "First sentence.", "Second one."]


def test_rates_are_shares_with_their_ranges(book: Any) -> None:
    rows = {row["rate"]: row for row in _rows(book, "rates")}
    hatch = rows["Hatch of set"]
    assert (hatch["this month"], hatch["beside"], hatch["aim"]) == (0.75, 0.5, 0.8)
    assert hatch["low"] < 0.75 < hatch["high"]
    assert (hatch["eggs"], hatch["counted"], hatch["trays"], hatch["batches"]) == (200, 150, 4, 2)
    fertility = rows["Fertility"]  # 5 clear eggs: only a range
    assert (fertility["this month"], fertility["open low"], fertility["open high"]) == (None, 0.775, 0.8)
    assert fertility["why"]
    place = next(cell.column for cell in book["rates"][1] if cell.value == "this month")
    assert book["rates"].cell(2, place).number_format == "0.0%"


def test_labels_are_text_even_when_they_begin_like_a_formula(book: Any) -> None:
    cells = [cell for row in book["pens"].iter_rows() for cell in row if cell.value == FORMULA]
    assert cells
    assert {cell.data_type for cell in cells} == {"s"}


def test_months_batches_and_gaps(book: Any) -> None:
    hatches = {row["month"]: row["value"] for row in _rows(book, "months") if row["rate"] == "Hatch of set"}
    assert hatches == {"2026-02": 0.5, "2026-03": 0.75}
    (batch,) = _rows(book, "open batches")
    assert (batch["batch"], batch["machine"], batch["set on"], batch["due to"]) == (
        "B7", "North", "2026-03-01", None,
    )  # fmt: skip
    (gap,) = _rows(book, "gaps")
    assert (gap["how many"], gap["where"]) == (12, "B1 / 1, B1 / 2")


def test_it_prints_as_wide_as_the_paper_with_long_texts_wrapped(book: Any) -> None:
    for sheet in book:
        assert (sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) == (1, 0)
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
    assert book["rates"].print_title_rows == "$1:$1"
    gaps = book["gaps"]
    assert gaps["A2"].alignment.wrap_text
    why = next(cell for cell in book["rates"][1] if cell.value == "why").column
    row = next(row for row in book["rates"].iter_rows(min_row=2) if len(str(row[why - 1].value)) > 65)
    assert book["rates"].row_dimensions[row[0].row].height >= 2 * LINE, (
        "a text of two lines has room for them"
    )
    assert not [
        cell.value for row in book["rates"].iter_rows(max_col=2) for cell in row if "_" in str(cell.value)
    ]
