"""Pictures: what is drawn is what the record says."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import plotly.graph_objects as go
import pytest

from analytics.studies.records import SpeciesMonth
from analytics.values import Interval, Month, Rate
from dashboard import charts
from dashboard.look import DAY, NIGHT

MARCH = Month(2026, 3)


def _traces(figure: go.Figure, name: str) -> list[go.Scatter]:
    return [trace for trace in figure.data if trace.name == name]


def test_months_show_the_records_rates(species: SpeciesMonth) -> None:
    figure = charts.months_figure(species, MARCH, "hatch_of_set", DAY)
    (dots,) = _traces(figure, "Hatch of set")
    known = [(month, rates["hatch_of_set"]) for month, rates in species.months_before if rates]
    known.append((MARCH, species.rates["hatch_of_set"]))
    assert list(dots.x) == [date(month.year, month.month, 1) for month, _ in known]
    assert list(dots.y) == [rate.value for _, rate in known]


def test_a_month_without_eggs_is_a_gap(species: SpeciesMonth) -> None:
    (dots,) = _traces(charts.months_figure(species, MARCH, "hatch_of_set", DAY), "Hatch of set")
    assert date(2026, 1, 1) not in dots.x
    assert len(dots.x) == 12


def test_months_draw_every_interval(species: SpeciesMonth) -> None:
    figure = charts.months_figure(species, MARCH, "fertility", DAY)
    intervals = {tuple(trace.y) for trace in _traces(figure, "interval")}
    opens = {tuple(trace.y) for trace in _traces(figure, "possible")}
    rates = [rates["fertility"] for _, rates in species.months_before if rates]
    rates.append(species.rates["fertility"])
    assert intervals == {(rate.interval.low, rate.interval.high) for rate in rates if rate.interval}
    assert opens == {(rate.possible.low, rate.possible.high) for rate in rates if rate.possible}


def test_what_is_open_is_paler_and_wider_than_the_range(species: SpeciesMonth) -> None:
    figure = charts.months_figure(species, MARCH, "fertility", DAY)
    interval, possible = _traces(figure, "interval")[0], _traces(figure, "possible")[0]
    assert possible.opacity < interval.opacity
    assert possible.line.width > interval.line.width


def test_a_range_without_a_rate_is_a_bar_without_a_dot(species: SpeciesMonth) -> None:
    december = date(2025, 12, 1)
    figure = charts.months_figure(species, MARCH, "fertility", DAY)
    (dots,) = _traces(figure, "Fertility")
    assert december not in dots.x
    bars = [trace for trace in figure.data if trace.mode == "lines" and trace.x[0] == december]
    assert sorted(tuple(bar.y) for bar in bars) == [(0.71, 0.93), (pytest.approx(0.73), pytest.approx(0.91))]
    assert all(bar.customdata[0][1] == "71–93 %" for bar in bars)


def test_nothing_open_draws_no_bar(species: SpeciesMonth) -> None:
    figure = charts.months_figure(species, MARCH, "hatch_of_set", DAY)
    assert _traces(figure, "possible") == []


def test_the_month_asked_about_stands_out(species: SpeciesMonth) -> None:
    (dots,) = _traces(charts.months_figure(species, MARCH, "hatch_of_set", NIGHT), "Hatch of set")
    assert dots.marker.color[-1] == NIGHT.accent
    assert set(dots.marker.color[:-1]) == {NIGHT.faded}
    assert dots.marker.size[-1] > max(dots.marker.size[:-1])


def test_the_aim_is_a_line_at_the_aim(species: SpeciesMonth) -> None:
    upright = charts.months_figure(species, MARCH, "hatch_of_set", DAY).layout.shapes
    across = charts.pens_figure(species, "hatch_of_set", DAY, {}).layout.shapes
    assert [(line.y0, line.y1) for line in upright] == [(0.8, 0.8)]
    assert [(line.x0, line.x1) for line in across] == [(0.8, 0.8)]
    assert not charts.months_figure(species, MARCH, "late_loss", DAY).layout.shapes


def test_pens_are_ordered_and_those_without_a_rate_are_not_drawn(species: SpeciesMonth) -> None:
    order = [pen.pen for pen in charts.pens_in_order(species, "hatch_of_set")]
    assert order == ["Barn 1", "Orchard", "The long run behind the old stable", "Barn 2", "<b>Ruby & Co</b>"]
    figure = charts.pens_figure(species, "hatch_of_set", DAY, {})
    assert list(figure.layout.yaxis.categoryarray) == order[::-1]
    for pen in charts.pens_in_order(species, "hatch_of_set"):
        (dot,) = _traces(figure, pen.pen)
        assert list(dot.x) == [pen.rates["hatch_of_set"].value]


def test_pens_print_their_eggs_and_draw_their_ranges(species: SpeciesMonth) -> None:
    figure = charts.pens_figure(species, "hatch_of_set", DAY, {})
    assert [text.split(">")[-2].split("<")[0] for text in figure.layout.yaxis.ticktext] == [
        "180 eggs", "96 eggs", "60 eggs", "172 eggs", "12 eggs"
    ]  # fmt: skip
    drawn = {trace.y[0]: tuple(trace.x) for trace in _traces(figure, "interval")}
    for pen in charts.pens_in_order(species, "hatch_of_set"):
        interval = pen.rates["hatch_of_set"].interval
        assert interval is not None
        assert drawn[pen.pen] == (interval.low, interval.high)


def test_few_eggs_are_paler_and_wider(species: SpeciesMonth) -> None:
    figure = charts.pens_figure(species, "fertility", DAY, {})
    lines = {trace.y[0]: trace for trace in _traces(figure, "interval")}
    bars = {trace.y[0]: trace for trace in _traces(figure, "possible")}
    few, many = "<b>Ruby & Co</b>", "Barn 1"
    assert lines[few].opacity < lines[many].opacity == 1.0
    assert bars[few].line.width > bars[many].line.width
    strengths = [charts.egg_strength(eggs) for eggs in (0, 1, 12, 60, 100, 5000)]
    assert strengths == sorted(strengths)
    assert strengths[0] >= 0.35
    assert strengths[-1] == 1.0


def test_a_pen_keeps_its_colour_when_another_leaves(species: SpeciesMonth) -> None:
    places = {pen.pen: place for place, pen in enumerate(species.pens)}
    fewer = replace(species, pens=species.pens[2:])
    whole = _traces(charts.pens_figure(species, "hatch_of_set", DAY, places), "Orchard")[0].marker.color
    part = _traces(charts.pens_figure(fewer, "hatch_of_set", DAY, places), "Orchard")[0].marker.color
    assert whole == part == DAY.pens[2]


def test_a_label_is_never_mark_up(species: SpeciesMonth) -> None:
    figure = charts.pens_figure(species, "hatch_of_set", DAY, {})
    labels = " ".join(figure.layout.yaxis.ticktext)
    assert "&lt;b&gt;Ruby &amp; Co&lt;/b&gt;" in labels
    hover = [row[0] for trace in figure.data if trace.customdata is not None for row in trace.customdata]
    assert all("<" not in text for text in hover)


def test_losses_have_an_axis_of_their_own(species: SpeciesMonth, rate_of: Callable[..., Rate]) -> None:
    top = charts.months_figure(species, MARCH, "late_loss", DAY).layout.yaxis.range[1]
    assert 0.1 <= top < 0.2
    heavy = replace(species, rates={"late_loss": rate_of("late_loss", 50, 60, 0.7, 0.95)})
    assert charts.months_figure(heavy, MARCH, "late_loss", DAY).layout.yaxis.range[1] > 0.95
    assert charts.months_figure(species, MARCH, "fertility", DAY).layout.yaxis.range[1] > 1.0


def test_without_any_rate_the_pictures_are_empty(species: SpeciesMonth) -> None:
    bare = replace(species, rates={}, months_before=(), pens=(), targets={})
    assert not charts.months_figure(bare, MARCH, "fertility", DAY).data
    assert not charts.pens_figure(bare, "fertility", DAY, {}).data


@pytest.mark.parametrize("level", [0.5, 1.0])
def test_an_interval_of_no_width_is_still_drawn(species: SpeciesMonth, level: float) -> None:
    rate = replace(species.rates["hatch_of_set"], interval=Interval(0.77, 0.77, level, "exact"))
    figure = charts.months_figure(replace(species, rates={"hatch_of_set": rate}), MARCH, "hatch_of_set", DAY)
    assert (0.77, 0.77) in {tuple(trace.y) for trace in _traces(figure, "interval")}
