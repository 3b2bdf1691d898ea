"""Hours that storage and warmth move a hatch, against the published ones."""

from __future__ import annotations

import pytest

from analytics.reference.hatch_shifts import (
    hatch_shifts_table,
    hours_earlier_a_degree,
    published_hours,
    storage_hours_a_day,
)
from analytics.reference.sources import source_table
from analytics.reference.species import species_table


def test_storage_is_a_range() -> None:
    # Turk. J. Vet. Anim. Sci., article 5487 (SEEN abstract): peak 486 h unstored, 498 h after 7 d.
    # Hyankova & Starosta 2012, Br. Poult. Sci. 53:592-598 (SEEN abstract): no effect of 1 or 5 d in quail.
    assert storage_hours_a_day() == pytest.approx((0, (498 - 486) / 7), abs=0.01)


def test_slopes_of_warmth_are_those_of_the_table() -> None:
    # Poult. Sci. 2020;99:3897-3907, Table 1 (SEEN), eggshell: week 2 37.8 °C 499 h, 38.9 °C 494 h;
    # week 3 36.7 °C 501 h, 37.8 °C 493 h. 1.1 °C are 2.0 °F: 2.5 and 4 h a °F.
    slopes = {row.shift: (row.low, row.high) for row in hatch_shifts_table()}
    assert slopes["shell_warmth_week_2"] == pytest.approx(((499 - 494) / 1.1,) * 2, abs=0.01)
    assert slopes["shell_warmth_week_3"] == pytest.approx(((501 - 493) / 1.1,) * 2, abs=0.01)
    assert slopes["shell_warmth_week_2"][0] / 1.8 == pytest.approx(2.5, abs=0.05)
    assert slopes["shell_warmth_week_3"][0] / 1.8 == pytest.approx(4.0, abs=0.05)
    # three weeks of either
    assert hours_earlier_a_degree("chicken") == pytest.approx((3 * 5 / 1.1, 3 * 8 / 1.1), abs=0.1)


def test_other_birds_borrow_them_by_their_days() -> None:
    # Coturnix 16 to 18 d listed, so 17 of the chicken's 21; goose 28 to 33, so 30.5
    low, high = hours_earlier_a_degree("chicken")
    assert hours_earlier_a_degree("coturnix_quail") == pytest.approx((low * 17 / 21, high * 17 / 21))
    assert hours_earlier_a_degree("goose") == pytest.approx((low * 30.5 / 21, high * 30.5 / 21))


def test_a_day_a_degree_is_lore_and_not_used() -> None:
    lore = next(row for row in hatch_shifts_table() if row.shift == "degree_lore")
    assert lore.low == pytest.approx(24 * 1.8)
    assert lore.source_id == "from_memory"
    assert hours_earlier_a_degree("chicken")[1] < lore.low


def test_hours_to_the_middle_of_the_hatch() -> None:
    # chicken: 486 h (Turk. J. Vet. Anim. Sci. 5487, SEEN abstract) to the end of day 21 +- half a day (lists)
    assert published_hours("chicken") == pytest.approx((486, 21.5 * 24))
    # coturnix: 16 to 18 d (trade list, SEEN second hand); the middle of 405 to 441 h, 423, lies within
    assert published_hours("coturnix_quail") == pytest.approx((16 * 24, 18 * 24))
    # one whole day is not known to the hour
    assert published_hours("turkey") == pytest.approx((27.5 * 24, 28.5 * 24))
    for key, species in species_table().items():
        low, high = published_hours(key)
        assert high - low >= 24
        assert species.shortest_days - 0.5 <= low / 24 <= high / 24 <= species.longest_days + 0.5


def test_every_row_has_its_source() -> None:
    for row in hatch_shifts_table():
        assert source_table()[row.source_id].status is row.status
        assert row.low <= row.high
