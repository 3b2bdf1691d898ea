"""The page of sources: every row with its source, found by words, without a store."""

from __future__ import annotations

import html
import re

import pytest
from streamlit.testing.v1 import AppTest

from analytics.reference.catalogue import HYGIENE, catalogue
from analytics.reference.sources import Status
from dashboard import words_sources


def _sources() -> None:
    from dashboard.pages import sources

    sources.show()


@pytest.fixture
def page(monkeypatch: pytest.MonkeyPatch) -> AppTest:
    monkeypatch.delenv("PENWISE_STORE", raising=False)
    return AppTest.from_function(_sources, default_timeout=60).run()


def _cells(page: AppTest) -> list[list[str]]:
    """The rows of all tables, as texts."""
    body = "".join(part.value for part in page.get("html") if "<table" in str(part.value))
    rows = re.findall(r"<tr role='row'>(<th scope='row'.*?)</tr>", body)
    return [
        [html.unescape(re.sub(r"<[^>]+>", "", cell)) for cell in re.findall(r"<t[hd][^>]*>.*?</t[hd]>", row)]
        for row in rows
    ]


def test_every_row_shows_its_source_and_how_it_was_read(page: AppTest) -> None:
    assert not page.exception
    cells = _cells(page)
    assert len(cells) == len(catalogue())
    for row in cells:
        assert row[2]
        assert row[3] in words_sources.READ.values()
    assert sum(row[3] == "from memory" for row in cells) == sum(
        entry.status is Status.MEMORY for entry in catalogue()
    )
    assert any(words_sources.found_line(len(catalogue()), len(catalogue())) in part.value for part in
               page.get("html"))  # fmt: skip


def test_topics_are_closed_until_something_is_asked(page: AppTest) -> None:
    assert not any(part.proto.expanded for part in page.expander)
    assert page.expander[-1].label.lower().startswith(HYGIENE)
    page.text_input(key="sources_find").input("coturnix setter humidity").run()
    assert page.expander
    assert all(part.proto.expanded for part in page.expander)
    assert {row[0] for row in _cells(page)} == {"Coturnix quail"}
    assert any("50–60\N{NO-BREAK SPACE}%" in row[1] for row in _cells(page))


def test_only_what_is_from_memory(page: AppTest) -> None:
    page.selectbox(key="sources_read").select("from memory").run()
    assert {row[3] for row in _cells(page)} == {"from memory"}


def test_nothing_found_is_said(page: AppTest) -> None:
    page.text_input(key="sources_find").input("<b>ostrich & feathers").run()
    assert not page.exception
    assert _cells(page) == []
    assert any(words_sources.NONE_FOUND in part.value for part in page.get("html"))


def test_hygiene_defers_to_others(page: AppTest) -> None:
    page.text_input(key="sources_find").input("hygiene").run()
    shown = " ".join(part.value for part in page.get("html"))
    for line in words_sources.CAUTION_LINES:
        assert line in shown
