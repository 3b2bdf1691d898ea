"""The picture of breeders: own rates with ranges, the one to look at first on top."""

from __future__ import annotations

from collections.abc import Mapping

import plotly.graph_objects as go

from analytics.studies.breeders_records import BreederRow, BreedersAnswer
from analytics.studies.wording import percent
from dashboard import words_breeders as words
from dashboard.charts import blank, egg_strength, escaped, row_label
from dashboard.charts_axes import share_axis
from dashboard.look import Look, pen_colour

_SHAPES = {"replace": "x", "watch": "circle-open", "keep": "circle", "too_few_eggs": "square"}
_CROWDED = 14
_HOVER = (
    "<b>%{customdata[0]}</b><br>%{customdata[1]} of set (%{customdata[2]})<br>%{customdata[3]}<extra></extra>"
)


def ranked_figure(answer: BreedersAnswer, look: Look, places: Mapping[str, int]) -> go.Figure:
    """Own rates with ranges.

    Args:
        answer: of one species.
        look: colours.
        places: label -> how many were entered before it, so that it keeps its colour.
    """
    rows = answer.rows
    figure = blank(look, height=90 + (34 if len(rows) > _CROWDED else 46) * len(rows))
    figure.add_vline(
        x=answer.typical, line={"color": look.faded, "width": 1.5, "dash": "dash"}, layer="below"
    )
    for at, row in enumerate(rows):
        _draw(figure, look, row, len(rows) - 1 - at, places.get(row.standing.name, at))
    ends = [end for row in rows for end in (row.standing.low, row.standing.high)]
    figure.update_xaxes(**share_axis(look, ends))
    figure.update_yaxes(
        tickmode="array",
        tickvals=list(range(len(rows))),
        ticktext=[row_label(row.standing.name, words.beneath(row), look) for row in reversed(rows)],
        automargin=True,
        showgrid=False,
        zeroline=False,
        ticklen=0,
        range=[-0.7, len(rows) - 0.4],
        fixedrange=True,
    )
    return figure


def _draw(figure: go.Figure, look: Look, row: BreederRow, height: int, place: int) -> None:
    one, colour = row.standing, pen_colour(look, place)
    strength = egg_strength(one.eggs)
    figure.add_trace(
        go.Scatter(
            x=[one.low, one.high],
            y=[height, height],
            mode="lines",
            line={"color": colour, "width": 2.5},
            opacity=strength,
            hoverinfo="skip",
        )
    )
    marker = {"symbol": _SHAPES[one.advice], "color": colour, "size": 8 + 6 * strength}
    said = [
        escaped(one.name),
        f"{percent(one.rate)} %",
        f"{percent(one.low)} to {percent(one.high)} %",
        words.advice(row),
    ]
    figure.add_trace(
        go.Scatter(
            x=[one.rate],
            y=[height],
            mode="markers",
            name=one.name,
            marker={**marker, "line": {"width": 2, "color": colour}},
            customdata=[said],
            hovertemplate=_HOVER,
        )
    )
