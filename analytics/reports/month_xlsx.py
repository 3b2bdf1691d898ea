"""The month's review as a workbook: its tables with a note on every heading, to reckon on or to keep."""

from __future__ import annotations

import io
import math
from collections.abc import Iterator, Mapping
from typing import Any

from analytics.reports.month_tables import (
    LONG,
    NOTES,
    SHARES,
    Cell,
    Table,
    attention_table,
    method_tables,
    rest_tables,
)
from analytics.reports.tables import fit_to_paper, put
from analytics.studies import wording
from analytics.studies.month_attention import breeders_lines, opening
from analytics.studies.month_changes import changes_words
from analytics.studies.outlook_words import ahead_words
from analytics.studies.records import MonthReview, Rates, SpeciesMonth
from analytics.values import Interval, Rate

SHARE_FORMAT = "0.0%"
"""How a spreadsheet shows a share of 0..1."""

LINE = 15.0
"""Height of a line in a cell, in points."""
_WORDS_WIDTH = 70
_ROOM = 1.15
"""Letters that are wide, and words that do not break."""
NUMBER_FORMAT = "#,##0.0"
"""How it shows other numbers that are not whole; the cells hold them unrounded."""

_NOTES: dict[str, str] = NOTES | {
    "species": "the species",
    "pen": "your label of the pen",
    "month": "month of hatch",
    "rate": "which rate",
    "share of": "what it is a share of",
    "eggs": "eggs it is a share of; blank while eggs are not told apart",
    "counted": "how many of them",
    "this month": "the rate, as a share; blank where only a range can be said",
    "value": "the rate, as a share; blank where only a range can be said",
    "low": "lower end of the range, allowing for trays and batches that fail together",
    "high": "upper end of that range",
    "open low": "the rate if all clear and unopened eggs fell the worst way",
    "open high": "the rate if they all fell the best way",
    "beside": "the rate it is set beside",
    "beside low": "lower end of its range",
    "beside high": "upper end of its range",
    "aim": "your own aim",
    "trays": "trays it rests on",
    "batches": "batches it rests on",
    "trays left out": "trays whose counts do not allow it",
    "eggs set": "eggs set in closed batches",
    "chicks": "live chicks, kept or not",
    "why": "why there is no rate, or only a range",
    "batch": "your label of the batch",
    "machine": "where it was set",
    "set on": "day of setting",
    "due from": "first day a hatch is expected",
    "due to": "last day a hatch is expected",
    "days overdue": "days past that on the day of the review",
    "what is missing": "in the records of the month",
    "how many": "places where it is missing",
    "what to write down": "what would close the gap",
}
"""Heading -> what stands beneath it."""
_SHARES = SHARES | {
    "this month", "value", "low", "high", "open low", "open high", "beside", "beside low", "beside high",
    "aim",
}  # fmt: skip
_LONG = LONG | {
    "why": 60,
    "what is missing": 60,
    "what to write down": 60,
    "rate": 20,
    "share of": 18,
    "species": 17,
    "pen": 14,
}
_RATE = ("rate", "share of", "eggs", "counted")
_RANGE = ("low", "high", "open low", "open high")
_BESIDE = ("beside", "beside low", "beside high")
_BASIS = ("trays", "batches", "trays left out", "why")


def review_workbook(review: MonthReview) -> bytes:
    """The workbook as the bytes of an .xlsx file."""
    import openpyxl

    book = openpyxl.Workbook()
    _fill_words(book.active, review)
    for table in _tables(review):
        _fill_table(book.create_sheet(table.name), table)
    _fill_notes(book.create_sheet("notes"), review)
    packed = io.BytesIO()
    book.save(packed)
    return packed.getvalue()


def _tables(review: MonthReview) -> tuple[Table, ...]:
    return (
        attention_table(review),
        Table(
            "rates",
            ("species", *_RATE, "this month", *_RANGE, *_BESIDE, "aim", *_BASIS),
            [row for one in review.species for row in _rates(review, one)],
        ),
        Table(
            "pens",
            ("species", "pen", "eggs set", "chicks", *_RATE, "this month", *_RANGE, *_BESIDE, *_BASIS),
            [row for one in review.species for row in _pens(review, one)],
        ),
        Table(
            "months",
            ("species", "month", *_RATE, "value", *_RANGE),
            [row for one in review.species for row in _months(review, one)],
        ),
        *rest_tables(review),
        Table(
            "open batches",
            ("batch", "machine", "species", "eggs set", "set on", "due from", "due to", "days overdue"),
            _open(review),
        ),
        Table("gaps", ("what is missing", "how many", "where", "what to write down"), _gaps(review)),
        *method_tables(review),
    )


def _rates(review: MonthReview, species: SpeciesMonth) -> Iterator[tuple[Cell, ...]]:
    name = wording.species_words(species.species)
    beside = review.beside(species)
    for measure, rate in species.rates.items():
        aim = species.targets.get(measure)
        yield (name, *_rate(measure, rate), *_beside(beside, measure), aim, *_basis(rate))


def _pens(review: MonthReview, species: SpeciesMonth) -> Iterator[tuple[Cell, ...]]:
    name = wording.species_words(species.species)
    for pen in species.pens:
        beside = review.beside(pen)
        for measure, rate in pen.rates.items():
            first = (name, pen.pen, pen.eggs_set, pen.chicks)
            yield (*first, *_rate(measure, rate), *_beside(beside, measure), *_basis(rate))


def _months(review: MonthReview, species: SpeciesMonth) -> Iterator[tuple[Cell, ...]]:
    name = wording.species_words(species.species)
    for month, rates in (*species.months_before, (review.month, species.rates)):
        for measure, rate in rates.items():
            yield (name, str(month), *_rate(measure, rate))


def _rate(measure: str, rate: Rate) -> tuple[Cell, ...]:
    name = wording.MEASURE_NAMES.get(measure, measure.replace("_", " ").capitalize())
    return (name, rate.base, rate.eggs, rate.count, rate.value, *_ends(rate.interval), *_ends(rate.possible))


def _beside(rates: Rates, measure: str) -> tuple[Cell, ...]:
    rate = rates.get(measure)
    return (rate.value, *_ends(rate.interval)) if rate else (None, None, None)


def _basis(rate: Rate) -> tuple[Cell, ...]:
    return (rate.used.trays, rate.used.batches, rate.used.left_out, rate.why)


def _ends(interval: Interval | None) -> tuple[float | None, float | None]:
    return (interval.low, interval.high) if interval else (None, None)


def _open(review: MonthReview) -> list[tuple[Cell, ...]]:
    return [
        (
            batch.batch,
            batch.incubator,
            wording.listed([wording.species_words(key) for key in batch.species]),
            batch.eggs_set,
            batch.set_on.isoformat(),
            batch.due_from.isoformat() if batch.due_from else None,
            batch.due_to.isoformat() if batch.due_to else None,
            batch.overdue_days,
        )
        for batch in review.open_batches
    ]


def _gaps(review: MonthReview) -> list[tuple[Cell, ...]]:
    return [(gap.what, gap.how_many, ", ".join(gap.where), gap.repair) for gap in review.data_gaps]


def _fill_words(worksheet: Any, review: MonthReview) -> None:
    """The first worksheet: the answer in words."""
    worksheet.title = "review"
    about = (wording.selection_words(review.selection), f"Records as of {wording.long_day(review.as_of)}.")
    first, more = opening(review)
    lines = (wording.month_name(review.month), " ".join(filter(None, about)), first, *more, *_rest(review))
    for number, line in enumerate(lines, 1):
        put(worksheet.cell(number, 1), line)
        _wrap(worksheet.cell(number, 1))
        worksheet.row_dimensions[number].height = LINE * _lines(line, _WORDS_WIDTH)
    worksheet.column_dimensions["A"].width = _WORDS_WIDTH
    _bold(worksheet.cell(1, 1))
    fit_to_paper(worksheet, headed=False)


def _rest(review: MonthReview) -> tuple[str, ...]:
    """What the other questions say, in lines."""
    rest = review.rest
    if rest is None:
        return ()
    return (*changes_words(rest), *breeders_lines(review, rest), *ahead_words(rest.outlook))


def _fill_table(worksheet: Any, table: Table) -> None:
    from openpyxl.comments import Comment
    from openpyxl.utils import get_column_letter

    worksheet.freeze_panes = "A2"
    for place, heading in enumerate(table.headings, 1):
        cell = worksheet.cell(1, place, heading)
        cell.comment = Comment(_NOTES[heading], "penwise", width=260, height=90)
        _bold(cell)
        worksheet.column_dimensions[get_column_letter(place)].width = _width(heading)
    for number, row in enumerate(table.rows, 2):
        for place, (heading, value) in enumerate(zip(table.headings, row, strict=True), 1):
            cell = worksheet.cell(number, place)
            put(cell, value)
            if heading in _SHARES:
                cell.number_format = SHARE_FORMAT
            elif isinstance(value, float):
                cell.number_format = NUMBER_FORMAT
            _wrap(cell)
        told = zip(table.headings, row, strict=True)
        tallest = max(_lines(str(value), _width(heading)) for heading, value in told if value is not None)
        worksheet.row_dimensions[number].height = LINE * tallest
    fit_to_paper(worksheet)


def _width(heading: str) -> int:
    """Of a column, in letters."""
    return _LONG.get(heading, max(11, len(heading) + 3))


def _lines(text: str, width: int) -> int:
    """Lines that a text takes in a cell; not all spreadsheets work a row's height out themselves."""
    return max(1, math.ceil(_ROOM * len(text) / width))


def _fill_notes(worksheet: Any, review: MonthReview) -> None:
    beside = review.against and wording.month_name(review.against)
    notes: Mapping[str, str] = _NOTES | {"beside": f"the rate of {beside or 'the twelve months before'}"}
    for number, (heading, note) in enumerate(notes.items(), 1):
        put(worksheet.cell(number, 1), heading)
        put(worksheet.cell(number, 2), note)
        _bold(worksheet.cell(number, 1))
    worksheet.column_dimensions["A"].width = 22
    worksheet.column_dimensions["B"].width = 90
    fit_to_paper(worksheet, headed=False)


def _bold(cell: Any) -> None:
    from openpyxl.styles import Font

    cell.font = Font(bold=True)


def _wrap(cell: Any) -> None:
    from openpyxl.styles import Alignment

    cell.alignment = Alignment(wrap_text=True, vertical="top")
