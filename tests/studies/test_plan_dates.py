"""Days of a batch by hand from the published days, and what does not go together in one machine."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path

import pytest

from analytics.errors import WrongUsage
from analytics.studies.plan_dates import plan_dates

DAY = date(2026, 12, 1)
NO_STORE = Path("nowhere.duckdb")


def test_days_by_hand() -> None:
    """Quail: candled on days 5-7, moved on day 15, hatched on days 16 to 18.38 (tables of the references)."""
    (quail,) = plan_dates(NO_STORE, DAY, ["coturnix_quail"]).species
    assert (quail.candle.first, quail.candle.last) == (date(2026, 12, 6), date(2026, 12, 8))
    assert (quail.transfer.first, quail.transfer.last) == (date(2026, 12, 16), date(2026, 12, 16))
    assert (quail.hatch.first, quail.hatch.last) == (date(2026, 12, 17), date(2026, 12, 19))
    assert quail.candle.source.startswith("days 5–7 (Ernst")
    assert "16–18.38 days" in quail.hatch.source


def test_storage_only_moves_the_last_day() -> None:
    """14 days at 1.71 h (the most that is published) are 24 h."""
    fresh, stored = (plan_dates(NO_STORE, DAY, ["chicken"], "", days).species[0] for days in (None, 14.0))
    assert stored.hatch.first == fresh.hatch.first
    assert stored.hatch.last
    assert fresh.hatch.last
    assert (stored.hatch.last - fresh.hatch.last).days == 1
    assert stored.storage_hours == pytest.approx((0.0, 23.94))
    said = plan_dates(NO_STORE, DAY, ["chicken"], "", 14.0).sentence
    assert "14 days of storage may delay the hatch by 0 to 24 hours" in said


def test_what_is_not_published_is_said() -> None:
    (painted,) = plan_dates(NO_STORE, DAY, ["chinese_painted_quail"]).species
    assert painted.transfer.first is None
    assert "no published day of transfer was found" in painted.transfer.why
    assert "common practice, no source" in painted.candle.source


def test_mixed_birds_are_warned_of_and_told_when_they_would_hatch_together() -> None:
    mixed = plan_dates(NO_STORE, DAY, ["chicken", "coturnix_quail"])
    (warning,) = (text for text in mixed.warnings if "still want turning" in text)
    assert warning.startswith("In one machine Coturnix quail and chicken do not go together")
    assert "To hatch with chicken, set Coturnix quail eggs on 5 Dec 2026 (4 days later)." in warning
    later = plan_dates(NO_STORE, date(2026, 12, 5), ["coturnix_quail"]).species[0].hatch
    chicken = mixed.species[0].hatch
    assert later.first
    assert later.last
    assert chicken.first
    assert chicken.last
    assert later.first <= chicken.last
    assert chicken.first <= later.last
    assert plan_dates(NO_STORE, DAY, ["chicken"]).warnings == ()


def test_other_birds_already_in_the_machine(store_of: Callable[..., Path]) -> None:
    store = store_of(
        pens=[{"pen": "Coop", "species": "chicken"}],
        incubators=[{"incubator": "North"}, {"incubator": "South"}],
        batches=[{"batch": "B1", "incubator": "North", "set_on": datetime.fromisoformat("2026-11-20")}],
        trays=[{"batch": "B1", "tray": "1", "pen": "Coop", "eggs_set": 12}],
    )
    (warning,) = plan_dates(store, DAY, ["coturnix_quail"], "north").warnings
    assert warning.startswith("Batch B1 in North holds chicken (12 eggs), due until 11 Dec 2026")
    assert plan_dates(store, DAY, ["coturnix_quail"], "South").warnings == ()
    assert plan_dates(store, DAY, ["chicken"], "North").warnings == ()
    assert plan_dates(store, date(2026, 12, 20), ["coturnix_quail"], "North").warnings == ()
    with pytest.raises(WrongUsage, match="No incubator West"):
        plan_dates(store, DAY, ["chicken"], "West")


def test_nonsense_is_refused() -> None:
    with pytest.raises(WrongUsage, match="'dodo'"):
        plan_dates(NO_STORE, DAY, ["dodo"])
    with pytest.raises(WrongUsage, match="A bird is named once"):
        plan_dates(NO_STORE, DAY, ["duck", "duck"])
