"""Pictures of losses: where the eggs went, and whose loss it was, adding up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import plotly.graph_objects as go

from analytics.attribution.ledger import LedgerLine, StepLine
from analytics.studies.causes_records import CausesAnswer
from dashboard import words_losses as words
from dashboard.charts import blank, row_label
from dashboard.look import Look

_HOVER = "<b>%{customdata[0]}</b><br>%{customdata[1]}<extra></extra>"
_BAR, _SLIM = 0.52, 0.38
_ABOVE, _BENEATH = 0.1, 0.26
"""How far above and below the middle of its row a part and its range stand."""


@dataclass(frozen=True, slots=True)
class Bar:
    """A group's part where it stands on the way to the shortfall.

    Attributes:
        line: the part.
        start: chicks of the groups before it.
    """

    line: LedgerLine
    start: float

    @property
    def end(self) -> float:
        """Chicks of the groups up to it."""
        return self.start + self.line.eggs


def adding_up(groups: Sequence[LedgerLine]) -> list[Bar]:
    """Every group begins where the one before it ended."""
    bars, start = [], 0.0
    for line in groups:
        bars.append(Bar(line, start))
        start += line.eggs
    return bars


def steps_figure(steps: Sequence[StepLine], look: Look) -> go.Figure:
    """Eggs lost in every step, with a line where typical trays would have come to."""
    figure = blank(look, height=70 + 58 * len(steps))
    for height, step in _downwards(steps):
        _step_bar(figure, look, step, height)
    figure.update_xaxes(**_eggs_axis(look, [0.0, *(max(one.lost, one.expected_lost) for one in steps)]))
    _name_rows(
        figure,
        [
            (height, row_label(words.STEP_LOST[step.step], words.of_entering(step), look))
            for height, step in _downwards(steps)
        ],
    )
    return figure


def _step_bar(figure: go.Figure, look: Look, step: StepLine, height: int) -> None:
    said = [words.STEP_LOST[step.step], words.step_words(step)]
    figure.add_trace(
        go.Bar(
            x=[step.lost],
            y=[height],
            width=_BAR,
            orientation="h",
            name=step.step,
            marker={"color": look.fewer[1], "line": {"width": 0}},
            customdata=[said],
            hovertemplate=_HOVER,
        )
    )
    figure.add_trace(
        go.Scatter(
            x=[step.expected_lost] * 2,
            y=[height - 0.42, height + 0.42],
            mode="lines",
            name="expected",
            line={"color": look.ink, "width": 3},
            customdata=[said] * 2,
            hovertemplate=_HOVER,
        )
    )


def shares_figure(answer: CausesAnswer, look: Look) -> go.Figure:
    """The parts of the shortfall one after the other, with their ranges; what they come to stands beneath."""
    bars = adding_up(answer.groups)
    figure = blank(look, height=100 + 54 * (len(bars) + 1))
    rows = _downwards([*bars, None])
    for height, bar in rows:
        if bar is not None:
            _share_bar(figure, look, bar, height)
    _whole_bar(figure, look, answer.shortfall)
    ends = [end for bar in bars for end in (bar.start + bar.line.low, bar.start + bar.line.high, bar.end)]
    figure.update_xaxes(**_eggs_axis(look, [0.0, answer.shortfall, *ends]))
    figure.update_layout(barmode="overlay")
    figure.add_vline(x=0, line={"color": look.faded, "width": 1.2}, layer="below")
    _name_rows(
        figure,
        [(height, _share_label(bar.line, look)) for height, bar in rows if bar is not None]
        + [(0, row_label(words.WHOLE, words.chicks(answer.shortfall), look))],
    )
    return figure


def _share_label(line: LedgerLine, look: Look) -> str:
    return row_label(words.GROUPS[line.group], words.with_range(line), look)


def _share_bar(figure: go.Figure, look: Look, bar: Bar, height: int) -> None:
    lost = bar.line.eggs >= 0
    colour = (look.fewer if lost else look.more)[1]
    said = [words.GROUPS[bar.line.group], words.line_words(bar.line)]
    figure.add_trace(
        go.Bar(
            x=[bar.line.eggs],
            base=[bar.start],
            y=[height + _ABOVE],
            width=_SLIM,
            orientation="h",
            name=bar.line.group,
            marker={"color": colour if lost else look.paper, "line": {"width": 2, "color": colour}},
            customdata=[said],
            hovertemplate=_HOVER,
        )
    )
    _range(figure, look, bar, height)
    figure.add_trace(
        go.Scatter(
            x=[bar.end] * 2,
            y=[height + _ABOVE, height + _ABOVE - 1],
            mode="lines",
            name="next",
            line={"color": look.faded, "width": 1, "dash": "dot"},
            hoverinfo="skip",
        )
    )


def _range(figure: go.Figure, look: Look, bar: Bar, height: int) -> None:
    figure.add_trace(
        go.Scatter(
            x=[bar.start + bar.line.low, bar.start + bar.line.high],
            y=[height - _BENEATH] * 2,
            mode="lines+markers",
            name="range",
            line={"color": look.ink, "width": 1.6},
            marker={"symbol": "line-ns", "size": 9, "line": {"width": 1.6, "color": look.ink}},
            hoverinfo="skip",
        )
    )


def _whole_bar(figure: go.Figure, look: Look, shortfall: float) -> None:
    figure.add_trace(
        go.Bar(
            x=[shortfall],
            y=[_ABOVE],
            width=_SLIM,
            orientation="h",
            name="whole",
            marker={"color": look.ink, "line": {"width": 0}},
            customdata=[[words.WHOLE, words.chicks(shortfall)]],
            hovertemplate=_HOVER,
        )
    )


def _downwards(rows: Sequence[Any]) -> list[tuple[int, Any]]:
    """Rows with their heights, the first on top."""
    return [(len(rows) - 1 - place, row) for place, row in enumerate(rows)]


def _name_rows(figure: go.Figure, labels: Sequence[tuple[int, str]]) -> None:
    figure.update_yaxes(
        tickmode="array",
        tickvals=[height for height, _ in labels],
        ticktext=[label for _, label in labels],
        automargin=True,
        showgrid=False,
        zeroline=False,
        ticklen=0,
        range=[-0.6, len(labels) - 0.4],
        fixedrange=True,
    )


def _eggs_axis(look: Look, drawn: Sequence[float]) -> dict[str, Any]:
    low, high = min(drawn), max(drawn)
    room = max(0.04 * (high - low), 0.5)
    return {
        "range": [low - room if low < 0 else 0, high + room],
        "tickformat": ",d",
        "nticks": 6,
        "gridcolor": look.line,
        "gridwidth": 1,
        "zeroline": False,
        "tickfont": {"color": look.faded, "size": 14},
        "automargin": True,
        "fixedrange": True,
    }
