"""Chicks to expect of eggs in a machine: by hand where eggs are independent, at the ends, and none."""

from __future__ import annotations

import pytest
from scipy.stats import beta

from analytics.measures.counts import Clustering, LadderCounts
from analytics.measures.outlook import SetEggs, expected_chicks
from analytics.values import Used

ALONE = Clustering(0.0, 0.0, 0.0, 0.0, False)
ALIKE = Clustering(0.05, 0.03, 0.01, 0.01, False)


def _past(eggs: int, hatched: int) -> LadderCounts:
    return LadderCounts(
        used=Used(10, 5, 0),
        eggs_set=eggs,
        hatched=hatched,
        tray_squares=20.0 * eggs,
        batch_squares=40.0 * eggs,
    )


AHEAD = [SetEggs("B1", "Alder", 30), SetEggs("B1", "Birch", 20)]


def test_independent_eggs_by_hand() -> None:
    told = expected_chicks(AHEAD, _past(200, 150), {}, ALONE)
    assert told
    # 50 eggs at .75; 200 eggs before and 50 ahead are worth 1 / (1/200 + 1/50) = 40: a beta with mean .75
    assert told.chicks == pytest.approx(37.5)
    assert told.low == pytest.approx(50 * beta.ppf(0.025, 0.75 * 39, 0.25 * 39))
    assert told.high == pytest.approx(50 * beta.ppf(0.975, 0.75 * 39, 0.25 * 39))


def test_a_pens_own_past_is_mixed_with_that_of_all() -> None:
    told = expected_chicks(AHEAD, _past(200, 150), {"Alder": (30.0, 60.0)}, ALONE)
    # Alder 30 of 60 with 60 eggs at .75: .625; 30 x .625 + 20 x .75
    assert told
    assert told.chicks == pytest.approx(30 * 0.625 + 15)


def test_eggs_that_fail_together_widen_it() -> None:
    narrow, wide = (expected_chicks(AHEAD, _past(200, 150), {}, known) for known in (ALONE, ALIKE))
    assert narrow
    assert wide
    assert wide.high - wide.low > 1.3 * (narrow.high - narrow.low)


def test_none_or_all_hatched_before_leaves_a_range() -> None:
    none = expected_chicks(AHEAD, _past(200, 0), {}, ALONE)
    every = expected_chicks(AHEAD, _past(200, 200), {}, ALONE)
    assert none
    assert none.high > 0.1
    assert every
    assert every.low < 49.9
    assert every.high <= 50


def test_nothing_ahead_or_nothing_before_is_no_number() -> None:
    assert expected_chicks([], _past(200, 150), {}, ALONE) is None
    assert expected_chicks(AHEAD, _past(0, 0), {}, ALONE) is None
