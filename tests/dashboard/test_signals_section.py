"""The section on signals, from a record made by hand: shapes, words, table, and where nothing can be said."""

from __future__ import annotations

import pytest
from streamlit.testing.v1 import AppTest

from analytics.studies.signal_records import MonthSignals, Point, Signal, Watched
from analytics.studies.signal_words import NO_BASELINE
from analytics.values import Month
from dashboard import data, words_signals
from dashboard.charts_signals import run_figure
from dashboard.look import DAY

MARCH = Month(2026, 3)
POINTS = (
    Point(Month(2025, 12), 60, 0.9, None, None, None, out=False),
    Point(Month(2026, 1), 0, None, None, None, None, out=False),
    Point(Month(2026, 2), 58, 0.88, 0.9, 0.74, 0.99, out=False),
    Point(MARCH, 61, 0.51, 0.89, 0.73, 0.98, out=True),
)
SENTENCE = "Pen <Hazel>: fertility 51 % of 61 eggs set and not cracked."
HAZEL = Signal(
    "pen", "<Hazel>", "coturnix_quail", "fertility", False, MARCH, True, "month", POINTS, SENTENCE
)  # fmt: skip
SEEN = (
    Watched("pen", "<Hazel>", "coturnix_quail", "fertility", 61, 0.89, 0.21, 9, possible=True),
    Watched("pen", "Maple", "coturnix_quail", "fertility", 9, 0.9, None, 3, possible=False),
)


def test_a_shape_says_what_is_outside() -> None:
    figure = run_figure(HAZEL, DAY)
    marks = [trace for trace in figure.data if trace.mode == "markers"]
    assert [(trace.marker.symbol, len(trace.x)) for trace in marks] == [("circle", 2), ("diamond", 1)]
    assert marks[1].customdata[0][0] == "March 2026, a signal"
    assert "usual 89 %, limits 73–98 %" in marks[1].customdata[0][1]
    bands = [trace for trace in figure.data if trace.fill == "tonexty"]
    assert [list(trace.y) for trace in bands] == [[0.99, 0.98]]


def test_a_loss_is_drawn_as_large_as_it_is() -> None:
    points = (Point(MARCH, 50, 0.1, 0.03, 0.0, 0.08, out=True),)
    loss = Signal("machine", "N", "chicken", "early_loss", False, MARCH, True, "month", points, "")
    assert run_figure(loss, DAY).layout.yaxis.range[1] < 0.2


def _section() -> None:
    from analytics.values import Month
    from dashboard.components import signals
    from dashboard.state import Filters

    signals.section(None, Filters(), Month(2026, 3))  # type: ignore[arg-type]


def _shown(monkeypatch: pytest.MonkeyPatch, told: MonthSignals) -> str:
    monkeypatch.setattr(data, "signals", lambda *_: told)
    page = AppTest.from_function(_section, default_timeout=30).run()
    assert not page.exception
    return " ".join([*(one.value for one in page.subheader), *(one.proto.body for one in page.get("html"))])


def test_signal_table_and_what_could_have_been_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    told = MonthSignals(
        MARCH, (HAZEL,), SEEN, 2, Month(2025, 3), Month(2026, 1), ("1 new signal.", SENTENCE), ("How.",)
    )
    said = _shown(monkeypatch, told).replace("\N{NO-BREAK SPACE}", " ")
    assert "Pen <Hazel>, fertility: new" in said
    assert said.count("Pen &lt;Hazel&gt;: fertility 51 % of 61") == 1  # above its chart, not once more below
    assert words_signals.KEY in said
    assert "none" in said  # Maple
    assert "73–98 %" in said


def test_without_a_baseline_only_that_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    said = _shown(monkeypatch, MonthSignals(MARCH, (), SEEN, 0, None, None, (NO_BASELINE,), (NO_BASELINE,)))
    assert NO_BASELINE in said
    assert words_signals.KEY not in said
