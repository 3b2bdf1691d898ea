"""Pictures of losses: what is drawn is what the record says, and the parts add up before the eye."""

from __future__ import annotations

from types import ModuleType

import plotly.graph_objects as go
import pytest

from dashboard import charts_losses, words_losses
from dashboard.look import DAY, NIGHT


def _bars(figure: go.Figure) -> dict[str, go.Bar]:
    return {trace.name: trace for trace in figure.data if trace.type == "bar"}


def test_every_part_begins_where_the_one_before_ended_and_they_come_to_the_shortfall(
    made: ModuleType,
) -> None:
    bars = charts_losses.adding_up(made.GROUPS)
    # By hand: 60, 72, 97, 91, 91, 51, 60 chicks one after the other.
    assert [bar.end for bar in bars] == [60.0, 72.0, 97.0, 91.0, 91.0, 51.0, 60.0]
    assert [bar.start for bar in bars] == [0.0, 60.0, 72.0, 97.0, 91.0, 91.0, 51.0]
    assert bars[-1].end == pytest.approx(made.make_answer().shortfall)


def test_parts_stand_at_the_records_numbers_lost_filled_and_won_hollow(made: ModuleType) -> None:
    bars = _bars(charts_losses.shares_figure(made.make_answer(), DAY))
    assert (bars["incubator"].base[0], bars["incubator"].x[0]) == (72.0, 25.0)
    assert (bars["baseline"].base[0], bars["baseline"].x[0]) == (91.0, -40.0)
    assert bars["whole"].x[0] == pytest.approx(60.0)
    assert bars["flock"].marker.color == DAY.fewer[1]
    assert bars["baseline"].marker.color == DAY.paper
    assert bars["baseline"].marker.line.color == DAY.more[1]


def test_ranges_lie_about_the_end_of_their_part(made: ModuleType) -> None:
    figure = charts_losses.shares_figure(made.make_answer(), NIGHT)
    ranges = [tuple(trace.x) for trace in figure.data if trace.name == "range"]
    # By hand: handling starts at 60 and lies between -4 and 30 chicks.
    assert ranges[:2] == [(38.0, 85.0), (56.0, 90.0)]
    low, high = figure.layout.xaxis.range
    assert low < 0 or low == 0
    assert high > 117.0  # incubator: 72 + 45


def test_parts_are_named_with_their_chicks_the_first_on_top(made: ModuleType) -> None:
    axis = charts_losses.shares_figure(made.make_answer(), DAY).layout.yaxis
    named = dict(zip(axis.tickvals, axis.ticktext, strict=True))
    assert named[7].startswith("Flock<br>")
    assert "60 (38 to 85)" in named[7]
    assert named[0].startswith(words_losses.WHOLE)
    assert not any("…" in label for label in axis.ticktext)


def test_steps_show_what_was_lost_and_what_typical_trays_would_have_lost(made: ModuleType) -> None:
    figure = charts_losses.steps_figure(made.STEPS, DAY)
    assert {name: bar.x[0] for name, bar in _bars(figure).items()} == {
        "fertile": 140.0, "early": 50.0, "mid": 10.5, "late": 39.5, "shell": 20.0,
    }  # fmt: skip
    lines = [trace.x[0] for trace in figure.data if trace.name == "expected"]
    assert lines == [100.0, 46.0, 12.0, 30.0, 22.0]
    assert figure.layout.xaxis.range[0] == 0


def test_the_pictures_are_told_in_words(made: ModuleType) -> None:
    steps = words_losses.steps_alt(made.STEPS)
    assert "infertile 140 of 1,000 eggs, typical trays 100" in steps
    shares = words_losses.shares_alt(made.make_answer())
    assert shares.startswith("Short of the mark: 60 chicks.")
    assert "flock 60 chicks lost (38 to 85)" in shares
    assert "usual hatch 40 chicks won (12 to 70)" in shares
