"""Temperature, humidity and water loss against the published figures."""

from __future__ import annotations

import pytest

from analytics.reference.settings import Quantity, settings_of, settings_table, whole_range
from analytics.reference.sources import Status, read_rows, source_table
from analytics.reference.species import species_table

# Extension chart "Important Incubation Factors" (Mississippi State Univ. Ext., P1182 line), read in a copy
# (SEEN second hand), forced air, °F: setter dry, setter wet bulb, hatcher dry, hatcher wet bulb. Of the rhea
# only the setter is printed, of the swan nothing.
CHART_F = {
    "coturnix_quail": (99.5, (86, 88), 99, (90, 94)),
    "bobwhite_quail": (99.5, (84, 86), 99, (90, 94)),
    "chicken": (99.5, (86, 86), 98.5, (90, 94)),
    "duck": (99.5, (86, 88), 98.5, (90, 94)),
    "muscovy_duck": (99.5, (86, 88), 98.5, (90, 94)),
    "goose": (99.5, (88, 88), 98.5, (90, 94)),
    "turkey": (99.5, (84, 86), 98.5, (90, 94)),
    "guinea_fowl": (99.5, (84, 86), 98.5, (90, 94)),
    "ring_necked_pheasant": (99.5, (86, 88), 99, (92, 95)),
    "chukar": (99.5, (88, 88), 99, (90, 94)),
    "peafowl": (99.5, (86, 88), 98.5, (90, 94)),
    "pigeon": (100.5, (88, 88), 99, (92, 95)),
    "ostrich": (97.5, (70, 75), 97.5, (90, 90)),
    "emu": (97.5, (70, 75), 97.5, (90, 90)),
    "rhea": (97.5, (80, 80), None, None),
}


def _celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32) * 5 / 9


def _of_chart(species: str, quantity: Quantity) -> tuple[float, float | None] | None:
    rows = [row for row in settings_of(species, quantity) if row.source_id == "incubation_chart"]
    return (rows[0].low, rows[0].high) if rows else None


def test_the_chart_stands_as_printed() -> None:
    kinds = (Quantity.SETTER_C, Quantity.SETTER_WET_BULB_C, Quantity.HATCHER_C, Quantity.HATCHER_WET_BULB_C)
    for species, figures in CHART_F.items():
        for quantity, printed in zip(kinds, figures, strict=True):
            if printed is None:
                assert _of_chart(species, quantity) is None
                continue
            low, high = printed if isinstance(printed, tuple) else (printed, printed)
            expected = pytest.approx((_celsius(low), _celsius(high)), abs=0.006)
            assert _of_chart(species, quantity) == expected, (species, quantity)
    assert _of_chart("swan", Quantity.SETTER_C) is None


@pytest.mark.parametrize(
    ("species", "quantity", "air", "source", "low", "high"),
    [
        # Mississippi State Ext., "Important incubation factors" (SEEN): 100 °F, still air 102 °F at egg top
        ("chicken", Quantity.SETTER_C, "forced", "msu_factors", 37.78, 37.78),
        ("chicken", Quantity.SETTER_C, "still", "msu_factors", 38.89, 38.89),
        # Penn State 4-H (SEEN): 100 °F still, 99-100 forced
        ("chicken", Quantity.SETTER_C, "still", "psu_temperature", 37.78, 37.78),
        ("chicken", Quantity.SETTER_C, "forced", "psu_temperature", 37.22, 37.78),
        # Bull. UASVM Anim. Sci. 67, 2010 (SEEN): 37.5-37.7 °C, 50-60 and 70-80 %
        ("coturnix_quail", Quantity.SETTER_C, "forced", "cluj_review_2010", 37.5, 37.7),
        ("coturnix_quail", Quantity.SETTER_RH_PCT, "any", "cluj_review_2010", 50, 60),
        ("coturnix_quail", Quantity.HATCHER_RH_PCT, "any", "cluj_review_2010", 70, 80),
        # NC State Ext., Henderson Co., 2020 (SEEN): 45-55 %, days 21-23 55-65 %
        ("bobwhite_quail", Quantity.SETTER_RH_PCT, "any", "henderson_2020", 45, 55),
        ("bobwhite_quail", Quantity.HATCHER_RH_PCT, "any", "henderson_2020", 55, 65),
        # Hand-Rearing Birds, 2nd ed., Table 4.1 (SEEN)
        ("ostrich", Quantity.SETTER_C, "any", "hand_rearing_birds", 36.0, 36.5),
        ("emu", Quantity.SETTER_RH_PCT, "any", "hand_rearing_birds", 25, 40),
        ("rhea", Quantity.WATER_LOSS_PCT, "any", "hand_rearing_birds", 15, 15),
        # Br. Poult. Sci. 1991;32:723-732 (SEEN abstract)
        ("goose", Quantity.WATER_LOSS_PCT, "any", "goose_1991", 12, 12),
    ],
)  # fmt: skip
def test_other_sources_stand_beside_it(
    species: str, quantity: Quantity, air: str, source: str, low: float, high: float
) -> None:
    found = [row for row in settings_of(species, quantity, air) if row.source_id == source]
    assert [(row.low, row.high) for row in found] == [pytest.approx((low, high), abs=0.006)]


def test_sources_that_disagree_leave_a_range() -> None:
    # still air: 100 °F (Penn State) to 102 °F (Mississippi State), both SEEN
    still = whole_range(settings_of("duck", Quantity.SETTER_C, "still"))
    assert still == pytest.approx((37.78, 38.89), abs=0.006)
    # goose: 12 % (Br. Poult. Sci. 1991, SEEN abstract), about 15 % (a keepers' club, SEEN second hand)
    assert whole_range(settings_of("goose", Quantity.WATER_LOSS_PCT)) == (12, 15)
    # quail: 8.94 and 11.96 % (Romao et al. 2009, SEEN), 9.17 % of hatched eggs (another, SEEN)
    assert whole_range(settings_of("coturnix_quail", Quantity.WATER_LOSS_PCT)) == (8.94, 11.96)


def test_nothing_is_said_where_nothing_was_found() -> None:
    assert settings_of("chukar", Quantity.WATER_LOSS_PCT) == ()
    assert whole_range(()) is None
    # 65 % or more (Mississippi State Ext., SEEN): no upper end is made up
    assert any(row.high is None for row in settings_of("chicken", Quantity.HATCHER_RH_PCT))


def test_quail_have_no_target_but_only_measurements() -> None:
    assert {row.basis for row in settings_of("coturnix_quail", Quantity.WATER_LOSS_PCT)} == {"measured"}


def test_every_row_is_whole() -> None:
    sources = source_table()
    for row in settings_table():
        assert sources[row.source_id].status is row.status, row
        assert set(row.species) <= {"any", *species_table()}, row
        assert row.air in {"forced", "still", "any"}
        assert row.basis in {"advised", "measured"}
        assert row.high is None or row.low <= row.high
        assert row.as_printed
        if row.quantity in (Quantity.SETTER_C, Quantity.HATCHER_C):
            assert 35.5 < row.low < 39.5, row


def test_a_source_says_a_thing_once() -> None:
    rows = read_rows("settings.csv")
    keys = {
        (row["quantity"], row["species"], row["air"], row["source_id"], row["as_printed"]) for row in rows
    }
    assert len(keys) == len(rows)


def test_remembered_rows_are_said_to_be_so() -> None:
    assert {row.source_id for row in settings_table() if row.status is Status.MEMORY} == {"from_memory"}
