"""Pictures of a change: before and after beside the untouched, and odds step by step."""

from __future__ import annotations

from collections.abc import Sequence
from math import log10
from typing import Any

import plotly.graph_objects as go

from analytics.changes.records import SideRate
from analytics.studies.changes_records import ChangeAnswer, StepAnswer
from analytics.studies.changes_words import STEP_NAMES
from dashboard import words_changes as words
from dashboard.charts import blank, egg_strength, escaped, row_label
from dashboard.look import Look

_ACROSS = 2
"""Small pictures in a row; two are still to be read on a telephone."""
_HEIGHT, _GAP, _TITLE = 215, 0.16, 0.07
_ASIDE = 0.05
_LEAST_SPAN = 0.12
_TICKS = (0.1, 0.25, 0.5, 1.0, 2.0, 4.0, 10.0)
_NARROWEST, _WIDEST = (0.4, 2.5), (0.08, 12.0)
_HOVER = (
    "<b>%{customdata[0]}</b><br>%{customdata[1]}: %{customdata[2]}<br>range %{customdata[3]}<extra></extra>"
)
_HOVER_ODDS = "<b>%{customdata[0]}</b><br>odds × %{customdata[1]}<extra></extra>"


def drawn(change: ChangeAnswer) -> list[StepAnswer]:
    """Steps with rates on both sides of what was changed and of what was not."""
    return [
        step for step in change.steps if all(side.rate is not None for side in step.effect.sides.in_order())
    ]


def slopes_figure(change: ChangeAnswer, look: Look) -> go.Figure:
    """One small picture a step: rates before and after, of what was changed and of what was not."""
    steps = drawn(change)
    rows = max(1, -(-len(steps) // _ACROSS))
    figure = blank(look, height=_HEIGHT * rows + 40)
    figure.update_layout(margin={"t": 10, "l": 52})
    span = max((_needed(step) for step in steps), default=_LEAST_SPAN)
    for place, step in enumerate(steps):
        _panel(figure, look, change, step, place, rows, span)
    return figure


def _ends(step: StepAnswer) -> list[float]:
    return [
        end
        for side in step.effect.sides.in_order()
        for end in (side.low, side.rate, side.high)
        if end is not None
    ]


def _needed(step: StepAnswer) -> float:
    ends = _ends(step)
    return max(_LEAST_SPAN, 1.12 * (max(ends) - min(ends)))


def _panel(
    figure: go.Figure, look: Look, change: ChangeAnswer, step: StepAnswer, place: int, rows: int, span: float
) -> None:
    left, right, bottom, top = _room(place, rows)
    number = "" if place == 0 else str(place + 1)
    ends = _ends(step)
    high = min(1.0, (max(ends) + min(ends) + span) / 2)
    ticks = {"color": look.faded, "size": 13}
    figure.update_layout({
        f"xaxis{number}": {
            "domain": [left, right], "anchor": f"y{number}", "range": [-0.3, 1.3], "tickvals": [0, 1],
            "ticktext": [words.BEFORE, words.AFTER], "tickfont": ticks,
            "showgrid": False, "zeroline": False, "showline": True, "linecolor": look.line,
            "fixedrange": True,
        },
        f"yaxis{number}": {
            "domain": [bottom, top], "anchor": f"x{number}", "range": [high - span, high + 0.01],
            "tickformat": ".0%", "nticks": 4, "tickfont": ticks, "gridcolor": look.line, "zeroline": False,
            "fixedrange": True,
        },
    })  # fmt: skip
    _date_mark(figure, look, change, step, number, (left, top))
    sides = step.effect.sides
    _slope(figure, look, step, (sides.controls_before, sides.controls_after), number, touched=False)
    _slope(figure, look, step, (sides.before, sides.after), number, touched=True)


def _room(place: int, rows: int) -> tuple[float, float, float, float]:
    """Left, right, bottom and top of a small picture, as shares of the whole."""
    column, row = place % _ACROSS, place // _ACROSS
    width = (1 - _GAP) / _ACROSS
    left = column * (width + _GAP)
    height = 1 / rows
    top = 1 - row * height - _TITLE * 3 / max(rows, 1) * 0.5
    return left, left + width, 1 - (row + 1) * height + 0.2 * height, top


def _date_mark(
    figure: go.Figure,
    look: Look,
    change: ChangeAnswer,
    step: StepAnswer,
    number: str,
    corner: tuple[float, float],
) -> None:
    """The title of a small picture, and the day as a dotted line in it."""
    figure.add_annotation(
        x=corner[0],
        y=corner[1],
        xref="paper",
        yref="paper",
        xanchor="left",
        yanchor="bottom",
        text=f"<b>{escaped(words.step_title(step))}</b>",
        showarrow=False,
        font={"size": 14, "color": look.ink},
    )
    figure.add_shape(
        type="line",
        x0=0.5,
        x1=0.5,
        y0=0,
        y1=1,
        xref=f"x{number}",
        yref=f"y{number} domain",
        line={"color": look.aim, "width": 1.3, "dash": "dot"},
        layer="below",
    )
    figure.add_annotation(
        x=0.5,
        y=0,
        xref=f"x{number}",
        yref=f"y{number} domain",
        yanchor="bottom",
        text=words.day(change),
        showarrow=False,
        bgcolor=look.paper,
        font={"size": 12, "color": look.aim},
    )


def _slope(
    figure: go.Figure,
    look: Look,
    step: StepAnswer,
    sides: tuple[SideRate, SideRate],
    number: str,
    *,
    touched: bool,
) -> None:
    colour, who = (look.accent, words.CHANGED) if touched else (look.faded, words.UNTOUCHED)
    aside = -_ASIDE if touched else _ASIDE
    axes = {"xaxis": f"x{number}", "yaxis": f"y{number}"}
    times = (words.BEFORE, words.AFTER)
    for x, side in enumerate(sides):
        figure.add_trace(
            go.Scatter(
                x=[x + aside] * 2,
                y=[side.low, side.high],
                mode="lines",
                name="range",
                line={"color": colour, "width": 2},
                opacity=egg_strength(side.eggs),
                hoverinfo="skip",
                **axes,
            )
        )
    figure.add_trace(
        go.Scatter(
            x=[x + aside for x in (0, 1)],
            y=[side.rate for side in sides],
            mode="lines+markers",
            name=who,
            line={"color": colour, "width": 2.5 if touched else 1.8, "dash": None if touched else "dash"},
            marker={
                "size": 10,
                "symbol": "circle" if touched else "square-open",
                "color": colour,
                "line": {"width": 1.5, "color": look.paper if touched else colour},
            },
            customdata=[words.said(step, side, who, when) for side, when in zip(sides, times, strict=True)],
            hovertemplate=_HOVER,
            **axes,
        )
    )


def with_odds(change: ChangeAnswer) -> list[StepAnswer]:
    """Steps with an odds ratio."""
    return [step for step in change.steps if step.effect.odds]


def odds_figure(steps: Sequence[StepAnswer], look: Look) -> go.Figure:
    """Odds ratios with ranges, a row a step, in the order of the ladder."""
    figure = blank(look, height=80 + 50 * max(len(steps), 1))
    figure.add_vline(x=1, line={"color": look.faded, "width": 1.3}, layer="below")
    for place, step in enumerate(steps):
        _odds(figure, look, step, len(steps) - 1 - place)
    figure.update_xaxes(**_odds_axis(look, steps))
    figure.update_yaxes(
        tickmode="array",
        tickvals=[len(steps) - 1 - place for place in range(len(steps))],
        ticktext=[row_label(STEP_NAMES[step.step], words.row_beneath(step), look) for step in steps],
        automargin=True,
        showgrid=False,
        zeroline=False,
        ticklen=0,
        range=[-0.6, len(steps) - 0.4],
        fixedrange=True,
    )
    return figure


def _odds(figure: go.Figure, look: Look, step: StepAnswer, height: int) -> None:
    odds = step.effect.odds
    if odds is None:
        return
    colour = {"worse": look.fewer[2], "better": look.more[2]}.get(step.verdict, look.faded)
    called = step.verdict in ("worse", "better")
    told = [[STEP_NAMES[step.step], words.odds_cell(step)]]
    figure.add_trace(
        go.Scatter(
            x=[odds.low, odds.high],
            y=[height] * 2,
            mode="lines",
            name="range",
            line={"color": colour, "width": 2.5},
            hoverinfo="skip",
        )
    )
    figure.add_trace(
        go.Scatter(
            x=[odds.ratio],
            y=[height],
            mode="markers",
            name="odds",
            marker={
                "size": 12,
                "symbol": "circle" if called else "circle-open",
                "color": colour,
                "line": {"width": 2, "color": colour},
            },
            customdata=told,
            hovertemplate=_HOVER_ODDS,
        )
    )


def _odds_axis(look: Look, steps: Sequence[StepAnswer]) -> dict[str, Any]:
    """A log axis that holds what is drawn, within reason."""
    ends = [
        end for step in steps if step.effect.odds for end in (step.effect.odds.low, step.effect.odds.high)
    ]
    low = max(min([*ends, _NARROWEST[0]]) * 0.9, _WIDEST[0])
    high = min(max([*ends, _NARROWEST[1]]) * 1.1, _WIDEST[1])
    return {
        "type": "log",
        "range": [log10(low), log10(high)],
        "tickmode": "array",
        "tickvals": list(_TICKS),
        "ticktext": [f"{tick:g}" for tick in _TICKS],
        "gridcolor": look.line,
        "zeroline": False,
        "tickfont": {"color": look.faded, "size": 14},
        "automargin": True,
        "fixedrange": True,
    }
