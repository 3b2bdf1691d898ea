"""The page of breeders, on a small store: answer, picture, numbers, reasons, and what is refused."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from dashboard import words_breeders

from ..studies.test_causes import farm


@pytest.fixture(autouse=True)
def _nothing_remembered(monkeypatch: pytest.MonkeyPatch) -> None:
    st.cache_data.clear()
    monkeypatch.delenv("PENWISE_STORE", raising=False)
    monkeypatch.delenv("PENWISE_EXAMPLE", raising=False)


def _breeders() -> None:
    from dashboard.pages import breeders

    breeders.show()


def _page(store: Path, monkeypatch: pytest.MonkeyPatch, **link: str) -> AppTest:
    monkeypatch.setenv("PENWISE_STORE", str(store))
    app = AppTest.from_function(_breeders, default_timeout=60)
    for name, value in link.items():
        app.query_params[name] = value
    return app.run()


def _text(app: AppTest) -> str:
    return " ".join(str(one.proto.body) for one in app.get("html"))


def test_the_poor_pen_is_named_with_picture_numbers_and_reason(
    store_of: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    app = _page(store_of(**farm(poor=("Rowan", "", 0, 0.6))), monkeypatch)
    assert not app.exception
    assert [title.value for title in app.title] == ["Which pens to keep?"]
    said = _text(app)
    assert "replacing Rowan most likely pays" in said
    assert "Look at the male first" in said
    assert [one.value for one in app.header] == [
        words_breeders.RANKED_HEADING,
        words_breeders.WHY_HEADING,
        words_breeders.TABLE_HEADING,
        words_breeders.NOTES_HEADING,
        words_breeders.HOW_HEADING,
    ]
    assert len(app.get("plotly_chart")) == 1
    # what counts without a first month is what the choice says
    assert app.selectbox(key="start").options[0] == words_breeders.FROM_BLANK == "last 6 months"
    assert "our own start, no source" in said
    app.number_input[-1].set_value(100000.0).run()
    assert "advise to replace no pen" in _text(app)


def test_sires_that_nobody_wrote_down_are_a_sentence(
    store_of: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    app = _page(store_of(**farm()), monkeypatch, rank="sire")
    assert not app.exception
    assert [title.value for title in app.title] == ["Which sires to keep?"]
    assert "Fewer than two sires are written down" in _text(app)
    app.selectbox(key="rank").select("dam").run()
    assert app.query_params["rank"] == "dam"  # stands in the link
    assert "Fewer than two dams are written down" in _text(app)


def test_one_pen_alone_is_a_sentence(store_of: Callable[..., Path], monkeypatch: pytest.MonkeyPatch) -> None:
    app = _page(store_of(**farm(pens=("Rowan",))), monkeypatch)
    assert not app.exception
    assert "Fewer than two pens can be told apart" in _text(app)
