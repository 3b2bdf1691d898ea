"""Distances, limits and the smallest drop: against scipy, by exact chances, and put back in."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom, chi2_contingency, multivariate_normal, norm, t

from analytics.monitoring.allowance import A_YEAR, BETTER, FARTHER, OTHERS, PENS_FIRST, reach, reaches, unsure
from analytics.monitoring.baseline import PEN_SPREAD, fit
from analytics.monitoring.distance import WEIGHT, distance, limit, smallest_drop
from analytics.monitoring.units import by_unit, design_effect, slopes_of_units, to_cells


def test_distance_is_the_root_of_the_likelihood_ratio() -> None:
    """30 of 50 against 170 of 200, by scipy's G statistic."""
    table = np.array([[30, 20], [170, 30]])
    known = chi2_contingency(table, correction=False, lambda_="log-likelihood").statistic
    assert distance(0.6, 50, 0.85, 200) == pytest.approx(-np.sqrt(known))
    assert distance(0.85, 50, 0.85, 200) == pytest.approx(0)
    assert distance(0.5, 0, 0.85, 200) == 0


def test_tails_of_clustered_eggs_are_near_normal() -> None:
    """Trays of 20 with beta shares, 5 % alike: below -3 about as often as a normal number; without the cubic,
    half as often again and more."""
    random, months, rate, alike = np.random.default_rng(4), 150_000, 0.95, 0.05
    both = (1 - alike) / alike
    trays = random.beta(rate * both, (1 - rate) * both, (months, 8))
    share = random.binomial(20, trays).sum(axis=1) / 160
    worth = 160 / (1 + 19 * alike)
    normal = 0.00135
    assert 0.5 * normal < (distance(share, worth, rate, 1e9, 1 - worth / 160) < -3).mean() < 1.5 * normal
    assert (distance(share, worth, rate, 1e9) < -3).mean() > 1.5 * normal


def test_limits_lie_where_the_distance_is() -> None:
    asked = np.array([40.0, 80.0, 150.0]), np.array([0.9, 0.95, 0.8]), np.array([900.0, 500.0, 60.0])
    for far in (-3.0, 2.0):
        ends = limit(far, *asked, 0.3)
        inside = (ends > 1e-9) & (ends < 1 - 1e-9)
        assert distance(ends, asked[0], asked[1], asked[2], 0.3)[inside] == pytest.approx(far, abs=1e-6)
    assert limit(9.0, 5, 0.9, 100) == pytest.approx(1)  # no share lies so far up


def test_smallest_drop_is_seen_in_nine_of_ten() -> None:
    """Two months of 80 independent eggs, baseline known: by exact binomial chances of their average."""
    drop = float(smallest_drop(2.6, 80, 0.9, 1e9))
    lowest = float(limit(-2.6, 80 * 1.8**2 / 1.64, 0.9, 1e9))
    new, old = np.meshgrid(np.arange(81), np.arange(81))
    share = 0.9 - drop
    chance = binom.pmf(new, 80, share) * binom.pmf(old, 80, share)
    seen = chance[(new + 0.8 * old) / (80 * 1.8) <= lowest].sum()
    assert 0.88 <= seen <= 0.95
    assert np.isnan(smallest_drop(9.0, 5, 0.9, 100))
    assert smallest_drop(2.6, 40, 0.9, 1e9) > drop


def test_reach_is_passed_with_its_chance() -> None:
    """By scipy's bivariate normal: the average of two months, or a month farther out."""
    alike = 1 / np.sqrt(1 + (1 - WEIGHT) ** 2)
    for farther in (1.0, FARTHER):
        far = reach(0.01, farther)
        inside = multivariate_normal([0, 0], [[1, alike], [alike, 1]]).cdf([far, farther * far])
        assert 1 - inside == pytest.approx(0.01, abs=1e-5)


def test_an_unsure_spread_takes_students_quantiles() -> None:
    """By scipy's t at the same chance: within 1 % from 40 months on, not above it at few."""
    for far in (2.0, 2.5, 3.2):
        for months in (40.0, 100.0):
            assert unsure(np.array(far), np.array(months)) == pytest.approx(
                t.isf(norm.sf(far), months), rel=0.01
            )
        assert far < unsure(np.array(far), np.array(10.0)) <= t.isf(norm.sf(far), 10)


def test_the_more_is_watched_the_farther_out() -> None:
    kinds = ("flock", "machine", "pen", "pen", "pen")
    few, many = np.ones((5, 5), dtype=bool), np.ones((5, 5), dtype=bool)
    few[:, 3:] = False
    known = np.full((5, 5), 1e9)
    average, month = reaches(few, kinds, known)
    assert (reaches(many, kinds, known)[0, 0] > average[0]).all()
    assert average[0, 0, 2] == pytest.approx(reach(A_YEAR / 12 * PENS_FIRST, FARTHER))
    assert average[0, 0, 0] == pytest.approx(reach(A_YEAR / 12 * OTHERS / 14, 1.0))
    assert average[1, 0, 0] == pytest.approx(reach(A_YEAR / 12 * BETTER / 15, 1.0))
    assert month[0, 0, 2] == pytest.approx(FARTHER * average[0, 0, 2])
    assert month[0, 0, 0] == average[0, 0, 0]
    assert (reaches(many, kinds, known, 0.5)[0, 0] > reaches(many, kinds, known)[0, 0]).all()
    assert reaches(few, kinds, known / 1e8)[0, 0, 0, 2] > average[0, 0, 2]  # months tell the spread badly


def test_baseline_of_many_eggs_is_the_additive_logistic_fit() -> None:
    """Log odds 2 + pens (.3, -.3) + machines (.2, -.2), put back in."""
    odds = 2 + np.array([[0.3], [-0.3]]) + np.array([[0.2, -0.2]])
    found = fit(1 / (1 + np.exp(-odds)), np.full((2, 2), 1e7)).log_odds(2)
    assert found == pytest.approx(odds, abs=1e-3)


def test_baseline_of_a_pen_without_eggs_is_the_level_with_its_spread() -> None:
    worth = np.array([[1e7], [1e7], [0.0]])
    base = fit(np.array([[0.9], [0.9], [0.0]]), worth)
    level = np.log(9)
    assert base.log_odds(3)[2, 0] == pytest.approx(level, abs=0.01)
    one = np.array([[0.0, 0.0, 1.0]])
    assert base.variance(one)[0] == pytest.approx(PEN_SPREAD**2, rel=0.6)
    assert base.variance(one)[0] > PEN_SPREAD**2


def test_sums_of_units_by_hand() -> None:
    cells = np.array([[1.0, 2.0], [3.0, 4.0], [5.0, 6.0]])
    assert by_unit(cells).tolist() == [21, 9, 12, 3, 7, 11]
    assert to_cells(np.array([100.0, 10, 20, 1, 2, 3]), 2).tolist() == [[111, 121], [112, 122], [113, 123]]
    effect = design_effect(np.array(40.0), np.array(800.0), np.array(1600.0), np.array([0.05, 0.02]))
    assert effect == pytest.approx(1 + 19 * 0.05 + 20 * 0.02)


def test_slopes_are_those_of_small_steps() -> None:
    """How the units' shares move when one cell's log odds do, by differences."""
    eggs, odds = np.array([[10.0, 30.0], [20.0, 40.0]]), np.array([[1.0, 0.5], [2.0, -0.5]])

    def shares(at: np.ndarray) -> np.ndarray:
        return by_unit(eggs / (1 + np.exp(-at))) / by_unit(eggs)

    slopes = slopes_of_units(eggs, 1 / (1 + np.exp(-odds)))
    for cell in range(4):
        step = np.zeros(4)
        step[cell] = 1e-6
        moved = (shares(odds + step.reshape(2, 2)) - shares(odds)) / 1e-6
        assert slopes[:, cell] == pytest.approx(moved, abs=1e-6)
