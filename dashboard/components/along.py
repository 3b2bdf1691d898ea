"""A trend: its picture, what was changed, the numbers, and how it was tested."""

from __future__ import annotations

from dataclasses import asdict

import streamlit as st

from analytics.comparisons.hypothesis import HypothesisTest
from analytics.comparisons.slope_records import Slope
from analytics.reports.trends_text import slope_cells
from analytics.studies.trend_records import TrendAnswer
from analytics.studies.trend_words import odds_per_step
from dashboard import charts_trends, words, words_trends
from dashboard.components import marks
from dashboard.components.rates import picture, take
from dashboard.look import Look

_MANY = 12
"""Rows above which a table is folded."""


def drawn(answer: TrendAnswer, look: Look) -> None:
    """The picture with how to read it."""
    if not answer.points:
        marks.note(words_trends.NO_POINTS)
        return
    picture(charts_trends.trend_figure(answer, look), words_trends.alt(answer), "trend")
    keys = [
        words_trends.KEY,
        *([words_trends.KEY_OPEN] if _is_open(answer) else []),
        *([words_trends.KEY_CURVE] if answer.curve else []),
        *([words_trends.KEY_CHANGES] if charts_trends.placed(answer.changes) else []),
    ]
    marks.note(" ".join(keys))


def besides(answer: TrendAnswer) -> None:
    """What else it may be, and what the answer rests on."""
    if words_trends.further_notes(answer):
        st.header(words_trends.BESIDES_HEADING, anchor=False)
        marks.points(words_trends.further_notes(answer))


def changes(answer: TrendAnswer) -> None:
    """What was changed and when, numbered as in the picture."""
    found = charts_trends.placed(answer.changes)
    if not found:
        return
    st.header(words_trends.CHANGES_HEADING, anchor=False)
    marks.note(words_trends.CHANGES_LEDE)
    marks.table(
        words_trends.CHANGES_HEADING,
        (
            words_trends.COL_MARK,
            words_trends.COL_DAY,
            words_trends.COL_WHERE,
            words_trends.COL_WHAT,
        ),
        [
            (
                str(number),
                words_trends.change_day(change),
                words_trends.change_where(change),
                change.what,
            )
            for number, change in enumerate(found, start=1)
        ],
        wide=(words_trends.COL_WHAT,),
    )


def numbers(answer: TrendAnswer) -> None:
    """The table of marks, and the same to take away."""
    columns = {
        words_trends.COL_GROUP[answer.by]: [point.label for point in answer.points],
        words_trends.rate_column(answer): [words_trends.rate_cell(point) for point in answer.points],
        words_trends.COL_RANGE: [words_trends.range_cell(point) for point in answer.points],
        words_trends.COL_OPEN: [words_trends.open_cell(point) for point in answer.points],
        words_trends.COL_COUNT: [words_trends.count_cell(point) for point in answer.points],
        words_trends.COL_TRAYS: [str(point.trays) for point in answer.points],
        words_trends.COL_BATCHES: [str(point.batches) for point in answer.points],
    }
    if not _is_open(answer):
        del columns[words_trends.COL_OPEN]
    st.header(words_trends.NUMBERS_HEADING, anchor=False)
    is_long = len(answer.points) > _MANY
    with st.expander(words_trends.all_rows(len(answer.points))) if is_long else st.container():
        marks.table(
            words_trends.numbers_caption(answer),
            list(columns),
            list(zip(*columns.values(), strict=True)),
            list(columns)[1:],
        )
    name = f"penwise-{answer.measure}-by-{answer.by}"
    take(words_trends.DOWNLOAD, name, [asdict(point) for point in answer.points])


def tested(answer: TrendAnswer) -> None:
    """The slopes and the tests side by side."""
    tests, slopes = answer.tests, answer.slopes
    st.header(words_trends.TESTED_HEADING, anchor=False)
    marks.note(words_trends.TESTED_LEDE)
    within = tests.clustered if tests.decides == "within_pens" else slopes.within_pens
    between = tests.clustered if tests.decides == "between_pens" else slopes.between_pens
    marks.table(
        words_trends.TESTED_HEADING,
        (
            words_trends.COL_TEST,
            words_trends.slope_column(answer.by),
            words_trends.COL_RANGE,
            words_trends.COL_P,
            words_trends.COL_ODDS,
            words_trends.COL_WEIGHT,
            words_trends.COL_TAKES,
        ),
        [
            _slope_row(answer, words_trends.WITHIN, within, decides=tests.decides == "within_pens"),
            _slope_row(answer, words_trends.SAME_BATCH, slopes.same_batch, decides=False),
            _slope_row(answer, words_trends.BETWEEN, between, decides=tests.decides == "between_pens"),
            _test_row(words_trends.INDEPENDENT, tests.independent),
            _test_row(words_trends.BEND, tests.bend),
        ],
        (
            words_trends.slope_column(answer.by),
            words_trends.COL_RANGE,
            words_trends.COL_P,
            words_trends.COL_ODDS,
        ),
        wide=(words_trends.COL_TAKES,),
    )
    marks.note(words_trends.methods(answer))


def _slope_row(answer: TrendAnswer, name: str, slope: Slope, *, decides: bool) -> tuple[str, ...]:
    cells = (words_trends.unknown(cell) for cell in slope_cells(slope, answer.by))
    return (
        name,
        *cells,
        words_trends.unknown(odds_per_step(slope.odds, answer.by)),
        words_trends.weight(slope.p_value, decides=decides),
        slope.why or words_trends.TELLS[name],
    )


def _test_row(name: str, test: HypothesisTest) -> tuple[str, ...]:
    return (
        name,
        words.NOT_KNOWN,
        words.NOT_KNOWN,
        words.chance(test.p_value),
        words.NOT_KNOWN,
        words_trends.weight(test.p_value, decides=False),
        words_trends.why_not(test, words_trends.TELLS[name]),
    )


def _is_open(answer: TrendAnswer) -> bool:
    return any(point.possible_low != point.possible_high for point in answer.points)
