"""What is ahead, on a small store: chicks of eggs in the machine by month, and the birds on a day."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest

from analytics.options import Selection
from analytics.studies.outlook import NO_PAST, outlook
from analytics.studies.outlook_words import birds_words
from analytics.values import Month

AT = datetime.fromisoformat
AS_OF = date(2026, 3, 20)


def _tray(batch: str, pen: str, eggs: int, hatched: int | None) -> dict[str, Any]:
    return {"batch": batch, "tray": pen, "pen": pen, "eggs_set": eggs, "hatched": hatched, "cracked": 0}


@pytest.fixture
def store(store_of: Callable[..., Path]) -> Path:
    """200 Coturnix eggs hatched at .75 this year, 99 at none two years ago; two batches are in."""
    return store_of(
        pens=[
            {"pen": "Alder", "species": "coturnix_quail", "males": 1, "females": 4, "from": "2025-01-01"},
            {"pen": "Birch", "species": "coturnix_quail"},
            {"pen": "Gone", "species": "coturnix_quail", "males": 2, "females": 6, "to": "2026-03-19"},
            {"pen": "Broody", "species": "chicken"},
        ],
        incubators=[{"incubator": "North"}],
        batches=[
            {"batch": "old", "incubator": "North", "set_on": AT("2024-01-01"), "pulled_on": AT("2024-01-19")},
            {
                "batch": "past",
                "incubator": "North",
                "set_on": AT("2026-02-01"),
                "pulled_on": AT("2026-02-19"),
            },
            {"batch": "soon", "incubator": "North", "set_on": AT("2026-03-09")},
            {"batch": "later", "incubator": "North", "set_on": AT("2026-03-18")},
        ],
        trays=[
            _tray("old", "Alder", 99, 0),
            _tray("past", "Alder", 100, 75),
            _tray("past", "Birch", 100, 75),
            _tray("soon", "Alder", 40, None),
            _tray("later", "Birch", 60, None),
            _tray("later", "Broody", 10, None),
        ],
        birds=[{"bird": "m1", "sex": "m"}, {"bird": "f1", "sex": "f"}, {"bird": "f2", "sex": "f"}],
        pen_birds=[
            {"pen": "Birch", "bird": "m1", "from": "2026-01-01"},
            {"pen": "birch", "bird": "f1", "from": "2026-01-01"},
            {"pen": "Birch", "bird": "f2", "from": "2026-01-01", "to": "2026-03-19"},
        ],
    )


def test_chicks_are_expected_by_month_and_species(store: Path) -> None:
    # Coturnix hatch from day 16 on (Sources): set on 9 March they begin in March, set on 18 March in April
    soon, later, chicken = outlook(store, Selection(), AS_OF).due
    assert (soon.month, soon.batches, soon.eggs) == (Month(2026, 3), ("soon",), 40)
    assert (later.month, later.batches, later.eggs) == (Month(2026, 4), ("later",), 60)
    assert soon.expected
    assert soon.expected.chicks == pytest.approx(30)
    assert soon.expected.low < 25 < 30 < soon.expected.high < 40
    assert (chicken.species, chicken.expected, chicken.why) == ("chicken", None, NO_PAST)


def test_of_a_batch_past_its_days_nothing_is_expected(store: Path) -> None:
    due = outlook(store, Selection(), date(2026, 4, 20)).due
    assert due == ()


def test_birds_are_those_of_the_day(store: Path) -> None:
    found = {one.pen: (one.males, one.females) for one in outlook(store, Selection(), AS_OF).birds}
    assert found == {"Alder": (1, 4), "Birch": (1, 1), "Broody": (None, None)}
    before = {
        one.pen: (one.males, one.females) for one in outlook(store, Selection(), date(2026, 3, 19)).birds
    }
    assert before["Birch"] == (1, 2)
    assert before["Gone"] == (2, 6)
    (told,) = birds_words(outlook(store, Selection(), AS_OF))
    assert told == (
        "Present on 20 March 2026: Coturnix quail 2 males and 5 hens in 2 pens; chicken in 1 pen, "
        "their males and hens not written down."
    )


def test_filters_narrow_both(store: Path) -> None:
    found = outlook(store, Selection(pens=("Birch",)), AS_OF)
    assert [(one.species, one.batches) for one in found.due] == [("coturnix_quail", ("later",))]
    assert [one.pen for one in found.birds] == ["Birch"]
