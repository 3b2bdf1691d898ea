"""Weeks of warm air with their days and size, and checks in which a display moved."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from analytics.incubation.machine_air import Reading, check_shifts, weekly_shifts

START = date(2026, 1, 5)


def _days(many: int, warm_from: int = 0, warm_to: int = -1, size: float = 1.0) -> list[Reading]:
    """Daily means of 37.6 °C, 0.1 more and less by turns."""
    return [
        Reading(
            START + timedelta(days=at),
            37.6 + (0.1 if at % 2 else -0.1) + (size if warm_from <= at <= warm_to else 0.0),
            24.0,
        )
        for at in range(many)
    ]


def test_warm_weeks_are_found_to_the_day() -> None:
    (found,) = weekly_shifts(_days(210, 73, 131))
    assert found.first_day == START + timedelta(days=73)
    assert found.last_day == START + timedelta(days=131)
    assert found.size == pytest.approx(1.0, abs=0.03)
    assert found.low <= found.size <= found.high


def test_less_than_is_worth_naming_is_not_named() -> None:
    assert weekly_shifts(_days(210, 73, 131, 0.2)) == ()
    assert weekly_shifts(_days(210)) == ()
    assert weekly_shifts([]) == ()


def test_ten_years_are_cut_into_longer_bins() -> None:
    (found,) = weekly_shifts(_days(3650, 1000, 1200))
    assert found.first_day == START + timedelta(days=1000)
    assert found.last_day == START + timedelta(days=1200)


def test_a_display_that_moved_by_hand() -> None:
    """Twelve checks at +0.1 and -0.1, four at 1.1 and 0.9: size 1.0.

    Pooled squares .12 + .04 over 14 degrees of freedom, times 1/4 + 1/12, is an error of .06172;
    t(14) = 2.1448 (any table), so .1324 on either side.
    """
    values = [0.1, -0.1] * 4 + [1.1, 0.9] * 2 + [0.1, -0.1] * 2
    checks = [Reading(START + timedelta(days=30 * at), value) for at, value in enumerate(values)]
    (found,) = check_shifts(checks)
    assert (found.first_day, found.last_day) == (checks[8].day, checks[11].day)
    assert found.size == pytest.approx(1.0)
    assert found.high - found.size == pytest.approx(0.1324, abs=2e-4)
