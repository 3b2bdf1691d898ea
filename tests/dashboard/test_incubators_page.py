"""The page of incubators, on small stores: the answer, what is missing, and the pictures."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from analytics.errors import DataTooThin
from analytics.options import Selection
from analytics.studies.incubators import incubators
from dashboard import charts_incubators, data_incubators, words, words_incubators
from dashboard.look import DAY

Make = Callable[..., Path]
MONTHS = range(1, 5)


@pytest.fixture(autouse=True)
def _alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing remembered, and signs, which share losses out first, left to their own tests."""
    st.cache_data.clear()
    monkeypatch.delenv("PENWISE_STORE", raising=False)
    monkeypatch.delenv("PENWISE_EXAMPLE", raising=False)
    monkeypatch.setattr(data_incubators, "signs_beside", lambda *_: None)


def _farm(make: Make, names: tuple[str, ...] = ("North", "South & Co"), **more: Any) -> Path:
    """Batches a month; the second machine a day early; the first logged, checked and weighed."""
    sheets: dict[str, Any] = {
        "pens": [{"pen": "A", "species": "coturnix_quail"}],
        "incubators": [{"incubator": name, "air": "forced"} for name in names],
        "batches": [
            {"batch": f"{name} {month}", "incubator": name, "set_on": f"2026-0{month}-01T18:00",
             "transfer_on": f"2026-0{month}-16T18:00", "pulled_on": f"2026-0{month}-19T18:00"}
            for name in names for month in MONTHS
        ],
        "trays": [
            {"batch": f"{name} {month}", "tray": "1", "pen": "A", "eggs_set": 20, "hatched": 18,
             "infertile": 2, "storage_days": 3, "tare_g": 100, "weight_set_g": 340, "weight_transfer_g": 316}
            for name in names for month in MONTHS
        ],
        "hatch_counts": [
            {"batch": f"{name} {month}", "counted_at": f"2026-0{month}-{18 - place}T{clock}",
             "out_so_far": out}
            for place, name in enumerate(names) for month in MONTHS
            for clock, out in (("06:00", 2), ("14:00", 12), ("22:00", 18))
        ],
        "climate": [
            {"incubator": "North", "at": f"2026-01-{day:02}T10:00", "temperature_c": 37.6,
             "humidity_pct": 55.0}
            for day in range(2, 19)
        ],
        "checks": [
            {"incubator": "North", "at": "2026-02-02T10:00", "displayed_c": 37.9, "reference_c": 37.5}
        ],
        "incubator_events": [
            {"incubator": "North", "at": "2026-01-05T03:00", "event": "power_cut", "minutes": 40}
        ],
    }  # fmt: skip
    return make(**(sheets | more))


def _page() -> AppTest:
    script = "from dashboard.pages.incubators import show\n\nshow()\n"
    return AppTest.from_string(script, default_timeout=60).run()


def _text(page: AppTest) -> str:
    return html.unescape(re.sub(r"<[^>]+>", " ", " ".join(one.proto.body for one in page.get("html"))))


def _shown(store: Path, monkeypatch: pytest.MonkeyPatch) -> AppTest:
    monkeypatch.setenv("PENWISE_STORE", str(store))
    page = _page()
    assert not page.exception
    return page


def test_the_answer_stands_first(store_of: Make, monkeypatch: pytest.MonkeyPatch) -> None:
    page = _shown(_farm(store_of), monkeypatch)
    assert [one.value for one in page.title] == [words_incubators.TITLE]
    said = _text(page).replace("\N{NO-BREAK SPACE}", " ")
    assert said.index("hours later than your other machine") < said.index("South & Co hatches about")
    for part in (
        "The display of North shows 0.4 °C more than the reference", "10.0 %", "power cuts 1",
        "No logger reading of South & Co", words_incubators.SIGNS_THIN, "not which of the two is off",
    ):  # fmt: skip
        assert part in said
    assert len(page.get("plotly_chart")) == 3


def test_without_counts_logger_checks_and_scales(store_of: Make, monkeypatch: pytest.MonkeyPatch) -> None:
    trays = [
        {"batch": f"North {month}", "tray": "1", "pen": "A", "eggs_set": 20, "hatched": 18, "infertile": 2}
        for month in MONTHS
    ]
    nothing: dict[str, Any] = dict.fromkeys(("hatch_counts", "climate", "checks", "incubator_events"), ())
    page = _shown(_farm(store_of, ("North",), trays=trays, **nothing), monkeypatch)
    said = _text(page)
    for part in (
        words_incubators.HOURS_NONE, words_incubators.AIR_NONE, words_incubators.DISPLAY_NONE,
        words_incubators.WATER_NONE, words_incubators.RIVALS_NONE,
    ):  # fmt: skip
        assert part in said
    assert not page.get("plotly_chart")


def test_nothing_in_these_days_is_a_sentence(store_of: Make, monkeypatch: pytest.MonkeyPatch) -> None:
    def too_thin(*_: Any) -> None:
        raise DataTooThin("No closed batch of this selection", "A machine is known by its batches", "")

    monkeypatch.setattr(data_incubators, "incubators", too_thin)
    page = _shown(_farm(store_of), monkeypatch)
    assert words_incubators.TOO_THIN in _text(page)


def test_an_empty_store_shows_ways_to_begin(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    page = _shown(tmp_path / "none.duckdb", monkeypatch)
    assert [title.value for title in page.title] == [words.WELCOME_TITLE]


def test_the_picture_shows_the_records_own_numbers(store_of: Make) -> None:
    found = incubators(_farm(store_of), Selection())
    figure = charts_incubators.hours_figure(found, DAY)
    for trace, machine in zip(figure.data, found.machines, strict=True):
        hours = machine.timings[0].hours
        assert list(trace.y) == [hour.later for hour in hours]
        assert list(trace.x) == [hour.set_on for hour in hours]
    assert "South &amp; Co" in str(figure.layout.annotations[1].text)
    north = found.machines[0]
    air = charts_incubators.air_figure(north, DAY)
    assert list(air.data[0].y) == [day.mean_c for day in north.climate.days if day.phase == "setter"]
    assert any("power cut, 40 minutes" in str(note.text) for note in air.layout.annotations)
    (checks,) = charts_incubators.display_figure([north], DAY).data
    assert list(checks.y) == [pytest.approx(0.4)]
