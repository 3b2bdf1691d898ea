"""The page of changes, on small stores, and its pictures."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from analytics.options import Selection
from analytics.studies.changes import changes
from dashboard import charts_changes, words_changes
from dashboard.look import DAY, NIGHT

FIRST = datetime.fromisoformat("2026-01-05")
PENS = ("Alder", "Birch", "Cedar", "Rowan")
GRIT = {"changed_on": date(2026, 3, 10), "scope": "pen", "target": "Rowan", "what": "<b>grit</b>"}
LAMPS = {"changed_on": date(2026, 2, 1), "scope": "all", "what": "lamps"}


def _tray(batch: int, place: int) -> dict[str, Any]:
    """40 eggs; 8 more of Rowan's die late from batch 5 on; an egg or two die early by turns."""
    early, late = (3 * batch + 2 * place) % 4, 1 + (batch + place) % 2
    late += 8 if place == 3 and batch >= 5 else 0
    return {
        "batch": f"B{batch}", "tray": PENS[place], "pen": PENS[place], "eggs_set": 40, "storage_days": 3,
        "hatched": 34 - early - late, "infertile": 3, "early_dead": early, "mid_dead": 1, "late_dead": late,
        "external_pip": 2,
    }  # fmt: skip


@pytest.fixture
def farm(store_of: Callable[..., Path], monkeypatch: pytest.MonkeyPatch) -> Callable[..., Path]:
    """Four pens in ten batches, a fortnight apart, with these changes."""

    def make(*written: dict[str, Any]) -> Path:
        store = store_of(
            pens=[{"pen": pen, "species": "coturnix_quail"} for pen in PENS],
            batches=[
                {
                    "batch": f"B{place}",
                    "incubator": "North",
                    "set_on": FIRST + timedelta(days=14 * place),
                    "pulled_on": FIRST + timedelta(days=14 * place + 18),
                }
                for place in range(10)
            ],
            trays=[_tray(batch, place) for batch in range(10) for place in range(len(PENS))],
            changes=list(written),
        )
        monkeypatch.setenv("PENWISE_STORE", str(store))
        return store

    return make


def _changes() -> None:
    from dashboard.pages import changes

    changes.show()


def _text(page: AppTest) -> str:
    bodies = " ".join(piece.proto.body for piece in page.get("html") if "<style>" not in piece.proto.body)
    return re.sub(
        r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", bodies)).replace("\N{NO-BREAK SPACE}", " ")
    )


def test_the_answer_comes_first_then_pictures_numbers_and_how(farm: Callable[..., Path]) -> None:
    farm(GRIT, LAMPS)
    page = AppTest.from_function(_changes, default_timeout=60).run()
    assert not page.exception
    text = _text(page)
    assert re.match(
        r" ?<b>grit</b> from 10 March 2026 in Rowan: late losses rose by 2\d points, .* "
        r"against 3 pens without it\.",
        text,
    ), "what the keeper wrote is shown as it was written, and is no mark-up"
    assert "1 made something worse and 1 cannot be told" in text
    assert [header.value for header in page.header] == [
        words_changes.ALL_HEADING,
        words_changes.ONE_HEADING,
        words_changes.NUMBERS_HEADING,
        words_changes.TESTED_HEADING,
    ]
    slopes, odds = (chart.proto.alt for chart in page.get("plotly_chart"))
    assert "past late 9" in slopes
    assert odds.startswith(words_changes.ODDS_ALT)
    assert "Held against Alder, Birch and Cedar, within the same batches." in text
    assert "made-up dates the same test" in text
    assert page.radio(key="change").options[1].replace("\\", "") == "10 Mar 2026, <b>grit</b> (Rowan)"
    page.radio(key="change").set_value(0).run()
    assert words_changes.NO_PICTURE in _text(page)
    assert not page.get("plotly_chart")


def test_without_a_change_the_page_says_what_to_write_down(farm: Callable[..., Path]) -> None:
    farm()
    page = AppTest.from_function(_changes, default_timeout=60).run()
    assert not page.exception
    assert words_changes.TOO_THIN in _text(page)
    assert "into the sheet changes" in _text(page)


def test_pictures_show_the_record(farm: Callable[..., Path]) -> None:
    (one,) = changes(farm(GRIT), Selection()).changes
    figure = charts_changes.slopes_figure(one, DAY)
    lines = [trace for trace in figure.data if trace.name == words_changes.CHANGED]
    assert len(lines) == len(one.steps)
    for step, trace in zip(one.steps, lines, strict=True):
        assert list(trace.y) == [step.effect.sides.before.rate, step.effect.sides.after.rate]
    spans = {
        round(figure.layout[f"yaxis{n}"].range[1] - figure.layout[f"yaxis{n}"].range[0], 9)
        for n in ("", 2, 3)
    }
    assert len(spans) == 1, "pictures of one height tell the same size of change"
    steps = charts_changes.with_odds(one)
    dots = [trace for trace in charts_changes.odds_figure(steps, NIGHT).data if trace.name == "odds"]
    assert [trace.x[0] for trace in dots] == [step.effect.odds.ratio for step in steps]
    filled = [trace.marker.symbol == "circle" for trace in dots]
    assert filled == [step.verdict in ("better", "worse") for step in steps]
