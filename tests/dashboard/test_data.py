"""What the pages remember: losses and breeders of a store learn from the same trays in one place."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
import streamlit as st

from analytics.breeders.ranking import CostRule
from analytics.studies.ledger_drawn import Kept
from dashboard import data
from dashboard.state import Filters


@pytest.fixture(autouse=True)
def _nothing_remembered() -> Iterator[None]:
    st.cache_data.clear()
    st.cache_resource.clear()
    yield
    st.cache_data.clear()
    st.cache_resource.clear()


def test_losses_and_breeders_learn_in_one_place_until_the_store_changes(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    seen: list[Kept] = []

    def answer(*_: object, kept: Kept, **__: object) -> None:
        seen.append(kept)

    monkeypatch.setattr(data, "causes", answer)
    monkeypatch.setattr(data, "which_to_keep", answer)
    for mark in ("1", "2"):
        which = data.Shown(Path("flock.duckdb"), mark, is_example=False, invented_today=None)
        data.losses(which, Filters(), lambda *_: None)
        data.breeders(which, Filters(), "pen", CostRule())
    first, again, changed, also = seen
    assert first is again
    assert changed is also
    assert changed is not first
