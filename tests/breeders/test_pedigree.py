"""Pedigrees: order of the birds, and what cannot be is refused in words."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from analytics.breeders.pedigree import UNKNOWN, Descent, pedigree, problems_of
from analytics.errors import WrongUsage


def test_parents_come_before_their_young_whatever_the_order_of_rows() -> None:
    known = pedigree([
        Descent("Chick", "f", "Son", "Hen"), Descent("Son", "m", "Cock", "Hen"), Descent("Cock", "m"),
    ])  # fmt: skip
    assert set(known.birds) == {"Chick", "Son", "Cock", "Hen"}  # Hen has no row of her own
    for bird, parents in {"Chick": ("Son", "Hen"), "Son": ("Cock", "Hen")}.items():
        at = known.place[bird]
        assert tuple(known.birds[place] for place in (known.sire[at], known.dam[at])) == parents
        assert known.place[parents[0]] < at > known.place[parents[1]]
    hen = known.place["Hen"]
    assert known.sire[hen] == known.dam[hen] == UNKNOWN
    assert [known.generation[known.place[bird]] for bird in ("Cock", "Hen", "Son", "Chick")] == [0, 0, 1, 2]


@pytest.mark.parametrize(
    ("rows", "column", "words"),
    [
        ([Descent("A", "m", "B"), Descent("B", "f")], "sire", "B, the sire of A, is female"),
        ([Descent("A", "f", "", "B"), Descent("B", "m")], "dam", "B, the dam of A, is male"),
        (
            [Descent("A", "m", "C"), Descent("B", "m", "", "C")],
            "sire, dam",
            "C is the sire of A and the dam of B",
        ),
        ([Descent("A", "m", "C", "C")], "sire, dam", "C is the sire of A and the dam of A"),
        ([Descent("A", "m"), Descent("A", "m")], "bird", "A twice"),
        (
            [Descent("A", "m", "B", "", date(2025, 3, 1)), Descent("B", "m", hatched_on=date(2025, 3, 1))],
            "hatched_on",
            "A hatched on 2025-03-01, its sire B on 2025-03-01",
        ),
        ([Descent("A", "m", "A")], "sire, dam", "A, whose parent is A"),
        (
            [Descent("A", "m", "B"), Descent("B", "m", "C"), Descent("C", "m", "A"), Descent("D", "m", "A")],
            "sire, dam",
            "A, whose parent is B, whose parent is C, whose parent is A",
        ),
    ],
)  # fmt: skip
def test_what_cannot_be_is_named(rows: list[Descent], column: str, words: str) -> None:
    (problem,) = problems_of(rows)
    assert (problem.sheet, problem.column, problem.given) == ("birds", column, words)
    assert problem.rule
    assert problem.repair
    with pytest.raises(WrongUsage, match=words):
        pedigree(rows)


def test_every_problem_is_counted() -> None:
    rows = [Descent("A", "f"), Descent("B", "m", "A"), Descent("C", "m", "A"), Descent("X", "m", "Y"),
            Descent("Y", "m", "X")]  # fmt: skip
    assert len(problems_of(rows)) == 3
    with pytest.raises(WrongUsage, match="There are 2 more like this"):
        pedigree(rows)


def test_no_birds_are_an_empty_pedigree() -> None:
    known = pedigree([])
    assert known.birds == ()
    with pytest.raises(WrongUsage, match="not in the pedigree"):
        known.places(["Ash"])
    assert np.array_equal(pedigree([Descent("Ash")]).places(["Ash"]), [0])
