"""Pictures of pen against pen: what is drawn is what the record says."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import plotly.graph_objects as go
import pytest

from analytics.studies.pen_funnel import FunnelLimits, FunnelPoint, PenFunnel
from analytics.studies.pen_records import PenRow, Shrunk
from analytics.values import Base, Interval, Rate
from dashboard import charts_pens
from dashboard.look import DAY, NIGHT

PLACES = {"Alder": 0, "Birch": 1, "<i>Cedar</i>": 2, "Dogwood": 3}
FUNNEL = PenFunnel(
    species="coturnix_quail",
    base=Base.OF_SET,
    common=(0.8, 0.8),
    deff=1.6,
    points=(
        FunnelPoint("Alder", 400.0, 0.86, 0.86, None, False),
        FunnelPoint("Birch", 390.0, 0.7, 0.7, 0.998, True),
        FunnelPoint("<i>Cedar</i>", 20.0, 0.65, 0.9, None, False),
    ),
    eggs=(1.0, 20.0, 424.0),
    limits=(
        FunnelLimits(0.95, (0.0, 0.58, 0.74), (1.0, 0.96, 0.85)),
        FunnelLimits(0.998, (0.0, 0.4, 0.71), (1.0, 1.0, 0.88)),
    ),
)


@pytest.fixture
def rows(rate_of: Callable[..., Rate]) -> list[PenRow]:
    """Four pens: many eggs, fewer, very few with much left open, and one that nothing is known of."""
    nothing = replace(
        rate_of("hatch_of_set", 1, 2, 0, 1), value=None, interval=None, possible=None, eggs=None
    )
    few = rate_of("hatch_of_set", 15, 20, 0.5, 0.92, possible=(0.65, 0.9))
    return [
        PenRow("Birch", "coturnix_quail", rate_of("hatch_of_set", 273, 390, 0.64, 0.76), 390.0,
               Shrunk(0.72, 0.66, 0.77), True, ""),
        PenRow("Alder", "coturnix_quail", rate_of("hatch_of_set", 344, 400, 0.81, 0.9), 400.0,
               Shrunk(0.85, 0.8, 0.89), True, ""),
        PenRow("<i>Cedar</i>", "coturnix_quail", replace(few, value=None), 20.0,
               Shrunk(0.79, 0.7, 0.87), False, "It stood alone."),
        PenRow("Dogwood", "coturnix_quail", nothing, None, None, False, "hatched is blank"),
    ]  # fmt: skip


def _traces(figure: go.Figure, name: str) -> list[go.Scatter]:
    return [trace for trace in figure.data if trace.name == name]


def _ranked(rows: list[PenRow], named: tuple[str, ...] = ("Birch",)) -> go.Figure:
    return charts_pens.ranked_figure(rows, named, (0.8, 0.8), DAY, PLACES)


def test_rows_are_in_order_and_what_is_not_known_is_left_to_the_table(rows: list[PenRow]) -> None:
    # Cedar's range is open from 65 to 90 %: its middle is 77.5 %.
    assert [row.pen for row in charts_pens.rows_in_order(rows)] == ["Alder", "<i>Cedar</i>", "Birch"]
    assert list(_ranked(rows).layout.yaxis.tickvals) == [2, 1, 0]


def test_marks_ranges_and_rings_stand_at_the_records_numbers(rows: list[PenRow]) -> None:
    figure = _ranked(rows)
    assert (list(_traces(figure, "Alder")[0].x), list(_traces(figure, "Alder")[0].y)) == ([344 / 400], [2])
    assert not _traces(figure, "<i>Cedar</i>")
    ranges = {trace.y[0]: tuple(trace.x) for trace in _traces(figure, "interval")}
    assert ranges == {2: (0.81, 0.9), 1: (0.5, 0.92), 0: (0.64, 0.76)}
    assert [tuple(trace.x) for trace in _traces(figure, "possible")] == [(0.65, 0.9)]
    rings = {trace.y[0]: trace.x[0] for trace in _traces(figure, "best guess")}
    assert sorted(rings.values()) == [0.72, 0.79, 0.85]
    assert all(place < round(place) for place in rings)


def test_a_ring_is_open_and_smaller_than_the_mark_of_many_eggs(rows: list[PenRow]) -> None:
    figure = _ranked(rows)
    ring, mark = _traces(figure, "best guess")[0].marker, _traces(figure, "Alder")[0].marker
    assert ring.symbol.endswith("-open")
    assert ring.size < mark.size


def test_few_eggs_are_paler_and_wider(rows: list[PenRow]) -> None:
    known = [
        replace(row, rate=replace(row.rate, possible=Interval(0.6, 0.7, 1.0, "open"))) for row in rows[:3]
    ]
    figure = _ranked(known)
    lines = {trace.y[0]: trace for trace in _traces(figure, "interval")}
    bars = {trace.y[0]: trace for trace in _traces(figure, "possible")}
    cedar = [row.pen for row in charts_pens.rows_in_order(known)][::-1].index("<i>Cedar</i>")
    others = [height for height in lines if height != cedar]
    assert all(lines[cedar].opacity < lines[height].opacity for height in others)
    assert all(bars[cedar].line.width > bars[height].line.width for height in others)


def test_labels_say_eggs_and_who_stands_out_or_apart(rows: list[PenRow]) -> None:
    labels = list(_ranked(rows).layout.yaxis.ticktext)
    assert "Alder" in labels[0]
    assert "400 eggs<" in labels[0]
    assert "&lt;i&gt;Cedar&lt;/i&gt;" in labels[1]
    assert "20 eggs, not compared" in labels[1]
    assert "390 eggs, stands out" in labels[2]


def test_only_who_stands_out_is_shaded(rows: list[PenRow]) -> None:
    def shaded(named: tuple[str, ...]) -> list[float]:
        return [(one.y0 + one.y1) / 2 for one in _ranked(rows, named).layout.shapes if one.type == "rect"]

    assert shaded(("Birch",)) == [0]
    assert shaded(()) == []


def test_what_all_have_together_is_a_line_or_a_band(rows: list[PenRow]) -> None:
    lines = [shape for shape in _ranked(rows, ()).layout.shapes if shape.type == "line"]
    assert [(line.x0, line.x1) for line in lines] == [(0.8, 0.8)]
    band = charts_pens.ranked_figure(rows, (), (0.78, 0.84), DAY, PLACES).layout.shapes
    assert [(one.x0, one.x1) for one in band] == [(0.78, 0.84)]
    assert not charts_pens.ranked_figure(rows, (), None, DAY, PLACES).layout.shapes


def test_the_axis_holds_all_that_is_drawn(rows: list[PenRow]) -> None:
    low, high = _ranked(rows).layout.xaxis.range
    assert low < 0.5
    assert high > 0.92


def test_no_rows_are_an_empty_picture() -> None:
    assert not charts_pens.ranked_figure([], (), (0.8, 0.8), DAY, {}).data


def _funnel(funnel: PenFunnel = FUNNEL, named: tuple[str, ...] = ()) -> go.Figure:
    return charts_pens.funnel_figure(funnel, named, DAY, PLACES)


def test_limits_and_marks_stand_at_the_records_numbers() -> None:
    figure = _funnel()
    for name, ends in {
        "lower 95 %": FUNNEL.limits[0].low,
        "upper 95 %": FUNNEL.limits[0].high,
        "lower 99.8 %": FUNNEL.limits[1].low,
        "upper 99.8 %": FUNNEL.limits[1].high,
    }.items():
        (line,) = _traces(figure, name)
        assert (tuple(line.x), tuple(line.y)) == (FUNNEL.eggs, ends)
    (alder,), (cedar,) = _traces(figure, "Alder"), _traces(figure, "<i>Cedar</i>")
    assert (tuple(alder.x), tuple(alder.y)) == ((400.0,), (0.86,))
    assert (tuple(cedar.x), tuple(cedar.y)) == ((20.0, 20.0), (0.65, 0.9))
    assert {tuple(line.y) for line in _traces(figure, "together")} == {(0.8, 0.8)}


def test_only_what_is_outside_or_stands_out_is_written_beside_its_mark() -> None:
    def written(named: tuple[str, ...]) -> set[str]:
        return {trace.name for trace in _funnel(named=named).data if "text" in trace.mode}

    assert written(()) == {"Birch"}
    assert written(("Alder",)) == {"Birch", "Alder"}


def test_a_mark_keeps_its_colour_in_both_pictures(rows: list[PenRow]) -> None:
    (ranked,), (spread,) = _traces(_ranked(rows), "Birch"), _traces(_funnel(), "Birch")
    assert ranked.marker.color == spread.marker.color == DAY.pens[1]
    night = charts_pens.funnel_figure(FUNNEL, (), NIGHT, PLACES)
    assert _traces(night, "Birch")[0].marker.color == NIGHT.pens[1]


def test_the_axis_of_the_funnel_begins_at_no_eggs_and_holds_all_marks() -> None:
    layout = _funnel().layout
    assert layout.xaxis.range[0] == 0
    assert layout.xaxis.range[1] > 400
    assert layout.yaxis.range[0] < 0.65
    assert layout.yaxis.range[1] > 0.9


def test_a_label_is_never_mark_up() -> None:
    figure = _funnel(named=("<i>Cedar</i>",))
    (cedar,) = _traces(figure, "<i>Cedar</i>")
    assert cedar.text[0] == cedar.customdata[0][0] == "&lt;i&gt;Cedar&lt;/i&gt;"


def test_an_open_common_rate_is_a_band() -> None:
    figure = _funnel(replace(FUNNEL, common=(0.78, 0.82)))
    assert {tuple(line.y) for line in _traces(figure, "together")} == {(0.78, 0.78), (0.82, 0.82)}


def test_eggs_of_unknown_stage_that_were_shared_out_are_whole_in_the_picture(rows: list[PenRow]) -> None:
    labels = _ranked([replace(rows[0], eggs=293.2)]).layout.yaxis.ticktext
    assert "293 eggs, stands out" in labels[0]
