"""Pictures of pen against pen: rates in order, and rates against eggs between the limits of chance."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

import plotly.graph_objects as go

from analytics.studies.pen_funnel import FunnelLimits, FunnelPoint, PenFunnel
from analytics.studies.pen_records import PenRow
from analytics.values import label_order
from dashboard import words_pens as words
from dashboard.charts import HOVER, blank, draw_range, egg_strength, escaped, hover, row_label
from dashboard.charts_axes import share_axis
from dashboard.look import SYMBOL_LETTERS, Look, pen_colour, pen_symbol

_BENEATH = 0.24
"""How far below its row the best guess stands."""
_CROWDED = 14
"""Rows from which they are set closer."""
_HOVER_POINT = (
    "<b>%{customdata[0]}</b><br>%{customdata[1]} %{customdata[2]}<br>%{customdata[3]}<extra></extra>"
)


def rows_in_order(rows: Sequence[PenRow]) -> list[PenRow]:
    """Rows with a rate or a range, highest first; the others are left to the table."""
    drawn = [row for row in rows if _middle(row) is not None]
    return sorted(drawn, key=lambda row: (-(_middle(row) or 0.0), label_order(row.pen)))


def _middle(row: PenRow) -> float | None:
    if row.rate.value is not None:
        return row.rate.value
    span = row.rate.possible or row.rate.interval
    return (span.low + span.high) / 2 if span else None


def ranked_figure(
    rows: Sequence[PenRow],
    named: Collection[str],
    common: tuple[float, float] | None,
    look: Look,
    places: Mapping[str, int],
) -> go.Figure:
    """Rates with ranges, highest on top; beneath each the best guess.

    Args:
        rows: of one species.
        named: labels of those that stand out.
        common: rate of all together, twice or as two ends.
        look: colours.
        places: label -> how many were entered before it, so that it keeps its colour.
    """
    ordered = rows_in_order(rows)
    height = 34 if len(ordered) > _CROWDED else 46
    figure = blank(look, height=90 + height * max(len(ordered), 1))
    heights = {row.pen: len(ordered) - 1 - place for place, row in enumerate(ordered)}
    for row in ordered:
        if row.pen in named:
            _shade(figure, look, heights[row.pen])
        _draw_row(figure, look, row, heights[row.pen], places.get(row.pen, 0))
    if common and ordered:
        _common_upright(figure, look, common)
    figure.update_xaxes(**share_axis(look, [end for row in ordered for end in _ends(row)]))
    figure.update_yaxes(
        tickmode="array",
        tickvals=[heights[row.pen] for row in ordered],
        ticktext=[
            row_label(row.pen, words.row_beneath(row, stands_out=row.pen in named), look) for row in ordered
        ],
        automargin=True,
        showgrid=False,
        zeroline=False,
        ticklen=0,
        range=[-0.7, len(ordered) - 0.4],
        fixedrange=True,
    )
    return figure


def _draw_row(figure: go.Figure, look: Look, row: PenRow, height: int, place: int) -> None:
    colour, strength = pen_colour(look, place), egg_strength(row.eggs or 0)
    draw_range(figure, colour, row.rate, row.pen, along=height, strength=strength)
    if row.shrunk:
        _ring(figure, look, row, height)
    if row.rate.value is None:
        return
    figure.add_trace(
        go.Scatter(
            x=[row.rate.value],
            y=[height],
            mode="markers",
            name=row.pen,
            marker={
                "size": 5 + 8 * strength,
                "symbol": pen_symbol(place),
                "color": colour,
                "line": {"width": 1.5, "color": look.paper},
            },
            customdata=[hover(row.pen, row.rate)],
            hovertemplate=HOVER,
        )
    )


def _ring(figure: go.Figure, look: Look, row: PenRow, height: int) -> None:
    assert row.shrunk
    figure.add_trace(
        go.Scatter(
            x=[row.shrunk.rate],
            y=[height - _BENEATH],
            mode="markers",
            name="best guess",
            marker={"size": 7, "symbol": "circle-open", "color": look.ink, "line": {"width": 1.4}},
            customdata=[[escaped(row.pen), words.COL_GUESS, words.best_guess(row.shrunk), ""]],
            hovertemplate=_HOVER_POINT,
        )
    )


def _shade(figure: go.Figure, look: Look, height: int) -> None:
    figure.add_shape(
        type="rect",
        xref="paper",
        x0=0,
        x1=1,
        y0=height - 0.48,
        y1=height + 0.48,
        fillcolor=look.card,
        line_width=0,
        layer="below",
    )


def _common_upright(figure: go.Figure, look: Look, common: tuple[float, float]) -> None:
    low, high = common
    if low == high:
        figure.add_vline(x=low, line={"color": look.faded, "width": 1.2, "dash": "dot"}, layer="below")
    else:
        figure.add_vrect(x0=low, x1=high, fillcolor=look.band, opacity=0.6, line_width=0, layer="below")
    figure.add_annotation(
        x=(low + high) / 2,
        y=1,
        yref="paper",
        yanchor="bottom",
        text=words.together(common),
        showarrow=False,
        font={"size": 13, "color": look.faded},
    )


def _ends(row: PenRow) -> list[float]:
    spans = [span for span in (row.rate.interval, row.rate.possible, row.shrunk) if span]
    return [end for span in spans for end in (span.low, span.high)] + [
        value for value in (row.rate.value,) if value is not None
    ]


def funnel_figure(
    funnel: PenFunnel, named: Collection[str], look: Look, places: Mapping[str, int]
) -> go.Figure:
    """Rates against eggs, between the limits of chance about the common rate.

    Args:
        funnel: the record.
        named: labels of those that stand out, written beside their marks as those outside the limits are.
        look: colours.
        places: label -> how many were entered before it.
    """
    figure = blank(look, height=430)
    inner, *outer = funnel.limits
    _limits(figure, look, funnel, inner, "dash", fill=True)
    for limits in outer:
        _limits(figure, look, funnel, limits, "dot", fill=False)
    _common_across(figure, look, funnel)
    for point in funnel.points:
        _draw_point(figure, look, point, named, places.get(point.pen, 0))
    figure.update_yaxes(**share_axis(look, _seen(funnel)))
    figure.update_xaxes(
        range=[0, funnel.eggs[-1]],
        title={"text": words.COL_EGGS, "font": {"size": 14, "color": look.faded}},
        tickformat=",d",
        nticks=6,
        showgrid=False,
        ticks="outside",
        tickcolor=look.line,
        linecolor=look.line,
        showline=True,
        zeroline=False,
        tickfont={"color": look.faded, "size": 14},
        automargin=True,
        fixedrange=True,
    )
    figure.update_layout(margin_r=58)
    return figure


def _limits(
    figure: go.Figure, look: Look, funnel: PenFunnel, limits: FunnelLimits, dash: str, *, fill: bool
) -> None:
    for name, ends, filled in (("lower", limits.low, None), ("upper", limits.high, "tonexty")):
        figure.add_trace(
            go.Scatter(
                x=funnel.eggs,
                y=ends,
                mode="lines",
                name=f"{name} {words.level_words(limits.level)}",
                line={"color": look.faded, "width": 1.3, "dash": dash},
                fill=filled if fill else None,
                fillcolor=look.card,
                hoverinfo="skip",
            )
        )
        figure.add_annotation(
            x=funnel.eggs[-1],
            y=ends[-1],
            text=words.level_words(limits.level),
            xanchor="left",
            yanchor="middle",
            xshift=5,
            showarrow=False,
            font={"size": 13, "color": look.faded},
        )


def _common_across(figure: go.Figure, look: Look, funnel: PenFunnel) -> None:
    for name, end, filled in (
        ("together", funnel.common[0], None),
        ("together", funnel.common[1], "tonexty"),
    ):
        figure.add_trace(
            go.Scatter(
                x=[0, funnel.eggs[-1]],
                y=[end, end],
                mode="lines",
                name=name,
                line={"color": look.faded, "width": 1.2 if funnel.common[0] == funnel.common[1] else 0},
                fill=filled,
                fillcolor=look.band,
                hoverinfo="skip",
            )
        )


def _draw_point(
    figure: go.Figure, look: Look, point: FunnelPoint, named: Collection[str], place: int
) -> None:
    colour = pen_colour(look, place)
    said = [escaped(point.pen), words.point_rate(point), f"of {point.eggs:,.0f}", words.limits_words(point)]
    is_open = point.low != point.high
    written = point.beyond is not None or point.pen in named
    figure.add_trace(
        go.Scatter(
            x=[point.eggs] * (2 if is_open else 1),
            y=[point.low, point.high] if is_open else [point.low],
            mode=("lines+markers" if is_open else "markers") + ("+text" if written else ""),
            name=point.pen,
            line={"color": colour, "width": 4},
            marker={
                "size": 8 if is_open else 11,
                "symbol": pen_symbol(place),
                "color": colour,
                "line": {"width": 1.5, "color": look.paper},
            },
            text=[escaped(point.pen), ""],
            textposition="bottom center" if point.below or is_open else "top center",
            textfont={"size": 14, "color": look.ink},
            cliponaxis=False,
            customdata=[said] * 2,
            hovertemplate=_HOVER_POINT,
        )
    )


def mark_of(point: FunnelPoint, look: Look, places: Mapping[str, int]) -> tuple[str, str, str]:
    """The mark of a pen as a letter, its colour, and what it is: for the key beneath the picture."""
    place = places.get(point.pen, 0)
    return SYMBOL_LETTERS[pen_symbol(place)], pen_colour(look, place), words.mark_words(point)


def _seen(funnel: PenFunnel) -> list[float]:
    """Ends of the marks, and of the limits from the mark with the fewest eggs on."""
    fewest = min(point.eggs for point in funnel.points)
    from_there = [place for place, eggs in enumerate(funnel.eggs) if eggs >= fewest]
    ends = [
        end
        for limits in funnel.limits
        for place in from_there
        for end in (limits.low[place], limits.high[place])
    ]
    return ends + [end for point in funnel.points for end in (point.low, point.high)]
