"""Limits about a common rate."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import beta, binom

from analytics.comparisons.funnel import LEVELS, expected_limits

RATES = st.floats(0.02, 0.98)


@pytest.mark.parametrize(("eggs", "critical"), [(10, 1), (15, 3), (20, 5), (25, 7)])
def test_critical_values_of_the_sign_test(eggs: int, critical: int) -> None:
    # Two-sided 5 %: Dixon and Mood 1946, J. Am. Stat. Assoc. 41:557-566, table (MEMORY); the larger count
    # is critical from eggs - critical on.
    (low,), (high,) = expected_limits(0.5, [eggs], 1.0, 0.95)
    assert critical <= low * eggs < critical + 1
    assert eggs - critical - 1 < high * eggs <= eggs - critical


@given(st.integers(1, 400), RATES, st.sampled_from(LEVELS))
def test_whole_eggs_outside_are_as_rare_as_said(eggs: int, rate: float, level: float) -> None:
    (low,), (high,) = expected_limits(rate, [eggs], 1.0, level)
    tail = (1 - level) / 2
    outside = binom.cdf(np.ceil(low * eggs - 1e-7) - 1, eggs, rate)
    above = binom.sf(np.floor(high * eggs + 1e-7), eggs, rate)
    assert outside <= tail + 1e-9
    assert above <= tail + 1e-9
    assert low <= rate <= high


@given(st.floats(1, 900), RATES, st.floats(1, 8))
def test_at_a_limit_the_exact_interval_ends_at_the_common_rate(eggs: float, rate: float, deff: float) -> None:
    # Clopper and Pearson 1934: the upper end of x of n is the (1 - tail) quantile of beta(x + 1, n - x).
    (low,), (high,) = expected_limits(rate, [eggs], deff, 0.95)
    worth = eggs / deff
    if low > 1e-6:
        assert beta.ppf(0.975, low * worth + 1, worth - low * worth) == pytest.approx(rate, abs=1e-4)
    if high < 1 - 1e-6:
        assert beta.ppf(0.025, high * worth, worth - high * worth + 1) == pytest.approx(rate, abs=1e-4)


def test_eggs_that_fail_together_widen_the_limits_like_fewer_eggs() -> None:
    assert np.array_equal(expected_limits(0.8, [300], 3.0, 0.95), expected_limits(0.8, [100], 1.0, 0.95))


def test_many_eggs_come_near_the_normal_limits() -> None:
    # 0.8 -+ 1.96 sqrt(.8 x .2 / 10000) = 0.79216 and 0.80784; -+ 3.0902 x 0.004 = 0.78764 and 0.81236.
    inner, outer = (expected_limits(0.8, [10_000], 1.0, level) for level in LEVELS)
    assert np.ravel(inner) == pytest.approx([0.79216, 0.80784], abs=2e-4)
    assert np.ravel(outer) == pytest.approx([0.78764, 0.81236], abs=2e-4)


def test_limits_close_with_more_eggs_and_few_eggs_prove_nothing() -> None:
    low, high = expected_limits(0.9, np.arange(1, 500), 1.0, 0.95)
    assert np.all(np.diff(low) >= -1e-9)
    assert np.all(np.diff(high) <= 1e-9)
    # By hand: one egg lost of one has probability .1, two of two .01.
    assert (low[0], high[0]) == (0, 1)
    assert low[1] > 0


@pytest.mark.parametrize("rate", [0.0, 1.0])
def test_a_rate_of_none_or_all_leaves_no_room(rate: float) -> None:
    low, high = expected_limits(rate, [5, 50], 1.5, 0.95)
    assert np.all(low == rate)
    assert np.all(high == rate)


@pytest.mark.parametrize(
    ("rate", "eggs", "deff", "level"),
    [(1.2, 5, 1, 0.95), (0.5, 0, 1, 0.95), (0.5, 5, 0.5, 0.95), (0.5, 5, 1, 1.0), (float("nan"), 5, 1, 0.95)],
)
def test_what_is_no_rate_is_refused(rate: float, eggs: float, deff: float, level: float) -> None:
    with pytest.raises(ValueError, match="no limits"):
        expected_limits(rate, [eggs], deff, level)
