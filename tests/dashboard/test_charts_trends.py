"""Pictures of trends: what is drawn is what the record says."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime

import plotly.graph_objects as go
import pytest

from analytics.comparisons.hypothesis import HypothesisTest
from analytics.comparisons.slope_records import CurvePoint, Slope
from analytics.options import Selection
from analytics.studies.trend_records import (
    ChangeMark,
    TrendAnswer,
    TrendPoint,
    TrendSlopes,
    TrendTests,
    TrendWords,
)
from analytics.values import Base, Used
from dashboard import charts_trends, words_trends
from dashboard.look import DAY, NIGHT

NONE = Slope.missing("too little")
NO_TEST = HypothesisTest.missing("a test", "too little")
MONTH_DAYS = 365.25 / 12


def _point(x: float, label: str, eggs: float, rate: float, open_by: float = 0.0) -> TrendPoint:
    return TrendPoint(
        x, label, eggs, rate * eggs, rate, rate - 0.1, rate + 0.08, rate - open_by, rate + open_by, 4, 2
    )


STORED = TrendAnswer(
    measure="hatch_of_set",
    by="storage",
    base=Base.OF_SET,
    selection=Selection(),
    first_day=None,
    points=(
        _point(2.0, "0–2 days", 400, 0.8),
        _point(6.5, "6–8 days", 9, 0.75),
        _point(13.0, "12–14 <days>", 60, 0.6, open_by=0.05),
    ),
    tests=TrendTests(NO_TEST, "a slope", "within_pens", NONE, (NONE,), NO_TEST),
    slopes=TrendSlopes(NONE, NONE, NONE),
    curve=tuple(CurvePoint(x, 0.82 - x / 100, 0.7 - x / 100, 0.9 - x / 100) for x in (2.0, 7.5, 13.0)),
    changes=(ChangeMark(date(2026, 2, 1), None, "storage", "", "a cooler cellar"),),
    used=Used(12, 6, 0),
    words=TrendWords("Each day of storage goes with less.", ("Note one.", "Note two."), ""),
)
IN_TIME = replace(
    STORED,
    by="month",
    first_day=date(2026, 1, 1),
    points=(_point(0.5, "January 2026", 300, 0.8), _point(2.5, "March 2026", 300, 0.7)),
    curve=(),
    changes=(
        ChangeMark(date(2026, 2, 1), 31 / MONTH_DAYS, "pen", "<b>Rowan</b>", "new male"),
        ChangeMark(date(2026, 3, 1), 59 / MONTH_DAYS, "all", "", "lamps"),
        ChangeMark(date(2026, 3, 1), 59 / MONTH_DAYS, "incubator", "North", "fan"),
        ChangeMark(date(2026, 3, 9), None, "pen", "Alder", "somewhere else"),
    ),
)


def _traces(figure: go.Figure, name: str) -> list[go.Scatter]:
    return [trace for trace in figure.data if trace.name == name]


def test_marks_and_ranges_stand_at_the_records_numbers() -> None:
    figure = charts_trends.trend_figure(STORED, DAY)
    (marks,) = _traces(figure, "rate")
    # The third is left open by clear eggs: a bar without a mark.
    assert list(zip(marks.x, marks.y, strict=True)) == [(2.0, 0.8), (6.5, 0.75)]
    ranges = {trace.x[0]: tuple(trace.y) for trace in _traces(figure, "interval")}
    assert ranges == {point.x: (point.low, point.high) for point in STORED.points}
    (bar,) = _traces(figure, "possible")
    assert (bar.x[0], tuple(bar.y)) == (13.0, (pytest.approx(0.55), pytest.approx(0.65)))


def test_the_curve_and_its_band_are_the_records() -> None:
    figure = charts_trends.trend_figure(STORED, NIGHT)
    (curve,) = _traces(figure, "curve")
    assert list(zip(curve.x, curve.y, strict=True)) == [(point.x, point.rate) for point in STORED.curve]
    assert curve.line.color == NIGHT.accent
    low, high = _traces(figure, "band")
    assert list(low.y) == [point.low for point in STORED.curve]
    assert list(high.y) == [point.high for point in STORED.curve]
    assert high.fill == "tonexty"


def test_without_a_curve_none_is_drawn() -> None:
    figure = charts_trends.trend_figure(IN_TIME, DAY)
    assert not _traces(figure, "curve")
    assert not _traces(figure, "band")


def test_few_eggs_are_paler() -> None:
    lines = {line.x[0]: line for line in _traces(charts_trends.trend_figure(STORED, DAY), "interval")}
    assert lines[6.5].opacity < lines[2.0].opacity == 1.0


def test_time_is_drawn_on_its_days() -> None:
    (marks,) = _traces(charts_trends.trend_figure(IN_TIME, DAY), "rate")
    # Half a month of 365.25/12 days after 1 January is 16 January; two and a half are 18 March.
    assert [when.date() for when in marks.x] == [date(2026, 1, 16), date(2026, 3, 18)]


def test_dated_changes_are_numbered_and_those_of_one_day_share_a_line() -> None:
    layout = charts_trends.trend_figure(IN_TIME, DAY).layout
    assert [note.text for note in layout.annotations] == ["1", "2–3"]
    assert [note.hovertext for note in layout.annotations] == [
        "pen &lt;b&gt;Rowan&lt;/b&gt;: new male",
        "everywhere: lamps<br>machine North: fan",
    ]
    days = [line.x0.date() if isinstance(line.x0, datetime) else line.x0 for line in layout.shapes]
    assert days == [date(2026, 2, 1), date(2026, 3, 1)]


def test_changes_have_no_place_along_anything_but_time() -> None:
    layout = charts_trends.trend_figure(STORED, DAY).layout
    assert not layout.shapes
    assert not layout.annotations


@pytest.mark.parametrize("answer", [STORED, IN_TIME])
def test_the_axes_hold_all_that_is_drawn(answer: TrendAnswer) -> None:
    layout = charts_trends.trend_figure(answer, DAY).layout
    ends = [end for point in (*answer.points, *answer.curve) for end in (point.low, point.high)]
    assert layout.yaxis.range[0] < min(ends)
    assert layout.yaxis.range[1] > max(ends)


def test_a_group_is_never_mark_up() -> None:
    figure = charts_trends.trend_figure(STORED, DAY)
    said = [row[0] for trace in figure.data if trace.customdata is not None for row in trace.customdata]
    assert "12–14 &lt;days&gt;" in said
    assert all("<" not in text for text in said)


def test_nothing_recorded_is_an_empty_picture() -> None:
    empty = replace(STORED, points=(), curve=(), changes=())
    assert not charts_trends.trend_figure(empty, DAY).data
    assert "nothing to draw" in words_trends.alt(empty)


def test_the_picture_is_told_in_a_sentence() -> None:
    told = words_trends.alt(IN_TIME)
    assert told.startswith(
        "Hatch of set month by month, 2 marks, from January 2026 (70–88 % of set) to March 2026"
    )
    assert "1 Feb 2026 pen <b>Rowan</b>: new male; 1 Mar 2026 everywhere: lamps" in told
    assert "somewhere else" not in told
    assert "The curve goes from 80 to 69 %." in words_trends.alt(STORED)


def test_what_is_open_has_no_rate_of_its_own() -> None:
    known, _, is_open = STORED.points
    assert (words_trends.rate_cell(known), words_trends.open_cell(known)) == ("80 %", "nothing")
    assert words_trends.count_cell(known) == "320 of 400"
    assert (words_trends.rate_cell(is_open), words_trends.open_cell(is_open)) == ("only a range", "55–65 %")
