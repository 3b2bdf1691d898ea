"""Pictures of plans: the days of a batch, and eggs against the difference they show."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from math import log10

import plotly.graph_objects as go

from analytics.studies.plan_records import DatesAnswer, DayRange, SizeAnswer, SpeciesDates
from analytics.studies.wording import counted, whole
from dashboard import words_plan as words
from dashboard.charts import blank, escaped
from dashboard.look import Look

SET, ALONE = "●", "○"
"""Marks as letters, for a key in words."""
BAR = "■"
_WIDTHS = {words.COL_CANDLE: 12, words.COL_MOVE: 22, words.COL_HATCH: 12}
_TICKS = 5
_EGGS = (10, 20, 50, 100, 200, 500, 1_000, 2_000, 5_000, 10_000, 20_000, 50_000, 100_000)
_HOVER = "<b>%{customdata[0]}</b><br>%{customdata[1]}<extra></extra>"


def step_colours(look: Look) -> dict[str, str]:
    """The colour of each step of a batch."""
    return {words.COL_CANDLE: look.aim, words.COL_MOVE: look.ink, words.COL_HATCH: look.accent}


def stretches(one: SpeciesDates) -> dict[str, DayRange]:
    """The steps of a batch with their days."""
    return dict(zip(words.STEPS, (one.candle, one.transfer, one.hatch), strict=True))


def days_figure(answer: DatesAnswer, look: Look) -> go.Figure:
    """A row for each bird: day of setting, candling, transfer and hatch."""
    figure = blank(look, height=70 + 52 * len(answer.species))
    rows = list(reversed(answer.species))
    ends = [answer.set_on]
    for height, one in enumerate(rows):
        _dot(figure, look, one.name, answer.set_on, height)
        for step, found in stretches(one).items():
            if found.first and found.last:
                _bar(figure, step_colours(look)[step], one.name, step, found, height)
                ends.append(found.last + timedelta(days=1))
    _day_axis(figure, look, min(ends), max(ends))
    figure.update_yaxes(
        tickmode="array",
        tickvals=list(range(len(rows))),
        ticktext=[escaped(one.name) for one in rows],
        automargin=True,
        showgrid=False,
        zeroline=False,
        ticklen=0,
        range=[-0.7, len(rows) - 0.3],
        fixedrange=True,
    )
    return figure


def _dot(figure: go.Figure, look: Look, name: str, day: date, height: int) -> None:
    figure.add_trace(
        go.Scatter(
            x=[day],
            y=[height],
            mode="markers",
            marker={"color": look.ink, "size": 10},
            customdata=[[escaped(name), f"{words.SET}: {words.days(DayRange(day, day, ''))}"]],
            hovertemplate=_HOVER,
        )
    )


def _bar(figure: go.Figure, colour: str, name: str, step: str, found: DayRange, height: int) -> None:
    """A stretch from the morning of its first day to the night of its last."""
    assert found.first
    assert found.last
    said = [escaped(name), f"{step}: {words.days(found)}"]
    figure.add_trace(
        go.Scatter(
            x=[found.first, found.last + timedelta(days=1)],
            y=[height, height],
            mode="lines",
            name=step,
            line={"color": colour, "width": _WIDTHS[step]},
            customdata=[said, said],
            hovertemplate=_HOVER,
        )
    )


def _day_axis(figure: go.Figure, look: Look, first: date, last: date) -> None:
    step = max(1, -(-(last - first).days // _TICKS))
    shown = [first + timedelta(days=days) for days in range(0, (last - first).days + 1, step)]
    figure.update_xaxes(
        tickmode="array",
        tickvals=shown,
        ticktext=[words.short(day) for day in shown],
        gridcolor=look.line,
        zeroline=False,
        tickfont={"color": look.faded, "size": 14},
        fixedrange=True,
        automargin=True,
        range=[first - timedelta(days=1), last],
    )


def eggs_figure(answer: SizeAnswer, look: Look) -> go.Figure:
    """Eggs to set of each pen against the difference they show; rings as if every egg stood alone."""
    figure = blank(look, height=300)
    told = [(100 * row.difference, row.eggs_set) for row in answer.rows if row.eggs_set is not None]
    alone = [
        (100 * row.difference, row.independent_set) for row in answer.rows if row.independent_set is not None
    ]
    _curve(figure, words.KEY_ALONE, look.faded, alone, ring=True)
    _curve(figure, words.KEY_TOLD, look.accent, told, ring=False)
    eggs = [number for _, number in (*told, *alone)]
    low, high = min(eggs, default=10) / 1.4, max(eggs, default=100) * 1.4
    axis = {"zeroline": False, "tickfont": {"color": look.faded, "size": 14}, "fixedrange": True,
            "automargin": True, "tickmode": "array"}  # fmt: skip
    shown = [number for number in _EGGS if low <= number <= high]
    figure.update_yaxes(
        type="log", range=[log10(low), log10(high)], tickvals=shown, ticktext=[whole(one) for one in shown],
        gridcolor=look.line, **axis,
    )  # fmt: skip
    points = [round(100 * row.difference, 1) for row in answer.rows]
    figure.update_xaxes(
        tickvals=points, ticktext=[f"{one:g}" for one in points], showgrid=False,
        title={"text": words.AXIS_POINTS, "font": {"color": look.faded, "size": 14}}, **axis,
    )  # fmt: skip
    return figure


def _curve(
    figure: go.Figure, name: str, colour: str, places: Sequence[tuple[float, float]], *, ring: bool
) -> None:
    figure.add_trace(
        go.Scatter(
            x=[points for points, _ in places],
            y=[eggs for _, eggs in places],
            mode="lines+markers",
            name=name,
            line={"color": colour, "width": 1.5, "dash": "dot" if ring else "solid"},
            marker={
                "symbol": "circle-open" if ring else "circle",
                "size": 10,
                "color": colour,
                "line": {"width": 2},
            },
            customdata=[
                [f"{points:g} points", f"{counted(round(eggs), 'egg')}: {name}"] for points, eggs in places
            ],
            hovertemplate=_HOVER,
        )
    )
