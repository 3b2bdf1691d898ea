"""Words: numbers never stand without what they are a share of, and dashes stand for what is not known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest

from analytics.studies.records import MonthReview, OpenBatch, SpeciesMonth
from analytics.studies.wording import MEASURE_NAMES
from analytics.values import Month, Rate
from dashboard import words


def test_every_measure_has_a_meaning() -> None:
    assert set(words.MEANINGS) == set(MEASURE_NAMES)
    assert words.FIRST_MEASURE in words.MEANINGS


def test_a_rate_stands_with_its_base(rate_of: Callable[..., Rate]) -> None:
    rate = rate_of("hatch_of_set", 97, 120, 0.72, 0.88)
    assert words.with_base(rate) == "81 % of set"
    assert words.counts(rate) == "97 of 120"
    assert words.range_of(rate) == "72–88 %"
    assert words.left_open(rate) == "nothing"
    assert words.beneath(rate, 0.85) == "of set, range 72–88 %; your aim 85 %"


def test_only_a_range_says_so(species: SpeciesMonth) -> None:
    rate = species.months_before[9][1]["fertility"]
    assert words.with_base(rate) == f"only a range, {rate.base}"
    assert words.figure(rate) == "71–93 %"
    assert words.counts(rate) == words.NOT_KNOWN
    assert words.left_open(rate) == "73–91 %"
    assert "21 clear eggs were not opened" in words.method(rate)


def test_what_is_not_known_is_a_dash_with_its_reason(species: SpeciesMonth) -> None:
    rate = species.pens[-1].rates["hatch_of_set"]
    assert words.with_base(rate) == words.range_of(rate) == words.figure(rate) == words.NOT_KNOWN
    assert words.beneath(rate, None) == rate.why


@pytest.mark.parametrize(
    ("number", "text"), [(None, "–"), (0, "0"), (1204, "1,204"), (452.4, "452.4"), (12.0, "12")]
)
def test_counts(number: float | None, text: str) -> None:
    assert words.count(number) == text


def test_the_state_of_a_batch(march: MonthReview) -> None:
    sitting, overdue, unknown = march.open_batches
    assert words.batch_state(sitting, march.as_of) == "in the machine"
    assert words.batch_state(sitting, date(2026, 4, 9)) == "hatching days"
    assert words.batch_state(overdue, march.as_of).startswith("17 days overdue")
    assert words.batch_state(replace(overdue, overdue_days=1), march.as_of).startswith("1 day overdue")
    assert words.due(unknown) == "not known for this species"
    assert words.due(sitting) == "9 to 12 Apr 2026"


def test_a_gap_says_how_many_more() -> None:
    assert words.gap_where(("A", "B"), 2) == "A and B"
    assert words.gap_where(("A", "B"), 14) == "A, B and 12 more"


def test_the_sentence_of_months_names_ends_and_last(species: SpeciesMonth, march: MonthReview) -> None:
    points = [(month, rates["hatch_of_set"]) for month, rates in species.months_before if rates]
    points.append((march.month, species.rates["hatch_of_set"]))
    said = words.months_alt("Coturnix quail", "hatch_of_set", points)
    assert "12 months drawn" in said
    assert "March 2026: 77 % of set (73–82 %)" in said
    assert "Lowest 70 % in December 2025, highest 83 % in September 2025" in said
    assert "not known" in words.months_alt("Coturnix quail", "hatch_of_set", [])
    assert "not known" in words.pens_alt("Coturnix quail", "hatch_of_set", ())


def test_one_day_is_one_day() -> None:
    batch = OpenBatch(
        "b", "North", ("chicken",), 1, date(2026, 1, 1), date(2026, 1, 22), date(2026, 1, 22), 0
    )
    assert words.due(batch) == "22 Jan 2026"
    over_new_year = replace(batch, due_from=date(2025, 12, 30))
    assert words.due(over_new_year) == "30 Dec 2025 to 22 Jan 2026"
    assert words.day(date(2026, 3, 4)) == "4 Mar 2026"


@pytest.mark.parametrize("month", [Month(2026, 1), Month(2025, 12)])
def test_bad_months_are_answered(month: Month) -> None:
    assert str(month) in words.bad_month_in_link(str(month))
