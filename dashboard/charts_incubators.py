"""Pictures of the machines: hours batch by batch, air day by day, displays check by check."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from typing import Any

import plotly.graph_objects as go

from analytics.reports.incubators_text import read as was_read
from analytics.store.climate import ClimateDay
from analytics.store.machines import Notable
from analytics.studies.incubators_records import BatchHour, Drift, Incubators, MachineAnswer, MachineTiming
from analytics.studies.temperatures import apart, on_scale, unit
from dashboard import words_incubators as words
from dashboard.charts import blank, escaped
from dashboard.look import Look

_ROW, _HEAD, _FOOT = 150, 30, 56
"""Height of one machine's row, above and beneath all of them."""
_GAP = 0.16
"""Part of a row that is left between two."""
_TICKS = 6
_ROOM = 1.5
_FEW_DAYS = 800
"""Days up to which each day's lowest and highest reading is drawn."""
_HOVER_BATCH = (
    "<b>%{customdata[0]}</b><br>%{customdata[1]}<br>%{customdata[2]}<br>%{customdata[3]}<extra></extra>"
)
_HOVER_CHECK = "<b>%{customdata[0]}</b><br>%{customdata[1]}<br>%{customdata[2]}<extra></extra>"
_HOVER_DAY = "<b>%{customdata}</b><br>%{y:.1f}%{meta}<extra></extra>"


def hours_figure(found: Incubators, look: Look) -> go.Figure:
    """One row a machine: each batch beside the hours at which the others hatch."""
    machines = with_hours(found)
    figure = _rows(look, [words.row_title(one) for one in machines])
    seen = [end for one in machines for timing in one.timings for end in _reach(timing)]
    low, high = min([*seen, -4.0]) - _ROOM, max([*seen, 4.0]) + _ROOM
    first = min(hour.set_on for one in machines for timing in one.timings for hour in timing.hours)
    last = max(hour.set_on for one in machines for timing in one.timings for hour in timing.hours)
    for place, one in enumerate(machines):
        _window(figure, look, one.timings[0], place)
        for drift in one.drift:
            if drift.what == "hours":
                _shade(figure, look, drift, place)
        for number, timing in enumerate(one.timings):
            _batches(figure, look, one.incubator, timing, place, number)
        figure.update_layout({_axis("yaxis", place): {"range": [low, high], "nticks": 5}})
    _time_axes(figure, look, len(machines), first.date(), last.date())
    return figure


def with_hours(found: Incubators) -> list[MachineAnswer]:
    """Machines with batches whose hours are known, as they stand in the answer."""
    return [one for one in found.machines if any(timing.hours for timing in one.timings)]


def _reach(timing: MachineTiming) -> list[float]:
    return [end for hour in timing.hours for end in (_low(hour), _high(hour))]


def _low(hour: BatchHour) -> float:
    return hour.later - (hour.median - hour.low)


def _high(hour: BatchHour) -> float:
    return hour.later + (hour.high - hour.median)


def _window(figure: go.Figure, look: Look, timing: MachineTiming, place: int) -> None:
    expected = timing.expected
    y, x = _axis("y", place), f"{_axis('x', place)} domain"
    if expected.early is not None and expected.late is not None:
        figure.add_shape(
            type="rect", xref=x, yref=y, x0=0, x1=1, y0=expected.early, y1=expected.late,
            fillcolor=look.band, opacity=0.45, line_width=0, layer="below",
        )  # fmt: skip
    _level(figure, look, place, 0.0)


def _shade(figure: go.Figure, look: Look, drift: Drift, place: int, room: int = 4) -> None:
    x, y = _axis("x", place), f"{_axis('y', place)} domain"
    start, end = drift.first_day - timedelta(days=room), drift.last_day + timedelta(days=room)
    figure.add_shape(
        type="rect", xref=x, yref=y, x0=start, x1=end, y0=0, y1=1, fillcolor=look.warning, opacity=0.13,
        line_width=0, layer="below",
    )  # fmt: skip
    figure.add_annotation(
        x=start + (end - start) / 2, y=1, xref=x, yref=y, yanchor="top", showarrow=False,
        text=f"<b>{words.drift_label(drift)}</b>", font={"size": 14, "color": look.warning},
    )  # fmt: skip


def _batches(
    figure: go.Figure, look: Look, machine: str, timing: MachineTiming, place: int, number: int
) -> None:
    if not timing.hours:
        return
    symbol = "circle" if number == 0 else "square"
    figure.add_trace(
        go.Scatter(
            x=[hour.set_on for hour in timing.hours],
            y=[hour.later for hour in timing.hours],
            error_y={
                "type": "data",
                "symmetric": False,
                "array": [hour.high - hour.median for hour in timing.hours],
                "arrayminus": [hour.median - hour.low for hour in timing.hours],
                "color": look.faded,
                "thickness": 1.2,
                "width": 0,
            },
            mode="markers",
            name=timing.species,
            xaxis=_axis("x", place),
            yaxis=_axis("y", place),
            marker={
                "size": 9,
                "symbol": [symbol if hour.hatcher == machine else f"{symbol}-open" for hour in timing.hours],
                "color": look.accent,
                "line": {"width": 1.5, "color": look.accent},
            },
            customdata=[[escaped(text) for text in words.batch_said(hour, timing)] for hour in timing.hours],
            hovertemplate=_HOVER_BATCH,
        )
    )


def air_figure(one: MachineAnswer, look: Look) -> go.Figure:
    """Temperature above, humidity beneath: daily means against limits, with what happened."""
    figure = _rows(look, [words.in_degrees(words.COL_AIR), words.COL_HUMIDITY + ", %"], row=200)
    days = one.climate.days
    for phase, colour in (("setter", look.ink), ("hatcher", look.accent)):
        own = [day for day in days if day.phase == phase]
        _heat(figure, look, own, colour)
        _damp(figure, own, colour)
    _limits(figure, look, one)
    for drift in one.drift:
        if drift.what == "temperature":
            _shade(figure, look, drift, 0, 0)
    for event in one.climate.events.notable:
        _event(figure, look, event)
    _time_axes(figure, look, 2, min(day.day for day in days), max(day.day for day in days))
    return figure


def _heat(figure: go.Figure, look: Look, days: Sequence[ClimateDay], colour: str) -> None:
    """Daily means, with a pale line from lowest to highest reading where the days are not too many."""
    known = [day for day in days if day.mean_c is not None]
    reach = {
        "type": "data",
        "symmetric": False,
        "array": [apart((day.most_c or 0.0) - (day.mean_c or 0.0)) for day in known],
        "arrayminus": [apart((day.mean_c or 0.0) - (day.least_c or 0.0)) for day in known],
        "color": look.line,
        "thickness": 1,
        "width": 0,
        "visible": len(known) <= _FEW_DAYS,
    }
    means = [on_scale(day.mean_c or 0.0) for day in known]
    figure.add_trace(_dots(known, means, colour, 0, f" {unit()}", reach))


def _damp(figure: go.Figure, days: Sequence[ClimateDay], colour: str) -> None:
    known = [day for day in days if day.mean_rh is not None]
    figure.add_trace(_dots(known, [day.mean_rh for day in known], colour, 1, " %", None))


def _dots(
    days: Sequence[ClimateDay],
    values: Sequence[float | None],
    colour: str,
    place: int,
    degrees: str,
    reach: dict[str, Any] | None,
) -> go.Scatter:
    return go.Scatter(
        x=[day.day for day in days],
        y=values,
        error_y=reach,
        mode="markers",
        marker={"size": 4, "color": colour},
        xaxis=_axis("x", place),
        yaxis=_axis("y", place),
        meta=degrees,
        customdata=[words.day(day.day) for day in days],
        hovertemplate=_HOVER_DAY,
    )


def _event(figure: go.Figure, look: Look, event: Notable) -> None:
    for place in (0, 1):
        figure.add_shape(
            type="line", xref=_axis("x", place), yref=f"{_axis('y', place)} domain", x0=event.at,
            x1=event.at, y0=0, y1=1, line={"color": look.warning, "width": 1.4, "dash": "dot"},
        )  # fmt: skip
    figure.add_annotation(
        x=event.at, y=1, xref="x", yref="y domain", yanchor="bottom", showarrow=False,
        text=words.event_name(event), font={"size": 13, "color": look.warning},
    )  # fmt: skip


def _limits(figure: go.Figure, look: Look, one: MachineAnswer) -> None:
    """Limits of the setter; of the hatcher where nothing was set."""
    read = [phase for phase in one.climate.phases if was_read(phase)]
    setter = [phase for phase in read if phase.hours.limits.phase == "setter"] or read
    if not setter:
        return
    limits = max(setter, key=lambda phase: phase.hours.hours).hours.limits
    for place, ends in ((0, _scaled(limits.low_c, limits.high_c)), (1, (limits.low_rh, limits.high_rh))):
        for end in ends:
            if end is not None:
                _level(figure, look, place, end)


def _scaled(*celsius: float | None) -> tuple[float | None, ...]:
    return tuple(None if one is None else on_scale(one) for one in celsius)


def _level(figure: go.Figure, look: Look, place: int, y: float) -> None:
    """A broken line along the whole row."""
    figure.add_shape(
        type="line", xref=f"{_axis('x', place)} domain", yref=_axis("y", place), x0=0, x1=1, y0=y, y1=y,
        line={"color": look.aim, "width": 1.5, "dash": "dash"}, layer="below",
    )  # fmt: skip


def display_figure(machines: Sequence[MachineAnswer], look: Look) -> go.Figure:
    """One row a machine that was checked: display less reference."""
    figure = _rows(look, [f"{one.incubator}, {unit()}" for one in machines], row=110)
    read = [words.readings(one) for one in machines]
    reach = apart(max([*(abs(off) for pairs in read for _, off in pairs), 0.4]) + 0.1)
    for place, (one, pairs) in enumerate(zip(machines, read, strict=True)):
        for drift in one.drift:
            if drift.what == "display":
                _shade(figure, look, drift, place, 10)
        figure.add_trace(
            go.Scatter(
                x=[check.at for check, _ in pairs],
                y=[apart(off) for _, off in pairs],
                mode="markers",
                marker={"size": 9, "color": look.accent},
                xaxis=_axis("x", place),
                yaxis=_axis("y", place),
                customdata=[words.check_said(check, off) for check, off in pairs],
                hovertemplate=_HOVER_CHECK,
            )
        )
        _level(figure, look, place, 0.0)
        figure.update_layout({_axis("yaxis", place): {"range": [-reach, reach], "nticks": 5}})
    days = [check.at.date() for pairs in read for check, _ in pairs]
    _time_axes(figure, look, len(machines), min(days), max(days))
    return figure


def _axis(letter: str, place: int) -> str:
    """The name of a row's axis: x, x2, x3; xaxis, xaxis2."""
    return letter if place == 0 else f"{letter}{place + 1}"


def _rows(look: Look, names: Sequence[str], row: int = _ROW) -> go.Figure:
    """An empty figure with a row for each name, the first on top, all along the same time."""
    figure = blank(look, height=_HEAD + row * len(names) + _FOOT)
    share = 1 / len(names)
    for place, name in enumerate(names):
        top = 1 - place * share
        bottom = top - share * (1 - _GAP)
        figure.update_layout({
            _axis("yaxis", place): {
                "domain": [max(bottom, 0.0), top - share * _GAP * 0.6],
                "anchor": _axis("x", place),
                "gridcolor": look.line,
                "zeroline": False,
                "tickfont": {"color": look.faded, "size": 14},
                "automargin": True,
                "fixedrange": True,
            },
        })  # fmt: skip
        figure.add_annotation(
            x=0, y=top - share * _GAP * 0.6, xref="paper", yref="paper", xanchor="left", yanchor="bottom",
            text=f"<b>{escaped(name)}</b>", showarrow=False, font={"size": 14, "color": look.ink},
        )  # fmt: skip
    figure.update_layout(margin_t=_HEAD)
    return figure


def _time_axes(figure: go.Figure, look: Look, rows: int, first: date, last: date) -> None:
    room = max((last - first) * 0.03, timedelta(days=2))
    months = _months(first, last)
    shown = months[:: max(1, -(-len(months) // _TICKS))]
    for place in range(rows):
        lowest = place == rows - 1
        axis: dict[str, Any] = {
            "anchor": _axis("y", place),
            "range": [first - room, last + room],
            "showgrid": False,
            "zeroline": False,
            "showline": True,
            "linecolor": look.line,
            "ticks": "outside" if lowest else "",
            "tickcolor": look.line,
            "tickmode": "array",
            "tickvals": shown,
            "ticktext": [words.month_tick(datetime.combine(one, time())) for one in shown],
            "showticklabels": lowest,
            "tickfont": {"color": look.faded, "size": 14},
            "automargin": True,
            "fixedrange": True,
        }
        figure.update_layout({_axis("xaxis", place): axis})


def _months(first: date, last: date) -> list[date]:
    """First days of the months from one day to another; both days where there is none between."""
    found = []
    when = first.replace(day=1)
    while when <= last:
        if when >= first:
            found.append(when)
        when = (when.replace(day=28) + timedelta(days=4)).replace(day=1)
    return found or [first]
