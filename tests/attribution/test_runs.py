"""The run of months that stands out, on effects small enough to see by eye."""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.testing import assert_allclose
from scipy.stats import norm

from analytics.attribution.runs import cells_by_level, month_of, usual_variance, worst_run

LEFT = 0.2


def left(months: int) -> np.ndarray:
    """Every month's effect is known but for a fifth of its variance."""
    return LEFT * np.eye(months)


def test_the_months_of_a_level_stand_in_order() -> None:
    cells = ("Flint / 2026-03", "Slate / 2026-01", "Flint / 2025-12")
    assert cells_by_level(cells) == {"Flint": [2, 0], "Slate": [1]}
    assert cells_by_level(("A / B / 2026-03", "A / B / 2026-01")) == {"A / B": [1, 0]}
    assert month_of("A / B / 2026-03") == "2026-03"


def test_the_bad_months_are_found() -> None:
    run = worst_run(np.array([0, 0, -4, -5, -4, 0, 0, 0.0]), left(8))
    assert run
    assert (run.first, run.last) == (2, 4)
    assert run.p_value < 1e-6


def test_the_slow_way_round_finds_the_same_run_and_p_value() -> None:
    values = np.array([-0.3, 0.4, -0.8, -0.2, 1.0])
    mixed = np.random.default_rng(8).normal(size=(5, 5)) * 0.1
    covariance = left(5) + mixed @ mixed.T
    known = np.eye(5) - covariance
    for usual in (1.0, 0.3):
        heights = {}
        for first, end in combinations(range(6), 2):
            inside = [month in range(first, end) for month in range(5)]
            if not all(inside):
                weight = np.where(inside, 1 / sum(inside), -1 / (5 - sum(inside)))
                by_chance = covariance - covariance @ covariance + usual * known @ known
                heights[first, end - 1] = -weight @ values / np.sqrt(weight @ by_chance @ weight)
        run = worst_run(values, covariance, usual)
        assert run
        assert heights[run.first, run.last] == max(heights.values())
        assert_allclose(run.p_value, min(1, 2 * norm.sf(max(heights.values())) * len(heights)))


def test_all_months_together_are_no_run() -> None:
    run = worst_run(np.array([-3, -3, -3.5]), left(3))
    assert run
    assert (run.first, run.last) != (0, 2)


def test_what_all_months_share_does_not_count() -> None:
    values = np.array([0, 0, -4, -4, 0.0])
    one, two = worst_run(values, left(5)), worst_run(values - 3, left(5))
    assert one
    assert two
    assert (two.first, two.last) == (one.first, one.last) == (2, 3)
    assert_allclose(two.p_value, one.p_value)


def test_where_no_month_differs_there_is_no_run() -> None:
    assert worst_run(np.array([-5, -5.0]), left(2)) is None
    assert worst_run(np.zeros(4), left(4)) is None


def test_months_that_differ_little_elsewhere_make_a_run_surer() -> None:
    values = np.array([0, 0, -2, -2, 0.0])
    runs = [worst_run(values, left(5), usual) for usual in (1.0, 0.2)]
    assert runs[0]
    assert runs[1]
    assert runs[1].p_value < runs[0].p_value


def test_the_usual_variance_is_found_again() -> None:
    rng, cells = np.random.default_rng(3), 40000
    sizes = rng.uniform(0.05, 0.95, cells)
    for variance in (0.0, 0.4, 2.0):
        # a record of an effect e with error variance s / (1 - s) leaves s of a variance of 1
        record = rng.normal(0, np.sqrt(variance), cells) + rng.normal(size=cells) * np.sqrt(
            sizes / (1 - sizes)
        )
        assert_allclose(usual_variance((1 - sizes) * record, sizes), variance, atol=0.05)
    assert usual_variance(np.empty(0), np.empty(0)) == 1.0
    # one month of which half is known: (.8^2 - .25) / .25
    assert_allclose(usual_variance(np.array([0.8]), np.array([0.5])), 1.56)
