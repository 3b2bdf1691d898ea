"""Pictures of trends: rates along a number with their ranges, a curve with its band, and dated changes."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from typing import Any

import plotly.graph_objects as go

from analytics.studies.trend_records import ChangeMark, TrendAnswer, TrendPoint
from dashboard import words_trends as words
from dashboard.charts import blank, egg_strength, escaped
from dashboard.charts_axes import share_axis
from dashboard.look import Look

_MONTH = timedelta(days=365.25 / 12)
"""The unit of x along time."""
_TICKS = 6
_CLOSE = 0.07
"""Share of the picture within which two numbers would touch."""
_HOVER = (
    "<b>%{customdata[0]}</b><br>%{customdata[1]} (%{customdata[2]})<br>range %{customdata[3]}<extra></extra>"
)
Place = float | datetime


def trend_figure(answer: TrendAnswer, look: Look) -> go.Figure:
    """Marks with ranges, the curve with its band where there is one, and numbered dated changes."""
    figure = blank(look, height=420)
    if answer.curve:
        _curve(figure, look, answer)
    _changes(figure, look, answer)
    for point in answer.points:
        _ranges(figure, look, answer, point)
    if answer.points:
        _marks(figure, look, answer)
    figure.update_layout(margin_t=42)
    figure.update_yaxes(**share_axis(look, _seen(answer)))
    figure.update_xaxes(**_along_axis(answer, look))
    return figure


def placed(changes: Sequence[ChangeMark]) -> list[ChangeMark]:
    """Changes that have a place along x, in the order of their numbers."""
    return [change for change in changes if change.x is not None]


def _by_day(changes: Sequence[ChangeMark]) -> list[tuple[list[int], list[ChangeMark]]]:
    """Changes of one day together, with their numbers: two lines at one place would hide each other."""
    found: dict[date, tuple[list[int], list[ChangeMark]]] = {}
    for number, change in enumerate(changes, start=1):
        numbers, those = found.setdefault(change.changed_on, ([], []))
        numbers.append(number)
        those.append(change)
    return list(found.values())


def _at(answer: TrendAnswer, x: float) -> Place:
    """Where x is drawn: along time, on its day."""
    if answer.first_day is None:
        return x
    return datetime.combine(answer.first_day, time()) + x * _MONTH


def _curve(figure: go.Figure, look: Look, answer: TrendAnswer) -> None:
    x = [_at(answer, point.x) for point in answer.curve]
    for name, ends, filled in (
        ("band", [point.low for point in answer.curve], None),
        ("band", [point.high for point in answer.curve], "tonexty"),
    ):
        figure.add_trace(
            go.Scatter(x=x, y=ends, mode="lines", name=name, line={"width": 0}, fill=filled,
                       fillcolor=look.band, hoverinfo="skip")
        )  # fmt: skip
    figure.add_trace(
        go.Scatter(
            x=x,
            y=[point.rate for point in answer.curve],
            mode="lines",
            name="curve",
            line={"width": 2.5, "color": look.accent},
            hoverinfo="skip",
        )
    )


def _ranges(figure: go.Figure, look: Look, answer: TrendAnswer, point: TrendPoint) -> None:
    strength = egg_strength(point.eggs)
    for name, low, high, width, opacity in (
        ("possible", point.possible_low, point.possible_high, 16 - 6 * strength, 0.3),
        ("interval", point.low, point.high, 2.5, strength),
    ):
        if name == "possible" and low == high:
            continue
        figure.add_trace(
            go.Scatter(
                x=[_at(answer, point.x)] * 2,
                y=[low, high],
                mode="lines",
                name=name,
                line={"color": look.faded, "width": width},
                opacity=opacity,
                customdata=[_said(answer, point)] * 2,
                hovertemplate=_HOVER,
            )
        )


def _marks(figure: go.Figure, look: Look, answer: TrendAnswer) -> None:
    """A mark at every rate that clear eggs do not leave open."""
    known = [point for point in answer.points if point.possible_low == point.possible_high]
    figure.add_trace(
        go.Scatter(
            x=[_at(answer, point.x) for point in known],
            y=[point.rate for point in known],
            mode="markers",
            name="rate",
            marker={
                "size": [4 + 6 * egg_strength(point.eggs) for point in known],
                "color": look.ink,
                "line": {"width": 1.5, "color": look.paper},
            },
            customdata=[_said(answer, point) for point in known],
            hovertemplate=_HOVER,
        )
    )


def _said(answer: TrendAnswer, point: TrendPoint) -> list[str]:
    return [escaped(text) for text in words.said(point, answer)]


def _changes(figure: go.Figure, look: Look, answer: TrendAnswer) -> None:
    """One line a day; a number close to the one before it is written higher."""
    last, row = float("-inf"), 0
    for numbers, changes in _by_day(placed(answer.changes)):
        x = changes[0].x or 0.0
        row = 1 - row if x - last < _CLOSE * _length(answer) else 0
        _change(figure, look, _at(answer, x), changes, words.mark_numbers(numbers), row)
        last = x


def _length(answer: TrendAnswer) -> float:
    along = [point.x for point in answer.points]
    return max(along, default=0.0) - min(along, default=0.0)


def _change(
    figure: go.Figure, look: Look, where: Place, changes: Sequence[ChangeMark], numbers: str, row: int
) -> None:
    figure.add_shape(
        type="line",
        x0=where,
        x1=where,
        yref="paper",
        y0=0,
        y1=1,
        line={"color": look.aim, "width": 1.3, "dash": "dot"},
        layer="below",
    )
    figure.add_annotation(
        x=where,
        y=1,
        yref="paper",
        yanchor="bottom",
        text=numbers,
        yshift=15 * row,
        hovertext="<br>".join(escaped(words.change_name(change)) for change in changes),
        showarrow=False,
        font={"size": 14, "color": look.aim},
    )


def _seen(answer: TrendAnswer) -> list[float]:
    return [end for point in (*answer.points, *answer.curve) for end in (point.low, point.high)]


def _along_axis(answer: TrendAnswer, look: Look) -> dict[str, Any]:
    axis: dict[str, Any] = {
        "showgrid": False,
        "zeroline": False,
        "ticks": "outside",
        "tickcolor": look.line,
        "linecolor": look.line,
        "showline": True,
        "tickfont": {"color": look.faded, "size": 14},
        "automargin": True,
        "fixedrange": True,
        "title": {"text": words.axis_title(answer.by), "font": {"size": 14, "color": look.faded}},
    }
    along = [point.x for point in (*answer.points, *answer.curve)]
    if along:
        room = max(0.03 * (max(along) - min(along)), 1e-3)
        axis["range"] = [_at(answer, min(along) - room), _at(answer, max(along) + room)]
    if answer.first_day is None:
        return {**axis, "nticks": _TICKS}
    months = _months(answer)
    shown = months[:: max(1, -(-len(months) // _TICKS))]
    return {
        **axis,
        "tickmode": "array",
        "tickvals": shown,
        "ticktext": [words.month_tick(one) for one in shown],
    }


def _months(answer: TrendAnswer) -> list[date]:
    """The first days of the months drawn."""
    days = [_at(answer, point.x) for point in answer.points]
    return [one.date().replace(day=1) for one in days if isinstance(one, datetime)]
