"""The page of trends, on small stores."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from page_reading import alts_of, bodies_of, downloads_of, text_of
from streamlit.testing.v1 import AppTest

from analytics.studies.wording import MEASURE_NAMES
from dashboard import state, words, words_trends

COUNTED = {"clear": 0, "mid_dead": 0, "internal_pip": 0, "external_pip": 0, "rotten": 0, "cracked": 0,
           "not_opened": 0, "early_dead": 0}  # fmt: skip
MONTHS = range(1, 11)
STORED = (2, 7, 12)


@pytest.fixture
def farm(store_of: Callable[..., Path], monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two pens; in every batch each has a tray of 30 stored 2, 7 and 12 days, which lose 3, 6 and 9 or so."""
    store = store_of(
        pens=[{"pen": pen, "species": "chicken", "line": ""} for pen in ("Alder", "Birch & Co")],
        incubators=[{"incubator": "North"}],
        batches=[
            {"batch": f"b{month}", "incubator": "North", "set_on": f"2026-{month:02}-01",
             "pulled_on": f"2026-{month:02}-23"}
            for month in MONTHS
        ],
        trays=[
            {"batch": f"b{month}", "tray": f"{pen} {days}", "pen": pen, "eggs_set": 30, "storage_days": days,
             "hatched": 30 - lost, "infertile": 0, "late_dead": lost, **COUNTED}
            for month in MONTHS for place, pen in enumerate(("Alder", "Birch & Co"))
            for days, lost in ((days, 3 * step + (month * step + place) % 2) for step, days in
                               enumerate(STORED, start=1))
        ],
        changes=[{"changed_on": "2026-04-10", "scope": "pen", "target": "Alder", "what": "new <male>"}],
    )  # fmt: skip
    monkeypatch.setenv("PENWISE_STORE", str(store))
    return store


def _trends() -> None:
    from dashboard.pages import trends

    trends.show()


def _page(**link: str) -> AppTest:
    page = AppTest.from_function(_trends, default_timeout=60)
    for field, value in link.items():
        page.query_params[field.strip("_")] = value
    return page.run()


def test_the_answer_comes_first_then_the_picture_the_numbers_and_how_it_was_tested(farm: Path) -> None:
    page = _page(along="storage")
    assert not page.exception
    assert [title.value for title in page.title] == ["Hatch of set by days of storage"]
    # 3 more lost of 30 for every 5 days: 10 / 5 = 2 points a day, by hand.
    assert re.match(r" ?Each day of storage goes with 2\.[01] points less hatch of set", text_of(page))
    headings = [header.value for header in page.header]
    assert headings[-2:] == [words_trends.NUMBERS_HEADING, words_trends.TESTED_HEADING]
    (told,) = alts_of(page)
    assert told.startswith("Hatch of set by days of storage, 3 marks, from 0–2 days")
    assert words_trends.KEY_CURVE in text_of(page)


def test_the_table_says_what_was_counted_and_can_be_taken_away(farm: Path) -> None:
    page = _page(along="storage")
    text = text_of(page)
    # By hand: month x 2 + place is odd for half of the 20 trays, so 7 days lose 6.5 of 30: 470 of 600 hatch.
    assert "470 of 600" in text
    assert "78 %" in text
    assert downloads_of(page) == [words_trends.DOWNLOAD]


def test_the_independent_test_stands_beside_the_one_that_decides(farm: Path) -> None:
    shown = " ".join(bodies_of(_page(along="storage")))
    rows = [re.sub(r"<[^>]+>", " ", row) for row in re.findall(r"<tr.*?</tr>", shown)]
    (decides,) = [row for row in rows if words_trends.DECIDES in row]
    assert words_trends.WITHIN in decides
    assert any(words_trends.INDEPENDENT in row and words_trends.SHOWN_ONLY in row for row in rows)


def test_dated_changes_are_listed_where_x_is_time(farm: Path) -> None:
    page = _page()
    assert [title.value for title in page.title] == ["Hatch of set month by month"]
    text = text_of(page)
    assert "10 Apr 2026 pen Alder new <male>" in text
    assert "&lt;male&gt;" in " ".join(bodies_of(page))
    assert "10 Apr 2026 pen Alder: new <male>" in alts_of(page)[0]
    assert words_trends.CHANGES_LEDE not in text_of(_page(along="storage"))


def test_a_choice_is_in_the_link_and_comes_back(farm: Path) -> None:
    page = _page()
    page.selectbox("along").select("storage").run()
    page.selectbox("start").select("2026-03").run()
    page.multiselect("pens").select("Birch & Co").run()
    assert not page.exception
    assert page.query_params == {"along": "storage", "from": "2026-03", "pen": "Birch & Co"}
    # Eight batches of one pen, three trays of 30 each.
    assert "of 240" in text_of(page)
    assert "within this pen" in text_of(page)
    again = _page(along="storage", from_="2026-03", pen="birch & co")
    assert text_of(again) == text_of(page)


def test_what_is_not_recorded_is_a_sentence_that_says_what_to_write_down(farm: Path) -> None:
    page = _page(along="hen_age")
    assert not page.exception
    assert "cannot be told here" in text_of(page)
    assert "hens_hatched_on" in text_of(page)
    assert words_trends.NO_POINTS in text_of(page)
    assert not alts_of(page)


@pytest.mark.parametrize(
    ("measure", "along"),
    [
        *((measure, "storage") for measure in sorted(MEASURE_NAMES)),
        *(("late_loss", along) for along in state.ALONG if along != "storage"),
    ],
)
def test_every_measure_along_everything_is_answered(farm: Path, measure: str, along: state.Along) -> None:
    page = _page(measure=measure, along=along)
    assert not page.exception
    assert page.title[0].value == words_trends.title(measure, along)
    assert not re.search(r"\bnan\b|\binf\b|None", text_of(page))


def test_a_month_alone_has_no_trend(farm: Path) -> None:
    page = _page(from_="2026-03", to="2026-03")
    assert not page.exception
    assert "All batches hatched in one month." in text_of(page)


def test_nothing_counted_is_a_sentence(
    store_of: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    store = store_of(
        pens=[{"pen": "A", "species": "chicken"}],
        incubators=[{"incubator": "North"}],
        batches=[{"batch": "b", "incubator": "North", "set_on": "2026-01-01", "pulled_on": "2026-01-23"}],
        trays=[{"batch": "b", "tray": "1", "pen": "A", "eggs_set": 25}],
    )
    monkeypatch.setenv("PENWISE_STORE", str(store))
    page = _page()
    assert not page.exception
    assert words_trends.TOO_THIN in text_of(page)


def test_an_empty_store_shows_ways_to_begin(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PENWISE_STORE", str(tmp_path / "none.duckdb"))
    page = _page()
    assert not page.exception
    assert [title.value for title in page.title] == [words.WELCOME_TITLE]
