"""When something is in the way: what it is, and what to do; work that was stopped begins anew."""

from __future__ import annotations

import errno
from collections.abc import Callable
from pathlib import Path

import duckdb
import pytest
from page_reading import text_of
from streamlit.testing.v1 import AppTest

from analytics.store.connection import create
from dashboard import words
from dashboard.components import frame


def _app() -> AppTest:
    return AppTest.from_file(str(frame.FOLDER / "app.py"), default_timeout=60)


@pytest.fixture
def store(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    monkeypatch.setenv("PENWISE_STORE", str(tmp_path / "own.duckdb"))
    return tmp_path / "own.duckdb"


def _fails_with(error: Exception) -> Callable[[], None]:
    def fail() -> None:
        raise error

    return fail


@pytest.mark.parametrize(
    ("error", "title", "advice"),
    [
        (OSError(errno.ENOSPC, "No space left on device"), words.TROUBLE_FULL, "Free some room"),
        (duckdb.IOException("No space left on device"), words.TROUBLE_FULL, "Free some room"),
        (PermissionError(errno.EACCES, "denied", "/farm.duckdb"), words.TROUBLE_CLOSED, "/farm.duckdb"),
        (MemoryError(), words.TROUBLE_MEMORY, "fewer months"),
        (RuntimeError("by no means foreseen"), words.TROUBLE_UNFORESEEN, "penwise check"),
    ],
)  # fmt: skip
def test_every_failure_is_a_sentence_and_a_way_out(
    store: Path, monkeypatch: pytest.MonkeyPatch, error: Exception, title: str, advice: str
) -> None:
    monkeypatch.setattr("dashboard.data.shown", _fails_with(error))
    page = _app().run()
    assert not page.exception
    said = text_of(page)
    assert title in said
    assert advice in said
    assert words.TRY_AGAIN in [button.label for button in page.button]
    assert "by no means foreseen" not in said


def test_a_broken_store_is_said_and_left_as_it_is(store: Path) -> None:
    create(store)
    torn = store.read_bytes()[: store.stat().st_size // 3]
    store.write_bytes(torn)
    page = _app().run()
    assert not page.exception
    assert "penwise restore FILE" in text_of(page)
    assert store.read_bytes() == torn


def test_a_store_that_was_shown_and_is_gone_is_not_an_empty_one(store: Path, tmp_path: Path) -> None:
    create(store)
    page = _app().run()
    assert words.TROUBLE_GONE not in text_of(page)
    store.rename(tmp_path / "elsewhere.duckdb")
    page.run()
    said = text_of(page)
    assert words.TROUBLE_GONE in said
    assert str(store) in said
    assert words.WELCOME_TITLE not in [title.value for title in page.title]


def test_work_that_is_stopped_says_so_and_begins_again(store: Path) -> None:
    page = _app().run()
    page.button("stop").click().run()
    assert not page.exception
    assert [title.value for title in page.title] == [words.STOPPED]
    assert words.STOPPED_SAFE in text_of(page)
    next(button for button in page.button if button.label == words.STOPPED_ON).click().run()
    assert [title.value for title in page.title] == [words.WELCOME_TITLE]
