"""The frame: which pages there are, and that they stand under the breeder's questions at every width."""

from __future__ import annotations

from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from dashboard import (
    words,
    words_batch,
    words_bench,
    words_breeders,
    words_changes,
    words_incubators,
    words_losses,
    words_pens,
    words_plan,
    words_sources,
    words_trends,
)
from dashboard.components import frame

ORDER = [words.PAGE_MONTH, words_batch.PAGE, words_pens.PAGE, words_trends.PAGE, words_losses.PAGE,
         words_incubators.PAGE, words_changes.PAGE, words_breeders.PAGE, words_plan.PAGE,
         words_bench.PAGE, words.PAGE_RECORDS, words_sources.PAGE]  # fmt: skip


@pytest.fixture
def app(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> AppTest:
    monkeypatch.setenv("PENWISE_STORE", str(tmp_path / "none.duckdb"))
    monkeypatch.delenv("PENWISE_EXAMPLE", raising=False)
    return AppTest.from_file(str(frame.FOLDER / "app.py"), default_timeout=60).run()


def test_the_pages_stand_in_the_order_of_a_breeders_questions(app: AppTest) -> None:
    assert not app.exception
    assert [page.title for page in app.session_state[frame.PAGES].values()] == ORDER
    assert app.session_state[frame.PAGES]["losses"].url_path == "losses"


def test_their_names_are_links_in_the_same_order(app: AppTest) -> None:
    assert [link.proto.label for link in app.get("page_link")] == ORDER


def test_every_page_stands_under_a_question_and_answers_one(app: AppTest) -> None:
    said = [piece.proto.body for piece in app.get("html")]
    assert [f"<p class='pw-group'>{question}</p>" for question in words.GROUPS] == [
        body for body in said if body.startswith("<p class='pw-group'")
    ]
    assert list(words.QUESTIONS) == list(app.session_state[frame.PAGES])
    assert f"<p class='pw-question'>{words.QUESTIONS['month']}</p>" in said


def test_the_month_is_found_by_its_name_too(app: AppTest) -> None:
    """`/` and `/this-month` are one page."""
    assert {page["url_pathname"] for page in app._registered_pages.values()} >= {"", "this-month"}
