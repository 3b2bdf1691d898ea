"""Values that every layer shares."""

from __future__ import annotations

import pytest

from analytics.values import label_order


@pytest.mark.parametrize(
    ("labels", "ordered"),
    [
        (["Zoe", "Ölberg", "alder", "Oak"], ["alder", "Oak", "Ölberg", "Zoe"]),
        (["Éva", "eva", "Evb", "Ev"], ["Ev", "eva", "Éva", "Evb"]),
        (["O\u0308l", "Öl", "Om", "Ok"], ["Ok", "O\u0308l", "Öl", "Om"]),  # composed and not: alike
        (["Straße", "Strasse 2", "strasse"], ["Straße", "strasse", "Strasse 2"]),
        (["Pen 10", "pen 2", "Pen 2 b", "Pen"], ["Pen", "pen 2", "Pen 2 b", "Pen 10"]),
        (["Q100", "Q9", "Q009", "10", "9"], ["9", "10", "Q009", "Q9", "Q100"]),
        (["ペン", "Pen", "Ａ"], ["Ａ", "Pen", "ペン"]),
    ],
)
def test_labels_stand_as_a_reader_looks_for_them(labels: list[str], ordered: list[str]) -> None:
    assert sorted(labels, key=label_order) == ordered
