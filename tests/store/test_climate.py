"""A machine's air by hand: setter and hatcher apart, hours outside limits, what cannot be set aside."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from analytics.options import Selection
from analytics.store.climate import (
    HARM,
    PhaseHours,
    checks,
    climate_days,
    hatch_air,
    lay_out_climate,
    phase_hours,
    phases,
    set_aside,
)
from analytics.store.counts import counting
from analytics.store.machines import happened, lay_out_stays
from analytics.store.weights import trays_weighed
from analytics.values import Period

Make = Callable[..., Path]
SET, MOVED, PULLED = (
    datetime.fromisoformat(day) for day in ("2026-01-01T12:00", "2026-01-03T12:00", "2026-01-04T12:00")
)


def _farm(make: Make, **more: Any) -> Path:
    """Eggs in North for two days, then in South for one; the logger of either reads each half hour."""
    readings = []
    for at in range(2 * 24 * 4):
        moment = SET - timedelta(hours=6) + timedelta(minutes=30 * at)
        for machine, celsius, humidity in (("North", 37.6, 50.0), ("south", 37.2, 70.0)):
            readings.append(
                {"incubator": machine, "at": moment, "temperature_c": celsius, "humidity_pct": humidity}
            )
    sheets: dict[str, Any] = {
        "pens": [{"pen": "A", "species": "coturnix_quail"}],
        "incubators": [{"incubator": "North", "air": "forced"}, {"incubator": "South", "air": "forced"}],
        "batches": [{"batch": "B", "incubator": "North", "hatcher": "South", "set_on": SET,
                     "transfer_on": MOVED, "pulled_on": PULLED}],
        "trays": [{"batch": "B", "tray": "1", "pen": "A", "eggs_set": 10, "hatched": 8, "infertile": 2}],
        "climate": readings,
    }  # fmt: skip
    return make(**(sheets | more))


def _hours(store: Path, low: float, high: float) -> dict[tuple[str, str], PhaseHours]:
    with counting(store, Selection()) as connection:
        lay_out_stays(connection, with_open=True)
        lay_out_climate(connection)
        limits = [replace(one, low_c=low, high_c=high, low_rh=55, high_rh=65) for one in phases(connection)]
        found = phase_hours(connection, limits)
    return {(one.limits.incubator, one.limits.phase): one for one in found}


def test_setter_and_hatcher_are_told_apart(store_of: Make) -> None:
    found = _hours(_farm(store_of), 37.3, 37.5)
    assert set(found) == {("North", "setter"), ("South", "hatcher")}
    north, south = found["North", "setter"], found["South", "hatcher"]
    assert (north.hours, north.temperature.hours, south.hours, south.temperature.hours) == (48, 48, 24, 24)
    assert (north.temperature.above, north.temperature.below) == (48, 0)
    assert (south.temperature.above, south.temperature.below) == (0, 24)
    assert (north.humidity.below, south.humidity.above) == (48, 24)
    assert (north.of_both, south.of_both) == (0, 0)
    assert north.temperature.mean == pytest.approx(37.6)


def test_hours_of_both_count_as_of_the_hatcher(store_of: Make) -> None:
    """Two batches in one machine: the second is set a day before the first is taken out."""
    batches = [
        {"batch": "B", "incubator": "North", "set_on": SET, "transfer_on": MOVED, "pulled_on": PULLED},
        {"batch": "C", "incubator": "North", "set_on": MOVED, "transfer_on": MOVED + timedelta(days=9),
         "pulled_on": MOVED + timedelta(days=9, hours=1)},
    ]  # fmt: skip
    trays = [
        {"batch": batch, "tray": "1", "pen": "A", "eggs_set": 10, "hatched": 8, "infertile": 2}
        for batch in ("B", "C")
    ]
    found = _hours(_farm(store_of, batches=batches, trays=trays), 37.0, 38.0)
    assert (found["North", "hatcher"].hours, found["North", "hatcher"].of_both) == (25, 24)
    assert (found["North", "setter"].hours, found["North", "setter"].of_both) == (48 + 8 * 24, 0)


def test_impossible_readings_are_set_aside_and_counted(store_of: Make) -> None:
    """In one hour: -127, 85, 60, no number, humidity 0 and 101, and one good reading of 39.9 °C and 60 %."""
    given = [
        (-127.0, 50.0),
        (85.0, 50.0),
        (60.0, 50.0),
        (float("nan"), 50.0),
        (None, 0.0),
        (None, 101.0),
        (39.9, 60.0),
    ]
    rows = [
        {
            "incubator": "North",
            "at": SET + timedelta(minutes=at),
            "temperature_c": celsius,
            "humidity_pct": damp,
        }
        for at, (celsius, damp) in enumerate(given)
    ]
    store = _farm(store_of, climate=rows)
    north = _hours(store, 37.0, 38.0)["North", "setter"]
    assert (north.temperature.hours, north.temperature.mean, north.temperature.above) == (
        1,
        pytest.approx(39.9),
        1,
    )
    assert north.harm_above == 1
    assert HARM[1] < 39.9
    assert north.humidity.mean == pytest.approx((5 * 50 - 50 + 60) / 5)
    with counting(store, Selection()) as connection:
        lay_out_stays(connection, with_open=True)
        lay_out_climate(connection)
        aside = set_aside(connection)["North"]
    assert aside == {"readings": 7, "no_number": 1, "sensor_out": 1, "sensor_starting": 1, "not_possible": 1,
                     "wrong_rh": 2}  # fmt: skip


def test_days_checks_events_and_the_last_days(store_of: Make) -> None:
    store = _farm(
        store_of,
        checks=[{"incubator": "NORTH", "at": "2026-01-02T08:10", "displayed_c": 37.8, "reference_c": 37.5}],
        incubator_events=[
            {"incubator": "South", "at": at, "event": event, "minutes": minutes}
            for at, event, minutes in (
                ("2026-01-03T11:00", "opened", 5),
                ("2026-01-03T13:00", "opened", None),
                ("2026-01-04T09:00", "opened", 3),
                ("2026-01-04T10:00", "power_cut", 40),
            )
        ],
    )
    with counting(store, Selection()) as connection:
        lay_out_stays(connection, with_open=True)
        lay_out_climate(connection)
        days, air = climate_days(connection), hatch_air(connection)
        (check,) = checks(connection, date.min, date.max)
        told = happened(connection)
    assert [(day.incubator, day.day.day, day.phase) for day in days] == [
        ("North", 1, "setter"), ("North", 2, "setter"), ("North", 3, "setter"), ("South", 3, "hatcher"),
        ("South", 4, "hatcher"),
    ]  # fmt: skip
    assert (check.incubator, check.logged_c) == ("North", pytest.approx(37.6))
    (last,) = air
    assert (last.incubator, last.opened, last.power_cuts, last.humidity) == ("South", 2, 1, pytest.approx(70))
    assert {(one.event, one.phase, one.times, one.minutes, one.timed) for one in told} == {
        ("opened", "hatcher", 2, 3.0, 1),
        ("power_cut", "hatcher", 1, 40.0, 1),
    }


def test_a_transfer_not_written_down_is_the_usual_day(store_of: Make) -> None:
    """Coturnix move on day 15 (chart); the batch was taken out on day 18."""
    batch = {"batch": "B", "incubator": "North", "set_on": SET, "pulled_on": SET + timedelta(days=18)}
    found = _hours(_farm(store_of, batches=[batch], climate=[]), 37.0, 38.0)
    assert {phase: one.hours for (_, phase), one in found.items()} == {"setter": 15 * 24, "hatcher": 3 * 24}


def test_eggs_still_in_count_only_where_asked(store_of: Make) -> None:
    store = _farm(
        store_of,
        batches=[{"batch": "B", "incubator": "North", "set_on": SET}],
        trays=[{"batch": "B", "tray": "1", "pen": "A", "eggs_set": 10}],
    )
    assert set(_hours(store, 37.0, 38.0)) == {("North", "setter")}
    with counting(store, Selection(period=Period(None, date(2026, 6, 1)))) as connection:
        lay_out_stays(connection, with_open=False)
        lay_out_climate(connection)
        assert phases(connection) == ()


def test_trays_that_cannot_be_used_say_why(store_of: Make) -> None:
    """100 g tare; 10 eggs of 12 g lose 10 %: 220 to 208 g."""
    whole = {"batch": "B", "pen": "A", "eggs_set": 10, "hatched": 8, "infertile": 2, "tare_g": 100.0,
             "weight_set_g": 220.0, "weight_transfer_g": 208.0}  # fmt: skip
    odd: list[dict[str, Any]] = [
        {}, {"tare_g": None}, {"weight_transfer_g": None}, {"weighed_transfer": 9},
        {"removed_at_candling": 1}, {"tare_g": 230.0}, {"removed_at_candling": 1, "weighed_transfer": 10},
    ]  # fmt: skip
    store = _farm(store_of, trays=[whole | {"tray": str(at)} | one for at, one in enumerate(odd)])
    with counting(store, Selection()) as connection:
        found = trays_weighed(connection)
    assert [one.why for one in found] == [
        "", "no tare", "weighed once", "eggs taken out between", "eggs taken out between",
        "tare not less than the tray with its eggs", "",
    ]  # fmt: skip
    assert (found[0].loss, found[0].days, found[0].incubator) == (pytest.approx(0.10), 2.0, "North")
