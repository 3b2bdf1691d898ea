"""Records to pictures: every figure shows the record's own numbers, nothing is worked out here but places.

A figure is complete in itself (colours, letters, margins), so that it looks the same on every page.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Any

import plotly.graph_objects as go

from analytics.studies.records import PenMonth, SpeciesMonth
from analytics.values import Month, Rate, label_order
from dashboard import words
from dashboard.charts_axes import share_axis_from_nothing
from dashboard.look import LETTERS, Look, pen_colour, pen_symbol

CONFIG: dict[str, Any] = {
    "displaylogo": False,
    "displayModeBar": False,
    "scrollZoom": False,
    "doubleClick": False,
    "showTips": False,
    "topojsonURL": "",
    "plotlyServerURL": "",
}
"""How the picture behaves in the browser: it is looked at, not played with, and calls nobody."""
_FULL = 100
"""Eggs from which a pen's interval is drawn with full strength."""
_LONGEST_LABEL = 18
_MORE_IS_BETTER = frozenset({"fertility", "hatch_of_set", "saleable_of_set", "hatch_of_fertile"})
_HALF_MONTH = timedelta(days=20)


def months_of(species: SpeciesMonth, month: Month, measure: str) -> list[tuple[Month, Rate]]:
    """The twelve months before and the month asked about, where there is a rate or at least a range."""
    every = (*species.months_before, (month, species.rates))
    return [(when, rates[measure]) for when, rates in every if _is_drawn(rates.get(measure))]


def pens_in_order(species: SpeciesMonth, measure: str) -> list[PenMonth]:
    """Pens with a rate or a range, highest first; the others are left to the table."""
    drawn = [pen for pen in species.pens if _is_drawn(pen.rates.get(measure))]
    return sorted(drawn, key=lambda pen: (-_middle(pen.rates[measure]), label_order(pen.pen)))


def _is_drawn(rate: Rate | None) -> bool:
    return rate is not None and (rate.value is not None or rate.interval is not None)


def _middle(rate: Rate) -> float:
    """Where a rate stands in the order: its value, else the middle of its range."""
    if rate.value is not None:
        return rate.value
    return (rate.interval.low + rate.interval.high) / 2 if rate.interval else 0.0


def months_figure(species: SpeciesMonth, month: Month, measure: str, look: Look) -> go.Figure:
    """The rate month by month, with ranges; the month asked about stands out."""
    points = months_of(species, month, measure)
    figure = blank(look, height=320)
    for when, rate in points:
        colour = look.accent if when == month else look.faded
        draw_range(figure, colour, rate, words.month_name(when), upright=_first(when), strength=1.0)
    _month_dots(figure, look, month, measure, [point for point in points if point[1].value is not None])
    _aim(figure, look, species.targets.get(measure), upright=True)
    figure.update_yaxes(**_share_axis(look, measure, [rate for _, rate in points]))
    figure.update_xaxes(**_month_axis(look, month))
    return figure


def _month_dots(
    figure: go.Figure, look: Look, month: Month, measure: str, points: Sequence[tuple[Month, Rate]]
) -> None:
    if not points:
        return
    figure.add_trace(
        go.Scatter(
            x=[_first(when) for when, _ in points],
            y=[rate.value for _, rate in points],
            mode="markers",
            name=words.measure_name(measure),
            marker={
                "size": [13 if when == month else 8 for when, _ in points],
                "color": [look.accent if when == month else look.faded for when, _ in points],
                "opacity": 1,
                "line": {"width": 1.5, "color": look.paper},
            },
            customdata=[hover(words.month_name(when), rate) for when, rate in points],
            hovertemplate=HOVER,
        )
    )


def pens_figure(
    species: SpeciesMonth,
    measure: str,
    look: Look,
    places: Mapping[str, int],
    against: Month | None = None,
) -> go.Figure:
    """Pens of the month with ranges and their eggs, highest on top.

    Args:
        species: the record.
        measure: which rate.
        look: colours.
        places: pen label -> how many pens were entered before it, so that it keeps its colour.
        against: the month that each pen is set beside; None = its twelve months before.
    """
    pens = pens_in_order(species, measure)
    figure = blank(look, height=90 + 46 * max(len(pens), 1))
    for pen in pens:
        place, rate = places.get(pen.pen, 0), pen.rates[measure]
        colour, strength = pen_colour(look, place), egg_strength(rate.eggs_set)
        _pen_before(figure, look, pen, measure, against)
        draw_range(figure, colour, rate, pen.pen, along=pen.pen, strength=strength)
        _pen_dot(figure, look, pen, rate, place)
    _aim(figure, look, species.targets.get(measure), upright=False)
    figure.update_xaxes(**_share_axis(look, measure, [pen.rates[measure] for pen in pens]))
    figure.update_yaxes(
        type="category",
        categoryorder="array",
        categoryarray=[pen.pen for pen in reversed(pens)],
        tickmode="array",
        tickvals=[pen.pen for pen in pens],
        ticktext=[_pen_label(pen, measure, look) for pen in pens],
        automargin=True,
        showgrid=False,
        ticklen=0,
        range=[-0.6, len(pens) - 0.4],
    )
    return figure


def egg_strength(eggs: float) -> float:
    """How strongly an interval is drawn, 0.35..1: few eggs are pale."""
    share = min(max(eggs, 0.0) / _FULL, 1.0)
    return 0.35 + 0.65 * share**0.5


HOVER = (
    "<b>%{customdata[0]}</b><br>%{customdata[1]} %{customdata[2]} (%{customdata[3]})"
    "<br>range %{customdata[4]}<extra></extra>"
)


HOVER_RANGE = (
    "<b>%{customdata[0]}</b><br>only a range is known:<br>%{customdata[1]} %{customdata[2]}<extra></extra>"
)


def hover(name: str, rate: Rate) -> list[str]:
    """What `HOVER` shows of a rate."""
    return [escaped(name), words.percent(rate.value), rate.base, words.counts(rate), words.range_of(rate)]


def blank(look: Look, height: int) -> go.Figure:
    """A figure with nothing in it yet, in our colours and letters."""
    return go.Figure(
        layout={
            "height": height,
            "margin": {"l": 8, "r": 20, "t": 26, "b": 8},
            "paper_bgcolor": "rgba(0,0,0,0)",
            "plot_bgcolor": "rgba(0,0,0,0)",
            "font": {"family": LETTERS, "size": 15, "color": look.ink},
            "showlegend": False,
            "hovermode": "closest",
            "dragmode": False,
            "hoverlabel": {
                "bgcolor": look.card,
                "bordercolor": look.line,
                "font": {"family": LETTERS, "size": 15, "color": look.ink},
                "align": "left",
            },
        }
    )


def _first(month: Month) -> date:
    return date(month.year, month.month, 1)


def draw_range(
    figure: go.Figure,
    colour: str,
    rate: Rate,
    name: str,
    *,
    upright: date | None = None,
    along: str | float | None = None,
    strength: float,
) -> None:
    """Draws the pale bar of what is open and the line of the range, upright or along a row."""
    said = [[escaped(name), words.range_of(rate), rate.base]] * 2 if rate.value is None else None
    for kind, interval, width, opacity in (
        ("possible", rate.possible, 16 - 6 * strength, 0.22),
        ("interval", rate.interval, 2.5, strength),
    ):
        if interval is None or (kind == "possible" and interval.low == interval.high):
            continue
        ends = [interval.low, interval.high]
        figure.add_trace(
            go.Scatter(
                x=ends if upright is None else [upright] * 2,
                y=[along] * 2 if upright is None else ends,
                mode="lines",
                name=kind,
                line={"color": colour, "width": width},
                opacity=opacity,
                customdata=said,
                hovertemplate=HOVER_RANGE if said else None,
                hoverinfo=None if said else "skip",
            )
        )


def _pen_before(figure: go.Figure, look: Look, pen: PenMonth, measure: str, against: Month | None) -> None:
    before = (pen.against if against else pen.before).get(measure)
    if before is None or before.value is None:
        return
    figure.add_trace(
        go.Scatter(
            x=[before.value],
            y=[pen.pen],
            mode="markers",
            name="before",
            marker={"size": 9, "symbol": "circle-open", "color": look.faded, "line": {"width": 1.5}},
            customdata=[
                hover(f"{pen.pen}, {words.month_name(against) if against else words.TWELVE_BEFORE}", before)
            ],
            hovertemplate=HOVER,
        )
    )


def _pen_dot(figure: go.Figure, look: Look, pen: PenMonth, rate: Rate, place: int) -> None:
    if rate.value is None:
        return
    figure.add_trace(
        go.Scatter(
            x=[rate.value],
            y=[pen.pen],
            mode="markers",
            name=pen.pen,
            marker={
                "size": 5 + 8 * egg_strength(rate.eggs_set),
                "symbol": pen_symbol(place),
                "color": pen_colour(look, place),
                "line": {"width": 1.5, "color": look.paper},
            },
            customdata=[hover(pen.pen, rate)],
            hovertemplate=HOVER,
        )
    )


def _pen_label(pen: PenMonth, measure: str, look: Look) -> str:
    return row_label(pen.pen, words.eggs(pen.rates[measure].eggs_set), look)


def row_label(name: str, beneath: str, look: Look) -> str:
    """The label of a row: a name, cut where it is long, and what stands beneath it."""
    label = name if len(name) <= _LONGEST_LABEL else name[: _LONGEST_LABEL - 1] + "…"
    return f"{escaped(label)}<br><span style='font-size:13px;color:{look.faded}'>{beneath}</span>"


def escaped(text: str) -> str:
    """A label as the picture's text reads it: no mark-up of the breeder's is taken as such."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _aim(figure: go.Figure, look: Look, target: float | None, *, upright: bool) -> None:
    if target is None:
        return
    line = {"color": look.aim, "width": 1.5, "dash": "dash"}
    label = f"{words.AIM} {words.percent(target)}"
    note = {"text": label, "showarrow": False, "font": {"size": 13, "color": look.aim}}
    if upright:
        figure.add_hline(y=target, line=line, layer="below")
    else:
        figure.add_vline(x=target, line=line, layer="below")
        figure.add_annotation(x=target, y=1, yref="paper", yanchor="bottom", xanchor="center", **note)


def _share_axis(look: Look, measure: str, rates: Sequence[Rate]) -> dict[str, Any]:
    """0 to 100 % where more is better; where less is, up to what is drawn."""
    highest = max((rate.interval.high for rate in rates if rate.interval), default=1.0)
    top = 1.0 if measure in _MORE_IS_BETTER else min(1.0, max(0.1, highest * 1.1))
    return share_axis_from_nothing(look, top)


def _month_axis(look: Look, month: Month) -> dict[str, Any]:
    start, end = _first(month.back(12)) - _HALF_MONTH, _first(month) + _HALF_MONTH
    shown = [month.back(back) for back in (12, 9, 6, 3, 0)]
    return {
        "range": [start.isoformat(), end.isoformat()],
        "tickmode": "array",
        "tickvals": [_first(when) for when in shown],
        "ticktext": [f"{words.MONTHS[when.month - 1]}<br>{when.year}" for when in shown],
        "showgrid": False,
        "ticks": "outside",
        "tickcolor": look.line,
        "linecolor": look.line,
        "showline": True,
        "tickfont": {"color": look.faded, "size": 14},
        "automargin": True,
        "fixedrange": True,
    }
