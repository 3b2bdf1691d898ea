"""The factor of degrees of freedom: all permutations of small tables, and what it must be by hand."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
from scipy import stats

from analytics.comparisons.heavy_tails import permuted_stretch
from analytics.comparisons.pen_model import Contrast, pen_model


@pytest.mark.parametrize(
    ("rates", "pen"),
    [
        ((1.0, 2.0, 2.0, 3.0, 5.0, 2.5, 1.5), (0, 0, 0, 1, 1, 2, 2)),
        ((1.0, 2.0, 2.0, 3.0, 4.0, 2.5, 1.5), (0, 1, 1, 1, 2, 2, 2)),
        ((0.0, 1.0, 3.0, 6.0, 7.0, 2.0), (0, 0, 0, 1, 1, 1)),
    ],
)
def test_factor_is_that_of_all_permutations(rates: tuple[float, ...], pen: tuple[int, ...]) -> None:
    """Mean and variance of SSB / SST over every order of the trays, matched to a beta (Pitman 1937)."""
    e, groups = np.array(rates) - np.mean(rates), np.array(pen)
    held = np.bincount(groups)
    n, q = len(e), len(held) - 1
    sums = np.array([np.bincount(groups, e[list(order)]) for order in permutations(range(n))])
    shares = (sums**2 / held).sum(axis=1) / (e @ e)
    mean = shares.mean()
    assert mean == pytest.approx(q / (n - 1))
    brute = 2 * (mean * (1 - mean) / shares.var() - 1) / (n - 1)
    assert 0.5 < brute < 2
    found = permuted_stretch(e, 1 / held[groups] - 1 / n, np.full(n, 1 - 1 / n), q)
    assert found == pytest.approx(brute)


def test_normal_tails_stretch_nothing_and_heavy_ones_do() -> None:
    """Balanced pens: 1 + kurtosis / trays nearly (Box and Andersen 1955); t with 5 has kurtosis 6."""
    random = np.random.default_rng(7)
    pen = np.arange(60) % 5
    share, free = np.full(60, 1 / 12 - 1 / 60), np.full(60, 1 - 1 / 60)

    def factors(draw) -> list[float]:
        found = []
        for _ in range(300):
            e = draw(60)
            found.append(permuted_stretch(e - e.mean(), share, free, len(set(pen)) - 1))
        return found

    assert np.mean(factors(random.standard_normal)) == pytest.approx(1, abs=0.01)
    assert np.mean(factors(lambda n: random.standard_t(5, n))) > 1.02
    e = stats.laplace.ppf((np.arange(60) + 0.5) / 60)
    kurtosis = stats.kurtosis(e, bias=False)
    assert permuted_stretch(e, share, free, 4) == pytest.approx(1 + kurtosis / 60, rel=0.02)


def test_the_factor_keeps_within_its_ends() -> None:
    e = np.array([9.0, -1, -1, -1, -1, -1, -1, -1, -1, -1])
    even, free = np.full(10, 1 / 5 - 1 / 10), np.full(10, 0.9)
    assert permuted_stretch(e, even, free, 1) == 2.0  # one tray holds all: every order gives one share
    alone = np.array([0.9] + [1 / 90] * 9)
    assert permuted_stretch(e, alone, free, 1) == 0.5  # a pen of one tray against the rest
    assert permuted_stretch(e[:3], even[:3], free[:3], 1) == 1.0  # too few to tell


def test_reach_of_a_contrast_is_where_its_p_value_is_the_rest() -> None:
    for dof in (7.0, np.inf):
        contrast = Contrast(0.1, 0.04, dof, 0.0, 1.3)
        again = Contrast.of_squares(contrast.reach(0.95), 1.0, dof / 1.3, 1.3)
        assert again.p_value == pytest.approx(0.05)
    assert Contrast(0.1, 0.04, np.inf, 0.0).reach(0.95) == pytest.approx(1.959964)  # normal tables
    assert Contrast(0.1, 0.04, 10.0, 0.0).reach(0.95) == pytest.approx(2.228139)  # Student's t, 10, .975


def test_two_pens_give_one_p_value_as_test_and_as_contrast() -> None:
    random = np.random.default_rng(3)
    batch, pen = np.repeat(np.arange(12), 2), np.tile(["a", "b"], 12)
    found = pen_model(random.binomial(30, random.beta(8, 1, 24)), np.full(24, 30), pen, batch)
    assert found.difference(0, 1).p_value == pytest.approx(found.test.p_value, rel=1e-6)
