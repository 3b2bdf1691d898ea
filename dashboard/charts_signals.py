"""Run charts of what left its limits; a shape says what is outside, colour only repeats it."""

from __future__ import annotations

from datetime import date

import plotly.graph_objects as go

from analytics.studies.signal_records import Point, Signal
from analytics.values import Month
from dashboard import words, words_signals
from dashboard.charts import blank
from dashboard.charts_axes import share_axis_from_nothing
from dashboard.look import Look

_HEIGHT = 240


def run_figure(one: Signal, look: Look) -> go.Figure:
    """The months of one chart with their limits."""
    figure = blank(look, _HEIGHT)
    _band(figure, one, look)
    for out in (False, True):
        _dots(
            figure, [point for point in one.points if point.rate is not None and point.out is out], look, out
        )
    loss = one.measure.endswith("_loss")
    highest = max((value for point in one.points for value in (point.rate, point.high) if value), default=1.0)
    figure.update_yaxes(**share_axis_from_nothing(look, min(1.0, max(0.1, 1.1 * highest)) if loss else 1.0))
    figure.update_xaxes(**_months(one, look))
    return figure


def _band(figure: go.Figure, one: Signal, look: Look) -> None:
    """Limits as a band, the usual as dashes; months without limits leave a gap."""
    for run in _runs(one):
        when = [_day(point.month) for point in run]
        low, high = ([getattr(point, end) for point in run] for end in ("low", "high"))
        line = {"width": 1, "color": look.faded, "shape": "hvh"}
        figure.add_trace(go.Scatter(x=when, y=low, mode="lines", line=line, hoverinfo="skip"))
        figure.add_trace(
            go.Scatter(x=when, y=high, mode="lines", line=line, hoverinfo="skip", fill="tonexty",
                       fillcolor=_pale(look.accent))
        )  # fmt: skip
        figure.add_trace(
            go.Scatter(x=when, y=[point.expected for point in run], mode="lines", hoverinfo="skip",
                       line={"width": 2, "dash": "dash", "color": look.faded, "shape": "hvh"})
        )  # fmt: skip


def _runs(one: Signal) -> list[list[Point]]:
    """Stretches of months with limits."""
    found: list[list[Point]] = [[]]
    for point in one.points:
        if point.expected is None:
            found.append([])
        else:
            found[-1].append(point)
    return [run for run in found if run]


def _dots(figure: go.Figure, points: list[Point], look: Look, out: bool) -> None:
    figure.add_trace(
        go.Scatter(
            x=[_day(point.month) for point in points],
            y=[point.rate for point in points],
            mode="markers",
            marker={
                "symbol": "diamond" if out else "circle",
                "size": 14 if out else 9,
                "color": look.warning if out else look.ink,
                "line": {"width": 1.5, "color": look.paper},
            },
            customdata=[
                [words_signals.point_name(point), words_signals.point_line(point)] for point in points
            ],
            hovertemplate="<b>%{customdata[0]}</b><br>%{customdata[1]}<extra></extra>",
        )
    )


def _months(one: Signal, look: Look) -> dict[str, object]:
    last = one.now.month
    first = one.points[0].month
    shown = [last.back(back) for back in (12, 9, 6, 3, 0) if last.back(back) >= first]
    return {
        "range": [_day(first.back(1)).replace(day=16).isoformat(), _day(last).replace(day=16).isoformat()],
        "tickmode": "array",
        "tickvals": [_day(month) for month in shown],
        "ticktext": [f"{words.MONTHS[month.month - 1]}<br>{month.year}" for month in shown],
        "showgrid": False,
        "linecolor": look.line,
        "showline": True,
        "tickfont": {"color": look.faded, "size": 14},
        "automargin": True,
        "fixedrange": True,
    }


def _day(month: Month) -> date:
    return date(month.year, month.month, 1)


def _pale(colour: str) -> str:
    red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
    return f"rgba({red},{green},{blue},0.12)"
