"""Hours, °C and weeks of machines in words."""

from __future__ import annotations

from datetime import date

import pytest

from analytics.studies.incubators_words import (
    celsius_range,
    either,
    hours_range,
    hours_words,
    looked_at,
    span_words,
)


@pytest.mark.parametrize(
    ("hours", "said"), [(-10.6, "11 hours"), (0.3, "less than an hour"), (-1.2, "an hour"), (1.6, "2 hours")]
)
def test_hours(hours: float, said: str) -> None:
    assert hours_words(hours) == said


@pytest.mark.parametrize(
    ("low", "high", "signed", "said"),
    [(-14.9, -6.4, False, "6 to 15"), (-14.9, -6.4, True, "−15 to −6"), (-0.3, 4.2, False, "0 to +4"),
     (4.1, 7.4, False, "4 to 7")],
)  # fmt: skip
def test_ranges_of_hours(low: float, high: float, signed: bool, said: str) -> None:
    assert hours_range(low, high, signed=signed) == said


def test_ranges_of_celsius() -> None:
    assert celsius_range(-0.62, -0.21) == "0.2 to 0.6"
    assert celsius_range(-0.04, 0.31) == "0.0 to +0.3"


def test_weeks_are_named_by_their_months() -> None:
    assert span_words(date(2026, 3, 3), date(2026, 3, 17)) == "in March 2026"
    assert span_words(date(2026, 2, 3), date(2026, 3, 17)) == "from February to March 2026"
    assert span_words(date(2025, 12, 9), date(2026, 2, 1)) == "from December 2025 to February 2026"


def test_the_rate_of_a_machine_is_not_promised_for_the_farm() -> None:
    assert "Hours of 4 machines and birds were looked at." in looked_at(4)
    assert looked_at(4).endswith("up to 20 in 100.")  # 4 x 5
    assert looked_at(30).endswith("up to 100 in 100.")
    assert "any one" not in looked_at(1)


def test_causes_are_listed_with_or() -> None:
    assert [either(["a"]), either(["a", "b"]), either(["a", "b", "c"])] == ["a", "a or b", "a, b or c"]
