"""Pictures of one batch: where its eggs went, and when it hatched beside the hours expected."""

from __future__ import annotations

from collections.abc import Sequence

import plotly.graph_objects as go

from analytics.reference.hatch_shifts import HOURS_A_DAY
from analytics.studies.batch_eggs import CHICKS, UNTOLD
from analytics.studies.batch_records import BatchFate, BatchHours, BatchSpecies
from analytics.studies.wording import percent_range
from dashboard import words_batch
from dashboard.charts import blank, row_label
from dashboard.look import Look

_BAR = 0.5
_HOVER = "<b>%{customdata[0]}</b><br>%{customdata[1]}<extra></extra>"


def eggs_figure(species: BatchSpecies, look: Look) -> go.Figure:
    """A bar of eggs for everything that became of them, with its range; chicks on top."""
    fates = species.fates
    figure = blank(look, height=70 + 50 * len(fates))
    for place, fate in enumerate(fates):
        _fate_bar(figure, look, fate, len(fates) - 1 - place)
    most = max((fate.share.interval.high * fate.share.eggs for fate in fates), default=1.0)
    figure.update_xaxes(
        range=[0, most * 1.04],
        tickformat=",d",
        nticks=6,
        gridcolor=look.line,
        zeroline=False,
        tickfont={"color": look.faded, "size": 14},
        automargin=True,
        fixedrange=True,
    )
    _rows(
        figure,
        [row_label(words_batch.SHORT[fate.fate], words_batch.fate_beneath(fate), look) for fate in fates],
    )
    return figure


def _fate_bar(figure: go.Figure, look: Look, fate: BatchFate, height: int) -> None:
    colour = (look.more if fate.fate in CHICKS else look.fewer)[1]
    is_told = fate.fate not in UNTOLD
    share = fate.share
    said = [fate.name, f"{words_batch.fate_beneath(fate)} of set (range {percent_range(share.interval)})"]
    figure.add_trace(
        go.Bar(
            x=[share.count],
            y=[height],
            width=_BAR,
            orientation="h",
            name=fate.fate,
            marker={"color": colour if is_told else look.paper, "line": {"width": 2, "color": colour}},
            customdata=[said],
            hovertemplate=_HOVER,
        )
    )
    figure.add_trace(
        go.Scatter(
            x=[share.interval.low * share.eggs, share.interval.high * share.eggs],
            y=[height - 0.36] * 2,
            mode="lines+markers",
            name="range",
            line={"color": look.ink, "width": 1.6},
            marker={"symbol": "line-ns", "size": 8, "line": {"width": 1.6, "color": look.ink}},
            customdata=[said] * 2,
            hovertemplate=_HOVER,
        )
    )


def hours_figure(hours: BatchHours, look: Look) -> go.Figure:
    """Days from setting: the published window, and this hatch from its first chick to the last."""
    figure = blank(look, height=170 if hours.window else 120)
    rows = [words_batch.PUBLISHED_ROW, *([words_batch.THIS_ROW] if hours.window else [])]
    if hours.expected:
        _band(figure, look.band, (hours.expected.begin, hours.expected.end), len(rows) - 1, 26)
        _band(figure, look.more[1], (hours.expected.bulk_from, hours.expected.bulk_to), len(rows) - 1, 14)
    if hours.window:
        _hatch(figure, look, hours)
    figure.update_xaxes(
        title={"text": words_batch.DAYS_AXIS, "font": {"size": 14, "color": look.faded}},
        nticks=8,
        gridcolor=look.line,
        zeroline=False,
        tickfont={"color": look.faded, "size": 14},
        automargin=True,
        fixedrange=True,
    )
    _rows(figure, [f"{row}" for row in rows])
    return figure


def _band(figure: go.Figure, colour: str, ends: tuple[float, float], height: int, width: int) -> None:
    said = [words_batch.PUBLISHED_ROW, words_batch.between_hours(*ends)]
    figure.add_trace(
        go.Scatter(
            x=[end / HOURS_A_DAY for end in ends],
            y=[height] * 2,
            mode="lines",
            name="published",
            line={"color": colour, "width": width},
            customdata=[said] * 2,
            hovertemplate=_HOVER,
        )
    )


def _hatch(figure: go.Figure, look: Look, hours: BatchHours) -> None:
    assert hours.window
    window = hours.window
    said = [words_batch.THIS_ROW, words_batch.hatch_hours(window)]
    figure.add_trace(
        go.Scatter(
            x=[hour / HOURS_A_DAY for hour in (window.first, window.median, window.last)],
            y=[0, 0, 0],
            mode="lines+markers",
            name="this hatch",
            line={"color": look.ink, "width": 2.5},
            marker={
                "symbol": ["line-ns", "circle", "line-ns"],
                "size": [12, 13, 12],
                "color": look.accent,
                "line": {"width": 2, "color": look.ink},
            },
            customdata=[said] * 3,
            hovertemplate=_HOVER,
        )
    )


def _rows(figure: go.Figure, labels: Sequence[str]) -> None:
    """Names of the rows, the first on top."""
    figure.update_yaxes(
        tickmode="array",
        tickvals=list(range(len(labels) - 1, -1, -1)),
        ticktext=list(labels),
        automargin=True,
        showgrid=False,
        zeroline=False,
        ticks="outside",
        ticklen=6,
        tickcolor="rgba(0,0,0,0)",
        range=[-0.6, len(labels) - 0.4],
        fixedrange=True,
    )
