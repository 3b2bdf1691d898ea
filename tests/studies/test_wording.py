"""Numbers in words."""

from __future__ import annotations

from datetime import date

import pytest

from analytics.options import Selection
from analytics.studies.wording import (
    counted,
    day_range,
    listed,
    long_day,
    month_name,
    percent,
    percent_range,
    rate_words,
    selection_words,
    species_words,
)
from analytics.values import Base, Interval, Month, Period, Rate, Used


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (0, "0"), (1, "100"), (0.73, "73"), (0.735, "74"), (0.0995, "10"), (0.0994, "9.9"),
        (0.034, "3.4"), (0.0004, "<0.1"), (0.0005, "0.1"), (0.994, "99"), (0.996, "99.6"),
        (0.9996, ">99.9"), (0.9994, "99.9"),
    ],
)  # fmt: skip
def test_percent_never_rounds_to_none_or_all(share: float, words: str) -> None:
    assert percent(share) == words


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (0.125, "13"), (0.135, "14"), (0.145, "15"), (0.575, "58"), (0.285, "29"), (0.985, "99"),
        (23 / 40, "58"), (25 / 200, "13"), (0.0125, "1.3"), (0.0135, "1.4"), (0.0285, "2.9"), (0.0995, "10"),
        (0.9965, "99.7"), (0.0015, "0.2"), (0.5749999, "57"),
    ],
)  # fmt: skip
def test_halves_go_up_however_the_computer_holds_them(share: float, words: str) -> None:
    assert percent(share) == words


def test_range_months_species_counts_and_lists() -> None:
    assert percent_range(Interval(0.678, 0.7749, 0.95, "any")) == "68–77 %"
    assert month_name(Month(2026, 3)) == "March 2026"
    assert long_day(date(2026, 3, 9)) == "9 March 2026"
    ninth = date(2026, 3, 9)
    ends = (ninth, date(2026, 3, 12), date(2026, 4, 2), date(2027, 1, 1))
    assert [day_range(ninth, end) for end in ends] == [
        "9 Mar 2026", "9 to 12 Mar 2026", "9 Mar to 2 Apr 2026", "9 Mar 2026 to 1 Jan 2027",
    ]  # fmt: skip
    assert [species_words(key) for key in ("coturnix_quail", "chicken", "muscovy_duck", "not_there")] == [
        "Coturnix quail", "chicken", "Muscovy duck", "not there",
    ]  # fmt: skip
    assert [counted(1, "batch", "batches"), counted(0, "egg"), counted(1204, "egg")] == [
        "1 batch", "0 eggs", "1,204 eggs",
    ]  # fmt: skip
    assert [listed(()), listed(("A",)), listed(("A", "B")), listed(("A", "B", "C"))] == [
        "", "A", "A and B", "A, B and C",
    ]  # fmt: skip


def test_a_selection_is_said_in_short_sentences() -> None:
    period = Period(date(2026, 3, 1), date(2026, 3, 31))
    assert selection_words(Selection()) == ""
    assert (
        selection_words(Selection(pens=("Rowan",), species=("chicken",))) == "Only chicken. Only pen Rowan."
    )
    assert (
        selection_words(Selection(period, pens=("Rowan", "Alder"), incubators=("North",)))
        == "Only pens Rowan and Alder. Only machine North. Hatches from 1 March 2026. "
        "Hatches up to 31 March 2026."
    )


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
