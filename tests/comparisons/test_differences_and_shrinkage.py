"""Differences, many comparisons and shrunk rates: definitions put back in, slow twins."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from analytics.comparisons.differences import adjusted, newcombe
from analytics.comparisons.shrinkage import james_stein, normal_normal, posterior_of, shrunk_rates


def test_newcombe_is_made_of_two_wilson_intervals() -> None:
    for y, n, y2, n2 in ((56, 70, 48, 80), (0, 12, 7, 9), (30, 30, 25, 40)):
        (l1, u1), (l2, u2) = (proportion_confint(*pair, method="wilson") for pair in ((y, n), (y2, n2)))
        p, q = y / n, y2 / n2
        found = newcombe(y, n, y2, n2).interval
        assert found.low == pytest.approx(p - q - math.hypot(p - l1, u2 - q))
        assert found.high == pytest.approx(p - q + math.hypot(u1 - p, q - l2))


def test_newcombe_says_what_it_is_and_at_what_level() -> None:
    found = newcombe(9, 10, 3, 10, level=0.8)
    (l1, _), (_, u2) = (proportion_confint(y, 10, alpha=0.2, method="wilson") for y in (9, 3))
    assert found.difference == pytest.approx(0.6)
    assert found.interval.low == pytest.approx(0.6 - math.hypot(0.9 - l1, u2 - 0.3))
    assert found.interval.level == 0.8
    assert found.interval.method == "Newcombe, eggs independent"
    assert found.why == ""


def test_newcombe_without_eggs_and_on_impossible_counts() -> None:
    for counts in ((0, 0, 3, 10), (3, 10, 0, 0)):
        found = newcombe(*counts)
        assert (found.difference, found.interval) == (None, None)
        assert found.why == "One of the two has no eggs."
    for counts in ((-1, 10, 3, 10), (11, 10, 3, 10), (3, 10, -1, 10), (3, 10, 11, 10)):
        with pytest.raises(ValueError, match="between 0 and eggs"):
            newcombe(*counts)
    for effects in ((0.0, 1.0), (1.0, 0.0)):
        with pytest.raises(ValueError, match="above 0"):
            newcombe(3, 10, 3, 10, design_effects=effects)


def test_newcombe_turns_over_with_the_groups() -> None:
    there, back = newcombe(9, 10, 3, 10).interval, newcombe(3, 10, 9, 10).interval
    assert there.low == pytest.approx(-back.high)


def test_design_effects_widen_the_interval_as_fewer_eggs_would() -> None:
    wide = newcombe(80, 100, 60, 100, design_effects=(2.0, 2.0))
    fewer = newcombe(40, 50, 30, 50)
    assert wide.difference == fewer.difference
    assert (wide.interval.low, wide.interval.high) == (fewer.interval.low, fewer.interval.high)
    assert wide.interval.method == "Newcombe, counts divided by design effects"
    apart, fewer = newcombe(80, 100, 60, 100, design_effects=(2.0, 4.0)), newcombe(40, 50, 15, 25)
    assert (apart.interval.low, apart.interval.high) == (fewer.interval.low, fewer.interval.high)


def test_newcombe_covers_as_it_claims() -> None:
    random = np.random.default_rng(5)
    counts = zip(random.binomial(40, 0.9, 2000), random.binomial(30, 0.75, 2000), strict=True)
    held = [(found := newcombe(a, 40, b, 30).interval).low <= 0.15 <= found.high for a, b in counts]
    assert np.mean(held) == pytest.approx(0.95, abs=0.02)


def test_holm_and_benjamini_hochberg_by_hand() -> None:
    p = [0.04, 0.001, 0.03, 0.2]
    # sorted .001 .03 .04 .2: Holm times 4 3 2 1, running maximum; BH times 4/1 4/2 4/3 4/4, running minimum
    assert adjusted(p, "holm") == pytest.approx((0.09, 0.004, 0.09, 0.2))
    assert adjusted(p, "benjamini-hochberg") == pytest.approx((0.16 / 3, 0.004, 0.16 / 3, 0.2))
    # Hochberg times 4 3 2 1 too, running minimum from the largest; Bonferroni times 4, at most 1
    assert adjusted(p, "hochberg") == pytest.approx((0.08, 0.004, 0.08, 0.2))
    assert adjusted(p, "bonferroni") == pytest.approx((0.16, 0.004, 0.12, 0.8))
    assert adjusted([0.0, 1.0], "holm") == (0.0, 1.0)


def test_benjamini_hochberg_agrees_with_scipy() -> None:
    p = np.random.default_rng(1).random(40) ** 3
    assert adjusted(p.tolist(), "benjamini-hochberg") == pytest.approx(stats.false_discovery_control(p))


def test_missing_comparisons_stay_missing_and_do_not_count() -> None:
    assert adjusted([0.01, None, 0.04], "holm") == (pytest.approx(0.02), None, pytest.approx(0.04))
    assert adjusted([None, None], "holm") == (None, None)
    assert adjusted([], "benjamini-hochberg") == ()
    with pytest.raises(ValueError, match="between 0 and 1"):
        adjusted([1.2], "holm")
    with pytest.raises(ValueError, match="between 0 and 1"):
        adjusted([-0.1, 0.5], "holm")


def test_posterior_is_the_beta_distribution() -> None:
    found = posterior_of([4, 0], [14, 5], 1.4, 8.6)
    here = stats.beta(5.4, 18.6)
    assert found.rates[0] == pytest.approx(here.mean())
    assert found.deviations[0] == pytest.approx(here.std())
    assert (found.intervals[0].low, found.intervals[0].high) == pytest.approx(here.interval(0.95))


def test_likelihood_prior_is_at_the_top_of_the_marginal_likelihood(columns) -> None:
    data = columns("bda_rat_tumor")
    found = shrunk_rates(data["y"][:70], data["n"][:70])

    def likelihood(a: float, b: float) -> float:
        return stats.betabinom.logpmf(data["y"][:70], data["n"][:70], a, b).sum()

    best = likelihood(found.alpha, found.beta)
    for a, b in ((1.02, 1), (0.98, 1), (1, 1.02), (1, 0.98), (1.02, 1.02), (0.98, 0.98)):
        assert likelihood(found.alpha * a, found.beta * b) < best


def test_all_seventy_one_groups_as_in_the_vignette(columns) -> None:
    # CRAN BayesGOF vignette, rat data, gMLE.bb on 71 groups: 2.341615, 14.114805, SEEN in the row's note
    data = columns("bda_rat_tumor")
    found = shrunk_rates(data["y"], data["n"])
    assert found.alpha == pytest.approx(2.341615, abs=0.002)
    assert found.beta == pytest.approx(14.114805, abs=0.02)


def test_shrunk_rates_beat_raw_ones_on_known_truth() -> None:
    random = np.random.default_rng(10)
    truth = random.beta(16, 4, 200)
    eggs = random.integers(3, 30, 200)
    passed = random.binomial(eggs, truth)
    found = shrunk_rates(passed, eggs)
    assert ((np.array(found.rates) - truth) ** 2).sum() < 0.7 * ((passed / eggs - truth) ** 2).sum()
    held = [i.low <= t <= i.high for i, t in zip(found.intervals, truth, strict=True)]
    assert np.mean(held) == pytest.approx(0.95, abs=0.045)


def test_few_eggs_are_drawn_further_than_many() -> None:
    found = shrunk_rates([2, 60, 70, 85, 95, 40], [5, 100, 100, 100, 100, 100])
    kept = (found.rates[5] - found.alpha / (found.alpha + found.beta)) / (
        0.4 - found.alpha / (found.alpha + found.beta)
    )
    kept_few = (found.rates[0] - found.alpha / (found.alpha + found.beta)) / (
        0.4 - found.alpha / (found.alpha + found.beta)
    )
    assert kept_few < kept < 1


def test_a_group_without_eggs_gets_the_common_mean() -> None:
    found = shrunk_rates([0, 8, 15, 3, 18], [0, 10, 20, 9, 20])
    assert found.rates[0] == pytest.approx(found.alpha / (found.alpha + found.beta))


def test_james_stein_never_turns_an_estimate_over() -> None:
    found = james_stein([0.1, 0.11, 0.09, 0.1, 0.1], 0.01)
    assert found.factors == (0.0,) * 5
    assert np.allclose(found.values, 0.1)


def test_normal_shrinkage_puts_weighted_squares_at_their_degrees_of_freedom() -> None:
    values, noise = np.array([0.3, 0.9, 0.5, 0.75, 0.2]), np.array([0.01, 0.02, 0.005, 0.01, 0.03])
    found = normal_normal(values, noise)
    weight = 1 / (noise + found.spread)
    centre = weight @ values / weight.sum()
    assert found.centre == pytest.approx(centre)
    assert weight @ (values - centre) ** 2 == pytest.approx(4)
    assert found.values == pytest.approx(centre + found.spread * weight * (values - centre))


def test_normal_shrinkage_of_eight_schools() -> None:
    """No spread between schools; pooled mean 7.69 (Gelman et al. 2013, BDA section 5.5, from memory)."""
    found = normal_normal([28, 8, -3, 7, -1, 1, 18, 12], np.square([15, 10, 16, 11, 9, 11, 10, 18]))
    assert found.spread == 0
    assert found.centre == pytest.approx(7.69, abs=0.006)
