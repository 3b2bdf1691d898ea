"""The question of clear eggs over small stores: what the store hands over, and the sentence."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

from analytics.options import Selection
from analytics.store.clears import clear_counts
from analytics.store.counts import counting
from analytics.studies.clears import clears
from analytics.studies.headline import fertility_note
from analytics.studies.month import month_review
from analytics.values import Month, Period

Make = Callable[..., Path]
Row = dict[str, Any]


def _rows(fresh: list[Row], storage: list[float], **tray: Any) -> dict[str, list[Row]]:
    """A batch a month from January 2026, one tray of 40 eggs of pen Rowan in each, 30 hatched."""
    starts = [datetime.fromisoformat(f"2026-{month:02d}-03") for month in range(1, len(storage) + 1)]
    return {
        "pens": [{"pen": "Rowan", "species": "coturnix_quail"}],
        "batches": [
            {"batch": f"B{n}", "incubator": "North", "set_on": day, "pulled_on": day + timedelta(days=18)}
            for n, day in enumerate(starts, 1)
        ],
        "trays": [
            {"batch": f"B{n}", "tray": "1", "pen": "rowan ", "eggs_set": 40, "storage_days": days,
             "storage_c": 15.0, "hatched": 30, "late_dead": 2, "clear": 8} | tray
            for n, days in enumerate(storage, 1)
        ],
        "fresh_eggs": fresh,
    }  # fmt: skip


def test_what_the_store_hands_over(store_of: Make) -> None:
    """March asked: its tray and the fresh eggs opened while its eggs were laid; the rest helps."""
    fresh = [
        {"pen": "ROWAN", "opened_on": date(2026, 3, 1), "eggs": 10, "fertile": 9},
        {"pen": "Rowan", "opened_on": date(2026, 1, 1), "eggs": 12, "fertile": 12},
    ]
    store = store_of(**_rows(fresh, [2, 4, 6]))
    with counting(store, Selection(period=Period(date(2026, 3, 1), date(2026, 3, 31)))) as connection:
        (found,) = clear_counts(connection)
    assert found.pens == ("Rowan", "Rowan")
    assert found.wanted == (False, True)
    assert found.trays.group.tolist() == [0, 0, 1]
    assert found.trays.silent.tolist() == found.trays.clear.tolist() == [8, 8, 8]
    assert found.trays.storage_days.tolist() == [2, 4, 6]
    assert found.trays.days_incubated.tolist() == [18, 18, 18]
    assert (found.fresh.group.tolist(), found.fresh.eggs.tolist()) == ([0, 1], [12, 10])


def test_later_records_are_not_learnt_from(store_of: Make) -> None:
    store = store_of(**_rows([], [2, 4, 6]))
    with counting(store, Selection(period=Period(date(2026, 2, 1), date(2026, 2, 28)))) as connection:
        (found,) = clear_counts(connection, date(2026, 2, 28))
    assert found.trays.storage_days.tolist() == [2, 4]


def test_infertile_taken_out_at_candling_were_read_then(store_of: Make) -> None:
    """6 infertile, 6 taken out on day 7; with 5 taken out they were read at the end, day 18."""
    rows = _rows([], [3, 3], clear=None, infertile=6, early_dead=2, candled_on=date(2026, 1, 10))
    rows["trays"][1] |= {"removed_at_candling": 5, "candled_on": date(2026, 2, 10)}
    rows["trays"][0] |= {"removed_at_candling": 6}
    with counting(store_of(**rows), Selection()) as connection:
        (found,) = clear_counts(connection)
    assert found.trays.days_incubated.tolist() == [7, 18]
    assert found.trays.infertile.tolist() == [6, 6]
    assert found.trays.early.tolist() == [2, 2]


def test_nothing_tells_and_says_so(store_of: Make) -> None:
    answer = clears(store_of(**_rows([], [4] * 6)), Selection()).of("coturnix_quail")
    assert answer
    assert answer.informed.silent
    assert (answer.whole.infertile_high, answer.whole.fertility_high) == (48, 1)
    assert answer.sentence.startswith(
        "Nothing in these records tells infertile from very early dead: the 48 clear eggs may be either."
        f" Opening about {answer.advice.eggs} fresh eggs"
    )
    assert [pen.pen for pen in answer.pens] == ["Rowan"]


def test_fresh_eggs_are_named_as_what_tells(store_of: Make) -> None:
    days = [date(2026, 1, 1) + timedelta(days=30 * n) for n in range(6)]
    fresh = [{"pen": "Rowan", "opened_on": day, "eggs": 10, "fertile": 10} for day in days]
    answer = clears(store_of(**_rows(fresh, [4] * 6)), Selection()).of("coturnix_quail")
    assert answer
    assert answer.whole.fresh_eggs == 60
    assert answer.whole.fertility_low > 0.8 > answer.whole.fertility_low - 0.2
    assert answer.sentence.startswith("By fresh eggs opened, ")
    assert answer.whole.infertile_high < 48


def test_no_clear_egg_no_sentence(store_of: Make) -> None:
    answer = clears(store_of(**_rows([], [4] * 3, clear=0, early_dead=8)), Selection()).of("coturnix_quail")
    assert answer
    assert answer.sentence == ""
    assert answer.whole.early_share is None


def test_the_month_says_it_beside_fertility(store_of: Make) -> None:
    store = store_of(**_rows([], [4] * 3))
    review = month_review(store, Month(2026, 3), Selection(), date(2026, 6, 1))
    (species,) = review.species
    assert "the 8 clear eggs may be either" in fertility_note(species)
    assert species.clears
    assert species.clears.whole.clear == 8


def test_a_month_without_clear_eggs_is_not_asked(store_of: Make) -> None:
    store = store_of(**_rows([], [4] * 3, clear=0, early_dead=8))
    review = month_review(store, Month(2026, 3), Selection(), date(2026, 6, 1))
    assert review.species[0].clears is None
