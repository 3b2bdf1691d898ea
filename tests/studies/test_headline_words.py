"""Rates as they are said in a sentence."""

from __future__ import annotations

from analytics.studies.wording import rate_words
from analytics.values import Base, Interval, Rate, Used


def _rate(value: float | None, interval: Interval | None, possible: Interval | None) -> Rate:
    return Rate(
        measure="fertility",
        base=Base.OF_LADDER,
        count=None,
        eggs=None,
        eggs_set=99,
        clear=9,
        value=value,
        interval=interval,
        possible=possible,
        independent=None,
        used=Used(2, 1, 0),
        why="",
    )


def test_a_range_names_what_is_open_apart_from_chance() -> None:
    left_open, with_chance = Interval(0.83, 0.92, 1.0, ""), Interval(0.55, 0.99, 0.95, "")
    said = rate_words(_rate(None, with_chance, left_open))
    assert said == "83–92 % of set less cracked (55–99 % with chance)"


def test_a_value_has_one_range_and_nothing_known_is_said() -> None:
    assert rate_words(_rate(0.9, Interval(0.8, 0.96, 0.95, ""), None)) == "90 % of set less cracked (80–96 %)"
    assert rate_words(_rate(None, None, None)) == "not known"
