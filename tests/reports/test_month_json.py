"""What the month's JSON says of clear eggs."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path

from analytics.options import Selection
from analytics.reports.month_json import review_values
from analytics.studies.month import month_review
from analytics.values import Month


def test_clear_eggs_stand_beside_the_rates(store_of: Callable[..., Path]) -> None:
    """40 set, 8 clear, nothing that tells: any of the 8, and nothing said as if it were told apart."""
    at = datetime.fromisoformat
    store = store_of(
        pens=[{"pen": "Rowan", "species": "coturnix_quail"}],
        batches=[
            {"batch": "B1", "incubator": "North", "set_on": at("2026-03-03"), "pulled_on": at("2026-03-21")}
        ],
        trays=[
            {"batch": "B1", "tray": "1", "pen": "Rowan", "eggs_set": 40, "storage_days": 4,
             "hatched": 30, "late_dead": 2, "clear": 8}
        ],
    )  # fmt: skip
    values = review_values(month_review(store, Month(2026, 3), Selection(), date(2026, 6, 1)))
    clears = values["rates"]["coturnix_quail"]["clears"]
    assert (clears["clear"], clears["infertile_low"], clears["infertile_high"]) == (8, 0, 8)
    assert clears["fertility"] is None
    assert clears["fertility_low"] < 0.8 < clears["fertility_high"] == 1
    assert clears["told_apart"] is False
    assert clears["open_fresh_eggs"] >= 75
