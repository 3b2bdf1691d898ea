"""Humidity from a wet bulb against published charts and the other published formula."""

from __future__ import annotations

from math import exp

import pytest

from analytics.errors import DataTooThin
from analytics.measures.air_humidity import (
    SEA_LEVEL_PA,
    advised_humidity,
    humidity_of_wet_bulb,
    wet_bulb_of_humidity,
)

NEAR = 0.6
WHOLE = 0.5  # printed to whole percents
# School chart in °C (a classroom sheet, SEEN): dry bulb -> humidity with the wet bulb 1, 2, 3 ... °C below
SCHOOL = {
    10: (88, 77, 65, 54, 44, 34, 24, 14),
    15: (90, 80, 71, 61, 52, 44, 36, 27),
}


@pytest.mark.parametrize("dry", SCHOOL)
def test_a_school_chart(dry: int) -> None:
    for below, printed in enumerate(SCHOOL[dry], start=1):
        assert humidity_of_wet_bulb(dry, dry - below) == pytest.approx(printed, abs=NEAR + WHOLE)


@pytest.mark.parametrize(
    ("dry_c", "wet_c", "printed"),
    [
        # US Army TM 5-3610-285-14 (SEEN): 68 °F dry, 62 °F wet, 71 %
        (20.0, (62 - 32) / 1.8, 71),
        # ASHRAE Handbook Fundamentals, Psychrometrics, Example 1 (from memory): 40 °C dry, 20 °C wet, 14 %
        (40.0, 20.0, 14),
    ],
)
def test_worked_examples(dry_c: float, wet_c: float, printed: float) -> None:
    assert humidity_of_wet_bulb(dry_c, wet_c) == pytest.approx(printed, abs=NEAR + WHOLE)


@pytest.mark.parametrize(("dry_c", "wet_c"), [(37.5, 29.0), (37.7, 30.0), (37.8, 28.9)])
def test_the_other_published_formula_at_incubation_heat(dry_c: float, wet_c: float) -> None:
    # WMO-No. 8, Annex 4.B (SEEN formula): e = ew(wet) - 6.53e-4 (1 + 9.44e-4 wet) p (dry - wet), hPa
    pressure = SEA_LEVEL_PA / 100
    at_wick = _saturated(wet_c) - 6.53e-4 * (1 + 9.44e-4 * wet_c) * pressure * (dry_c - wet_c)
    assert humidity_of_wet_bulb(dry_c, wet_c) == pytest.approx(100 * at_wick / _saturated(dry_c), abs=NEAR)


def _saturated(degrees: float) -> float:
    return 6.112 * exp(17.62 * degrees / (243.12 + degrees))


def test_back_and_forth() -> None:
    for humidity in (20.0, 45.0, 65.0, 90.0, 100.0):
        wet = wet_bulb_of_humidity(37.5, humidity)
        assert humidity_of_wet_bulb(37.5, wet) == pytest.approx(humidity, abs=0.05)
    assert wet_bulb_of_humidity(37.5, 100) == pytest.approx(37.5, abs=0.01)


def test_thinner_air_means_a_little_more() -> None:
    at_1000_m = 89_875.0  # standard atmosphere, any table
    more = humidity_of_wet_bulb(37.5, 29.0, at_1000_m) - humidity_of_wet_bulb(37.5, 29.0)
    # by the formula above: 6.53e-4 x 1.027 x 114.5 hPa x 8.5 °C of 64.4 hPa, 1.0 points
    assert more == pytest.approx(100 * 6.53e-4 * 1.027 * 114.5 * 8.5 / 64.4, abs=0.15)


@pytest.mark.parametrize(("dry_c", "wet_c"), [(30.0, 31.0), (99.5, 86.0), (40.0, 2.0), (-3.0, -4.0)])
def test_readings_that_cannot_be_are_refused(dry_c: float, wet_c: float) -> None:
    with pytest.raises(DataTooThin):
        humidity_of_wet_bulb(dry_c, wet_c)


def test_humidity_that_cannot_be_is_refused() -> None:
    with pytest.raises(DataTooThin):
        wet_bulb_of_humidity(37.5, 101.0)


def test_wet_bulbs_of_the_chart_are_told_as_humidity() -> None:
    # chart of the P1182 line (SEEN second hand): chicken 99.5 °F dry, 86 °F wet
    rows = advised_humidity("chicken", "forced")
    of_chart = next(row for row in rows if row.setting.source_id == "incubation_chart")
    dry, wet = (99.5 - 32) / 1.8, (86 - 32) / 1.8
    at_wick = _saturated(wet) - 6.53e-4 * (1 + 9.44e-4 * wet) * SEA_LEVEL_PA / 100 * (dry - wet)
    assert of_chart.is_of_wet_bulb
    assert of_chart.low_pct == of_chart.high_pct == pytest.approx(100 * at_wick / _saturated(dry), abs=NEAR)
    # Mississippi State Ext. (SEEN) prints 58-60 %, Virginia (SEEN) 60 %
    assert {(row.low_pct, row.high_pct) for row in rows if not row.is_of_wet_bulb} >= {(58, 60), (60, 60)}


def test_a_page_that_prints_both_does_not_agree_with_itself() -> None:
    # Mississippi State Ext. (SEEN): 58-60 % beside 84-86 °F wet bulb, at 100 °F dry; the note says 52-57 %
    dry = (100 - 32) / 1.8
    ends = [humidity_of_wet_bulb(dry, (wet - 32) / 1.8) for wet in (84, 86)]
    assert ends == pytest.approx([52, 57], abs=NEAR)
    row = next(row for row in advised_humidity("chicken") if row.setting.source_id == "msu_factors")
    assert "52-57 %" in row.setting.note


def test_a_hatcher_is_told_apart_and_nothing_is_made_up() -> None:
    quail = advised_humidity("coturnix_quail", hatcher=True)
    assert {row.setting.source_id for row in quail} == {"incubation_chart", "cluj_review_2010"}
    # a wet bulb of the game bird chapter has no dry bulb in forced air beside it
    assert all(
        row.setting.source_id != "game_bird_chapter" for row in advised_humidity("ring_necked_pheasant")
    )
    assert advised_humidity("swan") == ()
    assert any(row.high_pct is None for row in advised_humidity("chicken", hatcher=True))
