"""The page of one batch: with one hatch of which only the chicks are known, and with others beside it."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from dashboard import words, words_batch

AT = datetime.fromisoformat
FIRST = {
    "batch": "First",
    "incubator": "Shelf",
    "set_on": AT("2026-03-01T18:00"),
    "pulled_on": AT("2026-03-20"),
}


@pytest.fixture(autouse=True)
def _nothing_remembered(monkeypatch: pytest.MonkeyPatch) -> None:
    st.cache_data.clear()
    monkeypatch.delenv("PENWISE_STORE", raising=False)
    monkeypatch.delenv("PENWISE_EXAMPLE", raising=False)


@pytest.fixture
def beginner(store_of: Callable[..., Path], monkeypatch: pytest.MonkeyPatch) -> Path:
    """One pen, one machine, one hatch: 20 chicks of 32 eggs, and nothing else."""
    store = store_of(
        pens=[{"pen": "Apple <yard>", "species": "coturnix_quail"}],
        incubators=[{"incubator": "Shelf"}],
        batches=[FIRST],
        trays=[{"batch": "First", "tray": "1", "pen": "Apple <yard>", "eggs_set": 32, "hatched": 20}],
    )
    monkeypatch.setenv("PENWISE_STORE", str(store))
    return store


@pytest.fixture
def farm(store_of: Callable[..., Path], monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two batches with counted hours and opened eggs, and one in the machine."""
    store = store_of(
        pens=[{"pen": pen, "species": "coturnix_quail"} for pen in ("Alder", "Rowan")],
        incubators=[{"incubator": "Shelf"}],
        batches=[
            FIRST,
            {**FIRST, "batch": "Second", "set_on": AT("2026-04-01T18:00"), "pulled_on": AT("2026-04-20")},
            {"batch": "Third", "incubator": "Shelf", "set_on": AT("2026-04-25T08:00")},
        ],
        trays=[
            {"batch": batch, "tray": pen, "pen": pen, "eggs_set": 30, "hatched": hatched, "infertile": 2,
             "clear": 3, "early_dead": 1}
            for batch, hatched in (("First", 20), ("Second", 22), ("Third", None))
            for pen in ("Alder", "Rowan")
        ],
        hatch_counts=[
            {"batch": "Second", "counted_at": AT("2026-04-01T18:00") + timedelta(hours=hours),
             "out_so_far": out}
            for hours, out in ((400, 0), (408, 10), (416, 30), (424, 44))
        ],
    )  # fmt: skip
    monkeypatch.setenv("PENWISE_STORE", str(store))
    return store


def _batch() -> None:
    from dashboard.pages import batch

    batch.show()


def _page(**link: str) -> AppTest:
    page = AppTest.from_function(_batch, default_timeout=60)
    for field, value in link.items():
        page.query_params[field] = value
    return page.run()


def _text(page: AppTest) -> str:
    bodies = " ".join(piece.proto.body for piece in page.get("html") if "<style>" not in piece.proto.body)
    plain = html.unescape(re.sub(r"<[^>]+>", " ", bodies)).replace("\N{NO-BREAK SPACE}", " ")
    return re.sub(r"\s+", " ", plain)


def _link(page: AppTest) -> str:
    """What the link asks for; once written by the page it is a list."""
    given = page.query_params["batch"]
    return given if isinstance(given, str) else given[0]


def _headings(page: AppTest) -> list[str]:
    return [heading.value for heading in page.header]


def _alts(page: AppTest) -> list[str]:
    return [chart.proto.alt for chart in page.get("plotly_chart")]


def test_a_beginner_with_one_hatch_is_told_what_to_do(beginner: Path) -> None:
    page = _page()
    assert not page.exception
    assert page.title[0].value == "Batch First"
    said = _text(page)
    assert (
        "Of 32 Coturnix quail eggs set in Shelf on 1 March 2026, 20 hatched: 63 % of set (45–77 %)." in said
    )
    assert _headings(page) == [
        "Where the eggs went", words_batch.LOOK_HEADING, words_batch.WHEN_HEADING, words_batch.NEXT_HEADING,
    ]  # fmt: skip
    labels = " ".join(fold.label for fold in page.expander)
    assert "that one batch cannot tell" in labels
    assert "published figures, with this batch's beside them" in labels
    assert _alts(page)[0] == "Of 32 eggs set: 20 chicks, kept and 12 did not hatch, nothing written down."
    for part in ("Open the 12 eggs that did not hatch", "fresh eggs of pen Apple <yard>", "Salmonella"):
        assert part in said
    assert not re.search(r"significant|finding", said, re.IGNORECASE)
    assert next(fold.label for fold in page.expander) == words.AS_TABLE


def test_the_latest_hatch_stands_first_with_hours_candidates_and_other_batches(farm: Path) -> None:
    page = _page()
    assert not page.exception
    assert (page.title[0].value, _link(page)) == ("Batch Second", "Second")
    assert "half of them by" in _text(page)
    assert len(_alts(page)) == 2
    labels = [fold.label for fold in page.expander]
    assert "Clear, not opened: 6 of 60 eggs set, 10 % or more (4.7–28 %)" in labels
    assert words_batch.OTHERS_HEADING in _headings(page)
    assert "40 of 60: 67 %" in _text(page)
    assert [button.label for button in page.button] == [words_batch.TO_LOSSES]


def test_a_link_leads_to_its_batch_and_a_choice_to_another(farm: Path) -> None:
    page = _page(batch="third")
    assert page.title[0].value == "Batch Third"
    assert words_batch.DUE_HEADING in _headings(page)
    assert "Hatch expected" in _text(page)
    page.selectbox[0].select("First").run()
    assert (page.title[0].value, _link(page)) == ("Batch First", "First")


def test_a_link_to_no_batch_is_said_and_answered_with_the_latest(farm: Path) -> None:
    page = _page(batch="Secnd")
    assert page.title[0].value == "Batch Second"
    assert "asks for batch Secnd, which these records do not have. Did you mean Second?" in _text(page)


def test_an_empty_store_and_one_without_a_batch(
    store_of: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PENWISE_STORE", str(store_of()))
    assert _page().title[0].value == words.WELCOME_TITLE
    monkeypatch.setenv("PENWISE_STORE", str(store_of(pens=[{"pen": "Rowan", "species": "chukar"}])))
    assert _page().title[0].value == words_batch.NONE_TITLE
