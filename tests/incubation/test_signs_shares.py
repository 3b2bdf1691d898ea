"""When a share stands out, and when something measured differs: by published limits and scipy's tests."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analytics.incubation.signs_conditions import condition, paired
from analytics.incubation.signs_records import Share
from analytics.incubation.signs_shares import batch_limit, is_seen, level_for, limits, share_of, stands_above
from analytics.measures.counts import Clustering

APART = Clustering(0.0, 0.0, 0.0, 0.0, assumed=False)
ALIKE = Clustering(0.05, 0.03, 0.01, 0.01, assumed=False)


@pytest.mark.parametrize(
    ("seen", "eggs", "low", "high"),
    # exact limits of Clopper and Pearson, %: a table computed for the trade facts; 9 of 450 is also printed
    # so (0.9-3.8) in a trade article on sampling eggs (seen)
    [(2, 20, 1.23, 31.70), (20, 100, 12.67, 29.18), (9, 450, 0.92, 3.76), (3, 150, 0.41, 5.73)],
)
def test_independent_eggs_have_the_exact_limits(seen: int, eggs: int, low: float, high: float) -> None:
    assert_allclose(np.array(limits(seen / eggs, eggs)) * 100, (low, high), atol=0.005)
    found = share_of([seen, 0], [eggs / 2, eggs / 2], np.array(["a", "b"]), APART)
    assert found is not None
    assert_allclose((found.low * 100, found.high * 100), (low, high), atol=0.005)


def test_eggs_of_a_tray_and_batch_are_worth_fewer() -> None:
    # by hand: trays 20, 20 in one batch and 10 in another: sum n2 900, of batches 1700;
    # 1 + (900/50 - 1) x .05 + (1700 - 900)/50 x .03 = 2.33
    found = share_of([4, 2, 0], [20, 20, 10], np.array(["a", "a", "b"]), ALIKE)
    assert found is not None
    assert_allclose((found.seen, found.eggs, found.batches, found.worth), (6, 50, 2, 50 / 2.33))


def test_trays_without_a_record_are_in_no_share() -> None:
    found = share_of([4, np.nan], [20, 50], np.array(["a", "b"]), APART)
    assert found is not None
    assert (found.eggs, found.batches) == (20, 1)
    assert share_of([np.nan], [np.nan], np.array(["a"]), APART) is None


def _share(seen: float, eggs: float) -> Share:
    return Share(seen, eggs, 5, *limits(seen / eggs, eggs), eggs)


def test_few_eggs_are_no_sign_and_more_of_the_same_are() -> None:
    usual = _share(20, 1000)
    assert is_seen(_share(2, 4), usual, None, 1) == ""  # half of the eggs, but two
    assert is_seen(_share(3, 30), usual, None, 100) == ""
    assert is_seen(_share(30, 300), usual, None, 100) == "above_own"
    assert is_seen(_share(6, 300), usual, None, 1) == ""


def test_the_more_places_are_looked_at_the_surer_a_sign_must_be() -> None:
    usual, own = _share(40, 1000), _share(10, 100)
    assert is_seen(own, usual, None, 1) == "above_own"
    assert is_seen(own, usual, None, 500) == ""
    assert level_for(500) == pytest.approx(0.9999)


def test_without_others_only_a_published_mark_can_be_passed() -> None:
    assert is_seen(_share(30, 100), None, None, 1) == ""
    assert is_seen(_share(30, 100), None, 0.03, 1) == "above_published"
    assert is_seen(_share(4, 100), None, 0.03, 1) == ""
    # with others at hand these decide
    assert is_seen(_share(30, 100), _share(300, 1000), 0.03, 1) == ""


def test_standing_above_is_the_difference_with_its_limits_put_together() -> None:
    # limits by the beta distribution, put together by hand: (d - sqrt((p - l)^2 + (u - q)^2)) > 0
    for seen in range(5, 20):
        low = stats.beta.ppf(0.025, seen, 100 - seen + 1)
        high = stats.beta.ppf(0.975, 51, 950)
        by_hand = seen / 100 - 0.05 > np.hypot(seen / 100 - low, high - 0.05)
        assert stands_above(_share(seen, 100), _share(50, 1000)) == by_hand
    assert not stands_above(_share(5, 100), _share(50, 1000))
    assert stands_above(_share(19, 100), _share(50, 1000))


def test_a_single_batch_must_lie_beyond_what_batches_reach_by_chance() -> None:
    """Likeness 1/w: the variance of a beta of p (w - 1) and q (w - 1) is pq/w, that of w independent eggs."""
    for rate, worth, level in ((0.05, 20.0, 0.95), (0.05, 20.0, 0.9999), (0.3, 12.5, 0.99)):
        of_batches = stats.beta(rate * (worth - 1), (1 - rate) * (worth - 1))
        assert_allclose(of_batches.var(), rate * (1 - rate) / worth)
        assert_allclose(batch_limit(rate, worth, level), of_batches.ppf((1 + level) / 2))
    many, one = (Share(20, 60, batches, *limits(20 / 60, 20), 20) for batches in (5, 1))
    usual = _share(150, 3000)
    # 33 %: beyond what 20 independent eggs do by chance among 100 places, not beyond what batches do (36 %)
    assert stats.beta.ppf(1 - 0.05 / 100 / 2, 0.95, 18.05) == pytest.approx(0.3638, abs=0.0001)
    assert (is_seen(many, usual, None, 100), is_seen(one, usual, None, 100)) == ("above_own", "")
    assert is_seen(one, usual, None, 20) == "above_own"
    assert batch_limit(0.05, 1.0) == 1.0  # eggs that are all alike can all show it
    assert batch_limit(0.0, 20.0) == 0.0


def test_rates_of_batches_pass_their_limit_as_rarely_as_said() -> None:
    random = np.random.default_rng(20261125)
    rates = random.beta(0.05 * 19, 0.95 * 19, 200_000)  # batches alike by .05
    shares = random.binomial(2000, rates) / 2000
    limit = batch_limit(0.05, 20.0, 0.998)
    assert 0.0007 < float((shares > limit).mean()) < 0.0013
    as_if_binomial = float((stats.binom.sf(np.floor(shares * 20), 20, 0.05) < 0.001).mean())
    assert as_if_binomial > 0.002  # which is why the exact limits of so many independent eggs do not do


def test_a_condition_has_the_interval_of_students_test() -> None:
    own, others = [37.9, 38.1, 38.0, 38.2], [37.6, 37.5, 37.7, 37.6, 37.4, 37.6]
    found = condition(own, others)
    expected = stats.ttest_ind(own, others).confidence_interval()
    assert found is not None
    assert_allclose((found.low, found.high), (expected.low, expected.high))
    assert found.is_more
    assert not found.is_less


def test_a_single_batch_is_held_against_the_spread_of_the_others() -> None:
    others = [50.0, 52.0, 49.0, 51.0, 50.0]
    # prediction of one more: mean 50.4, sd 1.1402, t(4) 2.7764, half 2.7764 x 1.1402 x sqrt(1 + 1/5) = 3.468
    inside, outside = condition([53.8], others), condition([54.0], others)
    assert inside is not None
    assert outside is not None
    assert (inside.is_more, outside.is_more) == (False, True)
    alone = condition([54.0], [50.0])
    assert alone is not None
    assert alone.low is None
    assert condition([], others) is None


def test_a_pen_is_held_against_the_others_of_the_same_batches() -> None:
    own = {"a": 0.08, "b": 0.09, "c": 0.07, "d": 0.085, "x": 0.5}
    others = {"a": 0.10, "b": 0.112, "c": 0.095, "d": 0.104, "y": 0.9}
    found = paired(own, others)
    expected = stats.ttest_rel([own[k] for k in "abcd"], [others[k] for k in "abcd"]).confidence_interval()
    assert found is not None
    assert_allclose((found.low, found.high), (expected.low, expected.high))
    assert found.is_less
